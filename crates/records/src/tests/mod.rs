//! The store and the writer, whole.

mod audio;
mod forgetting;
mod keeping;
mod model;
mod reading;
mod shares;
mod versions;
mod writing;

use crate::{EntryMs, HeardBy, NoteShare, Record, SectionRecord, SpreadMs, Verdict};
use jiff::Timestamp;
use std::num::NonZeroU16;
use std::path::PathBuf;
use tempfile::TempDir;

/// A folder of its own, with the file in it.
fn desk() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("records.db");
    (folder, path)
}

fn seat(number: u16) -> Option<NonZeroU16> {
    NonZeroU16::new(number)
}

fn moment(text: &str) -> Timestamp {
    text.parse().unwrap()
}

/// What the ear says of a seat of the horns.
fn of_seat(number: u16, verdict: Verdict) -> Record {
    Record {
        when: moment("2031-02-03T09:15:00.250Z"),
        room: "Cedar Lane, first hour".to_owned(),
        section: "Horns".to_owned(),
        seat: seat(number),
        drill: "One note each".to_owned(),
        lesson: None,
        target: Some("G4".parse().unwrap()),
        heard: None,
        verdict,
        cents: None,
        entry: None,
        by: HeardBy::Ear,
        confidence: None,
    }
}

/// What the microphone says of all the horns.
fn of_horns(on_g: f64, on_c: f64) -> SectionRecord {
    let note = |written: &str, share: f64| NoteShare {
        written: written.parse().unwrap(),
        share,
        low: (share - 0.125).max(0.0),
        high: (share + 0.125).min(1.0),
    };
    SectionRecord {
        when: moment("2031-02-03T09:20:00.500Z"),
        room: "Cedar Lane, first hour".to_owned(),
        section: "Horns".to_owned(),
        drill: "One note each".to_owned(),
        lesson: Some("Week 7".to_owned()),
        target: Some("G4".parse().unwrap()),
        shares: vec![note("C4", on_c), note("G4", on_g)],
        players: seat(5),
        elsewhere: Some(0.0625),
        cents: Some(units::Cents(-7.5)),
        entry: Some(EntryMs(31.0)),
        spread: Some(SpreadMs(44.0)),
    }
}

/// Whether any file in `folder`, or in a folder of it, holds `text`.
fn holds(folder: &std::path::Path, text: &[u8]) -> bool {
    std::fs::read_dir(folder).unwrap().any(|entry| {
        let path = entry.unwrap().path();
        if path.is_dir() {
            return holds(&path, text);
        }
        std::fs::read(path).unwrap().windows(text.len()).any(|window| window == text)
    })
}
