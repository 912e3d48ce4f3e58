//! Defaults, forms of faults, and files that cannot be read.

use std::fs;

use super::at;
use book::{Book, Fault, load, read_drill, read_file, read_room};
use pitch::Temperament;
use sequencer::{Division, Group, Meter, SectionLine, StackTone, Syllables, Turn};
use units::{Beats, Tempo};

const ROOM: &str = "version = 1\nname = \"Room 12\"\n[[section]]\nname = \"Horns\"\ninstrument = \"horn_f\"\nseats = 3\n";
const DRILL: &str =
    "version = 1\ntitle = \"One\"\ntempo = 72.5\n[line]\nall = { concert = \"F4:1.5 -:1/3 Bb3:13/6\" }\n[[turn]]\nmodel = {}\n";

#[test]
fn what_a_room_leaves_out_has_defaults() {
    let room = read_room("room.toml", ROOM).unwrap();
    assert_eq!(room.reference.hertz().hz(), 440.0);
    assert_eq!((room.drone.root.to_string(), room.drone.temperament), ("Bb3".to_owned(), Temperament::Just));
    assert_eq!(room.drone.stack, [StackTone::Root, StackTone::Fifth]);
    let horns = &room.sections[0];
    assert_eq!((&horns.comfortable, horns.landmarks.len(), horns.seats.get()), (horns.instrument.comfortable(), 0, 3));
}

#[test]
fn what_a_room_says_counts() {
    let text = ROOM.replace(
        "[[",
        "reference_hz = 442.5\ndrone = { concert = \"F3\", stack = [\"root\", \"lower octave\", \"A4\"], tuning = \"equal\" }\nsyllables = \"ta-ka-di-mi\"\n[[",
    );
    let room = read_room("room.toml", &format!("{text}comfortable = \"C4..G4\"\nlandmarks = [\"G4\", \"E4\"]\n")).unwrap();
    assert_eq!((room.reference.hertz().hz(), room.syllables), (442.5, Syllables::TaKaDiMi));
    assert_eq!((room.drone.root.to_string(), room.drone.temperament), ("F3".to_owned(), Temperament::Equal));
    assert_eq!(room.drone.stack, [StackTone::Root, StackTone::LowerOctave, StackTone::Free("A4".parse().unwrap())]);
    assert_eq!(room.sections[0].comfortable.to_string(), "C4..G4");
    assert_eq!(room.sections[0].landmarks, ["G4", "E4"].map(|name| name.parse().unwrap()));
}

#[test]
fn what_a_drill_leaves_out_has_defaults() {
    let drill = read_drill("drill.toml", DRILL).unwrap().drill;
    assert_eq!((drill.tempo, drill.meter, drill.rounds, drill.key), (Tempo::new(72.5).unwrap(), Meter::COMMON, 1, None));
    assert_eq!((drill.groups, drill.call, drill.click), (vec![Group::Everyone], false, true));
    assert_eq!(drill.turns, [Turn::Model]);
    let Some(SectionLine::Concert(line)) = drill.everyone else { panic!("no line for all") };
    let [f, b_flat] = ["F4", "Bb3"].map(|name| name.parse().unwrap());
    assert_eq!(line.notes, [(Some(f), Beats::new(3, 2)), (None, Beats::new(1, 3)), (Some(b_flat), Beats::new(13, 6))]);
}

