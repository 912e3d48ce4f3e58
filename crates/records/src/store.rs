//! The file of records: kept whole whatever happens, read, and truly forgotten from.

use jiff::Timestamp;
use pitch::Written;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, OptionalExtension, Transaction, TransactionBehavior, params};
use std::fs::{self, OpenOptions};
use std::num::{NonZeroI8, NonZeroU16};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};
use units::Cents;

use crate::filter::HOLDS;
use crate::schema::{self, Unfit};
use crate::{Confidence, EntryMs, Filter, HeardBy, Record, RecordsError, Verdict};

/// How long another console is waited for.
const PATIENCE: Duration = Duration::from_secs(2);
/// How long between two tries where the database does not wait by itself.
const PAUSE: Duration = Duration::from_millis(20);

/// The file, open.
#[derive(Debug)]
pub struct Store {
    connection: Connection,
    path: PathBuf,
}

/// Which record; never given to another, even after it is forgotten.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RecordId(i64);

impl Store {
    /// Opens the file at `path`, makes it and its folder if they are not there, and brings it up to this version. Only its owner may read it.
    ///
    /// # Errors
    /// [`RecordsError`]; a file of a later version and one of another program are left untouched.
    pub fn open(path: &Path) -> Result<Self, RecordsError> {
        schema::look(path)?;
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        folder.map_or(Ok(()), make_folder).map_err(|source| RecordsError::Folder { path: folder.unwrap_or(path).to_owned(), source })?;
        make_file(path).map_err(|source| RecordsError::File { path: path.to_owned(), source })?;
        let end = Instant::now() + PATIENCE;
        loop {
            match Self::connect(path) {
                Err(RecordsError::Busy { .. }) if Instant::now() < end => thread::sleep(PAUSE),
                result => return result,
            }
        }
    }

    /// Opens the file at `path` if it is there.
    ///
    /// # Errors
    /// As [`open`](Self::open).
    pub fn find(path: &Path) -> Result<Option<Self>, RecordsError> {
        if path.exists() { Self::open(path).map(Some) } else { Ok(None) }
    }

