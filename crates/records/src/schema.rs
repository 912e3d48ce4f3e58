//! The shape of the file, version by version.

use rusqlite::{Connection, TransactionBehavior};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use crate::RecordsError;

/// What makes each version out of the one before; the first out of nothing. Never changed once released, only added to.
const STEPS: [&str; 3] = [
    // sections: so that a name stands once; ids are never given twice, because a writer remembers them
    "CREATE TABLE sections (
        id INTEGER PRIMARY KEY,
        room TEXT NOT NULL,
        name TEXT NOT NULL,
        UNIQUE (room, name)
    ) STRICT;
    CREATE TABLE verdicts (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        section INTEGER NOT NULL REFERENCES sections (id) ON DELETE CASCADE,
        seat INTEGER CHECK (seat BETWEEN 1 AND 65535),
        at_ms INTEGER NOT NULL,
        drill TEXT NOT NULL,
        target TEXT,
        heard TEXT,
        verdict TEXT NOT NULL,
        steps INTEGER CHECK (steps BETWEEN -128 AND 127 AND steps <> 0),
        cents REAL,
        entry_ms REAL,
        heard_by TEXT NOT NULL CHECK (heard_by IN ('ear', 'microphone')),
        confidence REAL CHECK (confidence BETWEEN 0 AND 1)
    ) STRICT;",
    // the lesson a drill was led in; what is looked up by place and time
    "ALTER TABLE verdicts ADD COLUMN lesson TEXT;
    CREATE INDEX verdicts_by_place ON verdicts (section, seat, at_ms);",
    // what a whole section's echo came to: nobody's seat is in it
    "CREATE TABLE section_echoes (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        section INTEGER NOT NULL REFERENCES sections (id) ON DELETE CASCADE,
        at_ms INTEGER NOT NULL,
        drill TEXT NOT NULL,
        lesson TEXT,
        target TEXT,
        players INTEGER CHECK (players BETWEEN 1 AND 65535),
        elsewhere REAL CHECK (elsewhere BETWEEN 0 AND 1),
        cents REAL,
        entry_ms REAL,
        spread_ms REAL CHECK (spread_ms >= 0)
    ) STRICT;
    CREATE TABLE shares (
        echo INTEGER NOT NULL REFERENCES section_echoes (id) ON DELETE CASCADE,
        place INTEGER NOT NULL,
        written TEXT NOT NULL,
        share REAL NOT NULL CHECK (share BETWEEN 0 AND 1),
        low REAL NOT NULL CHECK (low BETWEEN 0 AND 1),
        high REAL NOT NULL CHECK (high BETWEEN 0 AND 1),
        PRIMARY KEY (echo, place)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX section_echoes_by_place ON section_echoes (section, at_ms);",
];
/// The version of the file that this program writes.
pub const VERSION: u32 = STEPS.len() as u32;
/// Marks the file as ours: the letters "PREC". Source of the field: SQLite's `PRAGMA application_id`.
const OURS: u32 = 0x5052_4543;

/// Refuses what is not ours or of a later version by its first bytes alone, so that nothing can touch it. Source of the offsets: "Database File
/// Format", section 1.3, sqlite.org.
pub(crate) fn look(path: &Path) -> Result<(), RecordsError> {
    let mut head = Vec::new();
    let file = File::open(path).and_then(|file| file.take(100).read_to_end(&mut head));
    match file {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(source) => return Err(RecordsError::File { path: path.to_owned(), source }),
        Ok(0) => return Ok(()),
        Ok(_) => {}
    }
    let number = |at: usize| head.get(at..at + 4).and_then(|bytes| bytes.try_into().ok()).map(u32::from_be_bytes);
    let (Some(version), Some(application)) = (number(60), number(68)) else { return Err(RecordsError::Foreign { path: path.to_owned() }) };
    // zero until the first version has moved from the log into the file
    if !head.starts_with(b"SQLite format 3\0") || !matches!(application, 0 | OURS) {
        return Err(RecordsError::Foreign { path: path.to_owned() });
    }
    if application == OURS { known(path, version) } else { Ok(()) }
}

fn known(path: &Path, found: u32) -> Result<(), RecordsError> {
    if found > VERSION { Err(RecordsError::Newer { path: path.to_owned(), found }) } else { Ok(()) }
}

/// What is wrong while a file is brought up.
pub(crate) enum Unfit {
    /// Refused as it is.
    Refused(RecordsError),
    /// The database fails.
    Database(rusqlite::Error),
}

impl From<rusqlite::Error> for Unfit {
    fn from(error: rusqlite::Error) -> Self {
        Self::Database(error)
    }
}

/// The file's version, as the log has it. Changes nothing.
pub(crate) fn version(connection: &Connection, path: &Path) -> Result<u32, Unfit> {
    // at one look: between two, another console may have made the file
    let look = "SELECT count(*), (SELECT application_id FROM pragma_application_id), (SELECT user_version FROM pragma_user_version)
                FROM sqlite_schema";
    let (tables, application, version): (u32, u32, u32) =
        connection.query_row(look, [], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    match (application, version, tables) {
        (OURS, ..) => known(path, version).map(|()| version).map_err(Unfit::Refused),
        (0, 0, 0) => Ok(0),
        _ => Err(Unfit::Refused(RecordsError::Foreign { path: path.to_owned() })),
    }
}

/// Brings a file of an earlier version, or an empty one, to this version: wholly or not at all.
pub(crate) fn bring_up(connection: &mut Connection, path: &Path) -> Result<(), Unfit> {
    if version(connection, path)? == VERSION {
        return Ok(());
    }
    let change = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // looked at anew: another console may have been quicker
    let from = version(&change, path)?;
    for step in STEPS.iter().skip(from as usize) {
        change.execute_batch(step)?;
    }
    change.execute_batch(&format!("PRAGMA application_id = {OURS}; PRAGMA user_version = {VERSION};"))?;
    Ok(change.commit()?)
}
