//! Positions and lengths on the sample clock. One frame is one sample in every channel.
//!
//! An instant plus an instant means nothing and does not compile:
//!
//! ```compile_fail
//! use units::FrameInstant;
//! let nonsense = FrameInstant(1) + FrameInstant(2);
//! ```

use crate::SampleRate;
use std::ops::{Add, AddAssign, Sub};

/// A moment: the number of frames since the engine started.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FrameInstant(pub u64);

/// A length in frames, never negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FrameSpan(pub u64);

/// A signed distance in frames.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FrameOffset(pub i64);

impl FrameInstant {
    /// The engine's first frame.
    pub const ZERO: Self = Self(0);

    /// The length from `earlier` to here; zero if `earlier` is later.
    #[must_use]
    pub fn since(self, earlier: Self) -> FrameSpan {
        FrameSpan(self.0.saturating_sub(earlier.0))
    }

    /// The same moment counted in frames of `to` instead of `from`, rounded down.
    ///
    /// ```
    /// use units::{FrameInstant, SampleRate};
    /// let (device, half) = (SampleRate::new(48_000)?, SampleRate::new(24_000)?);
    /// assert_eq!(FrameInstant(96_001).at_rate(device, half), FrameInstant(48_000));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn at_rate(self, from: SampleRate, to: SampleRate) -> Self {
        Self((u128::from(self.0) * u128::from(to.hz()) / u128::from(from.hz())) as u64)
    }

    /// This moment moved back by `span`, not before the first frame.
    #[must_use]
    pub fn back(self, span: FrameSpan) -> Self {
        Self(self.0.saturating_sub(span.0))
    }

    /// The signed distance from `other` to here.
    #[must_use]
    pub fn offset_from(self, other: Self) -> FrameOffset {
        FrameOffset(self.0.wrapping_sub(other.0) as i64)
    }
}

impl FrameSpan {
    /// No length.
    pub const ZERO: Self = Self(0);
}

impl Add<FrameSpan> for FrameInstant {
    type Output = Self;
    fn add(self, span: FrameSpan) -> Self {
        Self(self.0.saturating_add(span.0))
    }
}

impl AddAssign<FrameSpan> for FrameInstant {
    fn add_assign(&mut self, span: FrameSpan) {
        *self = *self + span;
    }
}

impl Add for FrameSpan {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for FrameSpan {
    type Output = Self;
    /// The shorter length, not under zero.
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}