#[test]
fn what_a_drill_says_counts() {
    let turns = "[[turn]]\ncount = { bars = 2, rounds = \"first\", subdivide = 3 }\n[[turn]]\nbreath = {}\n[[turn]]\nrest = { bars = 3 }\n[[turn]]\ntalk = { note = \"Sit up\" }\n";
    let text = DRILL
        .replace(
            "[line]",
            "meter = \"6/8\"\nrounds = 3\ngroups = [[\"Horns\", \"Flutes\"], [\"ALL\"]]\nkey = \"Eb\"\nsyllables = \"e-and-a\"\ncall = true\nclick = false\n[line]",
        )
        .replace("[[turn]]", "Horns = { concert = \"F4:4\", exact = true }\n\"Bass Clarinets\" = { written = \"G4:4\" }\n[[turn]]");
    let drill = read_drill("drill.toml", &format!("{text}{turns}")).unwrap_or_else(|faults| panic!("{faults}")).drill;
    assert_eq!((drill.meter, drill.rounds, drill.call, drill.click), ("6/8".parse().unwrap(), 3, true, false));
    assert_eq!((drill.key, drill.syllables), (Some("Eb".parse().unwrap()), Some(Syllables::EAndA)));
    assert_eq!(drill.groups, [Group::Sections(vec!["Horns".into(), "Flutes".into()]), Group::Everyone]);
    // own lines come in the order of the file
    let own: Vec<_> = drill.own.iter().map(|(name, line)| (name.as_str(), matches!(line, SectionLine::Written(_)))).collect();
    assert_eq!(own, [("Horns", false), ("Bass Clarinets", true)]);
    assert!(matches!(drill.own[0].1, SectionLine::ExactConcert(_)));
    let expected = [
        Turn::Model,
        Turn::Count { bars: 2, first_round_only: true, division: Division::Three },
        Turn::Breath { bars: 1, beats: 2, division: Division::Beat },
        Turn::Rest { bars: 3 },
        Turn::Talk { note: "Sit up".into() },
    ];
    assert_eq!(drill.turns, expected);
}

#[test]
fn a_fault_reads_like_a_compilers() {
    let faults = read_room("week 7/room.toml", &ROOM.replace("horn_f", "horm in F").replace("seats = 3", "seats = 0")).unwrap_err();
    let expected = "\
week 7/room.toml:5:15: no instrument is called \"horm in F\"
  5 | instrument = \"horm in F\"
    |               ^^^^^^^^^
  mend: did you mean \"horn in F\"? `precentor instruments` lists all

week 7/room.toml:6:9: seats = 0 is out of bounds
  6 | seats = 0
    |         ^
  mend: write a whole number from 1 to 60, such as seats = 5";
    assert_eq!(faults.to_string(), expected);
}

#[test]
fn a_fault_is_data_too() {
    let faults = read_room("room.toml", &ROOM.replace("seats = 3", "seats = 0")).unwrap_err();
    let expected = serde_json::json!([{
        "file": "room.toml", "line": 6, "column": 9, "span": {"start": 86, "end": 87}, "excerpt": "seats = 0",
        "message": "seats = 0 is out of bounds", "mend": "write a whole number from 1 to 60, such as seats = 5",
    }]);
    assert_eq!(serde_json::to_value(&faults).unwrap(), expected);
    let whole = Fault::of_file("room.toml", "this is a folder", "name a file");
    assert_eq!(
        serde_json::to_value(&whole).unwrap(),
        serde_json::json!({"file": "room.toml", "message": "this is a folder", "mend": "name a file"})
    );
}

#[test]
fn carets_stand_under_wide_signs_tabs_and_long_lines() {
    let fault = |text: &str| read_room("r", text).unwrap_err().into_vec().remove(0).place.unwrap();
    let wide = fault(&ROOM.replace("\"Room 12\"", "\"教室\" # 十二\nseets = 1"));
    assert_eq!((wide.line, wide.column), (3, 1));
    let wide = fault(&ROOM.replace("seats = 3", "landmarks = [\"教4\"]\nseats = 3"));
    assert_eq!((wide.column, wide.caret.as_str()), (15, "              ^^^"));
    let tabbed = fault(&ROOM.replace("seats = 3", "\tseats\t=\t0"));
    assert_eq!((tabbed.column, tabbed.excerpt.as_str(), tabbed.caret.as_str()), (10, " seats = 0", "         ^"));
    let long = fault(&ROOM.replace("seats = 3", &format!("landmarks = [{}\"H4\"]\nseats = 3", " ".repeat(5000))));
    assert_eq!(long.column, 5015);
    assert!(long.excerpt.chars().count() <= 122 && long.caret.ends_with(" ^^"), "{long:?}");
    let marked = fault(&format!("\u{feff}{}", ROOM.replace("version", "vorsion")));
    assert_eq!((marked.column, marked.excerpt.as_str()), (1, "vorsion = 1"));
    let carriage = fault(&ROOM.replace("seats = 3", "seats = 0").replace('\n', "\r\n"));
    assert_eq!(carriage.excerpt, "seats = 0");
}

