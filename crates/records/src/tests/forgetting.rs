//! What is forgotten is in no file any more.

use super::{desk, of_seat, seat};
use crate::{Counts, Filter, Record, RecordsError, Store, Verdict};
use rusqlite::Connection;
use std::path::Path;

/// Whether any file in `folder` holds `text`.
fn holds(folder: &Path, text: &str) -> bool {
    super::holds(folder, text.as_bytes())
}

/// A record of `section`, with a drill's title by which its bytes are found.
fn marked(section: &str, number: u16, mark: &str) -> Record {
    Record { section: section.to_owned(), drill: mark.to_owned(), ..of_seat(number, Verdict::Low) }
}

#[test]
fn the_bytes_of_a_forgotten_seat_are_in_no_file() {
    let (folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    let page_after_page: Vec<_> =
        (0..400).map(|count| marked("Horns", 1 + count % 5, &format!("mark of seat {}", 1 + count % 5))).collect();
    store.keep_all(&page_after_page).unwrap();
    store.keep(&marked("Violet Section", 9, "mark of seat 9"), None).unwrap();
    assert!(holds(folder.path(), "mark of seat 4") && holds(folder.path(), "Violet Section"), "it would be found");
    assert_eq!(store.forget(&Filter { section: Some("Horns".to_owned()), seat: seat(4), ..Filter::default() }).unwrap().verdicts, 80);
    assert!(!holds(folder.path(), "mark of seat 4"));
    assert!(holds(folder.path(), "mark of seat 3") && holds(folder.path(), "mark of seat 9"));
    // the last record of a section takes its name with it
    assert_eq!(store.forget(&Filter { seat: seat(9), ..Filter::default() }).unwrap().verdicts, 1);
    assert!(!holds(folder.path(), "mark of seat 9") && !holds(folder.path(), "Violet Section"));
    assert_eq!(store.places().unwrap(), [("Cedar Lane, first hour".to_owned(), "Horns".to_owned())]);
    drop(store);
    assert!(!holds(folder.path(), "mark of seat 4") && holds(folder.path(), "mark of seat 3"));
}

#[test]
fn the_bytes_of_what_was_corrected_are_gone_with_the_record() {
    let (folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    let id = store.keep(&marked("Horns", 1, "first said"), None).unwrap();
    store.keep(&marked("Horns", 1, "then said"), Some(id)).unwrap();
    store.forget(&Filter::default()).unwrap();
    assert!(!holds(folder.path(), "first said") && !holds(folder.path(), "then said") && !holds(folder.path(), "Horns"));
}

#[test]
fn a_reader_in_the_way_is_told() {
    let (folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    store.keep(&marked("Horns", 1, "still read"), None).unwrap();
    let reader = Connection::open(&path).unwrap();
    reader.execute_batch("BEGIN; SELECT * FROM verdicts").unwrap();
    let error = store.forget(&Filter::default()).unwrap_err();
    assert!(matches!(error, RecordsError::StillRead { .. }), "{error}");
    assert_eq!(store.count(&Filter::default()).unwrap().verdicts, 0, "gone for everyone who reads from now on");
    reader.execute_batch("COMMIT").unwrap();
    assert_eq!(store.forget(&Filter::default()).unwrap(), Counts::default());
    assert!(!holds(folder.path(), "still read"));
}

#[test]
fn another_console_that_only_stands_open_is_not_in_the_way() {
    let (folder, path) = desk();
    let mut one = Store::open(&path).unwrap();
    let mut other = Store::open(&path).unwrap();
    one.keep(&marked("Horns", 1, "by the one"), None).unwrap();
    other.keep(&marked("Horns", 2, "by the other"), None).unwrap();
    assert_eq!(one.forget(&Filter { seat: seat(2), ..Filter::default() }).unwrap().verdicts, 1);
    assert!(!holds(folder.path(), "by the other"));
    other.keep(&marked("Horns", 3, "and on"), None).unwrap();
    assert_eq!(one.count(&Filter::default()).unwrap().verdicts, 2);
}
