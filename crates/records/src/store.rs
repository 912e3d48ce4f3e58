//! The file of records: kept whole whatever happens, read, and truly forgotten from.

mod sections;
mod verdicts;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use std::collections::HashSet;
use std::fs::{self, OpenOptions};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};

use crate::filter;
use crate::schema::{self, Unfit};
use crate::{ClipOf, Filter, KeptAudio, Record, RecordsError, SectionRecord};

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

/// Which verdict; never given to another, even after it is forgotten.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct RecordId(pub(crate) i64);

/// Which echo of a whole section; never given to another, even after it is forgotten.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct SectionId(pub(crate) i64);

/// How much there is of everything that is kept.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Verdicts.
    pub verdicts: u64,
    /// Echoes of whole sections.
    pub sections: u64,
    /// Echoes of which the sound is kept.
    pub clips: u64,
}

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

    /// The sound that belongs to these records.
    #[must_use]
    pub fn audio(&self) -> KeptAudio {
        KeptAudio::beside(&self.path)
    }

    /// Keeps `record`; in the place of `over`, if that is given and not forgotten meanwhile. When this returns, it outlasts a power cut.
    ///
    /// # Errors
    /// [`RecordsError`]; then it is not kept, and everything before is whole.
    pub fn keep(&mut self, record: &Record, over: Option<RecordId>) -> Result<RecordId, RecordsError> {
        self.change(|change| verdicts::write(change, record, over))
    }

    /// Keeps all of `records`, or none.
    ///
    /// # Errors
    /// As [`keep`](Self::keep).
    pub fn keep_all<'a>(&mut self, records: impl IntoIterator<Item = &'a Record>) -> Result<(), RecordsError> {
        self.change(|change| records.into_iter().try_for_each(|record| verdicts::write(change, record, None).map(|_| ())))
    }

    /// Keeps the echo of a whole section, as [`keep`](Self::keep) does a verdict.
    ///
    /// # Errors
    /// As [`keep`](Self::keep).
    pub fn keep_section(&mut self, record: &SectionRecord, over: Option<SectionId>) -> Result<SectionId, RecordsError> {
        self.change(|change| sections::write(change, record, over))
    }

    /// Hands on every verdict that `filter` means, in order of time.
    ///
    /// # Errors
    /// [`RecordsError`], or what `with` says.
    pub fn each<E: From<RecordsError>>(&self, filter: &Filter, with: impl FnMut(Record) -> Result<(), E>) -> Result<(), E> {
        let sql = format!("{} WHERE {} ORDER BY at_ms, verdicts.id", verdicts::SELECT, filter::VERDICTS);
        self.rows(&sql, filter, verdicts::record, with)
    }

    /// Hands on every echo of a whole section that `filter` means, in order of time.
    ///
    /// # Errors
    /// [`RecordsError`], or what `with` says.
    pub fn each_section<E: From<RecordsError>>(&self, filter: &Filter, with: impl FnMut(SectionRecord) -> Result<(), E>) -> Result<(), E> {
        let sql = format!("{} WHERE {} ORDER BY at_ms, section_echoes.id", sections::SELECT, filter::SECTIONS);
        self.rows(&sql, filter, |row| sections::record(&self.connection, row), with)
    }

    /// Every verdict that `filter` means, in order of time.
    ///
    /// # Errors
    /// [`RecordsError`].
    pub fn records(&self, filter: &Filter) -> Result<Vec<Record>, RecordsError> {
        let mut records = Vec::new();
        self.each::<RecordsError>(filter, |record| {
            records.push(record);
            Ok(())
        })?;
        Ok(records)
    }

    /// Every echo of a whole section that `filter` means, in order of time.
    ///
    /// # Errors
    /// [`RecordsError`].
    pub fn section_records(&self, filter: &Filter) -> Result<Vec<SectionRecord>, RecordsError> {
        let mut records = Vec::new();
        self.each_section::<RecordsError>(filter, |record| {
            records.push(record);
            Ok(())
        })?;
        Ok(records)
    }

    /// How much `filter` means.
    ///
    /// # Errors
    /// [`RecordsError`].
    pub fn count(&self, filter: &Filter) -> Result<Counts, RecordsError> {
        let meant = self.meant(filter)?;
        let verdicts = meant.iter().filter(|of| matches!(of, ClipOf::Verdict(_))).count() as u64;
        let clips = self.audio().clips()?.iter().filter(|clip| meant.contains(&clip.of)).count() as u64;
        Ok(Counts { verdicts, sections: meant.len() as u64 - verdicts, clips })
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

    /// Forgets all that `filter` means, its sound, and every name that only it knew; gives how much that was. When this returns, nothing of it
    /// is in the file or beside it.
    ///
    /// # Errors
    /// [`RecordsError`]; of [`RecordsError::StillRead`], that it is gone for every reader, but its bytes not yet.
    pub fn forget(&mut self, filter: &Filter) -> Result<Counts, RecordsError> {
        let meant = |table: &str, holds: &str| {
            format!("DELETE FROM {table} WHERE id IN (SELECT {table}.id FROM {table} JOIN sections ON sections.id = section WHERE {holds})")
        };
        let (verdicts, sections) = self.change(|change| {
            let verdicts = change.execute(&meant("verdicts", filter::VERDICTS), filter.params())?;
            let sections = change.execute(&meant("section_echoes", filter::SECTIONS), filter.params())?;
            let named = "DELETE FROM sections WHERE id NOT IN (SELECT section FROM verdicts UNION SELECT section FROM section_echoes)";
            change.execute(named, [])?;
            Ok((verdicts as u64, sections as u64))
        })?;
        let broken = |error| RecordsError::of(&self.path, error);
        // what pages held before is overwritten by now; this leaves no page that is not in use, and no log
        self.connection.execute_batch("VACUUM").map_err(broken)?;
        let blocked: bool = self.connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0)).map_err(broken)?;
        let clips = self.sweep_audio()?;
        if blocked { Err(RecordsError::StillRead { path: self.path.clone() }) } else { Ok(Counts { verdicts, sections, clips }) }
    }

    /// Deletes all sound whose record is not there any more; gives how much that was.
    ///
    /// # Errors
    /// [`RecordsError`].
    pub fn sweep_audio(&self) -> Result<u64, RecordsError> {
        // the sound of a record comes after it: what is listed first has its record by now, unless that is forgotten
        let clips = self.audio().clips()?;
        if clips.is_empty() {
            return Ok(0);
        }
        let kept = self.meant(&Filter::default())?;
        Ok(KeptAudio::delete(clips.into_iter().filter(|clip| !kept.contains(&clip.of)))?)
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

    /// The ids of all that `filter` means.
    fn meant(&self, filter: &Filter) -> Result<HashSet<ClipOf>, RecordsError> {
        let ids = |table: &str, holds: &str, of: fn(i64) -> ClipOf| {
            let sql = format!("SELECT {table}.id FROM {table} JOIN sections ON sections.id = section WHERE {holds}");
            let mut statement = self.connection.prepare(&sql)?;
            statement.query_map(filter.params(), |row| Ok(of(row.get(0)?)))?.collect::<rusqlite::Result<HashSet<_>>>()
        };
        let verdicts = ids("verdicts", filter::VERDICTS, |id| ClipOf::Verdict(RecordId(id)));
        let all = verdicts.and_then(|mut all| {
            all.extend(ids("section_echoes", filter::SECTIONS, |id| ClipOf::Section(SectionId(id)))?);
            Ok(all)
        });
        all.map_err(|error| RecordsError::of(&self.path, error))
    }

    /// Hands on what `read` makes of every row of `sql`, whose first column is an id.
    fn rows<T, E: From<RecordsError>>(
        &self,
        sql: &str,
        filter: &Filter,
        read: impl Fn(&rusqlite::Row) -> Result<T, String>,
        mut with: impl FnMut(T) -> Result<(), E>,
    ) -> Result<(), E> {
        let broken = |error| RecordsError::of(&self.path, error);
        let mut statement = self.connection.prepare(sql).map_err(broken)?;
        let mut rows = statement.query(filter.params()).map_err(broken)?;
        while let Some(row) = rows.next().map_err(broken)? {
            let id = row.get(0).map_err(broken)?;
            with(read(row).map_err(|what| RecordsError::Record { path: self.path.clone(), id, what })?)?;
        }
        Ok(())
    }
}

/// Makes `folder`, for its owner alone, if it is not there.
pub(crate) fn make_folder(folder: &Path) -> std::io::Result<()> {
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
