//! The writer: never waits, loses nothing it need not, and tells.

use super::{desk, of_seat};
use crate::{Echo, Filter, Record, Store, Verdict, Writer};
use rusqlite::Connection;
use std::path::PathBuf;
use std::time::{Duration, Instant};
use tempfile::TempDir;

fn seats(store: &Store) -> Vec<(u16, Verdict)> {
    store.records(&Filter::default()).unwrap().iter().map(|record| (record.seat.unwrap().get(), record.verdict)).collect()
}

/// Waits until `what` holds.
fn until(what: impl Fn() -> bool) {
    let end = Instant::now() + Duration::from_secs(20);
    while !what() {
        assert!(Instant::now() < end, "it never came");
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn the_last_verdicts_are_written_when_it_is_dropped() {
    let (_folder, path) = desk();
    let writer = Writer::start(path.clone()).unwrap();
    for number in 1..=50 {
        writer.note(Echo(number), of_seat(number as u16, Verdict::OnIt));
    }
    drop(writer);
    let all: Vec<_> = (1..=50).map(|number| (number, Verdict::OnIt)).collect();
    assert_eq!(seats(&Store::open(&path).unwrap()), all);
}

#[test]
fn a_verdict_on_the_same_echo_takes_the_place_of_the_one_before() {
    let (_folder, path) = desk();
    let writer = Writer::start(path.clone()).unwrap();
    for (echo, number, verdict) in [(1, 1, Verdict::Low), (2, 2, Verdict::OnIt), (1, 1, Verdict::OnIt), (3, 1, Verdict::High)] {
        writer.note(Echo(echo), of_seat(number, verdict));
    }
    assert_eq!(writer.end(), None);
    assert_eq!(seats(&Store::open(&path).unwrap()), [(1, Verdict::OnIt), (2, Verdict::OnIt), (1, Verdict::High)]);
}

#[test]
fn a_file_that_is_made_by_several_at_once_is_refused_to_none() {
    for _ in 0..60 {
        let (_folder, path) = desk();
        let together = std::sync::Barrier::new(4);
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| {
                    together.wait();
                    Store::open(&path).unwrap();
                });
            }
        });
    }
}

#[test]
fn two_consoles_at_once_lose_nothing() {
    const EACH: u64 = 150;
    let (_folder, path) = desk();
    std::thread::scope(|scope| {
        for console in [1_u16, 2] {
            let path = path.clone();
            scope.spawn(move || {
                let writer = Writer::start(path).unwrap();
                for number in 1..=EACH {
                    writer.note(Echo(number), of_seat(console, Verdict::OnIt));
                }
                assert_eq!(writer.end(), None);
            });
        }
    });
    let store = Store::open(&path).unwrap();
    for console in [1, 2] {
        assert_eq!(store.count(&Filter { seat: super::seat(console), ..Filter::default() }).unwrap().verdicts, EACH);
    }
}

#[test]
fn a_lock_is_waited_for_told_and_loses_nothing() {
    let (_folder, path) = desk();
    drop(Store::open(&path).unwrap());
    let other = Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let writer = Writer::start(path.clone()).unwrap();
    let before = Instant::now();
    for number in 1..=20 {
        writer.note(Echo(number), of_seat(number as u16, Verdict::OnIt));
    }
    assert!(before.elapsed() < Duration::from_millis(500), "whoever hands over never waits");
    until(|| writer.told().is_some_and(|told| told.contains("another program holds")));
    assert_eq!(writer.kept(), 0);
    other.execute_batch("COMMIT").unwrap();
    until(|| writer.kept() == 20);
    assert_eq!(writer.told().as_deref(), Some("The records are kept again."));
    assert_eq!(writer.end(), None);
    assert_eq!(seats(&Store::open(&path).unwrap()).len(), 20);
}

#[test]
fn a_file_it_may_not_use_is_told_once_and_what_was_lost_at_the_end() {
    let (_folder, path) = desk();
    std::fs::write(&path, "something else").unwrap();
    let writer = Writer::start(path.clone()).unwrap();
    writer.note(Echo(1), of_seat(1, Verdict::OnIt));
    until(|| writer.told().is_some_and(|told| told.contains("move it away")));
    writer.note(Echo(2), of_seat(2, Verdict::OnIt));
    let lost = writer.end().unwrap();
    assert!(lost.starts_with("Verdicts that could not be kept: 2."), "{lost}");
    assert_eq!(std::fs::read(&path).unwrap(), b"something else");
}

/// A writer that has kept echo 1 of seat 1, and whose file was removed then.
fn with_its_file_removed() -> (TempDir, PathBuf, Writer) {
    let (folder, path) = desk();
    let writer = Writer::start(path.clone()).unwrap();
    writer.note(Echo(1), of_seat(1, Verdict::OnIt));
    until(|| writer.kept() == 1);
    for entry in std::fs::read_dir(folder.path()).unwrap() {
        std::fs::remove_file(entry.unwrap().path()).unwrap();
    }
    (folder, path, writer)
}

#[test]
fn a_file_that_is_removed_is_made_anew() {
    let (_folder, path, writer) = with_its_file_removed();
    writer.note(Echo(2), of_seat(2, Verdict::Low));
    assert_eq!(writer.end(), None);
    assert_eq!(seats(&Store::open(&path).unwrap()), [(2, Verdict::Low)]);
}

#[test]
fn a_correction_after_the_file_was_made_anew_is_on_nobody_else_s_record() {
    let (_folder, path, writer) = with_its_file_removed();
    writer.note(Echo(2), of_seat(2, Verdict::Low));
    writer.note(Echo(1), of_seat(1, Verdict::High));
    assert_eq!(writer.end(), None);
    assert_eq!(seats(&Store::open(&path).unwrap()), [(2, Verdict::Low), (1, Verdict::High)]);
}

#[test]
fn a_room_called_anything_at_all_is_kept() {
    let (_folder, path) = desk();
    let odd = Record { room: "'; DROP TABLE verdicts; -- \0 \u{202e}".to_owned(), section: String::new(), ..of_seat(1, Verdict::OnIt) };
    let writer = Writer::start(path.clone()).unwrap();
    writer.note(Echo(1), odd.clone());
    drop(writer);
    assert_eq!(Store::open(&path).unwrap().records(&Filter::default()).unwrap(), [odd]);
}
