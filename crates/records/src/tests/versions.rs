//! Files of every version: earlier ones are brought up, later and foreign ones left as they are.

use super::{desk, moment, of_seat};
use crate::{Filter, Record, RecordsError, Store, VERSION, Verdict};
use rusqlite::Connection;
use std::path::Path;
use units::Cents;

/// A file of version 1 as the first program wrote it, by hand.
const FIRST: &str = "
    CREATE TABLE sections (id INTEGER PRIMARY KEY, room TEXT NOT NULL, name TEXT NOT NULL, UNIQUE (room, name)) STRICT;
    CREATE TABLE verdicts (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        section INTEGER NOT NULL REFERENCES sections (id) ON DELETE CASCADE,
        seat INTEGER CHECK (seat BETWEEN 1 AND 65535), at_ms INTEGER NOT NULL, drill TEXT NOT NULL, target TEXT, heard TEXT,
        verdict TEXT NOT NULL, steps INTEGER CHECK (steps BETWEEN -128 AND 127 AND steps <> 0), cents REAL, entry_ms REAL,
        heard_by TEXT NOT NULL CHECK (heard_by IN ('ear', 'microphone')), confidence REAL CHECK (confidence BETWEEN 0 AND 1)
    ) STRICT;
    INSERT INTO sections VALUES (1, 'Cedar Lane, first hour', 'Horns');
    INSERT INTO verdicts VALUES
        (1, 1, 3, 1927876500250, 'One note each', 'G4', NULL, 'on it', NULL, NULL, NULL, 'ear', NULL),
        (2, 1, 3, 1927876500250, 'One note each', 'G4', 'C4', 'low partial', -2, -8.5, NULL, 'ear', NULL);
    PRAGMA application_id = 1347568963;
    PRAGMA user_version = 1;";

fn everything(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap())
        .map(|entry| (entry.file_name().to_string_lossy().into_owned(), std::fs::read(entry.path()).unwrap()))
        .collect();
    files.sort();
    files
}

#[test]
fn a_file_of_the_first_version_is_brought_up_with_all_it_holds() {
    let (_folder, path) = desk();
    Connection::open(&path).unwrap().execute_batch(FIRST).unwrap();
    let mut store = Store::open(&path).unwrap();
    let low = Verdict::read("low partial", std::num::NonZeroI8::new(-2)).unwrap();
    let second = Record { heard: Some("C4".parse().unwrap()), cents: Some(Cents(-8.5)), ..of_seat(3, low) };
    assert_eq!(store.records(&Filter::default()).unwrap(), [of_seat(3, Verdict::OnIt), second]);
    assert_eq!(moment("2031-02-03T09:15:00.250Z").as_millisecond(), 1_927_876_500_250);
    let led_in = Record { lesson: Some("Week 7".to_owned()), ..of_seat(4, Verdict::Low) };
    store.keep(&led_in, None).unwrap();
    assert_eq!(store.records(&Filter { seat: super::seat(4), ..Filter::default() }).unwrap(), [led_in]);
    drop(store);
    let raw = Connection::open(&path).unwrap();
    assert_eq!(raw.pragma_query_value(None, "user_version", |row| row.get::<_, u32>(0)).unwrap(), VERSION);
    // brought up or made new, the shape is the same
    let shape = |connection: &Connection| -> Vec<(String, String)> {
        let mut statement =
            connection.prepare("SELECT m.name, c.name FROM sqlite_schema m, pragma_table_xinfo(m.name) c ORDER BY 1, 2").unwrap();
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
        rows.map(Result::unwrap).collect()
    };
    let (_folder, new) = desk();
    drop(Store::open(&new).unwrap());
    assert_eq!(shape(&raw), shape(&Connection::open(&new).unwrap()));
}

#[test]
fn a_file_of_the_second_version_is_brought_up_with_all_it_holds() {
    let (_folder, path) = desk();
    let second = format!(
        "{FIRST}
        ALTER TABLE verdicts ADD COLUMN lesson TEXT;
        CREATE INDEX verdicts_by_place ON verdicts (section, seat, at_ms);
        UPDATE verdicts SET lesson = 'Week 7';
        PRAGMA user_version = 2;"
    );
    Connection::open(&path).unwrap().execute_batch(&second).unwrap();
    let mut store = Store::open(&path).unwrap();
    let lessons: Vec<_> = store.records(&Filter::default()).unwrap().into_iter().map(|record| record.lesson).collect();
    assert_eq!(lessons, [Some("Week 7".to_owned()), Some("Week 7".to_owned())]);
    store.keep_section(&super::of_horns(0.5, 0.5), None).unwrap();
    assert_eq!(store.section_records(&Filter::default()).unwrap(), [super::of_horns(0.5, 0.5)]);
}

