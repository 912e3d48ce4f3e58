//! Frames per second.

use crate::FrameSpan;
use thiserror::Error;

/// How many frames a second holds: 8,000 to 384,000.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SampleRate(u32);

/// A sample rate outside what the engine renders.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[error("a sample rate of {0} Hz is outside 8000 to 384000; 48000 suits most devices")]
pub struct SampleRateError(pub u32);

impl SampleRate {
    /// The rate asked for unless told otherwise.
    pub const DEFAULT: Self = Self(48_000);

    /// A rate of `hz` frames per second.
    ///
    /// # Errors
    /// [`SampleRateError`] outside 8,000 to 384,000.
    pub fn new(hz: u32) -> Result<Self, SampleRateError> {
        if (8_000..=384_000).contains(&hz) { Ok(Self(hz)) } else { Err(SampleRateError(hz)) }
    }

    /// Frames per second.
    #[must_use]
    pub const fn hz(self) -> u32 {
        self.0
    }

    /// The whole number of frames nearest to `seconds` (negative counts as none).
    #[must_use]
    pub fn span(self, seconds: f64) -> FrameSpan {
        FrameSpan((seconds.max(0.0) * f64::from(self.0)).round() as u64)
    }

    /// How long `span` lasts, in seconds.
    #[must_use]
    pub fn seconds(self, span: FrameSpan) -> f64 {
        span.0 as f64 / f64::from(self.0)
    }
}
