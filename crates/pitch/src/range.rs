//! From a lowest to a highest written pitch.

use crate::{Pitch, PitchError, Written};
use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// The written pitches from `low` to `high`, both included. Membership goes by sound: B#3 lies in C4..G4.
///
/// ```
/// use pitch::WrittenRange;
/// let range: WrittenRange = "C4..G4".parse()?;
/// assert!(range.contains("F#4".parse()?));
/// assert_eq!("G4..C4".parse::<WrittenRange>().unwrap_err().to_string(),
///     "the range G4..C4 runs downward; write the lower pitch first, C4..G4");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct WrittenRange {
    low: Written,
    high: Written,
}

/// Text or pitches that make no range.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum RangeError {
    /// The first pitch sounds above the second.
    #[error("the range {low}..{high} runs downward; write the lower pitch first, {high}..{low}")]
    Downward {
        /// The pitch given first.
        low: Written,
        /// The pitch given second.
        high: Written,
    },
    /// Not two pitches with two dots between.
    #[error("\"{0}\" is not a range; write the lowest and the highest written pitch with two dots between, such as C4..G4")]
    NotARange(String),
    /// One of the two is no pitch.
    #[error("in the range \"{range}\", {source}")]
    Pitch {
        /// The range as given.
        range: String,
        /// What is wrong with the pitch.
        source: PitchError,
    },
}

impl WrittenRange {
    /// The range from `low` to `high`.
    ///
    /// # Errors
    /// [`RangeError::Downward`] if `low` sounds above `high`.
    pub fn new(low: Written, high: Written) -> Result<Self, RangeError> {
        if low.semitone() <= high.semitone() { Ok(Self { low, high }) } else { Err(RangeError::Downward { low, high }) }
    }

    /// A range of the tables in this crate, checked when compiled.
    pub(crate) const fn constant(low: &str, high: &str) -> Self {
        let (low, high) = (Pitch::constant(low), Pitch::constant(high));
        assert!(low.semitone() <= high.semitone(), "a range runs upward");
        Self { low: Written::new(low), high: Written::new(high) }
    }

    /// The lowest pitch.
    #[must_use]
    pub const fn low(&self) -> Written {
        self.low
    }

    /// The highest pitch.
    #[must_use]
    pub const fn high(&self) -> Written {
        self.high
    }

    /// Whether `written` lies inside, by sound.
    #[must_use]
    pub const fn contains(&self, written: Written) -> bool {
        self.semitones_outside(written.semitone()) == 0
    }

    /// How many semitones `semitone` lies below or above the range; 0 inside.
    pub(crate) const fn semitones_outside(&self, semitone: i32) -> i32 {
        let below = self.low.semitone() - semitone;
        let above = semitone - self.high.semitone();
        if below > 0 {
            below
        } else if above > 0 {
            above
        } else {
            0
        }
    }
}

impl fmt::Display for WrittenRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}..{}", self.low, self.high)
    }
}

impl FromStr for WrittenRange {
    type Err = RangeError;

    fn from_str(text: &str) -> Result<Self, RangeError> {
        let (low, high) = text.split_once("..").ok_or_else(|| RangeError::NotARange(text.to_owned()))?;
        let read = |part: &str| part.trim().parse().map_err(|source| RangeError::Pitch { range: text.to_owned(), source });
        Self::new(read(low)?, read(high)?)
    }
}