    fn connect(path: &Path) -> Result<Self, RecordsError> {
        let broken = |error| RecordsError::of(path, error);
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut connection = Connection::open_with_flags(path, flags).map_err(broken)?;
        connection.busy_timeout(PATIENCE).map_err(broken)?;
        // until it is known to be ours, closing it must change nothing
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true).map_err(broken)?;
        let fit = |unfit| match unfit {
            Unfit::Refused(error) => error,
            Unfit::Database(error) => broken(error),
        };
        schema::version(&connection, path).map_err(fit)?;
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false).map_err(broken)?;
        let set = "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA secure_delete = ON; PRAGMA foreign_keys = ON;
                   PRAGMA temp_store = MEMORY;";
        connection.execute_batch(set).map_err(broken)?;
        schema::bring_up(&mut connection, path).map_err(fit)?;
        Ok(Self { connection, path: path.to_owned() })
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Keeps `record`; in the place of `over`, if that is given and not forgotten meanwhile. When this returns, it outlasts a power cut.
    ///
    /// # Errors
    /// [`RecordsError`]; then it is not kept, and everything before is whole.
    pub fn keep(&mut self, record: &Record, over: Option<RecordId>) -> Result<RecordId, RecordsError> {
        self.change(|change| write(change, record, over))
    }

    /// Keeps all of `records`, or none.
    ///
    /// # Errors
    /// As [`keep`](Self::keep).
    pub fn keep_all<'a>(&mut self, records: impl IntoIterator<Item = &'a Record>) -> Result<(), RecordsError> {
        self.change(|change| records.into_iter().try_for_each(|record| write(change, record, None).map(|_| ())))
    }

    /// Hands on every record that `filter` means, in order of time.
    ///
    /// # Errors
    /// [`RecordsError`], or what `with` says.
    pub fn each<E: From<RecordsError>>(&self, filter: &Filter, mut with: impl FnMut(Record) -> Result<(), E>) -> Result<(), E> {
        let broken = |error| RecordsError::of(&self.path, error);
        let mut statement = self.connection.prepare(&format!("{SELECT} WHERE {HOLDS} ORDER BY at_ms, verdicts.id")).map_err(broken)?;
        let mut rows = statement.query(filter.params()).map_err(broken)?;
        while let Some(row) = rows.next().map_err(broken)? {
            with(self.read(row)?)?;
        }
        Ok(())
    }

    /// Every record that `filter` means, in order of time.
    ///
    /// # Errors
    /// [`RecordsError`].
    pub fn records(&self, filter: &Filter) -> Result<Vec<Record>, RecordsError> {
        let mut records = Vec::new();
        self.each(filter, |record| {
            records.push(record);
            Ok::<_, RecordsError>(())
        })?;
        Ok(records)
    }

    /// How many records `filter` means.
    ///
    /// # Errors
    /// [`RecordsError`].
    pub fn count(&self, filter: &Filter) -> Result<u64, RecordsError> {
        let sql = format!("SELECT count(*) FROM verdicts JOIN sections ON sections.id = section WHERE {HOLDS}");
        self.connection
            .query_row(&sql, filter.params(), |row| row.get::<_, i64>(0))
            .map(i64::unsigned_abs)
            .map_err(|error| RecordsError::of(&self.path, error))
    }

    /// Every room with each of its sections, in the order of their names.
    ///
    /// # Errors
    /// [`RecordsError`].
    pub fn places(&self) -> Result<Vec<(String, String)>, RecordsError> {
        let places = || {
            let mut statement = self.connection.prepare("SELECT room, name FROM sections ORDER BY room, name")?;
            statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect()
        };
        let places: rusqlite::Result<_> = places();
        places.map_err(|error| RecordsError::of(&self.path, error))
    }

    /// Forgets every record that `filter` means, and every name that only they knew; gives how many there were. When this returns, nothing of
    /// them is in the file or beside it.
    ///
    /// # Errors
    /// [`RecordsError`]; of [`RecordsError::StillRead`], that they are gone for every reader, but their bytes not yet.
    pub fn forget(&mut self, filter: &Filter) -> Result<usize, RecordsError> {
        let forgotten = self.change(|change| {
            let meant = format!("SELECT verdicts.id FROM verdicts JOIN sections ON sections.id = section WHERE {HOLDS}");
            let count = change.execute(&format!("DELETE FROM verdicts WHERE id IN ({meant})"), filter.params())?;
            change.execute("DELETE FROM sections WHERE id NOT IN (SELECT section FROM verdicts)", [])?;
            Ok(count)
        })?;
        let broken = |error| RecordsError::of(&self.path, error);
        // what pages held before is overwritten by now; this leaves no page that is not in use, and no log
        self.connection.execute_batch("VACUUM").map_err(broken)?;
        let blocked: bool = self.connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0)).map_err(broken)?;
        if blocked { Err(RecordsError::StillRead { path: self.path.clone() }) } else { Ok(forgotten) }
    }

    /// Lets the file grow no further, as a full disk would.
    #[cfg(test)]
    pub(crate) fn fill_the_disk(&self) {
        let pages: u32 = self.connection.pragma_query_value(None, "page_count", |row| row.get(0)).unwrap();
        self.connection.query_row(&format!("PRAGMA max_page_count = {pages}"), [], |_| Ok(())).unwrap();
    }

    /// Does all of `with`, or nothing of it.
    fn change<T>(&mut self, with: impl FnOnce(&Transaction) -> rusqlite::Result<T>) -> Result<T, RecordsError> {
        let Self { connection, path } = self;
        let change = connection.transaction_with_behavior(TransactionBehavior::Immediate);
        change
            .and_then(|change| {
                let result = with(&change)?;
                change.commit().map(|()| result)
            })
            .map_err(|error| RecordsError::of(path, error))
    }

    fn read(&self, row: &rusqlite::Row) -> Result<Record, RecordsError> {
        let id = row.get(0).map_err(|error| RecordsError::of(&self.path, error))?;
        record(row).map_err(|what| RecordsError::Record { path: self.path.clone(), id, what })
    }
}

