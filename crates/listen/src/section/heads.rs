//! How many heads sit on each note of a series: every way of seating them is weighed by how well it explains the grid.
//!
//! Where the number of heads is known the answer is in whole heads; where not, several numbers are weighed together. Heads are counted by
//! their loudness: one player twice as loud as the others is two heads.

use super::beside::{Beside, SIDES};
use super::likely::{COMMON, COMMON_NEIGHBOURS, Common, Look, Seen};
use super::lines::Grid;
pub use super::timbre::Timbre;
use super::timbre::{MOST_TIMBRES, Timbres};

/// Notes a section may be on.
pub const NOTES: usize = 5;
/// Heads that are told apart; of a larger section, the share is told as if it had so many.
pub const MOST_HEADS: u8 = 12;
/// The numbers of heads that may be where theirs is not known, each as likely as the others; and what they all divide.
const ASSUMED_HEADS: [u8; 3] = [4, 6, 9];
const ASSUMED_PARTS: u8 = 36;

/// How far lines are taken to speak for themselves: for the shares, and for their bounds. Found on sections of known seating, so that
/// nine in ten of the bounds hold the truth.
const TRUST: f64 = 0.8;
const TRUST_BOUNDS: f64 = 0.6;
/// The same where the number of heads is assumed: the bounds then move out, too, by half of one head in eight.
const TRUST_BOUNDS_ASSUMED: f64 = 0.42;
const MARGIN_ASSUMED: f64 = 1.0 / 16.0;

/// The share of a section that sits on one note.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Share {
    /// Which partial of the fingering the note is.
    pub partial: u8,
    /// The share of heads, 0 to 1: whole heads where their number is known, those that are least wrong in the mean.
    pub share: f64,
    /// Between these the share lies in nine cases of ten.
    pub bounds: (f64, f64),
    /// How likely this is the largest group, 0 to 1.
    pub leads: f64,
}

/// One way of seating heads.
#[derive(Clone, Copy, Debug)]
struct Seating {
    heads: [u8; NOTES],
    /// How many parts of the whole one head is.
    part: u8,
    /// How likely it is before anything is heard, but for a factor.
    prior: f64,
}

/// Weighs seatings; allocates nothing once built.
#[derive(Debug)]
pub(crate) struct Heads {
    partials: [u8; NOTES],
    /// Notes that are counted: the partials, then the neighbours if they are.
    count: usize,
    neighbours: usize,
    seatings: Vec<Seating>,
    /// The parts that shares are told in: the heads if their number is known, else [`ASSUMED_PARTS`].
    parts: u8,
    /// Whether their number is known.
    known: bool,
    common: Common,
    weights: Vec<f64>,
    looks: Vec<Look>,
}

impl Heads {
    /// For a section on `partials`, at most [`NOTES`] of them, of `heads` if they are known; with the notes below and above the one asked
    /// for, which stand after the partials, if there is room for them.
    pub(crate) fn new(partials: &[u8], heads: Option<u8>, neighbours: bool) -> Self {
        let heads = heads.map(|heads| heads.clamp(1, MOST_HEADS));
        let parts = heads.unwrap_or(ASSUMED_PARTS);
        let count = partials.len().min(NOTES);
        let mut known = [0; NOTES];
        known[..count].copy_from_slice(&partials[..count]);
        let neighbours = if neighbours && count + SIDES <= NOTES { SIDES } else { 0 };
        let count = count + neighbours;
        let common = if neighbours > 0 { COMMON_NEIGHBOURS } else { COMMON };
        let mut seatings = Vec::new();
        for heads in heads.map_or(ASSUMED_HEADS.to_vec(), |heads| vec![heads]) {
            let mut all = Vec::new();
            seat(&mut all, [0; NOTES], 0, count, heads);
            let prior = 1.0 / all.len() as f64;
            seatings.extend(all.into_iter().map(|seating| Seating { heads: seating, part: parts / heads, prior }));
        }
        Self {
            partials: known,
            count,
            neighbours,
            parts,
            known: heads.is_some(),
            common,
            weights: vec![0.0; seatings.len()],
            looks: Vec::with_capacity(MOST_TIMBRES),
            seatings,
        }
    }

    /// The shares that explain `grid` and, where they count, what lies `beside` it.
    pub(crate) fn weigh(&mut self, grid: &Grid, beside: &Beside, timbres: &Timbres) -> [Share; NOTES] {
        let beside = (self.neighbours > 0).then_some(beside);
        let whole = grid.power.iter().sum::<f64>() + beside.map_or(0.0, |beside| beside.power.as_flattened().iter().sum::<f64>());
        let mut shares = [Share::default(); NOTES];
        if whole <= 0.0 || self.count == 0 {
            return shares;
        }
        let partials = &self.partials[..self.count - self.neighbours];
        let lines = Seen::new(grid, beside, whole, partials, self.common);
        self.looks.clear();
        self.looks.extend(timbres.as_slice().iter().map(|timbre| Look::new(timbre, partials, beside)));
        let mut top = f64::NEG_INFINITY;
        for (seating, weight) in self.seatings.iter().zip(&mut self.weights) {
            let mut sum = Sum::new();
            self.looks.iter().for_each(|look| sum.add(lines.likelihood(look, &seating.heads)));
            *weight = sum.logarithm();
            top = top.max(*weight);
        }
        let mut chances = [NO_CHANCES; NOTES];
        for (note, (share, chances)) in shares.iter_mut().zip(&mut chances).enumerate().take(self.count) {
            (*share, *chances) = self.share(note, top);
        }
        if self.known {
            self.seat_well(&mut shares, &chances);
        }
        shares
    }

