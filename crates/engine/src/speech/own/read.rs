//! Sound files into samples.

use rodio::{Decoder, Source as _};
use std::io::Cursor;
use std::path::Path;
use units::SampleRate;

use super::super::SpeechError;
use super::super::decode::Converter;
use super::TroubleKind;
use super::signal::{self, RATE, decibels};

/// The largest file read, in bytes, and the longest sound, in seconds: a word is a few hundred kilobytes.
const LARGEST: u64 = 64 << 20;
const LONGEST: f64 = 600.0;
/// The longest recording of one word, in seconds.
const LONGEST_WORD: f64 = 6.0;
/// Rates taken.
const RATES: std::ops::RangeInclusive<u32> = 8_000..=192_000;
/// A word under this much is silence: -50 dBFS.
const SILENT: f64 = 0.003;
/// Full scale, less the rounding of 8 bits.
const FULL: f32 = 0.992;
/// So many samples at full scale in a row were cut off; one alone may be a peak.
const CUT_OFF: usize = 3;
/// A voice this many decibels over its room is clear enough to be shaped, which lifts the room with it.
const CLEAR: f64 = 20.0;
/// The room is what is heard in the quietest share of a recording.
const ROOM: f64 = 0.05;
/// The ends of a recording, in milliseconds, and how far their levels may lie apart in one room.
const ROOM_MS: f64 = 60.0;
const STEADY: f64 = 2.5;

/// A sound file in one channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// At [`RATE`].
    pub samples: Vec<f64>,
    /// Whether it was too loud for the microphone.
    pub clipped: bool,
}

/// The file at `path` in one channel at [`RATE`].
///
/// # Errors
/// What is wrong with it, in a few words.
pub fn decode(path: &Path) -> Result<Heard, String> {
    let size = std::fs::metadata(path).map_err(|error| error.to_string())?.len();
    if size > LARGEST {
        return Err(format!("it is larger than {} MB", LARGEST >> 20));
    }
    let bytes = std::fs::read(path).map_err(|error| error.to_string())?;
    decode_bytes(bytes)
}

pub(super) fn decode_bytes(bytes: Vec<u8>) -> Result<Heard, String> {
    let length = bytes.len() as u64;
    let decoder = Decoder::builder().with_data(Cursor::new(bytes)).with_byte_len(length).build().map_err(|error| error.to_string())?;
    let (channels, rate) = (usize::from(decoder.channels().get()), decoder.sample_rate().get());
    if !RATES.contains(&rate) {
        return Err(format!("it has {rate} frames a second; {} to {} are taken", RATES.start(), RATES.end()));
    }
    let most = (f64::from(rate) * LONGEST) as usize;
    let mut mono = Vec::new();
    let (mut sum, mut at, mut run, mut clipped) = (0.0, 0, 0, false);
    for sample in decoder {
        let sample = if sample.is_finite() { sample } else { 0.0 };
        run = if sample.abs() >= FULL { run + 1 } else { 0 };
        // in more channels than one, a run at full scale is in all of them
        clipped |= run >= CUT_OFF * channels;
        sum += sample;
        at += 1;
        if at == channels {
            mono.push((sum / channels as f32).clamp(-4.0, 4.0));
            (sum, at) = (0.0, 0);
            if mono.len() > most {
                return Err(format!("it is longer than {LONGEST:.0} s"));
            }
        }
    }
    if mono.is_empty() {
        return Err("there is no sound in it".to_owned());
    }
    let samples = resampled(mono, rate).map_err(|error| error.to_string())?;
    Ok(Heard { samples, clipped })
}

fn resampled(mono: Vec<f32>, rate: u32) -> Result<Vec<f64>, SpeechError> {
    Ok(Converter::new(rate, RATE)?.convert(mono)?.into_iter().map(f64::from).collect())
}

/// What a microphone heard at `rate`, at [`RATE`].
///
/// # Errors
/// [`SpeechError::Resample`].
pub fn at_our_rate(mono: Vec<f32>, rate: SampleRate) -> Result<Vec<f64>, SpeechError> {
    resampled(mono, rate.hz())
}

/// Whether a recording begins and ends in its room: a sound that is steady, and as soft as anything in it. A word that was cut tight begins and
/// ends in a slope.
fn has_room(samples: &[f64], room: f64) -> bool {
    let end = signal::samples(ROOM_MS).min(samples.len());
    let is_room = |part: &[f64]| {
        let level = signal::envelope(part, 20.0);
        let loudest = level.iter().copied().fold(0.0, f64::max);
        loudest < STEADY * room && loudest < STEADY * signal::quiet(&level, 0.0)
    };
    is_room(&samples[..end]) && is_room(&samples[samples.len() - end..])
}

/// One recorded word, trimmed, and what is wrong with it that does not keep it from speaking.
pub(super) fn word(path: &Path) -> Result<(Vec<f64>, Vec<TroubleKind>), TroubleKind> {
    let heard = decode(path).map_err(TroubleKind::Unreadable)?;
    if heard.samples.len() as f64 > LONGEST_WORD * f64::from(RATE) {
        return Err(TroubleKind::Unreadable(format!("it is longer than {LONGEST_WORD:.0} s")));
    }
    let loudest = signal::envelope(&heard.samples, 20.0).into_iter().fold(0.0, f64::max);
    if loudest < SILENT {
        return Err(TroubleKind::Silent);
    }
    let mut troubles = Vec::new();
    if heard.clipped {
        troubles.push(TroubleKind::Clipped);
    }
    let room = signal::quiet(&signal::envelope(&heard.samples, 20.0), ROOM);
    let clear = decibels(signal::speaking(&heard.samples) / room.max(1e-9));
    if clear < CLEAR && has_room(&heard.samples, room) {
        troubles.push(TroubleKind::Noisy(clear));
    }
    Ok((signal::trim(&heard.samples), troubles))
}