const SELECT: &str = "SELECT verdicts.id, sections.room, sections.name, seat, at_ms, drill, lesson, target, heard, verdict, steps, cents, \
                      entry_ms, heard_by, confidence FROM verdicts JOIN sections ON sections.id = section";

fn record(row: &rusqlite::Row) -> Result<Record, String> {
    let told = |error: rusqlite::Error| error.to_string();
    let odd = |what: &str, word: &str| format!("\"{word}\" is no {what}");
    let written = |column: usize| {
        let text: Option<String> = row.get(column).map_err(told)?;
        text.map(|text| text.parse::<Written>().map_err(|error| error.to_string())).transpose()
    };
    let (verdict, steps): (String, Option<i8>) = (row.get(9).map_err(told)?, row.get(10).map_err(told)?);
    let by: String = row.get(13).map_err(told)?;
    Ok(Record {
        when: Timestamp::from_millisecond(row.get(4).map_err(told)?).map_err(|error| error.to_string())?,
        room: row.get(1).map_err(told)?,
        section: row.get(2).map_err(told)?,
        seat: row.get::<_, Option<u16>>(3).map_err(told)?.and_then(NonZeroU16::new),
        drill: row.get(5).map_err(told)?,
        lesson: row.get(6).map_err(told)?,
        target: written(7)?,
        heard: written(8)?,
        verdict: Verdict::read(&verdict, steps.and_then(NonZeroI8::new)).ok_or_else(|| odd("verdict", &verdict))?,
        cents: row.get::<_, Option<f64>>(11).map_err(told)?.map(Cents),
        entry: row.get::<_, Option<f64>>(12).map_err(told)?.map(EntryMs),
        by: HeardBy::read(&by).ok_or_else(|| odd("one who hears", &by))?,
        confidence: row.get::<_, Option<f64>>(14).map_err(told)?.and_then(Confidence::new),
    })
}

fn write(change: &Transaction, record: &Record, over: Option<RecordId>) -> rusqlite::Result<RecordId> {
    let place = params![record.room, record.section];
    let known = change.query_row("SELECT id FROM sections WHERE room = ?1 AND name = ?2", place, |row| row.get(0)).optional()?;
    let section: i64 = match known {
        Some(section) => section,
        None => {
            change.execute("INSERT INTO sections (room, name) VALUES (?1, ?2)", place)?;
            change.last_insert_rowid()
        }
    };
    let finite = |number: Option<f64>| number.filter(|number| number.is_finite());
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
    // what was forgotten is not brought back under its old id: it is a new record
    let there =
        over.map(|id| change.query_row("SELECT 1 FROM verdicts WHERE id = ?1", [id.0], |_| Ok(())).optional()).transpose()?.flatten();
    if let (Some(id), Some(())) = (over, there) {
        change.execute(
            "UPDATE verdicts SET section = ?2, seat = ?3, at_ms = ?4, drill = ?5, lesson = ?6, target = ?7, heard = ?8, verdict = ?9, \
             steps = ?10, cents = ?11, entry_ms = ?12, heard_by = ?13, confidence = ?14 WHERE id = ?1",
            values,
        )?;
        return Ok(id);
    }
    change.execute(
        "INSERT INTO verdicts (section, seat, at_ms, drill, lesson, target, heard, verdict, steps, cents, entry_ms, heard_by, confidence) \
         VALUES (?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
        values,
    )?;
    Ok(RecordId(change.last_insert_rowid()))
}

/// Makes `folder`, for its owner alone, if it is not there.
fn make_folder(folder: &Path) -> std::io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}

/// Makes the file, for its owner alone, if it is not there; what the database lays beside it gets the same permissions.
fn make_file(path: &Path) -> std::io::Result<()> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map(|_| ())
}
