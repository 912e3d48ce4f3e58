//! Hertz, cents and MIDI note numbers.

use std::fmt;
use thiserror::Error;

/// Cycles per second: finite and above zero.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Hertz(f64);

/// A frequency that cannot sound.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error("{0} Hz is not a frequency; it must be finite and above zero")]
pub struct HertzError(pub f64);

impl Hertz {
    /// A frequency of `hz` cycles per second.
    ///
    /// # Errors
    /// [`HertzError`] if `hz` is zero, negative or not finite.
    pub fn new(hz: f64) -> Result<Self, HertzError> {
        if hz.is_finite() && hz > 0.0 { Ok(Self(hz)) } else { Err(HertzError(hz)) }
    }

    /// Cycles per second.
    #[must_use]
    pub const fn hz(self) -> f64 {
        self.0
    }

    /// This frequency moved by an interval.
    #[must_use]
    pub fn moved(self, by: Cents) -> Self {
        Self(self.0 * (by.0 / 1200.0).exp2())
    }

    /// How far this lies above `other` (negative: below).
    #[must_use]
    pub fn cents_above(self, other: Self) -> Cents {
        Cents(1200.0 * (self.0 / other.0).log2())
    }
}

/// A difference of pitch: 100 to the equal-tempered semitone, 1200 to the octave.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Cents(pub f64);

/// A MIDI note number, 0 to 127; 60 is C4 and 69 is A4.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MidiNumber(u8);

impl MidiNumber {
    /// The note `number`, or nothing outside 0 to 127.
    #[must_use]
    pub fn new(number: i32) -> Option<Self> {
        u8::try_from(number).ok().filter(|n| *n < 128).map(Self)
    }

    /// 0 to 127.
    #[must_use]
    pub const fn number(self) -> u8 {
        self.0
    }
}

impl fmt::Display for MidiNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}
