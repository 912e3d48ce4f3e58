//! What can go wrong with records, where, and how to mend it.

use rusqlite::ErrorCode;
use std::io;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Why records cannot be kept or read. What was kept before is whole in every case.
#[derive(Debug, Error)]
pub enum RecordsError {
    /// The folder cannot be made.
    #[error("the folder {} cannot be made ({source}); make it, or set XDG_DATA_HOME to a folder you may write to", path.display())]
    Folder {
        /// Which.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The file cannot be read or written at all.
    #[error("the records in {} cannot be opened ({source}); allow yourself to read and write that file and its folder", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// A later version of this program has written it.
    #[error("the records in {} are of version {found}, and this precentor knows versions to {}; they are left as they are: use the newer precentor", path.display(), crate::VERSION)]
    Newer {
        /// Which.
        path: PathBuf,
        /// Its version.
        found: u32,
    },
    /// It is something else.
    #[error("{} holds no records of precentor; move it away, and a new file is begun", path.display())]
    Foreign {
        /// Which.
        path: PathBuf,
    },
    /// One record says what no record can say.
    #[error("record {id} in {} cannot be understood ({what}); forget it by its day (precentor records forget --help), or mend it with an SQLite tool", path.display())]
    Record {
        /// Which file.
        path: PathBuf,
        /// Which record.
        id: i64,
        /// What is wrong.
        what: String,
    },
    /// The disk is full.
    #[error("the disk is full: {} cannot grow; free some space there: what was kept before is whole", path.display())]
    Full {
        /// Which.
        path: PathBuf,
    },
    /// Another program holds the file.
    #[error("another program holds the records in {}; end it, or try again in a moment", path.display())]
    Busy {
        /// Which.
        path: PathBuf,
    },
    /// Records were forgotten, but another console still reads the pages they stood on.
    #[error("the records are forgotten, but another program still reads {}, so their bytes may lie in it yet; end it and forget again", path.display())]
    StillRead {
        /// Which.
        path: PathBuf,
    },
    /// The sound that belongs to the records cannot be found or deleted.
    #[error(transparent)]
    Audio(#[from] crate::AudioError),
    /// The file or the disk is damaged.
    #[error("the records in {} cannot be read or written ({source}); see whether that disk is well and has room; if this comes again, move the file away, and a new one is begun", path.display())]
    Broken {
        /// Which.
        path: PathBuf,
        /// What the database says.
        source: rusqlite::Error,
    },
}

impl RecordsError {
    /// What the database says of the file at `path`.
    pub(crate) fn of(path: &Path, source: rusqlite::Error) -> Self {
        let path = path.to_owned();
        match source.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::Full { path },
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy { path },
            Some(ErrorCode::NotADatabase) => Self::Foreign { path },
            _ => Self::Broken { path, source },
        }
    }

    /// Whether trying again cannot help while the file is as it is.
    pub(crate) const fn is_final(&self) -> bool {
        matches!(self, Self::Newer { .. } | Self::Foreign { .. })
    }
}
