//! How words are said: transcriptions written by hand, in the word lists of the languages.

use super::phones::Phone;
use super::segments::Sound;
use sequencer::Language;

/// English words are put together from their parts; the other lists give the sounds of every word.
const ENGLISH: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets-synth/voice/words.en.tsv"));
const ENGLISH_SOUNDS: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets-synth/voice/sounds.en.tsv"));
const SPANISH: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets-synth/voice/words.es.tsv"));
const FRENCH: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets-synth/voice/words.fr.tsv"));

/// A word of a language's list.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The name it is asked for by.
    pub id: &'static str,
    /// The word for the eye.
    pub text: &'static str,
    /// Counts, subdivisions, cues, sections, notes or parts of numbers.
    pub group: &'static str,
    /// The letters of the short tiers it comes in.
    pub tiers: &'static str,
    /// Its sounds.
    pub sounds: Vec<Sound>,
    /// The vowel that lands on the beat, from 1.
    pub beat: usize,
}

/// The words of `language` whose sounds are known, in the list's order.
pub fn entries(language: Language) -> impl Iterator<Item = Entry> {
    let list = match language {
        Language::English => ENGLISH,
        Language::Spanish => SPANISH,
        Language::French => FRENCH,
    };
    lines(list).filter_map(move |line| {
        let mut fields = line.split('\t');
        let mut field = || fields.next().unwrap_or("");
        let (id, text, group, tiers, said, beat) = (field(), field(), field(), field(), field(), field());
        let sounds = if language == Language::English { english(said)? } else { transcription(said)? };
        Some(Entry { id, text, group, tiers, sounds, beat: beat.parse().unwrap_or(1) })
    })
}

/// The word called `id` in `language`.
#[must_use]
pub fn entry(language: Language, id: &str) -> Option<Entry> {
    entries(language).find(|entry| entry.id == id)
}

fn english(said: &str) -> Option<Vec<Sound>> {
    let mut sounds = Vec::new();
    for word in said.split(' ') {
        let line = lines(ENGLISH_SOUNDS).find_map(|line| line.split_once('\t').filter(|(known, _)| *known == word))?;
        sounds.append(&mut transcription(line.1)?);
    }
    Some(sounds)
}

/// Sounds as the lists write them; nothing if there are none or one of them is unknown.
#[must_use]
pub fn transcription(written: &str) -> Option<Vec<Sound>> {
    let sound = |symbol: &str| {
        let (name, stressed) = match symbol.as_bytes().last()? {
            b'1' => (symbol.get(..symbol.len() - 1)?, true),
            b'0' => (symbol.get(..symbol.len() - 1)?, false),
            _ => (symbol, false),
        };
        Some(Sound { phone: Phone::named(name)?, stressed })
    };
    written.split_whitespace().map(sound).collect::<Option<Vec<_>>>().filter(|sounds| !sounds.is_empty())
}

fn lines(list: &'static str) -> impl Iterator<Item = &'static str> {
    list.lines().filter(|line| !line.is_empty() && !line.starts_with('#'))
}
