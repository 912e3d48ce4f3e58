//! Defaults, forms of faults, and files that cannot be read.

use std::fs;

use super::at;
use book::{Book, Fault, load, read_drill, read_file, read_lesson, read_room};
use pitch::Temperament;
use sequencer::lesson::{Excerpt, Ground};
use sequencer::{Advance, Division, Group, Hour, Item, Lesson, Meter, SectionLine, Slot, StackTone, Syllables, Turn, Work};
use units::{Beats, Tempo};

const ROOM: &str = "version = 1\nname = \"Room 12\"\n[[section]]\nname = \"Horns\"\ninstrument = \"horn_f\"\nseats = 3\n";
const DRILL: &str =
    "version = 1\ntitle = \"One\"\ntempo = 72.5\n[line]\nall = { concert = \"F4:1.5 -:1/3 Bb3:13/6\" }\n[[turn]]\nmodel = {}\n";

const LESSON: &str = "version = 1\ntitle = \"Week 7\"\n[[item]]\ntalk = { note = \"Sit up\" }\n";

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
fn what_a_lesson_leaves_out_has_defaults() {
    let file = read_lesson("lesson.toml", LESSON).unwrap();
    assert_eq!(file.lesson, Lesson { title: "Week 7".to_owned(), room: None, hour: Hour::Open });
    let slot = Slot { minutes: None, least: None, advance: Advance::OnGo, kept: true };
    let work = Work::Talk { note: "Sit up".to_owned() };
    assert_eq!(file.items[0].item.as_ref().unwrap(), &Item { title: None, slot, work });
}

