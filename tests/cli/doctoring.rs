//! Doctor. What it finds of sound and terminal depends on the machine; that it tells the truth of folders and of itself does not.

use super::Desk;
use serde_json::Value;

fn looked(desk: &Desk, state: Option<&str>) -> (i32, Value) {
    let mut program = desk.program();
    if let Some(state) = state {
        program.env("XDG_STATE_HOME", desk.path(state));
    }
    let output = program.args(["doctor", "--json"]).output().unwrap();
    (output.status.code().unwrap(), serde_json::from_slice(&output.stdout).unwrap())
}

#[test]
fn the_exit_code_is_what_the_checks_say() {
    let desk = Desk::new();
    let (code, found) = looked(&desk, None);
    let checks = found["checks"].as_array().unwrap();
    let bad = checks.iter().any(|check| check["state"] == "bad");
    assert_eq!((code, found["ok"].as_bool().unwrap()), (i32::from(bad), !bad));
    for name in ["sound", "microphone", "terminal", "settings", "memory", "journals", "voice"] {
        let check = checks.iter().find(|check| check["name"] == name).unwrap_or_else(|| panic!("nothing of {name}"));
        assert!(check["state"] == "ok" || check["mend"].is_string(), "{check}");
    }
    // the sound libraries may make folders of theirs
    assert!(!desk.path("home/.config/precentor").exists() && !desk.path("home/.local").exists(), "nothing of ours is made");
    let run = desk.run(&["doctor"]);
    assert_eq!(run.code, code);
    assert!(run.out.starts_with(concat!("precentor ", env!("CARGO_PKG_VERSION"))));
}

#[test]
fn a_file_where_a_folder_should_be_is_found() {
    let desk = Desk::new();
    let (code, found) = looked(&desk, Some("room.toml"));
    assert_eq!(code, 1);
    let memory = found["checks"].as_array().unwrap().iter().find(|check| check["name"] == "memory").unwrap();
    assert_eq!(memory["state"], "bad");
    assert!(memory["mend"].as_str().unwrap().contains("XDG_STATE_HOME"), "{memory}");
}
