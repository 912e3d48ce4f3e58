//! The words a voice may hold, by language, and the prompts that are asked for.

use sequencer::Language;

use super::super::Tier;

const ENGLISH: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets-synth/voice/words.en.tsv"));
const SPANISH: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets-synth/voice/words.es.tsv"));
const FRENCH: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets-synth/voice/words.fr.tsv"));

/// What a first recording asks for: under a minute of speech.
pub const START: [&str; 19] = [
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "and",
    "ready",
    "breathe",
    "listen",
    "your_turn",
    "again",
    "play",
    "stop",
    "rest",
];

/// A word of a language's list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Listed {
    /// What it is asked for by, and what its file is called.
    pub id: &'static str,
    /// The word for the eye.
    pub text: &'static str,
    /// What it is for: `count`, `sub`, `cue`, `section`, `note`, `number`.
    pub group: &'static str,
    tiers: &'static str,
    /// The syllable that lands on the beat, from 1.
    pub syllable: usize,
}

impl Listed {
    /// The lengths it is said in, the natural one first.
    pub fn tiers(&self) -> impl Iterator<Item = Tier> {
        let tiers = self.tiers;
        Tier::ALL.into_iter().filter(move |tier| *tier == Tier::Natural || tiers.contains(tier.letter()))
    }
}

/// Every word of `language`, in the list's order.
#[must_use]
pub fn words(language: Language) -> Vec<Listed> {
    let text = match language {
        Language::English => ENGLISH,
        Language::Spanish => SPANISH,
        Language::French => FRENCH,
    };
    let word = |line: &'static str| {
        let mut fields = line.split('\t');
        let [id, text, group, tiers, _say, syllable] = std::array::from_fn(|_| fields.next().unwrap_or(""));
        Listed { id, text, group, tiers, syllable: syllable.parse().unwrap_or(1) }
    };
    text.lines().filter(|line| !line.is_empty() && !line.starts_with('#')).map(word).collect()
}

/// The id most like `id`, if one is like it at all.
#[must_use]
pub fn nearest(words: &[Listed], id: &str) -> Option<&'static str> {
    let likeness = |word: &Listed| strsim::normalized_damerau_levenshtein(word.id, id);
    let best = words.iter().max_by(|a, b| likeness(a).total_cmp(&likeness(b)))?;
    (likeness(best) >= 0.5).then_some(best.id)
}
