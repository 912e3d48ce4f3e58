//! Decibels and linear gain.

/// A level in decibels relative to a stated reference (full scale unless said otherwise). `f64::NEG_INFINITY` is silence.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Decibels(pub f64);

/// A linear amplitude factor, zero or more; 1 leaves the sound as it is.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Gain(f32);

impl Decibels {
    /// No sound at all.
    pub const SILENCE: Self = Self(f64::NEG_INFINITY);

    /// The amplitude factor of this level.
    #[must_use]
    pub fn gain(self) -> Gain {
        Gain::new(10_f64.powf(self.0 / 20.0) as f32)
    }
}

impl Gain {
    /// Leaves the sound as it is.
    pub const UNITY: Self = Self(1.0);
    /// Lets nothing through.
    pub const SILENCE: Self = Self(0.0);

    /// The factor `amplitude`; what is negative or not a number counts as silence.
    #[must_use]
    pub fn new(amplitude: f32) -> Self {
        if amplitude > 0.0 && amplitude.is_finite() { Self(amplitude) } else { Self(0.0) }
    }

    /// The linear factor.
    #[must_use]
    pub const fn amplitude(self) -> f32 {
        self.0
    }

    /// This factor as a level.
    #[must_use]
    pub fn decibels(self) -> Decibels {
        Decibels(20.0 * f64::from(self.0).log10())
    }
}

impl Default for Gain {
    fn default() -> Self {
        Self::UNITY
    }
}
