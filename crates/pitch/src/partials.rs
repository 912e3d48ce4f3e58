//! The harmonic series: partial `n` vibrates `n` times as fast as the fundamental, partial 1.
//!
//! A real brass tube strays from it by some 20 cents, its pedal by more (common practice, no source); these are the exact values.

use crate::Interval;
use units::Cents;

/// How far partial `n` lies above the fundamental, exactly: 1200 cents for the second. Partial 0 counts as the first.
#[must_use]
pub fn cents_above_fundamental(n: u8) -> Cents {
    Cents(1200.0 * f64::from(n.max(1)).log2())
}

/// The equal-tempered semitones nearest to partial `n` above the fundamental: 12 for the second, 34 for the seventh.
#[must_use]
pub fn nearest_semitones(n: u8) -> i32 {
    (cents_above_fundamental(n).0 / 100.0).round() as i32
}

/// How far partial `n` lies above (negative: below) the nearest equal-tempered note: -31.17 cents for the seventh.
#[must_use]
pub fn deviation(n: u8) -> Cents {
    Cents(cents_above_fundamental(n).0 - 100.0 * f64::from(nearest_semitones(n)))
}

/// The notated interval from the fundamental to partial `n`, or nothing outside 1 to 16.
///
/// The seventh is written as a minor seventh, the eleventh as an augmented fourth, the thirteenth as a minor sixth, each with octaves:
/// the nearest notes, though out of tune.
#[must_use]
pub fn notated(n: u8) -> Option<Interval> {
    let within_octave = match n {
        1 | 2 | 4 | 8 | 16 => Interval::UNISON,
        3 | 6 | 12 => Interval::new(4, 7),
        5 | 10 => Interval::new(2, 4),
        7 | 14 => Interval::new(6, 10),
        9 => Interval::new(1, 2),
        11 => Interval::new(3, 6),
        13 => Interval::new(5, 8),
        15 => Interval::new(6, 11),
        _ => return None,
    };
    Some(within_octave.plus_octaves(n.ilog2() as i32))
}
