//! A recording from a file, WAV or FLAC, in one channel, a block at a time: an hour of it is never in memory at once.

use rodio::{Decoder, Source};
use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use thiserror::Error;
use units::SampleRate;

/// A recording being read.
pub struct Recording {
    samples: Samples,
    channels: usize,
    rate: SampleRate,
    cut_off: bool,
}

/// Samples of all channels in turn; none where the file does not say what comes.
type Samples = Box<dyn Iterator<Item = Option<f32>>>;

/// Why a file cannot be heard.
#[derive(Debug, Error)]
pub enum RecordingError {
    /// It cannot be opened or read.
    #[error("{} cannot be read ({source})", path.display())]
    Read {
        /// Which file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// Nothing in it.
    #[error("{} is empty; record it again", path.display())]
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
            b"RIFF" => wav(file).map_err(|error| fault(error.to_string()))?,
            b"fLaC" => flac(file, length).map_err(|error| fault(error.to_string()))?,
            _ => return Err(RecordingError::Kind { path: path.to_owned() }),
        };
        let rate = SampleRate::new(hz).map_err(|_| RecordingError::Rate { path: path.to_owned(), hz })?;
        Ok(Self { samples, channels: channels.max(1), rate, cut_off: false })
    }

    /// Frames per second.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Puts the next frames into `block`, the mean of all channels, at most as many as it holds; gives how many came. What is no number is
    /// silence.
    pub fn read(&mut self, block: &mut [f32]) -> usize {
        let share = 1.0 / self.channels as f32;
        for (index, frame) in block.iter_mut().enumerate() {
            let mut sum = 0.0;
            for channel in 0..self.channels {
                match self.samples.next() {
                    Some(Some(sample)) => sum += if sample.is_finite() { sample } else { 0.0 },
                    Some(None) => {
                        self.cut_off = true;
                        return index;
                    }
                    None => {
                        self.cut_off |= channel > 0;
                        return index;
                    }
                }
            }
            *frame = sum * share;
        }
        block.len()
    }

    /// Whether the file ended before what it says of itself, as far as it has been read.
    #[must_use]
    pub const fn cut_off(&self) -> bool {
        self.cut_off
    }
}

fn wav(file: BufReader<File>) -> Result<(Samples, usize, u32), hound::Error> {
    let reader = hound::WavReader::new(file)?;
    let spec = reader.spec();
    let samples: Samples = match spec.sample_format {
        hound::SampleFormat::Float => Box::new(reader.into_samples::<f32>().map(Result::ok)),
        hound::SampleFormat::Int => {
            let full = 1.0 / (1_u64 << (spec.bits_per_sample.clamp(1, 32) - 1)) as f32;
            Box::new(reader.into_samples::<i32>().map(move |sample| sample.ok().map(|sample| sample as f32 * full)))
        }
    };
    Ok((samples, usize::from(spec.channels), spec.sample_rate))
}

fn flac(file: BufReader<File>, length: u64) -> Result<(Samples, usize, u32), rodio::decoder::DecoderError> {
    let decoder = Decoder::builder().with_data(file).with_byte_len(length).with_hint("flac").build()?;
    let (channels, hz) = (usize::from(decoder.channels().get()), decoder.sample_rate().get());
    // the decoder passes over what it cannot read without a word: the length it was told of tells
    let expected = decoder.total_duration().map(|length| (length.as_secs_f64() * f64::from(hz)).round() as u64 * channels as u64);
    let counted = Counted { decoder, left: expected };
    Ok((Box::new(counted), channels, hz))
}

/// A decoder's samples, and a last one that says so if some are missing.
struct Counted<D> {
    decoder: D,
    /// How many are still to come, where the file says so.
    left: Option<u64>,
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
            None if self.left.take().is_some_and(|left| left > 4096) => Some(None),
            None => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use hound::{SampleFormat, WavSpec, WavWriter};
    use proptest::prelude::*;

    fn wav_of(bits: u16, format: SampleFormat, channels: u16, rate: u32, frames: usize) -> tempfile::NamedTempFile {
        let file = tempfile::NamedTempFile::new().unwrap();
        let spec = WavSpec { channels, sample_rate: rate, bits_per_sample: bits, sample_format: format };
        let mut writer = WavWriter::create(file.path(), spec).unwrap();
        for n in 0..frames {
            for channel in 0..channels {
                let value = 0.5 * (n as f64 * 0.05).sin() + if channel == 0 { 0.25 } else { -0.25 };
                match format {
                    SampleFormat::Float => writer.write_sample(value as f32).unwrap(),
                    SampleFormat::Int => writer.write_sample((value * f64::from((1_u32 << (bits - 1)) - 1)) as i32).unwrap(),
                }
            }
        }
        writer.finalize().unwrap();
        file
    }

