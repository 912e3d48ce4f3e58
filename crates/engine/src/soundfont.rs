//! Sounds from a SoundFont 2 file, made ready to be sung: read, measured, tuned and levelled.
//!
//! The file is read by `rustysynth`; the samples are sung by [`synth::sampled`], so that a tone starts on its exact frame. What a SoundFont
//! says of the pitch of its samples is often some cents off. So each sample is measured: one that is looped sounds, as long as it lasts, at
//! a whole number of turns in its loop, which is exact; one that is not looped is measured by its spectrum. A tone's first harmonic then
//! lies where it should: within a hundredth of a cent for looped samples that are steady, within two on average where a recording sways (its own
//! vibrato stays: [`Tuning::sway_cents`] says how much), within two cents for others.
//!
//! Kept of the format: key and velocity ranges, layers (up to [`synth::sampled::LAYERS`]; of a stereo pair the left), loops, tuning,
//! attenuation between layers, volume envelope, low-pass filter at its initial corner. Left out, because a model is steady and dry:
//! vibrato and modulation envelopes, modulators, reverb and chorus. A tone is as loud as a built-in timbre's.
//!
//! Nothing here may run on the audio thread: it reads files and allocates.

mod measure;
mod regions;
mod tables;

use rustysynth::{Preset, SoundFont};
use sequencer::PresetId;
use std::collections::HashMap;
use std::fmt;
use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;
use synth::{SampleBank, SoundIndex};
use thiserror::Error;

/// The largest file that is read, in bytes.
pub const LARGEST: u64 = 1 << 30;

/// Why a SoundFont cannot be used.
#[derive(Debug, Error)]
pub enum SoundFontError {
    /// The file cannot be read.
    #[error("the SoundFont {file} cannot be read: {source}")]
    Unreadable {
        /// The file as it was named.
        file: String,
        /// What the system says.
        source: std::io::Error,
    },
    /// The file is too long.
    #[error("the SoundFont {file} is longer than a gigabyte")]
    TooLong {
        /// The file as it was named.
        file: String,
    },
    /// The file is no SoundFont 2, or not whole.
    #[error("{file} is not a whole SoundFont 2 file: {fault}")]
    Broken {
        /// The file as it was named.
        file: String,
        /// What is wrong with it.
        fault: String,
    },
    /// The font has no such preset.
    #[error("the SoundFont has no preset {preset}")]
    NoPreset {
        /// The preset asked for.
        preset: PresetId,
        /// Those of the same number in other banks, or else the next in the bank.
        nearest: Vec<(PresetId, String)>,
    },
    /// The preset has no sample that can be sung.
    #[error("preset {preset} of the SoundFont holds no sample that can be sung")]
    Empty {
        /// The preset asked for.
        preset: PresetId,
    },
}

/// How well a sound can be tuned.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tuning {
    /// The most that any sample was off before it was corrected, in cents.
    pub corrected_cents: f32,
    /// The largest vibrato that a recording keeps, rms in cents.
    pub sway_cents: f32,
    /// Samples in which no pitch was found near the one their font gives them; they sound where the font says.
    pub untuned: usize,
    /// Samples in all.
    pub samples: usize,
}

/// A SoundFont file, read.
pub struct SoundFontFile {
    font: SoundFont,
    mark: u64,
}

/// What became of a preset: its sound and how well it can be tuned.
pub type Made = Result<(SoundIndex, Tuning), SoundFontError>;

impl fmt::Debug for SoundFontFile {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("SoundFontFile").field("mark", &self.mark).finish_non_exhaustive()
    }
}

impl SoundFontFile {
    /// Reads the file at `path`.
    ///
    /// # Errors
    /// [`SoundFontError`] if it cannot be read or is not a whole SoundFont 2.
    pub fn read(path: &Path) -> Result<Self, SoundFontError> {
        let file = || path.display().to_string();
        let mut bytes = Vec::new();
        let read = File::open(path).and_then(|open| open.take(LARGEST + 1).read_to_end(&mut bytes));
        read.map_err(|source| SoundFontError::Unreadable { file: file(), source })?;
        if bytes.len() as u64 > LARGEST {
            return Err(SoundFontError::TooLong { file: file() });
        }
        Self::parse(&bytes).map_err(|fault| SoundFontError::Broken { file: file(), fault })
    }

    /// Reads a whole file from memory; what is wrong is said in a clause.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn parse(bytes: &[u8]) -> Result<Self, String> {
        tables::check(bytes)?;
        // the tables are sound; a panic in a reader of other people's files must still not end a lesson
        let read = std::panic::catch_unwind(|| SoundFont::new(&mut Cursor::new(bytes)));
        let font = read.map_err(|_| "its tables contradict each other".to_owned())?.map_err(|error| error.to_string())?;
        Ok(Self { font, mark: mark(bytes) })
    }

    /// A number that stands for the file's whole content: two files that differ have different ones, for all practical
    /// purposes.
    #[must_use]
    pub const fn mark(&self) -> u64 {
        self.mark
    }

    /// Every preset with its name, by bank and number.
    #[must_use]
    pub fn presets(&self) -> Vec<(PresetId, String)> {
        let named = |preset: &Preset| Some((id(preset)?, preset.get_name().trim().to_owned()));
        let mut presets: Vec<_> = self.font.get_presets().iter().filter_map(named).collect();
        presets.sort();
        presets
    }

    /// A bank of these presets, and what became of each, in their order. Measures each sample once; the file may be let go afterwards.
    #[must_use]
    pub fn bank(&self, presets: &[PresetId]) -> (SampleBank, Vec<Made>) {
        let mut known = HashMap::new();
        let mut sounds = Vec::new();
        let made = presets.iter().map(|preset| {
            let found = self.font.get_presets().iter().find(|candidate| id(candidate) == Some(*preset));
            let found = found.ok_or_else(|| SoundFontError::NoPreset { preset: *preset, nearest: self.nearest(*preset) })?;
            let (sound, tuning) = regions::sound(&self.font, found, &mut known).ok_or(SoundFontError::Empty { preset: *preset })?;
            sounds.push(sound);
            Ok((SoundIndex(sounds.len() as u16 - 1), tuning))
        });
        let made = made.collect();
        (SampleBank::new(sounds), made)
    }

    fn nearest(&self, wanted: PresetId) -> Vec<(PresetId, String)> {
        let mut presets = self.presets();
        presets.sort_by_key(|(id, _)| (id.number != wanted.number, id.bank != wanted.bank, id.number.abs_diff(wanted.number), id.bank));
        presets.truncate(3);
        presets
    }
}

fn id(preset: &Preset) -> Option<PresetId> {
    Some(PresetId { bank: u16::try_from(preset.get_bank_number()).ok()?, number: u16::try_from(preset.get_patch_number()).ok()? })
}

/// In the manner of FNV-1a (draft-eastlake-fnv: its offset basis and prime of 64 bits), but eight bytes at a step for speed, each turned so that
/// all bits reach all.
fn mark(bytes: &[u8]) -> u64 {
    let mix = |mark: u64, word: u64| (mark ^ word).wrapping_mul(0x0000_0100_0000_01b3).rotate_left(23);
    let (words, rest) = bytes.as_chunks::<8>();
    let whole = words.iter().fold(0xcbf2_9ce4_8422_2325, |mark, word| mix(mark, u64::from_le_bytes(*word)));
    rest.iter().fold(mix(whole, bytes.len() as u64), |mark, byte| mix(mark, u64::from(*byte)))
}
