//! One broken file for each mistake: every fault at its place, with the phrase that mends it.

mod drills;
mod lessons;
mod others;
mod pieces;
mod rooms;

use std::collections::BTreeSet;
use std::fs;

use super::{at, json, validator};
use book::{Book, Faults, demo, load};

/// Who can see a mistake.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sort {
    /// Keys, types or bounds: an editor with the schema, and the reader.
    Structure,
    /// What the values mean together, or in the demo room: the reader alone.
    Meaning,
    /// No TOML, or no text at all: the reader; a schema is never asked.
    Text,
}

/// A fault: line, column (0 for a file as a whole), message, mend.
type Expected = (usize, usize, &'static str, &'static str);

/// A file, who can see what is wrong with it, and what is.
type Case = (&'static str, Sort, &'static [Expected]);

fn cases() -> impl Iterator<Item = &'static Case> {
    [drills::CASES, lessons::CASES, pieces::CASES, rooms::CASES, others::CASES].into_iter().flatten()
}

fn path(name: &str) -> std::path::PathBuf {
    at("tests/fixtures/broken").join(format!("{name}.toml"))
}

/// What is wrong with a file by itself, or else in the demo room.
fn faults(name: &str) -> Faults {
    match load(&path(name)) {
        Err(faults) => faults,
        Ok(Book::Room(_)) => panic!("{name} is a sound room"),
        Ok(Book::Piece(_)) => panic!("{name} is a sound piece"),
        Ok(Book::Drill(drill)) => drill.compile(&demo::room()).err().unwrap_or_else(|| panic!("{name} is a sound drill")),
        Ok(Book::Lesson(lesson)) => {
            let room = lesson.room(&mut demo::load);
            let lesson = lesson.within(&demo::room(), &mut demo::load);
            room.err().or(lesson.faults()).unwrap_or_else(|| panic!("{name} is a sound lesson"))
        }
    }
}

#[test]
fn every_mistake_is_told_at_its_place_with_its_mend() {
    for (name, _, expected) in cases() {
        let faults = faults(name);
        let found: Vec<_> = faults
            .iter()
            .map(|fault| (fault.line().unwrap_or(0), fault.column().unwrap_or(0), fault.message.as_str(), fault.mend.as_str()))
            .collect();
        assert_eq!(found, *expected, "{name}:\n{faults}");
    }
}

#[test]
fn every_broken_file_is_listed_once() {
    let listed: BTreeSet<_> = cases().map(|(name, ..)| path(name)).collect();
    let kept: BTreeSet<_> = fs::read_dir(at("tests/fixtures/broken")).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert_eq!((listed.len(), &listed), (cases().count(), &kept));
}

#[test]
fn the_schema_sees_mistakes_of_structure_and_no_others() {
    let schemas =
        [book::schema::room(), book::schema::drill(), book::schema::piece(), book::schema::lesson()].map(|schema| validator(&schema));
    for (name, sort, _) in cases().filter(|(_, sort, _)| *sort != Sort::Text) {
        let json = json(&fs::read_to_string(path(name)).unwrap());
        // a file of no sort at all is for none of the schemas
        let wanted = if json.get("section").is_some() {
            &schemas[..1]
        } else if json.get("turn").is_some() {
            &schemas[1..2]
        } else if name.starts_with("piece-") {
            &schemas[2..3]
        } else if json.get("item").is_some() {
            &schemas[3..]
        } else {
            &schemas
        };
        for schema in wanted {
            assert_eq!(schema.is_valid(&json), *sort == Sort::Meaning, "{name}");
        }
    }
}
