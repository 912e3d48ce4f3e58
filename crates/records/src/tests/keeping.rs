//! What is kept comes back, and stays whatever happens.

use super::{desk, of_seat, seat};
use crate::{Confidence, EntryMs, Filter, HeardBy, Record, RecordsError, Store, Verdict};
use std::num::NonZeroI8;
use units::Cents;

fn heard() -> Record {
    Record {
        lesson: Some("Week 7".to_owned()),
        heard: Some("C4".parse().unwrap()),
        cents: Some(Cents(-12.25)),
        entry: Some(EntryMs(84.5)),
        by: HeardBy::Microphone,
        confidence: Confidence::new(0.75),
        ..of_seat(2, Verdict::Partials(NonZeroI8::new(-2).unwrap()))
    }
}

#[test]
fn what_is_kept_comes_back() {
    let (_folder, path) = desk();
    assert!(Store::find(&path).unwrap().is_none() && !path.exists(), "looking makes nothing");
    let section = Record { seat: None, target: None, ..of_seat(1, Verdict::Nothing) };
    let kept = [of_seat(1, Verdict::OnIt), heard(), section];
    let mut store = Store::open(&path).unwrap();
    for record in &kept {
        store.keep(record, None).unwrap();
    }
    drop(store);
    assert_eq!(Store::find(&path).unwrap().unwrap().records(&Filter::default()).unwrap(), kept);
}

#[test]
fn what_is_no_number_is_not_kept() {
    let (_folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    store.keep(&Record { cents: Some(Cents(f64::NAN)), entry: Some(EntryMs(f64::INFINITY)), ..heard() }, None).unwrap();
    assert_eq!(store.records(&Filter::default()).unwrap(), [Record { cents: None, entry: None, ..heard() }]);
    assert_eq!((Confidence::new(1.01), Confidence::new(f64::NAN)), (None, None));
}

#[test]
fn a_correction_takes_the_place_of_what_it_corrects_and_of_nothing_else() {
    let (_folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    store.keep(&of_seat(1, Verdict::OnIt), None).unwrap();
    let second = store.keep(&of_seat(2, Verdict::Low), None).unwrap();
    assert_eq!(store.keep(&of_seat(2, Verdict::High), Some(second)).unwrap(), second);
    let now = [of_seat(1, Verdict::OnIt), of_seat(2, Verdict::High)];
    assert_eq!(store.records(&Filter::default()).unwrap(), now);
    // what was forgotten meanwhile is not overwritten: its id belongs to nobody else
    store.forget(&Filter { seat: seat(2), ..Filter::default() }).unwrap();
    let third = store.keep(&of_seat(3, Verdict::OnIt), None).unwrap();
    assert_ne!(third, second);
    assert_ne!(store.keep(&of_seat(2, Verdict::OnIt), Some(second)).unwrap(), second);
    assert_eq!(store.count(&Filter::default()).unwrap().verdicts, 3);
}

#[test]
fn a_full_disk_loses_nothing_that_was_kept() {
    let (_folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    store.fill_the_disk();
    let mut kept = 0;
    let error = loop {
        match store.keep(&of_seat(1, Verdict::OnIt), None) {
            Ok(_) => kept += 1,
            Err(error) => break error,
        }
        assert!(kept < 100_000, "the disk is never full");
    };
    assert!(matches!(error, RecordsError::Full { .. }), "{error}");
    assert!(error.to_string().contains("records.db") && error.to_string().contains("free some space"), "{error}");
    assert!(kept > 0);
    assert_eq!(store.count(&Filter::default()).unwrap().verdicts, kept);
    // forgetting is possible all the same, and makes room
    assert_eq!(store.forget(&Filter::default()).unwrap().verdicts, kept);
    store.keep(&of_seat(1, Verdict::OnIt), None).unwrap();
}

#[test]
fn a_folder_that_cannot_be_made_is_named() {
    let (folder, path) = desk();
    std::fs::write(&path, "a file in the way").unwrap();
    let error = Store::open(&path.join("deeper/records.db")).unwrap_err().to_string();
    assert!(error.contains("records.db") && (error.contains("XDG_DATA_HOME") || error.contains("allow yourself")), "{error}");
    drop(folder);
}

#[cfg(unix)]
#[test]
fn nobody_else_may_read_it() {
    use std::os::unix::fs::PermissionsExt;
    let (folder, path) = desk();
    let path = path.parent().unwrap().join("own/records.db");
    let mut store = Store::open(&path).unwrap();
    store.keep(&of_seat(1, Verdict::OnIt), None).unwrap();
    let mode = |path: &std::path::Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(path.parent().unwrap()), 0o700);
    let files: Vec<_> = std::fs::read_dir(path.parent().unwrap()).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert_eq!(files.len(), 3, "the log and its index lie beside it: {files:?}");
    for file in files {
        assert_eq!(mode(&file), 0o600, "{}", file.display());
    }
    drop(folder);
}
