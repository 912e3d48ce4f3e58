//! Echoes of whole sections: kept, summed up week by week, exported and forgotten as verdicts are.

use jiff::tz::TimeZone;

use super::{desk, holds, moment, of_horns, of_seat, seat};
use crate::export::{Csv, json_line};
use crate::{Counts, Echo, Filter, NoteShare, SectionRecord, ShareRow, ShareSummary, Store, Verdict, Writer};

#[test]
fn what_is_kept_of_a_section_comes_back_and_is_corrected_in_its_place() {
    let (_folder, path) = desk();
    let bare = SectionRecord {
        lesson: None,
        target: None,
        shares: Vec::new(),
        players: None,
        elsewhere: None,
        cents: None,
        entry: None,
        spread: None,
        ..of_horns(0.0, 0.0)
    };
    let mut store = Store::open(&path).unwrap();
    let first = store.keep_section(&of_horns(0.75, 0.25), None).unwrap();
    store.keep_section(&bare, None).unwrap();
    assert_eq!(store.section_records(&Filter::default()).unwrap(), [of_horns(0.75, 0.25), bare.clone()]);
    // fewer notes than before: none of the old is left
    let fewer = SectionRecord { shares: of_horns(0.5, 0.5).shares[..1].to_vec(), ..of_horns(0.5, 0.5) };
    assert_eq!(store.keep_section(&fewer, Some(first)).unwrap(), first);
    assert_eq!(store.section_records(&Filter::default()).unwrap(), [fewer, bare]);
    store.forget(&Filter::default()).unwrap();
    assert_ne!(store.keep_section(&of_horns(0.5, 0.5), Some(first)).unwrap(), first, "a forgotten id is nobody's");
}

