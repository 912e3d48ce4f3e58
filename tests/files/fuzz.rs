//! Nothing a file can hold makes the readers panic, hang or point outside the text.

use book::{Faults, demo, read_drill, read_lesson, read_piece, read_room};
use proptest::prelude::*;
use proptest::sample::{Index, select};
use std::time::Duration;

/// No text of this size takes longer.
const LONGEST: Duration = Duration::from_secs(5);

fn points_inside(text: &str, faults: &Faults) {
    assert!(faults.iter().count() > 0);
    for fault in faults {
        assert!(!fault.message.is_empty() && !fault.mend.is_empty(), "{fault:?}");
        let place = fault.place.as_ref().expect("a fault of a text has a place");
        assert!(text.get(place.span.clone()).is_some(), "{:?} is not inside the text", place.span);
        let line = text.split('\n').nth(place.line - 1).expect("the line is in the text");
        assert!(place.column <= line.chars().count() + 1, "column {} of {line:?}", place.column);
        assert!(place.caret.trim_start().starts_with('^'));
    }
    assert!(!faults.to_string().is_empty());
}

/// What this thread has computed so far: a busy machine does not count.
fn cpu_time() -> Duration {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    Duration::new(now.tv_sec as u64, now.tv_nsec as u32)
}

/// Reads `text` as every sort of file.
fn read(text: &str) {
    let start = cpu_time();
    if let Err(faults) = read_room("fuzzed.toml", text) {
        points_inside(text, &faults);
    }
    match read_drill("fuzzed.toml", text) {
        Err(faults) => points_inside(text, &faults),
        Ok(drill) => {
            let room = demo::room();
            for plan in [drill.compile(&room), drill.in_turn(&room)] {
                if let Err(faults) = plan {
                    points_inside(text, &faults);
                }
            }
        }
    }
    match read_lesson("fuzzed.toml", text) {
        Err(faults) => points_inside(text, &faults),
        Ok(lesson) => {
            if let Some(faults) = lesson.within(&demo::room(), &mut demo::load).faults() {
                points_inside(text, &faults);
            }
        }
    }
    match read_piece("fuzzed.toml", text) {
        Err(faults) => points_inside(text, &faults),
        Ok(file) => super::pieces::reads_back(&file),
    }
    let took = cpu_time() - start;
    assert!(took < LONGEST, "took {took:?}");
}

/// Pieces that files are made of, and some that they should not be.
const PIECES: [&str; 69] = [
    "[[item]]\n",
    "[item]\n",
    "title = \"x\"\n",
    "minutes = 8\n",
    "least = 4\n",
    "starts = \"10:15\"\n",
    "advance = \"by itself\"\n",
    "drone = {}\n",
    "drill = { file = \"middle-note.toml\" }\n",
    "roll = { section = \"Horns\", drill = \"two-notes.toml\" }\n",
    "climb = { tempo = ",
    "recheck = { piece = \"",
    "talk = { note = \"",
    "version = 1\n",
    "version = 99999999999999999999\n",
    "name = \"x\"\n",
    "[[section]]\n",
    "[section]\n",
    "[[turn]]\n",
    "[turn]\n",
    "[line]\n",
    "title = \"x\"\ntempo = 72\nbars = 20\n",
    "pickup = 1\n",
    "[[change]]\nbar = 9\n",
    "meter = \"5/8\"\n",
    "[[mark]]\nname = \"B\"\nbar = 9\n",
    "[[passage]]\nname = \"x\"\n",
    "from = \"B\"\n",
    "to = 12\n",
    "[[numbered]]\nafter = 9\nnumber = \"9a\"\n",
    "[[incomplete]]\nbar = \"9a\"\nbeats = 1\n",
    "[[repeat]]\nfrom = 1\nto = 8\n",
    "[climb]\nstart = 60\n",
    "all = ",
    "{ concert = \"",
    "{ written = \"",
    "F4:4",
    " -:1/3",
    ":",
    "Bb3:",
    "1/0",
    "0.000001",
    "\"",
    "\"\"\"",
    "'",
    "{",
    "}",
    "[",
    "]",
    "=",
    ",",
    "\n",
    "\r\n",
    "\\u0000",
    "\\",
    "é",
    "\u{1f3ba}",
    "\u{feff}",
    "nan",
    "-inf",
    "1e308",
    "1979-05-27",
    "true",
    "tempo",
    "seats = ",
    "rounds = 200\n",
    "#",
    "10000",
    "0x7fffffffffffffff",
];