#[test]
fn what_a_lesson_says_counts() {
    let text = LESSON.replace("[[item]]\ntalk", "room = \"a.toml\"\nstarts = \"9:05\"\nminutes = 45\n[[item]]\ntalk");
    let items = "\
[[item]]
title = \"Tune\"
drone = { concert = \"F3\", stack = [\"root\", \"octave\"], tuning = \"equal\", registers = \"room\", minutes = 3 }
advance = \"by itself\"
[[item]]
drone = {}
[[item]]
drill = { file = \"d.toml\" }
minutes = 8
least = 5
[[item]]
roll = { section = \"Horns\", drill = \"d.toml\" }
[[item]]
[item.landmarks]
section = \"Horns\"
[[item]]
climb = { tempo = 152.5, meter = \"6/8\", bars = 12, minutes = 9 }
[[item]]
climb = { piece = \"p.toml\", passage = \"end\" }
[[item]]
recheck = { piece = \"p.toml\" }
";
    let file = read_lesson("lesson.toml", &format!("{text}{items}")).unwrap_or_else(|faults| panic!("{faults}"));
    assert!(file.faults().is_none(), "{:?}", file.faults());
    assert_eq!(file.lesson.room.as_deref(), Some("a.toml"));
    assert_eq!(file.lesson.hour, Hour::Timed { starts: "9:05".parse().unwrap(), minutes: 45 });
    let items: Vec<_> = file.items.iter().skip(1).map(|item| item.item.clone().unwrap()).collect();
    let minutes: Vec<_> = items.iter().map(|item| item.slot.minutes).collect();
    assert_eq!(minutes, [Some(3), None, Some(8), None, None, Some(9), None, None]);
    assert_eq!((items[0].title.as_deref(), items[0].slot.advance, items[2].slot.least), (Some("Tune"), Advance::ByItself, Some(5)));
    let Work::Drone(Some(drone)) = &items[0].work else { panic!("{items:?}") };
    assert_eq!((drone.root.to_string(), drone.stack.len(), drone.temperament), ("F3".to_owned(), 2, Temperament::Equal));
    let section = "Horns".to_owned();
    let file = "d.toml".to_owned();
    assert_eq!(items[1].work, Work::Drone(None));
    assert_eq!(items[2].work, Work::Drill { file: file.clone() });
    assert_eq!(items[3].work, Work::Roll { section: section.clone(), drill: file });
    assert_eq!(items[4].work, Work::Landmarks { section });
    let Work::Climb { of: Ground::Bare { tempo, meter, bars }, .. } = items[5].work else { panic!("{items:?}") };
    assert_eq!((tempo.bpm(), meter.to_string(), bars), (152.5, "6/8".to_owned(), 12));
    let excerpt = |passage: Option<&str>| Excerpt { file: "p.toml".to_owned(), passage: passage.map(str::to_owned) };
    assert!(matches!(&items[6].work, Work::Climb { of: Ground::Piece(of), .. } if *of == excerpt(Some("end"))));
    assert!(matches!(&items[7].work, Work::Recheck { of, .. } if *of == excerpt(None)));
}

#[test]
fn an_error_in_one_item_leaves_the_others() {
    let broken = "[[item]]\ndrill = { fiel = \"d.toml\" }\n[[item]]\nlandmarks = { section = \"Horns\" }\n";
    let file = read_lesson("lesson.toml", &format!("{LESSON}{broken}")).unwrap();
    let sound: Vec<_> = file.items.iter().map(|item| item.item.is_ok()).collect();
    assert_eq!(sound, [true, false, true]);
    assert_eq!(file.slots()[1].minutes, Some(0));
    // more faults in one item than are collected hide none in the next
    let many: String = (0..3000).map(|number| format!("colour{number} = 1\n")).collect();
    let file = read_lesson("lesson.toml", &format!("{LESSON}[[item]]\ndrone = {{}}\n{many}{broken}")).unwrap();
    let sound: Vec<_> = file.items.iter().map(|item| item.item.is_ok()).collect();
    assert_eq!(sound, [true, false, false, true]);
}

#[test]
fn a_lesson_in_its_folder_says_what_is_not_there_and_leads_the_rest() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("lesson.toml");
    let items = "\
room = \"rom.toml\"
[[item]]
drill = { file = \"drill.toml\" }
[[item]]
drill = { file = \"dril.toml\" }
[[item]]
drill = { file = \"room.toml\" }
[[item]]
drill = { file = \"bad.toml\" }
";
    fs::write(&path, LESSON.replace("[[item]]", &format!("{items}[[item]]"))).unwrap();
    fs::write(folder.path().join("room.toml"), ROOM).unwrap();
    fs::write(folder.path().join("drill.toml"), DRILL.replace("F4:1.5 -:1/3 Bb3:13/6", "C4:4")).unwrap();
    fs::write(folder.path().join("bad.toml"), DRILL.replace("72.5", "725")).unwrap();
    let Ok(Book::Lesson(lesson)) = load(&path) else { panic!("no lesson") };
    let mut beside = |name: &str| book::load_beside(&path, name);
    let said =
        |faults: &book::Faults| faults.iter().map(|fault| (fault.line(), fault.message.clone(), fault.mend.clone())).collect::<Vec<_>>();
    let near = |name: &str| format!("did you mean {}?", folder.path().join(name).display());
    let room = lesson.room(&mut beside).unwrap_err();
    assert_eq!(said(&room), [(Some(3), "rom.toml: there is no such file".to_owned(), near("room.toml"))]);
    let lesson = lesson.within(&read_room("room.toml", ROOM).unwrap(), &mut beside);
    let bounds = "write a number from 30 to 240, such as tempo = 72".to_owned();
    let expected = [
        (Some(7), "dril.toml: there is no such file".to_owned(), near("drill.toml")),
        (Some(9), "room.toml is a room, not a drill".to_owned(), "name a drill here".to_owned()),
        (Some(11), "bad.toml has a fault, in line 3: tempo = 725 is out of bounds".to_owned(), bounds),
    ];
    assert_eq!(said(&lesson.faults().unwrap()), expected);
    assert!(lesson.items[0].item.is_ok() && lesson.items[4].item.is_ok());
}

#[test]
fn percussion_alone_needs_a_trusted_section() {
    let items = "[[item]]\nrecheck = { piece = \"lantern-march.toml\", steps = [\"full percussion\"] }\n[[item]]\nrecheck = { piece = \"lantern-march.toml\" }\n";
    let within = |room: &str| {
        let lesson = read_lesson("lesson.toml", &format!("{LESSON}{items}")).unwrap();
        lesson.within(&read_room("room.toml", room).unwrap(), &mut book::demo::load)
    };
    let distrusted = within(ROOM);
    let faults = distrusted.faults().unwrap().into_vec();
    assert_eq!((faults.len(), faults[0].line()), (1, Some(6)));
    assert!(
        faults[0].message.starts_with("no section of the room is trusted") && faults[0].mend.contains("trusted = true"),
        "{}",
        faults[0]
    );
    assert!(distrusted.items[2].item.is_ok() && distrusted.items[2].notices[0].text.starts_with("percussion is passed by"));
    let trusted = within(&format!("{ROOM}trusted = true\n"));
    assert!(trusted.faults().is_none() && trusted.items[2].notices.is_empty());
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
    assert_eq!(one(read_lesson("l", ROOM).unwrap_err()), "this is a room, not a lesson");
    assert_eq!(one(read_room("r", LESSON).unwrap_err()), "this is a lesson, not a room");
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
fn load_tells_the_sorts_apart() {
    assert!(matches!(load(&at("examples/alder-street.toml")), Ok(Book::Room(_))));
    assert!(matches!(load(&at("examples/middle-note.toml")), Ok(Book::Drill(_))));
    assert!(matches!(load(&at("examples/week-seven.toml")), Ok(Book::Lesson(_))));
}
