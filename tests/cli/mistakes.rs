//! Mistakes: exit code 2, and a sentence that says where, what and how to mend it. Nothing is written.

use super::{DRILL, Desk, ROOM};

/// Renders a drill in a room, which must be refused saying all of `said` and leave nothing.
fn refused(drill: &str, room: &str, said: &[&str]) {
    let desk = Desk::new();
    desk.write("drill.toml", drill);
    desk.write("room.toml", room);
    for args in [&["check", "drill.toml", "--room", "room.toml"][..], &["render", "drill.toml", "--room", "room.toml", "-o", "out.wav"]] {
        let err = desk.refused(args);
        for said in said {
            assert!(err.contains(said), "{args:?}: {said} in {err}");
        }
    }
    assert_eq!(desk.made(), [""; 0]);
}

#[test]
fn a_note_outside_the_instrument() {
    let drill = DRILL.replace("[line]", "[line]\nHorns = { written = \"C8:4\" }");
    refused(&drill, ROOM, &["drill.toml:8:22: C8 is outside the Horn in F", "^^", "mend: write a note inside it"]);
}

#[test]
fn an_unknown_section() {
    let drill = DRILL.replace("[\"Horns\"]", "[\"Horms\"]");
    refused(&drill, ROOM, &["drill.toml:6:25: the room has no section called \"Horms\"", "mend: did you mean \"Horns\"?"]);
    let desk = Desk::new();
    for way in ["--roll", "--landmarks"] {
        let err = desk.refused(&["render", "drill.toml", "-o", "out.wav", way, "Flute"]);
        assert_eq!(err, "precentor: Cedar Lane, first hour has no section called \"Flute\"; did you mean \"Flutes\"?\n");
    }
}

#[test]
fn an_unknown_instrument() {
    let room = ROOM.replace("horn in F", "hron in F");
    refused(DRILL, &room, &["room.toml:9:15: no instrument is called \"hron in F\"", "mend: did you mean \"horn"]);
    let desk = Desk::new();
    for command in ["concert", "written"] {
        assert!(desk.refused(&[command, "C4", "--instrument", "trumpit"]).contains("did you mean \"trumpet\"?"));
    }
}

#[test]
fn a_tempo_out_of_bounds() {
    for tempo in ["29", "241", "-1"] {
        let drill = DRILL.replace("tempo = 120", &format!("tempo = {tempo}"));
        refused(&drill, ROOM, &["drill.toml:3:9: tempo = ", "is out of bounds", "mend: write a number from 30 to 240"]);
    }
}

#[test]
fn a_line_that_does_not_fill_its_bars() {
    let drill = DRILL.replace("F4:4", "F4:4 G4:1");
    refused(&drill, ROOM, &["drill.toml:8:19: the line lasts 5 beats and does not fill its bars of 4", "mend: add 3 more"]);
}

#[test]
fn a_section_without_seats() {
    refused(
        DRILL,
        &ROOM.replace("seats = 2", "seats = 0"),
        &["room.toml:10:9: seats = 0 is out of bounds", "mend: write a whole number from 1"],
    );
}

