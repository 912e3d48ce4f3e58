//! Beats per minute, and the one map from beats to frames.

use crate::{Beats, FrameInstant, FrameSpan, SampleRate};
use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// Beats per minute, exact to a thousandth, 30 to 240. The beat is the one the meter counts (in 6/8 the dotted quarter).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tempo {
    thousandths: u32,
}

/// A tempo that cannot be led.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum TempoError {
    /// Under 30 or over 240.
    #[error("a tempo of {0} is out of bounds; tempi go from 30 to 240 beats per minute")]
    OutOfBounds(String),
    /// Not a number of beats per minute.
    #[error("\"{0}\" is not a tempo; write beats per minute, such as 72 or 163.7")]
    NotANumber(String),
}

impl Tempo {
    /// The slowest tempo, 30 beats per minute.
    pub const SLOWEST: Self = Self { thousandths: 30_000 };
    /// The fastest tempo, 240 beats per minute.
    pub const FASTEST: Self = Self { thousandths: 240_000 };

    /// A tempo of `bpm` beats per minute, kept to the nearest thousandth.
    ///
    /// # Errors
    /// [`TempoError::OutOfBounds`] outside 30 to 240, or for what is not a number.
    pub fn new(bpm: f64) -> Result<Self, TempoError> {
        let tempo = Self { thousandths: (bpm * 1000.0).round() as u32 };
        if bpm.is_finite() && tempo >= Self::SLOWEST && tempo <= Self::FASTEST {
            Ok(tempo)
        } else {
            Err(TempoError::OutOfBounds(bpm.to_string()))
        }
    }

    /// Thousandths of a beat per minute, exact.
    #[must_use]
    pub const fn thousandths(self) -> u32 {
        self.thousandths
    }

    /// Beats per minute.
    #[must_use]
    pub fn bpm(self) -> f64 {
        f64::from(self.thousandths) / 1000.0
    }

    /// This tempo quicker (or, negative, slower) by whole beats per minute, kept within 30 to 240.
    #[must_use]
    pub fn nudged(self, bpm: i32) -> Self {
        let moved = i64::from(self.thousandths) + i64::from(bpm) * 1000;
        let bounded = moved.clamp(i64::from(Self::SLOWEST.thousandths), i64::from(Self::FASTEST.thousandths));
        Self { thousandths: bounded as u32 }
    }

    /// This tempo raised by `thousandths` of a beat per minute, kept within 240.
    #[must_use]
    pub fn raised(self, thousandths: u32) -> Self {
        Self { thousandths: self.thousandths.saturating_add(thousandths).min(Self::FASTEST.thousandths) }
    }

    /// The whole number of frames nearest to `beats` at this tempo: exact integer arithmetic, halves rounded up.
    /// Negative beats count as none.
    #[must_use]
    pub fn frames(self, beats: Beats, rate: SampleRate) -> FrameSpan {
        // frames = beats * 60 * rate / bpm, with bpm in thousandths
        let upper = i128::from(beats.numerator().max(0)) * 60_000 * i128::from(rate.hz());
        let lower = i128::from(beats.denominator()) * i128::from(self.thousandths);
        FrameSpan(((2 * upper + lower) / (2 * lower)) as u64)
    }
}

impl fmt::Display for Tempo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.bpm())
    }
}

impl FromStr for Tempo {
    type Err = TempoError;
    fn from_str(text: &str) -> Result<Self, TempoError> {
        let bpm: f64 = text.parse().map_err(|_| TempoError::NotANumber(text.to_owned()))?;
        Self::new(bpm)
    }
}

/// A steady pulse: where its beat zero falls, how fast it goes, and on which sample clock.
///
/// Every frame is computed from the anchor, never by adding rounded pieces, so ten hours of beats do not drift.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BeatClock {
    /// The frame of beat zero.
    pub anchor: FrameInstant,
    /// Beats per minute from the anchor on.
    pub tempo: Tempo,
    /// The sample clock.
    pub rate: SampleRate,
}

impl BeatClock {
    /// The frame nearest to `beats` after the anchor.
    #[must_use]
    pub fn frame_of(&self, beats: Beats) -> FrameInstant {
        self.anchor + self.tempo.frames(beats, self.rate)
    }

    /// Roughly how many beats have passed at `frame`, for display; negative before the anchor.
    #[must_use]
    pub fn beats_at(&self, frame: FrameInstant) -> f64 {
        frame.offset_from(self.anchor).0 as f64 * self.tempo.bpm() / (60.0 * f64::from(self.rate.hz()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ten_hours_at_72_end_on_the_exact_frame() {
        let tempo = Tempo::new(72.0).unwrap();
        // 43,200 beats at 72 are 36,000 s exactly
        assert_eq!(tempo.frames(Beats::whole(43_200), SampleRate::DEFAULT), FrameSpan(36_000 * 48_000));
    }

    #[test]
    fn bounds_are_kept_and_named() {
        assert_eq!(Tempo::new(29.9).unwrap_err().to_string(), "a tempo of 29.9 is out of bounds; tempi go from 30 to 240 beats per minute");
        assert!(Tempo::new(f64::NAN).is_err());
        assert_eq!(Tempo::new(238.0).unwrap().nudged(8), Tempo::FASTEST);
    }

    proptest! {
        #[test]
        fn frames_are_the_nearest_whole_number(numerator in 0_i64..2_000_000, denominator in 1_i64..960, thousandths in 30_000_u32..=240_000) {
            let tempo = Tempo { thousandths };
            let beats = Beats::new(numerator, denominator);
            let exact = beats.as_f64() * 60.0 * 48_000.0 / tempo.bpm();
            let frames = tempo.frames(beats, SampleRate::DEFAULT).0 as f64;
            prop_assert!((frames - exact).abs() <= 0.5 + exact * 1e-12);
        }

        #[test]
        fn later_beats_never_come_earlier(a in 0_i64..1_000_000, step in 0_i64..1000, thousandths in 30_000_u32..=240_000) {
            let tempo = Tempo { thousandths };
            prop_assert!(tempo.frames(Beats::new(a, 7), SampleRate::DEFAULT) <= tempo.frames(Beats::new(a + step, 7), SampleRate::DEFAULT));
        }
    }
}
