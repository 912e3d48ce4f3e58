//! What the README shows is true.

use std::fs;

/// The TOML blocks of the README, in order.
fn blocks() -> Vec<String> {
    let text = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    text.split("```toml\n").skip(1).map(|rest| rest.split("```").next().unwrap().to_owned()).collect()
}

#[test]
fn the_files_it_shows_are_sound_together() {
    let folder = tempfile::tempdir().unwrap();
    let blocks = blocks();
    assert_eq!(blocks.len(), 3);
    let sampled = book::read_room("README.md", &blocks[2]).unwrap();
    assert!(sampled.soundfont.is_some() && sampled.sections[0].preset.is_some());
    fs::write(folder.path().join("room.toml"), &blocks[0]).unwrap();
    fs::write(folder.path().join("middle-note.toml"), &blocks[1]).unwrap();
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_precentor"))
        .args(["check", "room.toml", "middle-note.toml"])
        .current_dir(folder.path())
        .output()
        .unwrap();
    let (out, err) = (String::from_utf8_lossy(&output.stdout).into_owned(), String::from_utf8_lossy(&output.stderr).into_owned());
    assert!(output.status.success(), "{out}{err}");
    assert!(out.contains("(room.toml)"), "tried in the room named beside it: {out}");
}
