//! The folders and small files the program keeps of itself: `~/.config`, `~/.local/state` and `~/.local/share` after the XDG base directory specification, on
//! every system.

use etcetera::BaseStrategy;
use etcetera::base_strategy::Xdg;
use jiff::civil::DateTime;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;
use thiserror::Error;

/// The folder of ours inside each base folder.
const OURS: &str = "precentor";
/// The file that remembers the last room.
const LAST_ROOM: &str = "last-room";
/// The file that says what the teacher's own keys, pedals and switches do.
pub(crate) const INPUTS: &str = "inputs.toml";
/// The file of verdicts.
const RECORDS: &str = "records.db";
/// How the passing names of files begin that are being written.
const PASSING: &str = ".unfinished-";
/// What has been written for longer than this belongs to a run that was killed.
const LONGEST_WRITE: Duration = Duration::from_secs(60);
/// The most letters of a room's name that go into a file name.
const LONGEST_SLUG: usize = 40;

/// Where things are kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Folders {
    /// The user's settings.
    pub config: PathBuf,
    /// What the program remembers between runs.
    pub state: PathBuf,
    /// Journals of past runs, inside the state folder.
    pub journals: PathBuf,
    /// The teacher's own voices, a folder each, inside the folder for data.
    pub voices: PathBuf,
    /// The file of verdicts, inside the folder for data.
    pub records: PathBuf,
}

/// Why something cannot be kept.
#[derive(Debug, Error)]
pub enum FoldersError {
    /// The system names no home folder.
    #[error("there is no home folder to keep things in; set HOME, or XDG_CONFIG_HOME and XDG_STATE_HOME")]
    NoHome,
    /// A folder cannot be made.
    #[error("the folder {} cannot be made ({source}); make it, or set XDG_STATE_HOME to a folder you may write to", path.display())]
    Folder {
        /// Which.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// A file cannot be written.
    #[error("{} cannot be written ({source}); free some space there, or see: precentor doctor", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
}

impl Folders {
    /// The folders of this user. Makes none of them.
    ///
    /// # Errors
    /// [`FoldersError::NoHome`].
    pub fn find() -> Result<Self, FoldersError> {
        let base = Xdg::new().map_err(|_| FoldersError::NoHome)?;
        let state = base.state_dir().unwrap_or_else(|| base.home_dir().join(".local/state"));
        Ok(Self::of(base.config_dir().join(OURS), state.join(OURS), &base.data_dir().join(OURS)))
    }

    /// Everything below one folder, `config`, `state` and `data` in it: a home that is not the user's.
    #[must_use]
    pub fn under(root: &Path) -> Self {
        Self::of(root.join("config"), root.join("state"), &root.join("data"))
    }

    fn of(config: PathBuf, state: PathBuf, data: &Path) -> Self {
        Self { config, journals: state.join("journals"), state, voices: data.join("voices"), records: data.join(RECORDS) }
    }

    /// The file of the teacher's own bindings.
    #[must_use]
    pub fn inputs(&self) -> PathBuf {
        self.config.join(INPUTS)
    }

    /// Makes the folders that are not there yet.
    ///
    /// # Errors
    /// [`FoldersError::Folder`].
    pub fn create(&self) -> Result<(), FoldersError> {
        for path in [&self.config, &self.state, &self.journals] {
            fs::create_dir_all(path).map_err(|source| FoldersError::Folder { path: path.clone(), source })?;
        }
        Ok(())
    }

    /// The room file last used, if one is remembered and still there.
    #[must_use]
    pub fn last_room(&self) -> Option<PathBuf> {
        let text = fs::read_to_string(self.state.join(LAST_ROOM)).ok()?;
        let path = PathBuf::from(text.trim_end_matches(['\r', '\n']));
        path.is_file().then_some(path)
    }

    /// Remembers `room` for the next start. Whatever happens, the old memory or the new is whole.
    ///
    /// # Errors
    /// [`FoldersError`] if it cannot be written.
    pub fn remember_room(&self, room: &Path) -> Result<(), FoldersError> {
        self.create()?;
        let path = self.state.join(LAST_ROOM);
        let room = fs::canonicalize(room).unwrap_or_else(|_| room.to_owned());
        write_whole(&path, format!("{}\n", room.display()).as_bytes()).map_err(|source| FoldersError::File { path, source })
    }

    /// A new, empty journal for a class, named after the local time and the room so that a list of them is in order of time.
    ///
    /// # Errors
    /// [`FoldersError`] if it cannot be made.
    pub fn new_journal(&self, room: &str) -> Result<(PathBuf, File), FoldersError> {
        self.create()?;
        self.new_journal_at(jiff::ZonedDateTime::now().datetime(), room)
    }

