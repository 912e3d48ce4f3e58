//! The speaking voice: a pack of recorded words, and where in each the beat falls.
//!
//! A word's beat is not its first sample: "six" has its beat well after the first hiss, "eight" almost at once. The pack's
//! table gives each clip's perceptual attack, and whoever schedules a word starts it that much before the beat.
//!
//! Nothing here may run on the audio thread: it decodes files and allocates.

mod decode;
pub mod own;
#[cfg(test)]
mod tests;

use include_dir::{Dir, include_dir};
use serde::Deserialize;
use std::collections::HashMap;
use thiserror::Error;

static EN_SLT: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/../../assets-synth/voice/packs/en-slt");

/// Why a voice pack cannot speak.
#[derive(Debug, Error)]
pub enum SpeechError {
    /// A file the pack must have is not there.
    #[error("the voice pack has no {file}; build_voice.py writes it")]
    Missing {
        /// The file's path inside the pack.
        file: String,
    },
    /// `pack.toml` is not what it must be.
    #[error("the voice pack's pack.toml: {0}")]
    Manifest(#[from] toml::de::Error),
    /// A line of `align.tsv` is not what it must be.
    #[error("the voice pack's align.tsv, line {line}: {fault}; build_voice.py writes it anew")]
    Table {
        /// The line, from 1.
        line: usize,
        /// What is wrong with it.
        fault: &'static str,
    },
    /// A clip is no FLAC file the decoder reads.
    #[error("the voice pack's {file} cannot be decoded: {source}; build_voice.py writes it anew")]
    Decode {
        /// The file's path inside the pack.
        file: String,
        /// What the decoder says.
        source: rodio::decoder::DecoderError,
    },
    /// A clip is not the mono sound of the table's length.
    #[error("the voice pack's {file} holds {channels} channels of {frames} frames at {rate} Hz, which is not what its tables say")]
    Shape {
        /// The file's path inside the pack.
        file: String,
        /// Channels in the file.
        channels: u16,
        /// Frames decoded.
        frames: usize,
        /// The file's frames per second.
        rate: u32,
    },
    /// The clips cannot be brought to the engine's rate.
    #[error("speech at {from} Hz cannot be brought to {to} Hz: {fault}")]
    Resample {
        /// The pack's frames per second.
        from: u32,
        /// The rate asked for.
        to: u32,
        /// What the resampler says.
        fault: String,
    },
}

/// How short a clip is made, for quick tempi.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Tier {
    /// As long as it was spoken.
    Natural,
    /// At most 250 ms.
    Quick,
    /// At most 180 ms.
    Tight,
    /// At most 120 ms: subdivisions only.
    Syllable,
}

impl Tier {
    /// All four, longest first.
    pub const ALL: [Self; 4] = [Self::Natural, Self::Quick, Self::Tight, Self::Syllable];

    fn from_letter(letter: &str) -> Option<Self> {
        match letter {
            "F" => Some(Self::Natural),
            "Q" => Some(Self::Quick),
            "T" => Some(Self::Tight),
            "S" => Some(Self::Syllable),
            _ => None,
        }
    }
}

/// Which word of a [`Pack`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WordIndex(pub u16);

/// A word and its clips.
#[derive(Clone, Debug)]
pub struct Word {
    /// The name it is asked for by: `one`, `your_turn`, `b_flat`.
    pub id: String,
    /// The word for the eye: `your turn`, `B flat`.
    pub text: String,
    /// One clip per [`Tier`], in its order. A word short enough for a tier as it is has none there.
    pub tiers: [Option<ClipInfo>; 4],
}

impl Word {
    /// What is said in a bar that speaks in `tier`: the tier's own clip, else the next longer one. A word made in no short
    /// tier stays at its natural length, so look at [`ClipInfo::duration_ms`].
    #[must_use]
    pub fn spoken(&self, tier: Tier) -> Option<ClipInfo> {
        self.tiers.iter().take(tier as usize + 1).rev().flatten().next().copied()
    }
}

/// One clip as the table has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClipInfo {
    /// Where it stands in what [`Pack::decode`] returns.
    pub clip: u16,
    /// Length in milliseconds.
    pub duration_ms: f64,
    /// From the clip's start to its perceptual attack, in milliseconds, the pack's bias added: this sits on the beat.
    pub attack_ms: f64,
}

impl ClipInfo {
    /// What is left after the perceptual attack, in milliseconds.
    #[must_use]
    pub fn tail_ms(&self) -> f64 {
        self.duration_ms - self.attack_ms
    }
}

/// A clip's file, and what the table says of it.
#[derive(Debug)]
struct Source {
    path: String,
    sound: Recording,
    duration_ms: f64,
    attack_ms: f64,
}

