//! The sound of echoes, kept for some days where the user asks for it: a WAV file each, in a folder beside the records that only its owner may
//! enter. A file's name says whose record it belongs to and when it is to be deleted, so that it is deleted even where the records are lost.

use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use std::fmt;
use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Seek, Write};
use std::path::{Path, PathBuf};
use std::str::FromStr;
use thiserror::Error;
use units::SampleRate;

use crate::store::make_folder;
use crate::{RecordId, SectionId};

/// The folder's name, beside the file of records.
const FOLDER: &str = "sound";
/// How the moment of deletion stands in a file's name, in UTC.
const MOMENT: &str = "%Y%m%dT%H%M%SZ";
/// How many bytes are overwritten at a time.
const WIPE: usize = 1 << 16;

/// For how many days sound is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Days(u16);

/// It is not kept for so many days.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[error("sound is kept for 1 to {} days; name a number of days", Days::MOST)]
pub struct DaysError;

/// The sound of one echo.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// Frames per second.
    pub rate: SampleRate,
    /// One channel, 1 for full scale; what lies beyond is cut, what is no number is silence.
    pub samples: Vec<f32>,
    /// For how long it is kept.
    pub days: Days,
}

/// The record a clip belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ClipOf {
    /// A verdict.
    Verdict(RecordId),
    /// The echo of a whole section.
    Section(SectionId),
}

/// A file of sound that is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clip {
    /// Where it is.
    pub path: PathBuf,
    /// What it is the sound of.
    pub of: ClipOf,
    /// When it is deleted: at the first start after that.
    pub until: Timestamp,
    /// How many bytes it takes.
    pub bytes: u64,
}

/// The folder of what is kept. It is there only once something is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptAudio {
    folder: PathBuf,
}