#[test]
fn shares_are_kept_between_none_and_all_and_only_numbers() {
    let (_folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    let wild = SectionRecord {
        shares: vec![
            NoteShare { written: "G4".parse().unwrap(), share: 1.01, low: -0.02, high: f64::INFINITY },
            NoteShare { written: "C4".parse().unwrap(), share: f64::NAN, low: 0.0, high: 1.0 },
        ],
        elsewhere: Some(f64::NAN),
        cents: Some(units::Cents(f64::INFINITY)),
        spread: Some(crate::SpreadMs(-1.0)),
        ..of_horns(0.0, 0.0)
    };
    store.keep_section(&wild, None).unwrap();
    let tame = SectionRecord {
        shares: vec![NoteShare { written: "G4".parse().unwrap(), share: 1.0, low: 0.0, high: 1.0 }],
        elsewhere: None,
        cents: None,
        spread: None,
        ..of_horns(0.0, 0.0)
    };
    assert_eq!(store.section_records(&Filter::default()).unwrap(), [tame]);
}

#[test]
fn a_seat_is_forgotten_alone_and_a_section_with_its_shares() {
    let (folder, path) = desk();
    let mut store = Store::open(&path).unwrap();
    let marked = |section: &str, mark: &str| SectionRecord { section: section.to_owned(), drill: mark.to_owned(), ..of_horns(0.5, 0.5) };
    for _ in 0..200 {
        store.keep_section(&marked("Horns", "mark of the horns"), None).unwrap();
    }
    store.keep_section(&marked("Violets", "mark of the violets"), None).unwrap();
    store.keep(&of_seat(4, Verdict::Low), None).unwrap();
    let all = Counts { verdicts: 1, sections: 201, clips: 0 };
    assert_eq!(store.count(&Filter::default()).unwrap(), all);
    // no seat's is a section's echo
    assert_eq!(store.forget(&Filter { seat: seat(4), ..Filter::default() }).unwrap(), Counts { verdicts: 1, ..Counts::default() });
    assert!(holds(folder.path(), b"mark of the horns") && holds(folder.path(), b"mark of the violets"));
    let gone = store.forget(&Filter { section: Some("Horns".to_owned()), ..Filter::default() }).unwrap();
    assert_eq!(gone, Counts { sections: 200, ..Counts::default() });
    assert!(!holds(folder.path(), b"mark of the horns") && !holds(folder.path(), b"Horns"));
    assert!(holds(folder.path(), b"mark of the violets"));
    assert_eq!(store.places().unwrap(), [("Cedar Lane, first hour".to_owned(), "Violets".to_owned())]);
    // by note and by day, as verdicts are
    let note = Filter { note: Some("C4".parse().unwrap()), ..Filter::default() };
    let later = Filter { since: Some(moment("2031-02-04T00:00:00Z")), ..Filter::default() };
    assert_eq!((store.count(&note).unwrap(), store.count(&later).unwrap()), (Counts::default(), Counts::default()));
    store.forget(&Filter::default()).unwrap();
    let raw = rusqlite::Connection::open(&path).unwrap();
    assert_eq!(raw.query_row("SELECT count(*) FROM shares", [], |row| row.get::<_, u32>(0)).unwrap(), 0, "no share is left behind");
}

#[test]
fn the_writer_keeps_verdict_and_shares_of_an_echo_apart() {
    let (_folder, path) = desk();
    let writer = Writer::start(path.clone()).unwrap();
    let by_ear = crate::Record { seat: None, ..of_seat(1, Verdict::Low) };
    writer.note_section(Echo(1), of_horns(0.25, 0.75));
    writer.note(Echo(1), by_ear.clone());
    writer.note_section(Echo(1), of_horns(0.5, 0.5));
    writer.note_section(Echo(2), of_horns(1.0, 0.0));
    assert_eq!(writer.end(), None);
    let store = Store::open(&path).unwrap();
    assert_eq!(store.section_records(&Filter::default()).unwrap(), [of_horns(0.5, 0.5), of_horns(1.0, 0.0)]);
    assert_eq!(store.records(&Filter::default()).unwrap(), [by_ear]);
}

#[test]
fn weeks_are_the_means_of_their_echoes() {
    let mut summary = ShareSummary::default();
    let second = "2031-02-10T09:20:00Z";
    for (when, on_g, on_c) in [("2031-02-03T09:20:00Z", 0.25, 0.75), ("2031-02-04T09:20:00Z", 0.5, 0.25), (second, 0.75, 0.125)] {
        let spread = (when != second).then_some(crate::SpreadMs(60.0 * on_g));
        summary.add(&SectionRecord { when: moment(when), spread, ..of_horns(on_g, on_c) }, &TimeZone::UTC);
    }
    summary.add(&SectionRecord { section: "Flutes".to_owned(), shares: Vec::new(), ..of_horns(0.0, 0.0) }, &TimeZone::UTC);
    let groups: Vec<_> = summary.groups().collect();
    assert_eq!((groups[0].section.as_str(), groups[0].all.on_it(), groups[0].all.largest()), ("Flutes", None, None));
    let horns = groups[1];
    assert_eq!((horns.all.echoes(), horns.all.on_it()), (3, Some((0.5, 0.375, 0.625))), "the interval grows no narrower");
    assert_eq!((horns.all.spread_ms(), horns.all.cents()), (Some(22.5), Some(-7.5)), "of what there was");
    assert_eq!(horns.all.largest(), Some(("G4".parse().unwrap(), 2)));
    let weeks: Vec<_> = horns.weeks.iter().map(|(week, sat)| (week.to_string(), sat.echoes(), sat.on_it().unwrap().0)).collect();
    assert_eq!(weeks, [("2031-W06".to_owned(), 2, 0.375), ("2031-W07".to_owned(), 1, 0.75)]);
    assert_eq!((summary.echoes(), horns.weeks.values().next_back().unwrap().spread_ms()), (4, None));
}

#[test]
fn shares_are_exported_a_note_a_row() {
    let odd = SectionRecord { room: "=1+1".to_owned(), ..of_horns(0.75, 0.25) };
    let rows = ShareRow::of(&odd);
    let mut bytes = Vec::new();
    let mut csv = Csv::begin::<ShareRow>(&mut bytes).unwrap();
    rows.iter().for_each(|row| csv.row(row).unwrap());
    csv.end().unwrap();
    let expected = "when,room,section,drill,lesson,target,written,share,low,high,elsewhere,players,cents,entry_ms,spread_ms\r\n\
                    2031-02-03T09:20:00.500Z,'=1+1,Horns,One note each,Week 7,G4,C4,0.25,0.125,0.375,0.0625,5,-7.5,31,44\r\n\
                    2031-02-03T09:20:00.500Z,'=1+1,Horns,One note each,Week 7,G4,G4,0.75,0.625,0.875,0.0625,5,-7.5,31,44\r\n";
    assert_eq!(String::from_utf8(bytes).unwrap(), expected);
    let mut lines = Vec::new();
    rows.iter().for_each(|row| json_line(&mut lines, row).unwrap());
    let read: Vec<ShareRow> = String::from_utf8(lines).unwrap().lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(read, rows);
    assert_eq!(ShareRow::of(&SectionRecord { shares: Vec::new(), ..odd })[0].written, None, "an echo without notes is not lost");
}
