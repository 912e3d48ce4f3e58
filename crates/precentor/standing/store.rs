//! The files of what is remembered: small, whole whatever happens, and read with patience.

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::{ClimbStanding, ClimbStandings, LessonStanding};
use crate::folders::{Folders, FoldersError, sweep, write_whole};
use crate::text;

const LESSON: &str = "lesson";
const CLIMBS: &str = "climbs";
/// The version of both files.
const VERSION: u32 = 1;
/// The largest file that is read, in bytes: ten times the longest there can be.
const LARGEST: u64 = 4 << 20;
/// How many broken files of one name are kept.
const MOST_ASIDE: u32 = 1000;

/// What is remembered, in the state folder.
#[derive(Clone, Debug)]
pub struct Store {
    folder: PathBuf,
}

/// What was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found<T> {
    /// What is remembered, if anything is.
    pub value: Option<T>,
    /// What the user should know: a file could not be read, and where it is now.
    pub told: Option<String>,
}

/// A file of ours.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Versioned<T> {
    version: u32,
    standing: T,
}

impl Store {
    /// In this user's state folder. What an earlier run was killed over is cleared away.
    #[must_use]
    pub fn open(folders: &Folders) -> Self {
        sweep(&folders.state);
        Self { folder: folders.state.clone() }
    }

    /// The lesson under way, fresh or not.
    #[must_use]
    pub fn lesson(&self) -> Found<LessonStanding> {
        self.find(LESSON)
    }

    /// Remembers a lesson. Whatever happens, the old memory or the new is whole.
    ///
    /// # Errors
    /// [`FoldersError`] if it cannot be written.
    pub fn keep_lesson(&self, standing: &LessonStanding) -> Result<(), FoldersError> {
        self.write(LESSON, standing)
    }

    /// Forgets the lesson: it is through, or left.
    ///
    /// # Errors
    /// [`FoldersError`] if its file cannot be removed.
    pub fn forget_lesson(&self) -> Result<(), FoldersError> {
        let path = self.path(LESSON);
        match fs::remove_file(&path) {
            Err(source) if source.kind() != io::ErrorKind::NotFound => Err(FoldersError::File { path, source }),
            _ => Ok(()),
        }
    }

    /// Where all climbs stand.
    #[must_use]
    pub fn climbs(&self) -> Found<ClimbStandings> {
        self.find(CLIMBS)
    }

    /// Remembers where one climb stands beside all the others. Whatever happens, the old memory or the new is whole. Gives what the user should
    /// know.
    ///
    /// # Errors
    /// [`FoldersError`] if it cannot be written, or if what is there cannot be read and would be lost.
    pub fn keep_climb(&self, standing: ClimbStanding) -> Result<Option<String>, FoldersError> {
        // read anew: another console may have written
        let path = self.path(CLIMBS);
        let Found { value, told } = Self::read(&path).map_err(|source| FoldersError::File { path, source })?;
        let mut climbs: ClimbStandings = value.unwrap_or_default();
        climbs.note(standing);
        self.write(CLIMBS, &climbs)?;
        Ok(told)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.join(format!("{name}.json"))
    }

    fn write<T: Serialize>(&self, name: &str, standing: &T) -> Result<(), FoldersError> {
        let path = self.path(name);
        fs::create_dir_all(&self.folder).map_err(|source| FoldersError::Folder { path: self.folder.clone(), source })?;
        let written = serde_json::to_vec(&Versioned { version: VERSION, standing }).map_err(io::Error::from);
        written.and_then(|bytes| write_whole(&path, &bytes)).map_err(|source| FoldersError::File { path, source })
    }

    fn find<T: DeserializeOwned>(&self, name: &str) -> Found<T> {
        let path = self.path(name);
        Self::read(&path).unwrap_or_else(|error| Found { value: None, told: Some(text::standing::unreadable(&path, &error)) })
    }

    /// What the file at `path` says; what cannot be understood gets another name. Fails if it can be neither read nor renamed.
    fn read<T: DeserializeOwned>(path: &Path) -> io::Result<Found<T>> {
        let bytes = match bytes(path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Found { value: None, told: None }),
            bytes => bytes?,
        };
        Ok(match standing(&bytes) {
            Some(value) => Found { value: Some(value), told: None },
            None => Found { value: None, told: Some(text::standing::set_aside(path, &set_aside(path)?)) },
        })
    }
}

fn bytes(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(path)?.take(LARGEST + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// What `bytes` say, if it is of this version and whole.
fn standing<T: DeserializeOwned>(bytes: &[u8]) -> Option<T> {
    let read: Versioned<T> = serde_json::from_slice(bytes).ok()?;
    (read.version == VERSION).then_some(read.standing)
}

/// Gives a file that cannot be used another name, so that it is not lost and in nobody's way.
fn set_aside(path: &Path) -> io::Result<PathBuf> {
    let free = (1..MOST_ASIDE).map(|number| path.with_extension(format!("broken-{number}.json"))).find(|aside| !aside.exists());
    let aside = free.ok_or(io::ErrorKind::AlreadyExists)?;
    fs::rename(path, &aside)?;
    Ok(aside)
}
