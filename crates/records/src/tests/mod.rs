//! The store and the writer, whole.

mod forgetting;
mod keeping;
mod model;
mod reading;
mod versions;
mod writing;

use crate::{HeardBy, Record, Verdict};
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