    fn share(&self, note: usize, top: f64) -> (Share, Chances) {
        let whole = f64::from(self.parts);
        let (trust_bounds, margin) = if self.known { (TRUST_BOUNDS, 0.0) } else { (TRUST_BOUNDS_ASSUMED, MARGIN_ASSUMED) };
        let (mut mean, mut leads) = (0.0, 0.0);
        let (mut chances, mut loose) = (NO_CHANCES, NO_CHANCES);
        for (seating, weight) in self.seatings.iter().zip(&self.weights) {
            let likely = seating.prior * (TRUST * (weight - top)).exp();
            let here = seating.heads[note];
            let most = seating.heads.iter().copied().max().unwrap_or(0);
            if here == most {
                leads += likely / seating.heads.iter().filter(|heads| **heads == most).count() as f64;
            }
            let parts = usize::from(here * seating.part);
            mean += likely * parts as f64 / whole;
            chances[parts] += likely;
            loose[parts] += seating.prior * (trust_bounds * (weight - top)).exp();
        }
        let (sum, bounded): (f64, f64) = (chances.iter().sum(), loose.iter().sum());
        let bound = |share: f64| {
            let mut below = 0.0;
            let at = loose.iter().position(|weight| {
                below += weight / bounded;
                below >= share
            });
            at.map_or(1.0, |at| at as f64 / whole)
        };
        let (low, high) = (bound(0.05) - margin, bound(0.95) + margin);
        let bounds = (low.max(0.0), high.min(1.0));
        (Share { partial: self.partials[note], share: mean / sum, bounds, leads: leads / sum }, chances)
    }

    /// Puts whole heads in place of mean shares: the seating whose summed error is least in the mean, where each next head goes to the note
    /// that most likely has more than it was given.
    fn seat_well(&self, shares: &mut [Share; NOTES], chances: &[Chances; NOTES]) {
        let mut seated = [0; NOTES];
        for _ in 0..self.parts {
            let more = |note: usize| chances[note].iter().skip(seated[note] + 1).sum::<f64>();
            let next = (0..self.count).max_by(|a, b| more(*a).total_cmp(&more(*b))).unwrap_or(0);
            seated[next] += 1;
        }
        for (share, heads) in shares.iter_mut().zip(seated).take(self.count) {
            share.share = heads as f64 / f64::from(self.parts);
        }
    }
}

/// How likely a note has so many parts of the section, not brought to 1.
type Chances = [f64; ASSUMED_PARTS as usize + 1];
const NO_CHANCES: Chances = [0.0; ASSUMED_PARTS as usize + 1];

/// Every way of seating `left` heads on the notes from `note` on.
fn seat(all: &mut Vec<[u8; NOTES]>, mut seating: [u8; NOTES], note: usize, count: usize, left: u8) {
    if note + 1 >= count {
        if count > 0 {
            seating[count - 1] = left;
        }
        all.push(seating);
        return;
    }
    for heads in 0..=left {
        seating[note] = heads;
        seat(all, seating, note + 1, count, left - heads);
    }
}

/// A sum of numbers given by their logarithms.
struct Sum {
    top: f64,
    sum: f64,
}

impl Sum {
    const fn new() -> Self {
        Self { top: f64::NEG_INFINITY, sum: 0.0 }
    }

    fn add(&mut self, logarithm: f64) {
        if logarithm > self.top {
            self.sum = self.sum * (self.top - logarithm).exp() + 1.0;
            self.top = logarithm;
        } else {
            self.sum += (logarithm - self.top).exp();
        }
    }

    fn logarithm(&self) -> f64 {
        self.top + self.sum.ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::section::lines::LINES;

    #[test]
    fn every_seating_is_weighed_once() {
        let heads = Heads::new(&[2, 3, 4, 5, 6], Some(12), false);
        assert_eq!(heads.seatings.len(), 1820);
        assert!(heads.seatings.iter().all(|seating| seating.heads.iter().sum::<u8>() == 12));
        // of 4, 6 and 9 heads on two notes
        let unknown = Heads::new(&[2, 3], None, false).seatings;
        assert_eq!(unknown.len(), 5 + 7 + 10);
        assert!(unknown.iter().all(|seating| seating.part * seating.heads.iter().sum::<u8>() == 36));
        assert!((unknown.iter().map(|seating| seating.prior).sum::<f64>() - 3.0).abs() < 1e-9);
        assert_eq!(Heads::new(&[], Some(8), false).seatings.len(), 1);
    }

    #[test]
    fn a_section_made_of_the_timbre_itself_is_told_with_honest_bounds() {
        let partials = [3, 4, 5, 6, 8];
        let timbre = Timbre::brass();
        let parts = Look::new(&timbre, &partials, None).parts;
        let fundamental = units::Hertz::new(58.27).unwrap();
        for truth in [[6, 0, 0, 0, 0], [0, 3, 0, 3, 0], [1, 2, 3, 0, 0], [0, 6, 0, 0, 0]] {
            let mut grid = Grid { power: [0.0; LINES], floor: [1e-9; LINES], tuning: units::Cents(0.0), fundamental, seconds: 1.4 };
            for (part, heads) in parts.iter().zip(truth) {
                grid.power.iter_mut().zip(part).for_each(|(power, one)| *power += f64::from(heads) * one.power);
            }
            let shares = Heads::new(&partials, Some(6), false).weigh(&grid, &Beside::default(), &Timbres::one(timbre));
            for (share, heads) in shares.iter().zip(truth) {
                let truth = f64::from(heads) / 6.0;
                assert!((share.share - truth).abs() < 0.3, "{truth}: {share:?}");
                assert!(share.bounds.0 <= truth + 1e-9 && truth <= share.bounds.1 + 1e-9, "{truth}: {share:?}");
            }
        }
    }
}