#[derive(Clone, Debug)]
enum Change {
    Delete(Index, usize),
    Duplicate(Index, usize),
    Insert(Index, &'static str),
    Replace(Index, usize, &'static str),
    Cut(Index),
}

fn change() -> impl Strategy<Value = Change> {
    let place = any::<Index>;
    let length = || prop_oneof![1..8_usize, 1..200_usize];
    prop_oneof![
        (place(), length()).prop_map(|(at, length)| Change::Delete(at, length)),
        (place(), length()).prop_map(|(at, length)| Change::Duplicate(at, length)),
        (place(), select(&PIECES[..])).prop_map(|(at, piece)| Change::Insert(at, piece)),
        (place(), length(), select(&PIECES[..])).prop_map(|(at, length, piece)| Change::Replace(at, length, piece)),
        place().prop_map(Change::Cut),
    ]
}

fn changed(text: &str, changes: &[Change]) -> String {
    let mut characters: Vec<char> = text.chars().collect();
    for change in changes {
        let span = |at: &Index, length: usize| {
            let start = at.index(characters.len() + 1);
            start..(start + length).min(characters.len())
        };
        match change {
            Change::Delete(at, length) => drop(characters.drain(span(at, *length))),
            Change::Duplicate(at, length) => {
                let span = span(at, *length);
                let copy = characters[span.clone()].to_vec();
                characters.splice(span.start..span.start, copy);
            }
            Change::Insert(at, piece) => {
                let span = span(at, 0);
                characters.splice(span, piece.chars());
            }
            Change::Replace(at, length, piece) => {
                let span = span(at, *length);
                characters.splice(span, piece.chars());
            }
            Change::Cut(at) => characters.truncate(at.index(characters.len() + 1)),
        }
    }
    characters.into_iter().collect()
}

fn demo_text() -> impl Strategy<Value = &'static str> {
    let mut texts = vec![demo::ROOM.1];
    texts.extend(demo::DRILLS.map(|(_, text)| text));
    texts.extend([demo::LESSON.1; 3]);
    texts.extend([demo::PIECE.1, super::pieces::EVERYTHING]);
    select(texts)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 5_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_survived(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        read(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn any_text_is_survived(text in "\\PC{0,200}") {
        read(&text);
    }

    #[test]
    fn any_pieces_are_survived(pieces in prop::collection::vec(select(&PIECES[..]), 0..60)) {
        read(&pieces.concat());
    }

    #[test]
    fn any_value_of_a_key_is_survived(key in select(&["tempo", "meter", "rounds", "groups", "key", "call", "line", "turn"][..]), value in "[ -~]{0,30}") {
        read(&format!("version = 1\ntitle = \"x\"\n{key} = {value}\n[[turn]]\nmodel = {{}}\n"));
    }

    #[test]
    fn any_value_in_an_item_is_survived(key in select(&["title", "minutes", "least", "advance", "drone", "landmarks", "drill", "roll", "climb", "recheck", "talk"][..]), value in "[ -~]{0,30}") {
        read(&format!("version = 1\ntitle = \"x\"\n[[item]]\n{key} = {value}\nminutes = 3\n[[item]]\n{key} = {{ {value} }}\n"));
    }

    #[test]
    fn any_line_of_notes_is_survived(line in "([A-H][b#]{0,2}[0-9]?|-)?:?([0-9]{0,5}[./]?[0-9]{0,4})( [A-G]4:[0-9]{1,3}/[0-9]{1,3}){0,20}") {
        read(&format!("version = 1\ntitle = \"x\"\ntempo = 72\nline = {{ all = {{ concert = \"{line}\" }} }}\n[[turn]]\nmodel = {{}}\n"));
    }

    #[test]
    fn any_change_of_a_demo_file_is_survived(text in demo_text(), changes in prop::collection::vec(change(), 1..6)) {
        read(&changed(text, &changes));
    }
}

#[test]
fn deep_nesting_and_long_tokens_are_survived() {
    for piece in ["[", "{a=", "a.", "[[", "\"\"\"", "F4:1 ", "H4:1 ", "a = 1\n", "[a]\n"] {
        read(&piece.repeat(20_000));
        read(&format!("version = 1\n[line]\nall = {{ concert = \"{}", piece.repeat(20_000)));
    }
    let keys: String = (0..60_000).map(|number| format!("k{number} = 1\n")).collect();
    read(&format!("version = 1\n{keys}[[section]]\n"));
    read(&format!("version = 1\n{} = 1\n[[section]]", "x".repeat(100_000)));
}