/// Why sound cannot be kept, found or deleted.
#[derive(Debug, Error)]
pub enum AudioError {
    /// It cannot be written.
    #[error("the sound of an echo cannot be kept in {} ({source}); free some space there, or allow yourself to write to that folder", path.display())]
    Keep {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The folder cannot be read.
    #[error("the kept sound in {} cannot be listed ({source}); allow yourself to read that folder", path.display())]
    List {
        /// The folder.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// It cannot be deleted.
    #[error("{} should be gone and cannot be deleted ({source}); delete that file", path.display())]
    Delete {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
}

impl Days {
    /// Unless another number is asked for: two weeks.
    pub const DEFAULT: Self = Self(14);
    /// The most.
    pub const MOST: u16 = 90;

    /// So many days.
    ///
    /// # Errors
    /// [`DaysError`] for none and for more than [`MOST`](Self::MOST).
    pub fn new(days: u16) -> Result<Self, DaysError> {
        if (1..=Self::MOST).contains(&days) { Ok(Self(days)) } else { Err(DaysError) }
    }

    /// How many.
    #[must_use]
    pub const fn get(self) -> u16 {
        self.0
    }
}

impl fmt::Display for Days {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl FromStr for Days {
    type Err = DaysError;

    fn from_str(text: &str) -> Result<Self, DaysError> {
        text.parse().map_err(|_| DaysError).and_then(Self::new)
    }
}

impl ClipOf {
    /// How names of its files begin.
    fn stem(self) -> String {
        match self {
            Self::Verdict(RecordId(id)) => format!("verdict-{id}"),
            Self::Section(SectionId(id)) => format!("section-{id}"),
        }
    }

    /// What a file called `name` belongs to, and when it is to be deleted; nothing if it is none of ours.
    fn read(name: &str) -> Option<(Self, Timestamp)> {
        let (stem, until) = name.strip_suffix(".wav")?.split_once("-until-")?;
        let (kind, id) = stem.split_once('-')?;
        let of = match kind {
            "verdict" => Self::Verdict(RecordId(id.parse().ok()?)),
            "section" => Self::Section(SectionId(id.parse().ok()?)),
            _ => return None,
        };
        let until = TimeZone::UTC.to_timestamp(DateTime::strptime(MOMENT, until).ok()?).ok()?;
        Some((of, until))
    }
}

impl KeptAudio {
    /// The sound that belongs to the records in the file at `path`.
    #[must_use]
    pub fn beside(path: &Path) -> Self {
        Self { folder: path.with_file_name(FOLDER) }
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Keeps `sound` from `now` for its days, in the place of what was kept `of` the same record before: 16 bits, one channel.
    ///
    /// # Errors
    /// [`AudioError`]; then nothing is kept of it.
    pub fn keep(&self, of: ClipOf, sound: &Sound, now: Timestamp) -> Result<Clip, AudioError> {
        let until = now.saturating_add(SignedDuration::from_hours(24 * i64::from(sound.days.0))).unwrap_or(Timestamp::MAX);
        let path = self.folder.join(format!("{}-until-{}.wav", of.stem(), until.strftime(MOMENT)));
        Self::delete(self.clips()?.into_iter().filter(|clip| clip.of == of))?;
        let written = make_folder(&self.folder).and_then(|()| write(&path, sound));
        match written {
            Ok(bytes) => Ok(Clip { path, of, until, bytes }),
            Err(source) => {
                // half a file is no clip
                let _ = fs::remove_file(&path);
                Err(AudioError::Keep { path, source })
            }
        }
    }

    /// All that is kept, in the order in which it will be deleted.
    ///
    /// # Errors
    /// [`AudioError::List`].
    pub fn clips(&self) -> Result<Vec<Clip>, AudioError> {
        let broken = |source| AudioError::List { path: self.folder.clone(), source };
        let entries = match fs::read_dir(&self.folder) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            entries => entries.map_err(broken)?,
        };
        let mut clips = Vec::new();
        for entry in entries {
            let entry = entry.map_err(broken)?;
            let Some((of, until)) = entry.file_name().to_str().and_then(ClipOf::read) else { continue };
            // another console may have deleted it meanwhile
            let Ok(file) = entry.metadata() else { continue };
            if file.is_file() {
                clips.push(Clip { path: entry.path(), of, until, bytes: file.len() });
            }
        }
        clips.sort_by(|a, b| (a.until, &a.path).cmp(&(b.until, &b.path)));
        Ok(clips)
    }

    /// Deletes what is over by `now`; gives how many.
    ///
    /// # Errors
    /// [`AudioError`], after all that can be deleted is.
    pub fn sweep(&self, now: Timestamp) -> Result<u64, AudioError> {
        Self::delete(self.clips()?.into_iter().filter(|clip| clip.until <= now))
    }

    /// Deletes those of `clips` that are still there; gives how many. Their bytes are overwritten first.
    pub(crate) fn delete(clips: impl IntoIterator<Item = Clip>) -> Result<u64, AudioError> {
        let (mut count, mut trouble) = (0, None);
        for clip in clips {
            match delete(&clip) {
                Ok(()) => count += 1,
                Err(error) if error.kind() == io::ErrorKind::NotFound => {}
                Err(source) => trouble = Some(AudioError::Delete { path: clip.path, source }),
            }
        }
        trouble.map_or(Ok(count), Err)
    }
}

/// Writes a new file, for its owner alone; gives its bytes.
fn write(path: &Path, sound: &Sound) -> io::Result<u64> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let file = options.open(path)?;
    let spec = hound::WavSpec { channels: 1, sample_rate: sound.rate.hz(), bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    let system = |error| match error {
        hound::Error::IoError(error) => error,
        error => io::Error::other(error),
    };
    let mut wav = hound::WavWriter::new(BufWriter::new(&file), spec).map_err(system)?;
    for sample in &sound.samples {
        // what is no number becomes zero
        wav.write_sample((sample * f32::from(i16::MAX)) as i16).map_err(system)?;
    }
    wav.finalize().map_err(system)?;
    file.metadata().map(|file| file.len())
}

/// Overwrites a file and deletes it.
fn delete(clip: &Clip) -> io::Result<()> {
    // a file that may not be written may still be deleted
    let _ = OpenOptions::new().write(true).open(&clip.path).and_then(|file| wipe(file, clip.bytes));
    fs::remove_file(&clip.path)
}

fn wipe(mut file: File, bytes: u64) -> io::Result<()> {
    file.rewind()?;
    let zeros = vec![0; WIPE];
    let mut left = bytes;
    while left > 0 {
        let now = zeros.get(..left.min(WIPE as u64) as usize).unwrap_or_default();
        file.write_all(now)?;
        left -= now.len() as u64;
    }
    file.sync_data()
}