    fn new_journal_at(&self, now: DateTime, room: &str) -> Result<(PathBuf, File), FoldersError> {
        let stem = format!("{}_{}", now.strftime("%Y-%m-%d_%H-%M-%S"), slug(room));
        let mut number = 1;
        loop {
            let name = if number == 1 { format!("{stem}.jsonl") } else { format!("{stem}_{number}.jsonl") };
            let path = self.journals.join(name);
            match OpenOptions::new().write(true).create_new(true).open(&path) {
                Ok(file) => return Ok((path, file)),
                // a second console, or the hour that comes twice when the clocks go back
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists && number < 1000 => number += 1,
                Err(source) => return Err(FoldersError::File { path, source }),
            }
        }
    }
}

/// Where this user's own voices lie, if there is a home folder at all.
#[must_use]
pub fn own_voices() -> Option<PathBuf> {
    Folders::find().ok().map(|folders| folders.voices)
}

/// Writes a file under a passing name beside it, then puts it in place: no one ever sees half of it, not after a power cut either.
///
/// # Errors
/// What the file system says.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut file = tempfile::Builder::new().prefix(PASSING).tempfile_in(folder)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    file.persist(path).map_err(|error| error.error)?;
    // the new name too must outlast a power cut; a system that cannot do so for a folder has written the file all the same
    let _ = File::open(folder).and_then(|folder| folder.sync_all());
    Ok(())
}

/// Removes what runs that were killed while they wrote have left in `folder`.
pub(crate) fn sweep(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    let left = |entry: &fs::DirEntry| {
        let age = entry.metadata().and_then(|of| of.modified()).map(|modified| modified.elapsed().unwrap_or_default());
        entry.file_name().to_string_lossy().starts_with(PASSING) && age.is_ok_and(|age| age > LONGEST_WRITE)
    };
    for entry in entries.flatten().filter(left) {
        // another console may have swept it away already
        let _ = fs::remove_file(entry.path());
    }
}

/// `text` as part of a file name on any system: small letters and digits with single dashes between.
///
/// ```
/// assert_eq!(precentor::folders::slug("Alder Street, period 2"), "alder-street-period-2");
/// assert_eq!(precentor::folders::slug("../?"), "unnamed");
/// ```
#[must_use]
pub fn slug(text: &str) -> String {
    let mut slug = String::new();
    for character in text.chars().flat_map(char::to_lowercase) {
        if character.is_alphanumeric() {
            slug.push(character);
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
        if slug.chars().count() >= LONGEST_SLUG {
            break;
        }
    }
    let slug = slug.trim_end_matches('-');
    if slug.is_empty() { "unnamed".to_owned() } else { slug.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_room_is_remembered_until_it_is_gone() {
        let root = tempfile::tempdir().unwrap();
        let folders = Folders::under(root.path());
        assert_eq!(folders.last_room(), None);
        let room = root.path().join("a room.toml");
        fs::write(&room, "").unwrap();
        folders.remember_room(&room).unwrap();
        assert_eq!(folders.last_room(), Some(fs::canonicalize(&room).unwrap()));
        fs::remove_file(&room).unwrap();
        assert_eq!(folders.last_room(), None);
        let left: Vec<_> = fs::read_dir(&folders.state).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        assert_eq!(left.len(), 2, "the memory and the journals folder, no passing file: {left:?}");
    }

    #[test]
    fn journals_of_one_second_have_each_their_own_file() {
        let root = tempfile::tempdir().unwrap();
        let folders = Folders::under(root.path());
        folders.create().unwrap();
        let now = jiff::civil::date(2031, 2, 3).at(4, 5, 6, 0);
        let name = |(path, _): (PathBuf, File)| path.file_name().unwrap().to_string_lossy().into_owned();
        assert_eq!(name(folders.new_journal_at(now, "Alder Street").unwrap()), "2031-02-03_04-05-06_alder-street.jsonl");
        assert_eq!(name(folders.new_journal_at(now, "Alder Street").unwrap()), "2031-02-03_04-05-06_alder-street_2.jsonl");
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_named() {
        let root = tempfile::tempdir().unwrap();
        fs::write(root.path().join("state"), "a file in the way").unwrap();
        let error = Folders::under(root.path()).new_journal("room").unwrap_err().to_string();
        assert!(error.contains("state") && error.contains("XDG_STATE_HOME"), "{error}");
    }

    #[test]
    fn slugs_are_short_and_plain() {
        assert_eq!(slug("B♭ Clarinets (2nd)"), "b-clarinets-2nd");
        assert_eq!(slug("École"), "école");
        assert!(slug(&"long ".repeat(40)).chars().count() <= LONGEST_SLUG);
    }
}
