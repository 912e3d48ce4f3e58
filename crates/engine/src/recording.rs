//! A recording from a file, WAV or FLAC, in one channel, a block at a time: an hour of it is never in memory at once.

#[cfg(test)]
mod tests;
mod wav;

use rodio::{Decoder, Source};
use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use thiserror::Error;
use units::SampleRate;

/// A recording being read.
pub struct Recording {
    samples: std::iter::Peekable<Samples>,
    channels: usize,
    rate: SampleRate,
    frames: u64,
    cut_off: bool,
    no_numbers: u64,
    /// The energy of the channels' mean, and the mean of the channels' energies.
    energy: (f64, f64),
}

/// The mean of channels that has less than this share of their energy is what is left of channels that cancel each other: two, one turned
/// upside down. A lone loud channel among hundreds has more.
const CANCELLED: f64 = 1e-4;
/// Beyond this a sample is no sound: full scale is 1, or a million where a program did not scale.
const BEYOND: f32 = 1e7;

/// What is wrong with a recording, as far as it has been read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Condition {
    /// The file is shorter than it says it is: cut off, or damaged in between.
    pub cut_off: bool,
    /// So many samples are no numbers, or beyond any sound; they were taken as silence.
    pub no_numbers: u64,
    /// Every sample is zero.
    pub silent: bool,
    /// The channels cancel each other when they are mixed.
    pub cancelled: bool,
}

/// Samples of all channels in turn; none where the file does not say what comes.
type Samples = Box<dyn Iterator<Item = Option<f32>>>;

/// Why a file cannot be heard.
#[derive(Debug, Error)]
pub enum RecordingError {
    /// It cannot be opened or read.
    #[error("{} cannot be read ({source}); name a WAV or FLAC file that is there and that you may read", path.display())]
    Read {
        /// Which file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// Nothing in it, or no sound after its head.
    #[error("{} is empty: there is no sound in it; record it again", path.display())]
    Empty {
        /// Which file.
        path: PathBuf,
    },
    /// Neither a WAV nor a FLAC file.
    #[error("{} is no WAV or FLAC file; save the recording as one of these", path.display())]
    Kind {
        /// Which file.
        path: PathBuf,
    },
    /// A file of the right kind that says nothing that can be played.
    #[error("{} cannot be understood ({fault}); save the recording once more, as 16-bit or 24-bit WAV", path.display())]
    Fault {
        /// Which file.
        path: PathBuf,
        /// What the reader says.
        fault: String,
    },
    /// A rate outside of what is listened to.
    #[error("{} has {hz} frames a second; save it with 8000 to 384000, 48000 for example", path.display())]
    Rate {
        /// Which file.
        path: PathBuf,
        /// Its frames per second.
        hz: u32,
    },
}

impl Recording {
    /// Opens the file at `path`, whatever its name ends with.
    ///
    /// # Errors
    /// [`RecordingError`], naming the file and what to do.
    pub fn open(path: &Path) -> Result<Self, RecordingError> {
        let read = |source| RecordingError::Read { path: path.to_owned(), source };
        let fault = |fault: String| RecordingError::Fault { path: path.to_owned(), fault };
        let mut file = File::open(path).map_err(read)?;
        let mut mark = [0; 4];
        let mut found = 0;
        while found < mark.len() {
            match file.read(mark.get_mut(found..).unwrap_or_default()).map_err(read)? {
                0 => break,
                more => found += more,
            }
        }
        if found == 0 {
            return Err(RecordingError::Empty { path: path.to_owned() });
        }
        let length = file.seek(SeekFrom::End(0)).map_err(read)?;
        file.seek(SeekFrom::Start(0)).map_err(read)?;
        let file = BufReader::new(file);
        let (samples, channels, hz) = match &mark {
            b"RIFF" => wav::open(file, length).map_err(|error| fault(error.to_string()))?,
            b"fLaC" => flac(file, length).map_err(|error| fault(error.to_string()))?,
            _ => return Err(RecordingError::Kind { path: path.to_owned() }),
        };
        let rate = SampleRate::new(hz).map_err(|_| RecordingError::Rate { path: path.to_owned(), hz })?;
        let mut samples = samples.peekable();
        if samples.peek().is_none_or(Option::is_none) {
            return Err(RecordingError::Empty { path: path.to_owned() });
        }
        Ok(Self { samples, channels: channels.max(1), rate, frames: 0, cut_off: false, no_numbers: 0, energy: (0.0, 0.0) })
    }

    /// Frames per second.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Puts the next frames into `block`, the mean of all channels, at most as many as it holds; gives how many came. What is no number is
    /// silence.
    pub fn read(&mut self, block: &mut [f32]) -> usize {
        let mut came = 0;
        for frame in block {
            let Some(mean) = self.frame() else { break };
            *frame = mean;
            came += 1;
        }
        self.frames += came as u64;
        came
    }

    fn frame(&mut self) -> Option<f32> {
        let (mut sum, mut energy) = (0.0, 0.0);
        for channel in 0..self.channels {
            match self.samples.next() {
                Some(Some(sample)) if sample.abs() <= BEYOND => {
                    sum += sample;
                    energy += f64::from(sample).powi(2);
                }
                Some(Some(_)) => self.no_numbers += 1,
                Some(None) => {
                    self.cut_off = true;
                    return None;
                }
                None => {
                    self.cut_off |= channel > 0;
                    return None;
                }
            }
        }
        let mean = sum / self.channels as f32;
        self.energy.0 += f64::from(mean).powi(2);
        self.energy.1 += energy / self.channels as f64;
        Some(mean)
    }

    /// How many frames have been read.
    #[must_use]
    pub const fn frames(&self) -> u64 {
        self.frames
    }

    /// What is wrong with what has been read.
    #[must_use]
    pub fn condition(&self) -> Condition {
        let (mean, channels) = self.energy;
        Condition {
            cut_off: self.cut_off,
            no_numbers: self.no_numbers,
            silent: channels == 0.0,
            cancelled: channels > 0.0 && mean < CANCELLED * channels,
        }
    }
}

fn flac(file: BufReader<File>, length: u64) -> Result<(Samples, usize, u32), rodio::decoder::DecoderError> {
    let decoder = Decoder::builder().with_data(file).with_byte_len(length).with_hint("flac").build()?;
    let (channels, hz) = (usize::from(decoder.channels().get()), decoder.sample_rate().get());
    // the decoder passes over what it cannot read without a word: the length it was told of tells
    let expected = decoder.total_duration().map(|length| (length.as_secs_f64() * f64::from(hz)).round() as u64 * channels as u64);
    let counted = Counted { decoder, left: expected, frame: channels as u64 };
    Ok((Box::new(counted), channels, hz))
}

/// A decoder's samples, and a last one that says so if some are missing.
struct Counted<D> {
    decoder: D,
    /// How many are still to come, where the file says so.
    left: Option<u64>,
    /// How many make a frame.
    frame: u64,
}

impl<D: Iterator<Item = f32>> Iterator for Counted<D> {
    type Item = Option<f32>;

    fn next(&mut self) -> Option<Self::Item> {
        match self.decoder.next() {
            Some(sample) => {
                self.left = self.left.map(|left| left.saturating_sub(1));
                Some(Some(sample))
            }
            // a frame more or less is rounding
            None if self.left.take().is_some_and(|left| left > self.frame) => Some(None),
            None => None,
        }
    }
}