    fn whole(path: &Path) -> (Vec<f32>, bool) {
        let mut recording = Recording::open(path).unwrap();
        let (mut all, mut block) = (Vec::new(), [0.0; 480]);
        loop {
            let came = recording.read(&mut block);
            all.extend_from_slice(&block[..came]);
            if came < block.len() {
                return (all, recording.cut_off());
            }
        }
    }

    #[test]
    fn every_kind_of_wav_is_the_same_sound() {
        for (bits, format) in
            [(8, SampleFormat::Int), (16, SampleFormat::Int), (24, SampleFormat::Int), (32, SampleFormat::Int), (32, SampleFormat::Float)]
        {
            for (channels, rate) in [(1, 8_000), (2, 48_000), (6, 192_000)] {
                let file = wav_of(bits, format, channels, rate, 1000);
                let (sound, cut_off) = whole(file.path());
                assert_eq!((sound.len(), cut_off), (1000, false), "{bits} {format:?} {channels} {rate}");
                let offset = if channels == 1 { 0.25 } else { -0.25 + 0.5 / f64::from(channels) };
                for (n, sample) in sound.iter().enumerate() {
                    let wanted = 0.5 * (n as f64 * 0.05).sin() + offset;
                    assert!((f64::from(*sample) - wanted).abs() < 2.5 / f64::from(1_u32 << (bits.min(24) - 1)), "{bits} bits, frame {n}");
                }
            }
        }
    }

    #[test]
    fn what_is_no_number_is_silence() {
        let file = tempfile::NamedTempFile::new().unwrap();
        let spec = WavSpec { channels: 1, sample_rate: 48_000, bits_per_sample: 32, sample_format: SampleFormat::Float };
        let mut writer = WavWriter::create(file.path(), spec).unwrap();
        [0.5, f32::NAN, f32::INFINITY, -0.5].into_iter().for_each(|sample| writer.write_sample(sample).unwrap());
        writer.finalize().unwrap();
        assert_eq!(whole(file.path()).0, [0.5, 0.0, 0.0, -0.5]);
    }

    #[test]
    fn a_file_that_is_cut_off_says_so_after_what_there_is() {
        let file = wav_of(16, SampleFormat::Int, 2, 48_000, 1000);
        let bytes = std::fs::read(file.path()).unwrap();
        std::fs::write(file.path(), &bytes[..bytes.len() - 402]).unwrap();
        let (sound, cut_off) = whole(file.path());
        assert_eq!((sound.len(), cut_off), (899, true));
    }

    #[test]
    fn what_is_no_recording_is_told_with_its_mend() {
        let message = |bytes: &[u8]| {
            let file = tempfile::NamedTempFile::new().unwrap();
            std::fs::write(file.path(), bytes).unwrap();
            Recording::open(file.path()).err().unwrap().to_string()
        };
        assert!(message(b"").contains("is empty"));
        assert!(message(b"version = 1").contains("is no WAV or FLAC file"));
        assert!(message(b"RIFF").contains("cannot be understood"));
        assert!(message(b"fLaC").contains("cannot be understood"));
        let file = wav_of(16, SampleFormat::Int, 1, 4_000, 10);
        assert!(Recording::open(file.path()).err().unwrap().to_string().contains("has 4000 frames a second"));
        assert!(Recording::open(Path::new("nowhere.wav")).err().unwrap().to_string().starts_with("nowhere.wav cannot be read"));
    }

    proptest! {
        #[test]
        fn any_bytes_are_survived(kind in 0..3_usize, bytes in prop::collection::vec(any::<u8>(), 0..400)) {
            let file = tempfile::NamedTempFile::new().unwrap();
            let mark: &[u8] = [b"RIFF".as_slice(), b"fLaC", b""][kind];
            std::fs::write(file.path(), [mark, &bytes].concat()).unwrap();
            if let Ok(mut recording) = Recording::open(file.path()) {
                let mut block = [0.0; 64];
                while recording.read(&mut block) == 64 {
                    prop_assert!(block.iter().all(|sample| sample.is_finite()));
                }
            }
        }
    }
}
