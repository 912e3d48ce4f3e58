//! What the voice says, as ids of recorded words.

use pitch::{Alteration, Pitch, Step};

use crate::{Division, Syllables};

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

const ONE_TO_NINETEEN: [&str; 19] = [
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
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
const TENS: [&str; 8] = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];

/// The word for beat `beat` (from 1) of a counted bar, or nothing over sixteen.
#[must_use]
pub fn count(beat: usize) -> Option<&'static str> {
    (beat <= 16).then(|| ONE_TO_NINETEEN.get(beat.checked_sub(1)?).copied()).flatten()
}

/// A number from 1 to 240 in words, tempi in the short form a conductor says: 104 is "one oh four", 152 "one fifty two".
/// Anything else says nothing.
#[must_use]
pub fn number(n: u32) -> Vec<&'static str> {
    let under_hundred = |n: u32| -> Vec<&'static str> {
        if n == 0 {
            return Vec::new();
        }
        if let Some(word) = ONE_TO_NINETEEN.get(n as usize - 1) {
            return vec![word];
        }
        let mut words: Vec<_> = TENS.get(n as usize / 10 - 2).copied().into_iter().collect();
        words.extend(ONE_TO_NINETEEN.get((n as usize % 10).wrapping_sub(1)));
        words
    };
    match n {
        1..=99 => under_hundred(n),
        100 | 200 => vec![ONE_TO_NINETEEN[n as usize / 100 - 1], "hundred"],
        101..=109 | 201..=209 => vec![ONE_TO_NINETEEN[n as usize / 100 - 1], "oh", ONE_TO_NINETEEN[n as usize % 100 - 1]],
        110..=240 => {
            let mut words = vec![ONE_TO_NINETEEN[n as usize / 100 - 1]];
            words.extend(under_hundred(n % 100));
            words
        }
        _ => Vec::new(),
    }
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

/// Every id a plan may ask for, so that a voice can be checked for gaps.
#[must_use]
pub fn vocabulary() -> Vec<&'static str> {
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
    for way in Syllables::ALL {
        words.extend(Division::ALL.into_iter().filter_map(|division| way.between(division)).flatten());
        words.extend(way.on_the_beat());
    }
    words.sort_unstable();
    words.dedup();
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tempi_are_said_as_a_conductor_says_them() {
        assert_eq!(number(72), ["seventy", "two"]);
        assert_eq!(number(104), ["one", "oh", "four"]);
        assert_eq!(number(152), ["one", "fifty", "two"]);
        assert_eq!(number(120), ["one", "twenty"]);
        assert_eq!(number(200), ["two", "hundred"]);
        assert_eq!(number(13), ["thirteen"]);
        assert!(number(0).is_empty() && number(241).is_empty());
    }

    #[test]
    fn counting_stops_at_sixteen() {
        assert_eq!(count(1), Some("one"));
        assert_eq!(count(16), Some("sixteen"));
        assert_eq!((count(0), count(17)), (None, None));
    }
}
