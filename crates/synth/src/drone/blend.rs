//! How loud chords are, alone and over one another: their partials all begin at phase nothing on frame nothing, so those that coincide
//! add up as amplitudes, the others as powers.

use super::{DRONE_TONES, PARTIALS};

/// The most partials a chord has.
const MOST: usize = DRONE_TONES * PARTIALS;
/// Phase steps this near each other (2^-40 of a turn a frame) stay together for days.
const TOGETHER: u64 = 1 << 24;

/// A chord's partials by pitch, coinciding ones taken together.
#[derive(Clone, Copy)]
pub(super) struct Partials {
    list: [(u64, f32); MOST],
    count: usize,
    /// The power its tones would have if nothing coincided.
    apart: f32,
}

impl Partials {
    pub(super) const NONE: Self = Self { list: [(0, 0.0); MOST], count: 0, apart: 0.0 };

    /// Adds one partial: its phase step and its weighted amplitude.
    pub(super) fn add(&mut self, step: u64, amplitude: f32) {
        if let Some(place) = self.list.get_mut(self.count) {
            *place = (step, amplitude);
            self.count += 1;
            self.apart += 0.5 * amplitude * amplitude;
        }
    }

    /// Sorts what was added and takes coinciding partials together; the factor that makes the chord as loud as its tones apart.
    pub(super) fn settle(&mut self) -> f32 {
        let Some(list) = self.list.get_mut(..self.count) else { return 1.0 };
        list.sort_unstable_by_key(|(step, _)| *step);
        let mut merged = 0;
        for index in 1..list.len() {
            let (Some(&(last, sum)), Some(&(step, amplitude))) = (list.get(merged), list.get(index)) else { break };
            let together = step - last <= TOGETHER;
            merged += usize::from(!together);
            if let Some(place) = list.get_mut(merged) {
                *place = if together { (last, sum + amplitude) } else { (step, amplitude) };
            }
        }
        self.count = (merged + 1).min(self.count);
        let power = self.with(self);
        if power <= 0.0 {
            return 1.0;
        }
        let factor = (self.apart / power).sqrt();
        self.list.iter_mut().for_each(|(_, amplitude)| *amplitude *= factor);
        factor
    }

    /// The power this chord has in common with `other`; with itself, its own.
    pub(super) fn with(&self, other: &Self) -> f32 {
        let (ours, theirs) = (self.list.get(..self.count).unwrap_or_default(), other.list.get(..other.count).unwrap_or_default());
        let (mut ours, mut theirs) = (ours.iter().peekable(), theirs.iter().peekable());
        let mut power = 0.0;
        while let (Some((our, amplitude)), Some((their, other))) = (ours.peek(), theirs.peek()) {
            if our.abs_diff(*their) <= TOGETHER {
                power += 0.5 * amplitude * other;
            }
            if our <= their {
                ours.next().map(drop)
            } else {
                theirs.next().map(drop)
            };
        }
        power
    }
}

/// How much louder layers must be so that, whatever coincides, their levels add up: `shares[i]` is how far layer `i` has swelled, `common`
/// the powers that layers have in common.
pub(super) fn make_up<const N: usize>(shares: [f32; N], common: &[[f32; N]; N]) -> f32 {
    let mut power = 0.0;
    let mut level = 0.0;
    for ((share, row), number) in shares.iter().zip(common).zip(0..) {
        level += share * row.get(number).copied().unwrap_or(0.0).max(0.0).sqrt();
        power += shares.iter().zip(row).map(|(other, common)| share * other * common).sum::<f32>();
    }
    if power > 0.0 && level > 0.0 { level / power.sqrt() } else { 1.0 }
}
