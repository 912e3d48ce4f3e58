//! The speaking voice: a pack of recorded words, and where in each the beat falls.
//!
//! A word's beat is not its first sample: "six" has its beat well after the first hiss, "eight" almost at once. The pack's
//! table gives each clip's perceptual attack, and whoever schedules a word starts it that much before the beat.
//!
//! - [`library`]: where voices are found, and what speaks where one has gaps
//! - [`formant`]: the synthesiser that speaks where there is no recording
//!
//! Nothing here may run on the audio thread: it decodes files and allocates.

mod decode;
mod error;
pub mod formant;
pub mod library;
pub mod own;
mod table;
#[cfg(test)]
mod tests;

pub use error::SpeechError;

use include_dir::Dir;
use sequencer::Language;
use serde::Deserialize;
use std::collections::HashMap;
use table::Row;

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

    /// As tables write it.
    #[must_use]
    pub const fn letter(self) -> &'static str {
        match self {
            Self::Natural => "F",
            Self::Quick => "Q",
            Self::Tight => "T",
            Self::Syllable => "S",
        }
    }

    fn from_letter(letter: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|tier| tier.letter() == letter)
    }

    /// The longest clip of the tier in milliseconds; nothing for the natural length.
    #[must_use]
    pub const fn longest_ms(self) -> Option<f64> {
        match self {
            Self::Natural => None,
            Self::Quick => Some(250.0),
            Self::Tight => Some(180.0),
            Self::Syllable => Some(120.0),
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

/// A clip, and what the table says of it.
#[derive(Debug)]
struct Source {
    /// Inside its pack.
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

/// A voice: its words, and where their clips are.
#[derive(Debug)]
pub struct Pack {
    name: String,
    language: Language,
    sample_rate: u32,
    words: Vec<Word>,
    by_id: HashMap<String, WordIndex>,
    sources: Vec<Source>,
}

#[derive(Deserialize)]
struct Manifest {
    language: String,
    sample_rate: u32,
    p_centre_bias_ms: f64,
}

impl Pack {
    /// The voice of a room that names none: English.
    ///
    /// # Errors
    /// [`SpeechError`] if the pack built in is not whole.
    pub fn builtin() -> Result<Self, SpeechError> {
        library::built_in_pack(library::DEFAULT)
    }

    fn empty(name: &str, language: Language, sample_rate: u32) -> Self {
        Self { name: name.to_owned(), language, sample_rate, words: Vec::new(), by_id: HashMap::new(), sources: Vec::new() }
    }

    /// What rooms call it.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What it speaks.
    #[must_use]
    pub const fn language(&self) -> Language {
        self.language
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

    /// How many clips it has.
    #[must_use]
    pub fn clips(&self) -> usize {
        self.sources.len()
    }

    /// The same pack with its clips numbered from `first`: packs that share one bank of clips stand in it one after another.
    #[must_use]
    pub fn numbered_from(mut self, first: u16) -> Self {
        for clip in self.words.iter_mut().flat_map(|word| word.tiers.iter_mut()).flatten() {
            clip.clip = clip.clip.saturating_add(first);
        }
        self
    }

    fn parse(name: &str, files: &Dir<'static>) -> Result<Self, SpeechError> {
        let file = |path: &str| files.get_file(files.path().join(path)).map(include_dir::File::contents);
        let missing = |path: &str| SpeechError::Missing { pack: name.to_owned(), file: path.to_owned() };
        let text = |path: &str| file(path).and_then(|bytes| std::str::from_utf8(bytes).ok()).ok_or_else(|| missing(path));
        let manifest: Manifest =
            toml::from_str(text("pack.toml")?).map_err(|source| SpeechError::Manifest { pack: name.to_owned(), source })?;
        let unknown = || SpeechError::Language { pack: name.to_owned(), code: manifest.language.clone() };
        let language = Language::of_code(&manifest.language).ok_or_else(unknown)?;
        let mut pack = Self::empty(name, language, manifest.sample_rate);
        for (number, line) in text("align.tsv")?.lines().enumerate() {
            if line.starts_with('#') || line.is_empty() {
                continue;
            }
            let fault = |fault| SpeechError::Table { pack: name.to_owned(), line: number + 1, fault };
            let row = Row::parse(line).map_err(fault)?;
            let path = format!("clips/{}.flac", row.name);
            let sound = Recording::File(file(&path).ok_or_else(|| missing(&path))?);
            let attack_ms = (row.p_centre_ms + manifest.p_centre_bias_ms).clamp(0.0, row.duration_ms);
            let source = Source { path, sound, duration_ms: row.duration_ms, attack_ms };
            pack.add(row.id, row.text, row.tier, source).map_err(fault)?;
        }
        Ok(pack)
    }

    /// Files the clip under its word; a word's natural clip comes before its short ones.
    fn add(&mut self, id: &str, text: &str, tier: Tier, source: Source) -> Result<(), &'static str> {
        let clip = u16::try_from(self.sources.len()).map_err(|_| "a pack holds at most 65536 clips")?;
        let index = match (self.index_of(id), tier) {
            (Some(_), Tier::Natural) => return Err("this word stood in the table before"),
            (None, Tier::Natural) => {
                // No more words than clips, and those are counted.
                let index = WordIndex(self.words.len() as u16);
                self.words.push(Word { id: id.to_owned(), text: text.to_owned(), tiers: [None; 4] });
                self.by_id.insert(id.to_owned(), index);
                index
            }
            (Some(index), _) => index,
            (None, _) => return Err("a short clip comes before its word's natural one"),
        };
        let place = &mut self.words[usize::from(index.0)].tiers[tier as usize];
        if place.is_some() {
            return Err("this clip stood in the table before");
        }
        *place = Some(ClipInfo { clip, duration_ms: source.duration_ms, attack_ms: source.attack_ms });
        self.sources.push(source);
        Ok(())
    }

    /// Adds what the synthesiser said, unless the word has that clip.
    fn add_made(&mut self, id: &str, text: &str, tier: Tier, said: formant::Utterance) {
        let source = Source {
            path: format!("{id} by the synthesiser"),
            duration_ms: said.samples.len() as f64 * 1000.0 / f64::from(formant::RATE),
            attack_ms: said.attack_ms,
            sound: Recording::Made(said.samples),
        };
        // a word that came from elsewhere keeps its own clip
        let _ = self.add(id, text, tier, source);
    }

    /// Takes over the words of `other` that this pack lacks. All packs have one rate; another would be out of tune.
    fn fill_from(&mut self, other: Self) {
        if other.sample_rate != self.sample_rate {
            return;
        }
        let mut sources: Vec<_> = other.sources.into_iter().map(Some).collect();
        for word in other.words.into_iter().filter(|word| !self.by_id.contains_key(&word.id)).collect::<Vec<_>>() {
            for tier in Tier::ALL {
                let clip = word.tiers.get(tier as usize).copied().flatten();
                if let Some(source) = clip.and_then(|clip| sources.get_mut(usize::from(clip.clip))?.take()) {
                    // a bank too full for it leaves the word to the click
                    let _ = self.add(&word.id, &word.text, tier, source);
                }
            }
        }
    }
}
