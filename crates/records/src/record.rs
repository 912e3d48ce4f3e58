//! A verdict with its seat, note and moment.

use jiff::Timestamp;
use pitch::Written;
use std::num::NonZeroU16;
use units::Cents;

use crate::Verdict;

/// One verdict as it is kept. It knows a seat's number and no name.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// When it was given; kept to the millisecond.
    pub when: Timestamp,
    /// The room's name.
    pub room: String,
    /// The section's name.
    pub section: String,
    /// The seat, or nothing for the section as a whole.
    pub seat: Option<NonZeroU16>,
    /// The title of what was led.
    pub drill: String,
    /// The lesson's title, if the drill was led in one.
    pub lesson: Option<String>,
    /// The note asked for, as the section reads it: the first of its line. Nothing for instruments without a pitch.
    pub target: Option<Written>,
    /// The note that came, as the section reads it, where that is known.
    pub heard: Option<Written>,
    /// What was heard.
    pub verdict: Verdict,
    /// How far what came lies above (negative: below) the middle of its note. What is no number is not kept.
    pub cents: Option<Cents>,
    /// When it came. What is no number is not kept.
    pub entry: Option<EntryMs>,
    /// Who heard it.
    pub by: HeardBy,
    /// How sure the microphone is.
    pub confidence: Option<Confidence>,
}

/// When a note came: milliseconds after its beat, negative before it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct EntryMs(pub f64);

/// From 0, a guess, to 1, certain.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Confidence(f64);

impl Confidence {
    /// A confidence of `share`, or nothing outside 0 to 1.
    #[must_use]
    pub fn new(share: f64) -> Option<Self> {
        (0.0..=1.0).contains(&share).then_some(Self(share))
    }

    /// 0 to 1.
    #[must_use]
    pub const fn share(self) -> f64 {
        self.0
    }
}

/// Who heard it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HeardBy {
    /// The director.
    Ear,
    /// The engine.
    Microphone,
}

impl HeardBy {
    /// The word that files have for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Ear => "ear",
            Self::Microphone => "microphone",
        }
    }

    /// What this [`word`](Self::word) means.
    #[must_use]
    pub fn read(word: &str) -> Option<Self> {
        [Self::Ear, Self::Microphone].into_iter().find(|by| by.word() == word)
    }
}