#[test]
fn a_folder_for_a_file() {
    let desk = Desk::new();
    std::fs::create_dir(desk.path("folder")).unwrap();
    desk.write("folder/a.toml", DRILL);
    for args in [&["check", "folder"][..], &["render", "folder", "-o", "out.wav"], &["written", "F4", "--room", "folder"]] {
        let err = desk.refused(args);
        assert!(err.contains("folder: this is a folder") && err.contains("mend: name a file in it, such as folder/a.toml"), "{err}");
    }
    let err = desk.refused(&["render", "drill.toml", "-o", "folder"]);
    assert_eq!(err, "precentor: folder is a folder; name a file in it\n");
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read() {
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;
    let desk = Desk::new();
    std::fs::set_permissions(desk.path("drill.toml"), std::fs::Permissions::from_mode(0o000)).unwrap();
    std::fs::set_permissions(desk.path("."), std::fs::Permissions::from_mode(0o755)).unwrap();
    let mut program = desk.program();
    program.args(["check", "drill.toml"]);
    if std::fs::File::open(desk.path("drill.toml")).is_ok() {
        // the superuser reads everything; as nobody, one does not
        program.uid(65_534);
    }
    let Ok(output) = program.output() else {
        println!("skipped: the program cannot be run as another user here");
        return;
    };
    let run = super::Run::of(&output);
    assert_eq!(run.code, 2, "{}", run.err);
    assert!(
        run.err.contains("drill.toml: this file may not be read") && run.err.contains("mend: allow yourself to read it"),
        "{}",
        run.err
    );
}

#[test]
fn text_that_is_not_utf_8() {
    let desk = Desk::new();
    desk.write("drill.toml", b"version = 1\ntitle = \"caf\xe9\"\n");
    let err = desk.refused(&["check", "drill.toml"]);
    assert!(err.contains("drill.toml: this is not UTF-8 text") && err.contains("in line 2") && err.contains("mend: save it"), "{err}");
}

#[test]
fn a_file_that_is_not_there() {
    let desk = Desk::new();
    let err = desk.refused(&["render", "dril.toml", "-o", "out.wav"]);
    assert!(err.contains("dril.toml: there is no such file") && err.contains("mend: did you mean drill.toml?"), "{err}");
    assert!(desk.refused(&["render", "demo:two-note", "-o", "out.wav"]).contains("did you mean demo:two-notes?"));
}

#[test]
fn a_file_that_is_there_already() {
    let desk = Desk::new();
    std::fs::create_dir(desk.path("stems")).unwrap();
    for name in ["out.wav", "out.json", "stems/horns.wav"] {
        desk.write(name, "mine");
        let err = desk.refused(&["render", "drill.toml", "-o", "out.wav", "--cues", "out.json", "--stems", "stems"]);
        assert_eq!(err, format!("precentor: {name} is there already; name another file, or say --force to replace it\n"));
        assert_eq!(desk.read(name), b"mine");
        std::fs::remove_file(desk.path(name)).unwrap();
    }
    assert_eq!(desk.made(), ["stems"], "no passing files are left");
    desk.write("out.wav", "mine");
    desk.done(&["render", "drill.toml", "-o", "out.wav", "--force"]);
    assert_ne!(desk.read("out.wav"), b"mine");
}

#[test]
fn a_file_over_itself() {
    let desk = Desk::new();
    let err = desk.refused(&["render", "drill.toml", "-o", "./drill.toml", "--force"]);
    assert!(err.contains("would be written over itself"), "{err}");
    assert_eq!(desk.read("drill.toml"), DRILL.as_bytes());
    assert!(desk.refused(&["render", "drill.toml", "-o", "a", "--cues", "./a"]).contains("name the same file"));
}

#[test]
fn a_folder_that_is_not_there() {
    let err = Desk::new().refused(&["render", "drill.toml", "-o", "none/out.wav"]);
    assert_eq!(err, "precentor: there is no folder none; make it, or name another\n");
}

#[test]
fn a_room_where_a_drill_is_needed() {
    let desk = Desk::new();
    for args in [&["--roll", "Horns"][..], &["--in-turn"], &["--rounds", "2"]] {
        let err = desk.refused(&[&["render", "room.toml", "-o", "out.wav"], args].concat());
        assert!(err.contains("room.toml is a room, and this takes a drill; name a drill"), "{err}");
    }
}

#[test]
fn a_misspelt_command() {
    let desk = Desk::new();
    assert_eq!(desk.refused(&["rendr"]), "precentor: \"rendr\" is neither a command nor a file; did you mean render?\n");
    assert!(desk.refused(&["nothing.toml"]).contains("nothing.toml: there is no such file"));
}

#[test]
fn a_console_on_a_broken_file() {
    let desk = Desk::new();
    desk.write("bad.toml", DRILL.replace("tempo = 120", "tempo = 20"));
    for args in [&["bad.toml", "--no-sound"][..], &["lead", "bad.toml", "--no-sound"]] {
        assert!(desk.refused(args).contains("bad.toml:3:9: tempo = 20 is out of bounds"));
    }
}

#[test]
fn values_that_mean_nothing() {
    let desk = Desk::new();
    for (args, said) in [
        (&["concert", "H4", "--instrument", "flute"][..], "\"H4\" is not a pitch"),
        (&["concert", "C4", "--instrument", "flute", "--reference", "400"], "A4 goes from 415 to 466 Hz"),
        (&["concert", "C4", "--instrument", "flute", "--reference", "high"], "A4 goes from 415 to 466 Hz"),
        (&["concert", "C4", "--instrument", "flute", "--tuning", "well"], "write equal, just or pythagorean"),
        (&["written", "C4", "--key", "g"], "write G major or G minor"),
        (&["render", "demo", "-o", "x.wav", "--rate", "7"], "48000 suits most devices"),
        (&["render", "demo", "-o", "x.wav", "--rate", "fast"], "48000 suits most devices"),
        (&["render", "demo", "-o", "x.wav", "--rounds", "0"], "--rounds"),
        (&["render", "demo"], "--output"),
        (&["written"], "PITCH"),
        (&["climb", "fast"], "write beats per minute"),
        (&["climb", "300"], "30 to 240"),
        (&["climb", "120", "--step", "24..16"], "such as 16..24"),
        (&["climb", "120", "--start", "121"], "start at or under the goal"),
        (&["completions", "cmd"], "possible values"),
    ] {
        let err = desk.refused(args);
        assert!(err.contains(said), "{args:?}: {err}");
    }
}
