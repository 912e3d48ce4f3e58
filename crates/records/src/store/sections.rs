//! Echoes of whole sections as rows of the file: one row each, and one for every note of it.

use rusqlite::{Connection, Transaction, params};
use std::num::NonZeroU16;
use units::Cents;

use super::verdicts::{finite, moment, note, section, told};
use crate::{EntryMs, NoteShare, SectionId, SectionRecord, SpreadMs};

/// The columns that [`record`] reads.
pub(super) const SELECT: &str = "SELECT section_echoes.id, sections.room, sections.name, at_ms, drill, lesson, target, players, elsewhere, \
                                 cents, entry_ms, spread_ms FROM section_echoes JOIN sections ON sections.id = section";

/// The record of a row of [`SELECT`] with its notes, or what is wrong with it.
pub(super) fn record(connection: &Connection, row: &rusqlite::Row) -> Result<SectionRecord, String> {
    Ok(SectionRecord {
        when: moment(row, 3)?,
        room: row.get(1).map_err(told)?,
        section: row.get(2).map_err(told)?,
        drill: row.get(4).map_err(told)?,
        lesson: row.get(5).map_err(told)?,
        target: note(row, 6)?,
        shares: shares(connection, row.get(0).map_err(told)?)?,
        players: row.get::<_, Option<u16>>(7).map_err(told)?.and_then(NonZeroU16::new),
        elsewhere: row.get(8).map_err(told)?,
        cents: row.get::<_, Option<f64>>(9).map_err(told)?.map(Cents),
        entry: row.get::<_, Option<f64>>(10).map_err(told)?.map(EntryMs),
        spread: row.get::<_, Option<f64>>(11).map_err(told)?.map(SpreadMs),
    })
}

fn shares(connection: &Connection, echo: i64) -> Result<Vec<NoteShare>, String> {
    let mut statement = connection.prepare("SELECT written, share, low, high FROM shares WHERE echo = ?1 ORDER BY place").map_err(told)?;
    let mut rows = statement.query([echo]).map_err(told)?;
    let mut shares = Vec::new();
    while let Some(row) = rows.next().map_err(told)? {
        let written = note(row, 0)?.ok_or("a share is on no note")?;
        shares.push(NoteShare {
            written,
            share: row.get(1).map_err(told)?,
            low: row.get(2).map_err(told)?,
            high: row.get(3).map_err(told)?,
        });
    }
    Ok(shares)
}

/// Writes `record`; in the place of `over`, if that is given and still there.
pub(super) fn write(change: &Transaction, record: &SectionRecord, over: Option<SectionId>) -> rusqlite::Result<SectionId> {
    let section = section(change, &record.room, &record.section)?;
    let values = params![
        over.map(|id| id.0),
        section,
        record.when.as_millisecond(),
        record.drill,
        record.lesson,
        record.target.map(|note| note.to_string()),
        record.players.map(NonZeroU16::get),
        record.elsewhere.and_then(share),
        finite(record.cents.map(|cents| cents.0)),
        finite(record.entry.map(|entry| entry.0)),
        finite(record.spread.map(|spread| spread.0)).filter(|spread| *spread >= 0.0),
    ];
    let changed = change.execute(
        "UPDATE section_echoes SET section = ?2, at_ms = ?3, drill = ?4, lesson = ?5, target = ?6, players = ?7, elsewhere = ?8, \
         cents = ?9, entry_ms = ?10, spread_ms = ?11 WHERE id = ?1",
        values,
    )?;
    let id = match over {
        Some(id) if changed > 0 => id,
        // what was forgotten is not brought back under its old id: it is a new record
        _ => {
            change.execute(
                "INSERT INTO section_echoes (section, at_ms, drill, lesson, target, players, elsewhere, cents, entry_ms, spread_ms) \
                 VALUES (?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
                values,
            )?;
            SectionId(change.last_insert_rowid())
        }
    };
    change.execute("DELETE FROM shares WHERE echo = ?1", [id.0])?;
    let mut insert = change.prepare("INSERT INTO shares (echo, place, written, share, low, high) VALUES (?1, ?2, ?3, ?4, ?5, ?6)")?;
    for (place, note) in (0_i64..).zip(&record.shares) {
        let (Some(on), Some(low), Some(high)) = (share(note.share), share(note.low), share(note.high)) else { continue };
        insert.execute(params![id.0, place, note.written.to_string(), on, low, high])?;
    }
    Ok(id)
}

/// A share between none and all; nothing for what is no number.
fn share(number: f64) -> Option<f64> {
    (!number.is_nan()).then(|| number.clamp(0.0, 1.0))
}