#[test]
fn no_fault_carries_a_terminal_sequence() {
    let text = ROOM.replace("\"horn_f\"", "\"horn\\u001b[31m\\u202e\" # \u{202e}");
    let shown = read_room("room\u{1b}]0;.toml", &text).unwrap_err().to_string();
    assert!(!shown.contains('\u{1b}') && !shown.contains('\u{202e}'), "{shown:?}");
}

#[test]
fn a_text_with_escapes_is_marked_as_a_whole() {
    let faults = read_room("r", &ROOM.replace("seats = 3", "seats = 3\nlandmarks = [\"\\u0048\\u0034\"]")).unwrap_err();
    let place = faults.into_vec().remove(0).place.unwrap();
    assert_eq!((place.column, place.caret.matches('^').count()), (14, 14));
}

#[test]
fn many_faults_are_counted_not_listed() {
    let faults = |count: usize| {
        let keys: String = (0..count).map(|number| format!("colour{number} = 1\n")).collect();
        read_room("r", &format!("{ROOM}{keys}")).unwrap_err()
    };
    assert!(faults(100).to_string().ends_with("\n\nand 60 more"));
    assert_eq!(faults(3000).iter().count(), book::Faults::MOST);
    assert!(faults(3000).to_string().ends_with("\n\nand at least 160 more"));
}

#[test]
fn the_wrong_sort_of_file_is_told_in_one_fault() {
    let one = |faults: book::Faults| {
        let faults = faults.into_vec();
        assert_eq!(faults.len(), 1, "{faults:?}");
        faults[0].message.clone()
    };
    assert_eq!(one(read_room("r", DRILL).unwrap_err()), "this is a drill, not a room");
    assert_eq!(one(read_drill("d", ROOM).unwrap_err()), "this is a room, not a drill");
}

/// The single fault of a file that cannot be read, without its name.
fn unreadable(path: &str) -> (String, String) {
    let faults = read_file(&at(path)).unwrap_err().into_vec();
    assert_eq!((faults.len(), faults[0].line()), (1, None));
    let root = format!("{}/", at("").display()).replace("//", "/");
    (faults[0].message.replace(&root, ""), faults[0].mend.replace(&root, ""))
}

#[test]
fn files_that_cannot_be_read_say_why() {
    let said = |path: &str, message: &str, mend: &str| assert_eq!(unreadable(path), (message.into(), mend.into()));
    said("examples", "this is a folder", "name a file in it, such as examples/alder-street.toml");
    said("schemas", "this is a folder", "name a file; this folder holds no .toml file");
    said("examples/midle-note.toml", "there is no such file", "did you mean examples/middle-note.toml?");
    said("schemas/room.toml", "there is no such file", "check the path; this folder holds no .toml file");
    said("exmaples/room.toml", "there is no folder exmaples", "check the path");
    let (message, mend) = unreadable("examples/zzzzzzzzzzzzzzzzzzzzzzz.toml");
    assert!(message == "there is no such file" && mend.starts_with("the folder holds alder-street.toml, "), "{message}: {mend}");
}

#[test]
fn too_long_a_file_is_refused_at_the_first_byte_over() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("long.toml");
    fs::write(&path, vec![b'#'; 1 << 20]).unwrap();
    assert_eq!(read_file(&path).unwrap().len(), 1 << 20);
    fs::write(&path, vec![b'#'; (1 << 20) + 1]).unwrap();
    assert_eq!(read_file(&path).unwrap_err().into_vec()[0].message, "the file is longer than 1048576 bytes");
}

#[test]
fn load_tells_rooms_from_drills() {
    assert!(matches!(load(&at("examples/alder-street.toml")), Ok(Book::Room(_))));
    assert!(matches!(load(&at("examples/middle-note.toml")), Ok(Book::Drill(_))));
}
