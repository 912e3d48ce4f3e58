//! Spelled transposition: so many letters, so many semitones.

use std::ops::Neg;

/// A directed interval: letter steps and semitones, both counted from zero and negative downward.
///
/// A major second down is `(-1, -2)`, a major ninth down `(-8, -14)`, a perfect fourth up `(3, 5)`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Interval {
    diatonic: i32,
    semitones: i32,
}

impl Interval {
    /// No movement.
    pub const UNISON: Self = Self::new(0, 0);

    /// So many letter `diatonic` steps and so many `semitones`.
    #[must_use]
    pub const fn new(diatonic: i32, semitones: i32) -> Self {
        Self { diatonic, semitones }
    }

    /// `count` octaves, up or (negative) down.
    #[must_use]
    pub const fn octaves(count: i32) -> Self {
        Self::new(7 * count, 12 * count)
    }

    /// Letter steps, counted from zero: a second is 1.
    #[must_use]
    pub const fn diatonic(self) -> i32 {
        self.diatonic
    }

    /// Semitones.
    #[must_use]
    pub const fn semitones(self) -> i32 {
        self.semitones
    }

    /// This interval with whole octaves added.
    #[must_use]
    pub const fn plus_octaves(self, count: i32) -> Self {
        Self::new(self.diatonic + 7 * count, self.semitones + 12 * count)
    }

    /// How many octaves this is, or nothing if it is not of whole octaves.
    #[must_use]
    pub const fn whole_octaves(self) -> Option<i32> {
        if self.diatonic * 12 == self.semitones * 7 && self.semitones % 12 == 0 { Some(self.semitones / 12) } else { None }
    }

    /// Places moved on the line of fifths: a fifth up is 1, a major second up 2, octaves 0.
    #[must_use]
    pub const fn fifths(self) -> i32 {
        7 * self.semitones - 12 * self.diatonic
    }
}

impl Neg for Interval {
    type Output = Self;
    fn neg(self) -> Self {
        Self::new(-self.diatonic, -self.semitones)
    }
}
