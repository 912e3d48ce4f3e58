//! Verdicts as rows of the file.

use jiff::Timestamp;
use pitch::Written;
use rusqlite::{OptionalExtension, Transaction, params};
use std::num::{NonZeroI8, NonZeroU16};
use units::Cents;

use crate::{Confidence, EntryMs, HeardBy, Record, RecordId, Verdict};

/// The columns that [`record`] reads.
pub(super) const SELECT: &str = "SELECT verdicts.id, sections.room, sections.name, seat, at_ms, drill, lesson, target, heard, verdict, steps, cents, \
                      entry_ms, heard_by, confidence FROM verdicts JOIN sections ON sections.id = section";

/// The record of a row of [`SELECT`], or what is wrong with it.
pub(super) fn record(row: &rusqlite::Row) -> Result<Record, String> {
    let odd = |what: &str, word: &str| format!("\"{word}\" is no {what}");
    let (verdict, steps): (String, Option<i8>) = (row.get(9).map_err(told)?, row.get(10).map_err(told)?);
    let by: String = row.get(13).map_err(told)?;
    Ok(Record {
        when: moment(row, 4)?,
        room: row.get(1).map_err(told)?,
        section: row.get(2).map_err(told)?,
        seat: row.get::<_, Option<u16>>(3).map_err(told)?.and_then(NonZeroU16::new),
        drill: row.get(5).map_err(told)?,
        lesson: row.get(6).map_err(told)?,
        target: note(row, 7)?,
        heard: note(row, 8)?,
        verdict: Verdict::read(&verdict, steps.and_then(NonZeroI8::new)).ok_or_else(|| odd("verdict", &verdict))?,
        cents: row.get::<_, Option<f64>>(11).map_err(told)?.map(Cents),
        entry: row.get::<_, Option<f64>>(12).map_err(told)?.map(EntryMs),
        by: HeardBy::read(&by).ok_or_else(|| odd("one who hears", &by))?,
        confidence: row.get::<_, Option<f64>>(14).map_err(told)?.and_then(Confidence::new),
    })
}

/// Writes `record`; in the place of `over`, if that is given and still there.
pub(super) fn write(change: &Transaction, record: &Record, over: Option<RecordId>) -> rusqlite::Result<RecordId> {
    let section = section(change, &record.room, &record.section)?;
    let values = params![
        over.map(|id| id.0),
        section,
        record.seat.map(NonZeroU16::get),
        record.when.as_millisecond(),
        record.drill,
        record.lesson,
        record.target.map(|note| note.to_string()),
        record.heard.map(|note| note.to_string()),
        record.verdict.word(),
        record.verdict.steps().map(NonZeroI8::get),
        finite(record.cents.map(|cents| cents.0)),
        finite(record.entry.map(|entry| entry.0)),
        record.by.word(),
        record.confidence.map(Confidence::share),
    ];
    let changed = change.execute(
        "UPDATE verdicts SET section = ?2, seat = ?3, at_ms = ?4, drill = ?5, lesson = ?6, target = ?7, heard = ?8, verdict = ?9, \
         steps = ?10, cents = ?11, entry_ms = ?12, heard_by = ?13, confidence = ?14 WHERE id = ?1",
        values,
    )?;
    match over {
        Some(id) if changed > 0 => Ok(id),
        // what was forgotten is not brought back under its old id: it is a new record
        _ => {
            change.execute(
                "INSERT INTO verdicts (section, seat, at_ms, drill, lesson, target, heard, verdict, steps, cents, entry_ms, heard_by, \
                 confidence) VALUES (?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
                values,
            )?;
            Ok(RecordId(change.last_insert_rowid()))
        }
    }
}

/// What is not a number is not kept.
pub(super) fn finite(number: Option<f64>) -> Option<f64> {
    number.filter(|number| number.is_finite())
}

/// What the database says of a column.
pub(super) fn told(error: rusqlite::Error) -> String {
    error.to_string()
}

/// The moment in a column, to the millisecond.
pub(super) fn moment(row: &rusqlite::Row, column: usize) -> Result<Timestamp, String> {
    Timestamp::from_millisecond(row.get(column).map_err(told)?).map_err(|error| error.to_string())
}

/// The written note in a column that may be empty.
pub(super) fn note(row: &rusqlite::Row, column: usize) -> Result<Option<Written>, String> {
    let text: Option<String> = row.get(column).map_err(told)?;
    text.map(|text| text.parse::<Written>().map_err(|error| error.to_string())).transpose()
}

/// The id of a section, which is made if it is not there.
pub(super) fn section(change: &Transaction, room: &str, name: &str) -> rusqlite::Result<i64> {
    let place = params![room, name];
    let known = change.query_row("SELECT id FROM sections WHERE room = ?1 AND name = ?2", place, |row| row.get(0)).optional()?;
    if let Some(known) = known {
        return Ok(known);
    }
    change.execute("INSERT INTO sections (room, name) VALUES (?1, ?2)", place)?;
    Ok(change.last_insert_rowid())
}
