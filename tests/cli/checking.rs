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
fn a_lesson_is_checked_with_every_file_it_names() {
    let desk = Desk::new();
    let items = "[[item]]\ndrill = { file = \"drill.toml\", minutes = 30 }\n[[item]]\nlandmarks = { section = \"Horns\" }\nminutes = 30\n";
    let head = "version = 1\ntitle = \"Monday\"\nroom = \"room.toml\"\nstarts = \"8:05\"\nminutes = 50\n";
    desk.write("lesson.toml", format!("{head}{items}"));
    let told = desk.done(&["check", "lesson.toml"]);
    let lines: Vec<_> = told.lines().collect();
    assert_eq!(lines[0], "lesson.toml: a sound lesson: Monday: 2 items for 60 of 50 min from 8:05, in Cedar Lane, first hour (room.toml)");
    assert_eq!(lines[1], "  note: its items are planned for 60 min and the hour has 50");
    assert!(lines[2].starts_with("room.toml: a sound room") && lines[3].starts_with("drill.toml: a sound drill"), "{told}");

    desk.write("bad.toml", DRILL.replace("tempo = 120", "tempo = 20"));
    let more = "[[item]]\ndrill = { file = \"bad.toml\" }\n[[item]]\ndrill = { file = \"dril.toml\" }\n[[item]]\nlandmarks = { section = \"Horms\" }\n";
    desk.write("lesson.toml", format!("{head}{items}{more}"));
    let run = desk.run(&["check", "lesson.toml"]);
    assert_eq!(run.code, 2);
    for said in
        ["lesson.toml:12:19: bad.toml has a fault, in line 3", "lesson.toml:14:19: dril.toml: there is no such file", "lesson.toml:16:26:"]
    {
        assert!(run.err.contains(said), "{said} in {}", run.err);
    }
    // the file's own fault at its own place; what is sound is told all the same; a file that is not there is told of once
    assert!(run.err.contains("bad.toml:3:9: tempo = 20 is out of bounds") && run.out.contains("drill.toml: a sound drill"), "{}", run.err);
    assert_eq!(run.err.matches("there is no such file").count(), 1, "{}", run.err);
    let found: serde_json::Value = serde_json::from_str(&desk.run(&["check", "lesson.toml", "drill.toml", "--json"]).out).unwrap();
    let files: Vec<_> =
        found["files"].as_array().unwrap().iter().map(|file| (file["file"].as_str().unwrap(), file["kind"].as_str())).collect();
    let expected = [("lesson.toml", Some("lesson")), ("drill.toml", Some("drill")), ("room.toml", Some("room")), ("bad.toml", None)];
    assert_eq!(files.iter().map(|(file, _)| *file).collect::<Vec<_>>(), expected.map(|(file, _)| file));
    assert_eq!(files[0].1, expected[0].1);
    assert_eq!(found["files"][0]["faults"].as_array().unwrap().len(), 3);
}

#[test]
fn the_demo_lesson_is_sound_with_all_it_names() {
    let told = Desk::new().done(&["check", "demo:week-seven"]);
    let sound: Vec<_> =
        told.lines().filter(|line| line.contains(": a sound ")).filter_map(|line| line.split_once(": a ")).map(|(name, _)| name).collect();
    assert_eq!(sound, ["demo:week-seven", "demo:alder-street", "demo:middle-note", "demo:lantern-march"]);
}

#[test]
fn a_room_that_a_lesson_names_and_that_is_not_there_is_told_at_its_place() {
    let desk = Desk::new();
    desk.write("lesson.toml", "version = 1\ntitle = \"Monday\"\nroom = \"rooom.toml\"\n[[item]]\nlandmarks = { section = \"Horms\" }\n");
    let said = desk.refused(&["check", "lesson.toml"]);
    assert!(said.contains("lesson.toml:3:9: rooom.toml: there is no such file") && said.contains("did you mean room.toml?"), "{said}");
    assert!(
        said.contains("lesson.toml:5:26: the room has no section called \"Horms\""),
        "the items are judged in the room beside it: {said}"
    );
}

#[test]
fn the_room_to_try_in_can_be_named() {
    let desk = Desk::new();
    desk.write("solo.toml", super::ROOM.replace("Horns", "Corni"));
    let said = desk.refused(&["check", "drill.toml", "--room", "solo.toml"]);
    assert!(said.contains("drill.toml:6:25: the room has no section called \"Horns\""), "{said}");
    assert!(desk.refused(&["check", "drill.toml", "--room", "drill.toml"]).contains("this is a drill, not a room"));
}
