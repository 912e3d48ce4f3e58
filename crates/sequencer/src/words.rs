//! What the voice says, as ids of recorded words.

use pitch::{Alteration, Pitch, Step};

use crate::language::{ONE_TO_NINETEEN, TENS};
use crate::{Division, Language, Pass, Syllables};

/// Up to six words said one after another, the first one's beat on the beat it stands at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Phrase {
    words: [&'static str; Self::MAX],
    len: u8,
}

impl Phrase {
    /// The most words in one phrase.
    pub const MAX: usize = 6;

    /// The phrase of `words`; what is over [`Self::MAX`] is left out.
    #[must_use]
    pub fn new(words: &[&'static str]) -> Self {
        let mut phrase = Self { words: [""; Self::MAX], len: 0 };
        for (slot, word) in phrase.words.iter_mut().zip(words) {
            *slot = word;
            phrase.len += 1;
        }
        phrase
    }

    /// One word.
    #[must_use]
    pub fn word(word: &'static str) -> Self {
        Self::new(&[word])
    }

    /// The ids, in order.
    #[must_use]
    pub fn words(&self) -> &[&'static str] {
        self.words.get(..usize::from(self.len)).unwrap_or(&[])
    }
}

/// The word for beat `beat` (from 1) of a counted bar, or nothing over sixteen.
#[must_use]
pub fn count(beat: usize) -> Option<&'static str> {
    (beat <= 16).then(|| ONE_TO_NINETEEN.get(beat.checked_sub(1)?).copied()).flatten()
}

/// The spoken name of a note, without its octave: `b_flat`, `f_sharp`, `letter_c`. Double alterations have no word.
#[must_use]
pub fn note(pitch: Pitch) -> Option<&'static str> {
    use Step::{A, B, C, D, E, F, G};
    Some(match (pitch.step(), pitch.alteration().semitones()) {
        (C, 0) => "letter_c",
        (D, 0) => "letter_d",
        (E, 0) => "letter_e",
        (F, 0) => "letter_f",
        (G, 0) => "letter_g",
        (A, 0) => "letter_a",
        (B, 0) => "letter_b",
        (C, -1) => "c_flat",
        (D, -1) => "d_flat",
        (E, -1) => "e_flat",
        (F, -1) => "f_flat",
        (G, -1) => "g_flat",
        (A, -1) => "a_flat",
        (B, -1) => "b_flat",
        (C, 1) => "c_sharp",
        (D, 1) => "d_sharp",
        (E, 1) => "e_sharp",
        (F, 1) => "f_sharp",
        (G, 1) => "g_sharp",
        (A, 1) => "a_sharp",
        (B, 1) => "b_sharp",
        _ => return None,
    })
}

/// The words that no plan holds and that may be said in a rest: what was heard of an echo.
#[rustfmt::skip]
pub const REMARKS: [&str; 18] = [
    "on_it", "one", "two", "three", "four", "partial", "partials", "low", "high", "too_low", "too_high", "octave", "flat", "sharp",
    "late", "early", "another_note", "nothing",
];

/// The remark of these words; nothing if one is no word of a remark, or there are none or too many.
#[must_use]
pub fn remark<'a>(words: impl IntoIterator<Item = &'a str>) -> Option<Phrase> {
    let known: Option<Vec<&'static str>> = words.into_iter().map(|word| REMARKS.into_iter().find(|known| *known == word)).collect();
    known.filter(|words| (1..=Phrase::MAX).contains(&words.len())).map(|words| Phrase::new(&words))
}

/// Every id a plan may ask for in `language`, so that a voice can be checked for gaps.
#[must_use]
pub fn vocabulary(language: Language) -> Vec<&'static str> {
    let mut words: Vec<&'static str> = ONE_TO_NINETEEN.into_iter().chain(TENS).chain(["hundred", "oh"]).collect();
    for step in [Step::C, Step::D, Step::E, Step::F, Step::G, Step::A, Step::B] {
        words.extend(
            [Alteration::Flat, Alteration::Natural, Alteration::Sharp]
                .into_iter()
                .filter_map(|alteration| Pitch::new(step, alteration, 4).ok().and_then(note)),
        );
    }
    words.extend(pitch::Instrument::all().iter().chain(pitch::Instrument::drums()).map(pitch::Instrument::section_word));
    words.extend(["seat", "group", "everyone", "and", "listen", "concert"]);
    words.extend(Pass::WORDS);
    words.extend(REMARKS);
    for way in Syllables::ALL {
        words.extend(Division::ALL.into_iter().filter_map(|division| way.between(division)).flatten());
        words.extend(way.on_the_beat());
    }
    words.extend(language.own_words());
    words.sort_unstable();
    words.dedup();
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_remark_is_made_of_its_own_words_alone() {
        assert_eq!(remark(["octave", "too_low"]), Some(Phrase::new(&["octave", "too_low"])));
        assert_eq!(remark(["two", "partials", "low"]), Some(Phrase::new(&["two", "partials", "low"])));
        assert_eq!(remark(["octave", "seat"]), None);
        assert_eq!(remark([]), None);
        assert_eq!(remark(["on_it"; 7]), None);
    }

    #[test]
    fn counting_stops_at_sixteen() {
        assert_eq!(count(1), Some("one"));
        assert_eq!(count(16), Some("sixteen"));
        assert_eq!((count(0), count(17)), (None, None));
    }
}
