//! Check.

use super::{DRILL, Desk};

#[test]
fn sound_files_are_told_in_a_line_each() {
    let desk = Desk::new();
    let told = desk.done(&["check", "room.toml", "drill.toml", "demo:two-notes"]);
    let lines: Vec<_> = told.lines().collect();
    assert_eq!(lines[0], "room.toml: a sound room: Cedar Lane, first hour, 2 sections and 5 seats");
    assert_eq!(lines[1], "drill.toml: a sound drill: One note each: 6 bars of 4/4 at 120, 2 groups, in Cedar Lane, first hour (room.toml)");
    assert!(lines[2].starts_with("demo:two-notes: a sound drill") && lines[2].ends_with("(the built-in demo room)"), "{}", lines[2]);
}

#[test]
fn every_error_of_every_file_is_told_at_once() {
    let desk = Desk::new();
    desk.write("bad.toml", DRILL.replace("tempo = 120", "tempo = 20").replace("F4:4", "F4:3"));
    desk.write("worse.toml", "version = 1\nname = \"\"\n[[section]]\nname = \"Horns\"\ninstrument = \"horm\"\nseats = 0\n");
    let run = desk.run(&["check", "drill.toml", "bad.toml", "worse.toml"]);
    assert_eq!(run.code, 2);
    assert!(run.out.starts_with("drill.toml: a sound drill") && run.out.lines().count() == 1, "{}", run.out);
    for said in
        ["bad.toml:3:9:", "bad.toml:8:19:", "worse.toml:2:8:", "worse.toml:5:15:", "worse.toml:6:9:", "^^^^", "did you mean \"horn\"?"]
    {
        assert!(run.err.contains(said), "{said} in {}", run.err);
    }
}

#[test]
fn the_same_as_json() {
    let desk = Desk::new();
    desk.write("bad.toml", DRILL.replace("\"Horns\"", "\"Hornz\""));
    let run = desk.run(&["check", "drill.toml", "bad.toml", "none.toml", "--json"]);
    assert_eq!((run.code, run.err.as_str()), (2, ""));
    let found: serde_json::Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!((&found["ok"], &found["files"][0]["ok"], &found["files"][1]["ok"]), (&false.into(), &true.into(), &false.into()));
    let fault = &found["files"][1]["faults"][0];
    assert_eq!((fault["line"].as_u64(), fault["column"].as_u64()), (Some(6), Some(25)));
    assert_eq!(fault["mend"], "did you mean \"Horns\"?");
    let span = fault["start"].as_u64().unwrap() as usize..fault["end"].as_u64().unwrap() as usize;
    assert_eq!(&desk.read("bad.toml")[span], b"Hornz");
    assert_eq!(found["files"][2]["kind"], serde_json::Value::Null);
}

#[test]
fn who_sits_out_is_told_of() {
    let desk = Desk::new();
    desk.write("drill.toml", DRILL.replace("F4:4", "Eb4:4").replace("groups = [[\"Flutes\"], [\"Horns\"]]\n", ""));
    let told = desk.done(&["check", "drill.toml"]);
    assert!(told.contains("note: Horns sit out: "), "{told}");
    let run = desk.run(&["render", "drill.toml", "-o", "out.wav"]);
    assert!(run.code == 0 && run.err.contains("note: Horns sit out: "), "{}", run.err);
    let found = desk.json(&["check", "drill.toml", "--json"]);
    assert_eq!(found["files"][0]["notices"][0]["section"], "Horns");
}

#[test]
fn the_room_to_try_in_can_be_named() {
    let desk = Desk::new();
    desk.write("solo.toml", super::ROOM.replace("Horns", "Corni"));
    let said = desk.refused(&["check", "drill.toml", "--room", "solo.toml"]);
    assert!(said.contains("drill.toml:6:25: the room has no section called \"Horns\""), "{said}");
    assert!(desk.refused(&["check", "drill.toml", "--room", "drill.toml"]).contains("this is a drill, not a room"));
}