#[test]
fn bringing_up_is_whole_or_not_at_all() {
    let (_folder, path) = desk();
    let raw = Connection::open(&path).unwrap();
    raw.execute_batch(FIRST).unwrap();
    // what the second step wants to make is there already: the step fails after its first half
    raw.execute_batch("CREATE INDEX verdicts_by_place ON verdicts (section)").unwrap();
    let error = Store::open(&path).unwrap_err();
    assert!(matches!(error, RecordsError::Broken { .. }), "{error}");
    assert_eq!(raw.pragma_query_value(None, "user_version", |row| row.get::<_, u32>(0)).unwrap(), 1);
    assert!(raw.prepare("SELECT lesson FROM verdicts").is_err(), "the first half was taken back");
}

#[test]
fn a_file_of_a_later_version_is_refused_and_left_as_it_is() {
    let (folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    store.keep(&of_seat(1, Verdict::OnIt), None).unwrap();
    drop(store);
    let later = Connection::open(&path).unwrap();
    later.execute_batch(&format!("PRAGMA user_version = {}", VERSION + 1)).unwrap();
    // once in the log alone, its writer still there; once in the file
    for in_file in [false, true] {
        if in_file {
            later.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())).unwrap();
        }
        let content = || everything(folder.path()).into_iter().filter(|(name, _)| !name.ends_with("-shm")).collect::<Vec<_>>();
        let before = content();
        let error = Store::open(&path).unwrap_err();
        assert!(matches!(error, RecordsError::Newer { found, .. } if found == VERSION + 1), "{error}");
        assert!(error.to_string().contains("use the newer precentor"), "{error}");
        assert_eq!(content(), before, "in the file: {in_file}");
    }
    drop(later);
    let before = everything(folder.path());
    assert!(Store::find(&path).is_err());
    assert_eq!(everything(folder.path()), before);
}

#[test]
fn what_is_not_ours_is_refused_and_left_as_it_is() {
    let (folder, path) = desk();
    let other = |sql: &str| {
        let _ = std::fs::remove_file(&path);
        Connection::open(&path).unwrap().execute_batch(sql).unwrap();
    };
    let makers: [&dyn Fn(); 5] = [
        &|| std::fs::write(&path, "seat,verdict\r\n1,on it\r\n").unwrap(),
        &|| std::fs::write(&path, vec![0_u8; 4096]).unwrap(),
        &|| other("CREATE TABLE verdicts (id); PRAGMA user_version = 2;"),
        &|| other("CREATE TABLE verdicts (id);"),
        &|| other("CREATE TABLE verdicts (id); PRAGMA application_id = 7;"),
    ];
    for (number, make) in makers.iter().enumerate() {
        make();
        let before = everything(folder.path());
        let error = Store::open(&path).unwrap_err();
        assert!(matches!(error, RecordsError::Foreign { .. }), "{number}: {error}");
        assert!(error.to_string().contains("move it away"), "{error}");
        assert_eq!(everything(folder.path()), before, "{number}");
    }
}

#[test]
fn a_record_that_cannot_be_is_told_by_its_number_and_can_be_forgotten() {
    let (_folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    store.keep(&of_seat(1, Verdict::OnIt), None).unwrap();
    for (wrong, what) in [("target = 'H4'", "H4"), ("target = 'G4', verdict = 'splendid'", "splendid")] {
        Connection::open(&path).unwrap().execute(&format!("UPDATE verdicts SET {wrong}"), []).unwrap();
        let error = store.records(&Filter::default()).unwrap_err().to_string();
        assert!(error.contains("record 1 ") && error.contains(what) && error.contains("forget"), "{error}");
    }
    assert_eq!(store.forget(&Filter::default()).unwrap().verdicts, 1);
    assert_eq!(store.records(&Filter::default()).unwrap(), []);
}