/// Where a clip's samples are.
#[derive(Debug)]
enum Recording {
    /// In a FLAC file of the pack's rate.
    File(&'static [u8]),
    /// Made ready, at the pack's rate.
    Made(Vec<f32>),
}

/// A voice pack's parsed table.
#[derive(Debug)]
pub struct Pack {
    sample_rate: u32,
    words: Vec<Word>,
    by_id: HashMap<String, WordIndex>,
    sources: Vec<Source>,
}

#[derive(Deserialize)]
struct Manifest {
    sample_rate: u32,
    p_centre_bias_ms: f64,
}

impl Pack {
    /// The voice built into the program: English.
    ///
    /// # Errors
    /// [`SpeechError`] if the pack built in is not whole.
    pub fn builtin() -> Result<Self, SpeechError> {
        Self::parse(&EN_SLT)
    }

    /// The ids of all words, in the table's order.
    pub fn words(&self) -> impl Iterator<Item = &str> {
        self.words.iter().map(|word| word.id.as_str())
    }

    /// Where the word called `id` stands.
    #[must_use]
    pub fn index_of(&self, id: &str) -> Option<WordIndex> {
        self.by_id.get(id).copied()
    }

    /// The word at `index`.
    ///
    /// # Panics
    /// If `index` is not from this pack's [`Pack::index_of`].
    #[must_use]
    pub fn word(&self, index: WordIndex) -> &Word {
        &self.words[usize::from(index.0)]
    }

    fn parse(files: &Dir<'static>) -> Result<Self, SpeechError> {
        let manifest: Manifest = toml::from_str(text(files, "pack.toml")?)?;
        let mut pack = Self { sample_rate: manifest.sample_rate, words: Vec::new(), by_id: HashMap::new(), sources: Vec::new() };
        for (number, line) in text(files, "align.tsv")?.lines().enumerate() {
            if line.starts_with('#') || line.is_empty() {
                continue;
            }
            let fault = |fault| SpeechError::Table { line: number + 1, fault };
            let row = Row::parse(line).map_err(fault)?;
            let path = format!("clips/{}.flac", row.name);
            let flac = files.get_file(&path).ok_or_else(|| SpeechError::Missing { file: path.clone() })?.contents();
            let attack_ms = (row.p_centre_ms + manifest.p_centre_bias_ms).clamp(0.0, row.duration_ms);
            let clip = u16::try_from(pack.sources.len()).map_err(|_| fault("a pack holds at most 65536 clips"))?;
            pack.sources.push(Source { path, sound: Recording::File(flac), duration_ms: row.duration_ms, attack_ms });
            pack.add(&row, ClipInfo { clip, duration_ms: row.duration_ms, attack_ms }).map_err(fault)?;
        }
        Ok(pack)
    }

    /// Files the clip under its word; a word's natural clip comes before its short ones.
    fn add(&mut self, row: &Row<'_>, clip: ClipInfo) -> Result<(), &'static str> {
        let index = match (self.index_of(row.id), row.tier) {
            (Some(_), Tier::Natural) => return Err("this word stood in the table before"),
            (None, Tier::Natural) => {
                // No more words than clips, and those are counted.
                let index = WordIndex(self.words.len() as u16);
                self.words.push(Word { id: row.id.to_owned(), text: row.text.to_owned(), tiers: [None; 4] });
                self.by_id.insert(row.id.to_owned(), index);
                index
            }
            (Some(index), _) => index,
            (None, _) => return Err("a short clip comes before its word's natural one"),
        };
        match self.words[usize::from(index.0)].tiers[row.tier as usize].replace(clip) {
            None => Ok(()),
            Some(_) => Err("this clip stood in the table before"),
        }
    }
}

/// One line of `align.tsv`.
struct Row<'a> {
    /// The clip's name: the id, and `~q`, `~t` or `~s` for a short tier.
    name: &'a str,
    id: &'a str,
    text: &'a str,
    tier: Tier,
    duration_ms: f64,
    p_centre_ms: f64,
}

impl<'a> Row<'a> {
    fn parse(line: &'a str) -> Result<Self, &'static str> {
        let fields: Vec<&str> = line.split('\t').collect();
        let &[name, text, _group, tier, duration, p_centre, _vowel, _tail] = fields.as_slice() else {
            return Err("eight columns are needed: id, text, group, tier, dur_ms, p_centre_ms, vowel_ms, tail_ms");
        };
        let tier = Tier::from_letter(tier).ok_or("the tier is not F, Q, T or S")?;
        let id = name.split_once('~').map_or(name, |(id, _)| id);
        let ms = |field: &str| field.parse().ok().filter(|ms: &f64| (0.0..60_000.0).contains(ms));
        let duration_ms = ms(duration).ok_or("dur_ms is not a number of milliseconds")?;
        let p_centre_ms = ms(p_centre).ok_or("p_centre_ms is not a number of milliseconds")?;
        Ok(Self { name, id, text, tier, duration_ms, p_centre_ms })
    }
}

fn text(files: &Dir<'static>, path: &str) -> Result<&'static str, SpeechError> {
    let missing = || SpeechError::Missing { file: path.to_owned() };
    files.get_file(path).and_then(|file| std::str::from_utf8(file.contents()).ok()).ok_or_else(missing)
}
