//! How many heads sit on each note of a series: every way of seating them is weighed by how well it explains the grid.
//!
//! A seating of `n_k` heads on partial `k` puts on line `m` a power of mean `sum n_k T_k(m)`, where `T_k` is the timbre; its spread has a
//! part that falls with the number of heads (rooms and players differ from head to head) and one that does not (the timbre itself is
//! not quite theirs). The power is taken as gamma distributed, which is what a room makes of a line. The section's loudness and
//! how much duller or brighter it is than the timbre are summed over, and so are several timbres where its own is not known. Heads are
//! counted by their loudness: one player twice as loud as the others is two heads.

use super::beside::{Beside, HARMONICS, SIDES, STEPS};
use super::lines::{Grid, LINES};
pub use super::timbre::Timbre;
use super::timbre::{MOST_TIMBRES, Timbres};

/// Notes a section may be on.
pub const NOTES: usize = 5;
/// Heads that are told apart; of a larger section, the share is told as if it had so many.
pub const MOST_HEADS: u8 = 12;
/// Heads that are assumed where their number is not known.
const ASSUMED_HEADS: u8 = 8;

/// Variance of one head's power on a line, relative to the square of its mean.
const BY_HEAD: f64 = 0.12;
/// Relative variance that is common to all heads; on woodwinds, whose timbre is less alike from note to note, with neighbours.
const COMMON: f64 = 0.1;
const COMMON_NEIGHBOURS: f64 = 0.2;
/// The share of the floor that stays in a line's power.
const FLOOR: f64 = 0.3;
/// How far lines are taken to speak for themselves: for the shares, and for their bounds. Found on sections of known seating, so that
/// nine in ten of the bounds hold the truth.
const TRUST: f64 = 0.8;
const TRUST_BOUNDS: f64 = 0.35;
/// The same where the number of heads is assumed: the bounds then move out by half an assumed head, too.
const TRUST_BOUNDS_ASSUMED: f64 = 0.25;
/// With neighbours, whose lines lie close to others, bounds are worth this share of that.
const TRUST_NEIGHBOURS: f64 = 0.35;
/// The tilts summed over, in dB an octave, and their standard deviation.
const TILTS: [f64; 5] = [-4.0, -2.0, 0.0, 2.0, 4.0];
const TILT_SPREAD: f64 = 3.0;
/// The loudnesses summed over, and the standard deviation of their logarithm.
const GAINS: [f64; 5] = [0.6, 0.8, 1.0, 1.25, 1.6];
const GAIN_SPREAD: f64 = 0.3;
/// Seatings this much less likely than the best, by the natural logarithm, are not looked at closely.
const HOPELESS: f64 = 25.0;
/// The same for a timbre at one tilt, by its best seating.
const UNLIKE: f64 = 12.0;

/// The share of a section that sits on one note.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Share {
    /// Which partial of the fingering the note is.
    pub partial: u8,
    /// The share of heads, 0 to 1.
    pub share: f64,
    /// Between these the share lies in nine cases of ten.
    pub bounds: (f64, f64),
    /// How likely this is the largest group, 0 to 1.
    pub leads: f64,
}

/// Where a line may be: those of the grid, then those of the neighbours.
const PLACES: usize = LINES + SIDES * HARMONICS;

/// Weighs seatings; allocates nothing once built.
#[derive(Debug)]
pub(crate) struct Heads {
    partials: [u8; NOTES],
    /// Notes that are counted: the partials, then the neighbours if they are.
    count: usize,
    neighbours: usize,
    seatings: Vec<[u8; NOTES]>,
    heads: f64,
    common: f64,
    trust_bounds: f64,
    margin: f64,
    weights: Vec<f64>,
    looks: Vec<Look>,
}

impl Heads {
    /// For a section on `partials`, at most [`NOTES`] of them, of `heads` if they are known; with the notes below and above the one asked
    /// for, which stand after the partials, if there is room for them.
    pub(crate) fn new(partials: &[u8], heads: Option<u8>, neighbours: bool) -> Self {
        let trust_bounds = if heads.is_some() { TRUST_BOUNDS } else { TRUST_BOUNDS_ASSUMED };
        let margin = if heads.is_some() { 0.0 } else { 0.5 / f64::from(ASSUMED_HEADS) };
        let heads = heads.unwrap_or(ASSUMED_HEADS).clamp(1, MOST_HEADS);
        let count = partials.len().min(NOTES);
        let mut known = [0; NOTES];
        known[..count].copy_from_slice(&partials[..count]);
        let neighbours = if neighbours && count + SIDES <= NOTES { SIDES } else { 0 };
        let count = count + neighbours;
        let (common, trust) = if neighbours > 0 { (COMMON_NEIGHBOURS, TRUST_NEIGHBOURS) } else { (COMMON, 1.0) };
        let mut seatings = Vec::new();
        seat(&mut seatings, [0; NOTES], 0, count, heads);
        Self {
            partials: known,
            count,
            neighbours,
            heads: f64::from(heads),
            common,
            trust_bounds: trust * trust_bounds,
            margin,
            weights: vec![0.0; seatings.len()],
            looks: Vec::with_capacity(MOST_TIMBRES * TILTS.len()),
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
        let mut lines = Seen::new(grid, beside, whole, &self.partials[..self.count - self.neighbours]);
        lines.common = self.common;
        self.looks.clear();
        for timbre in timbres.as_slice() {
            for tilt in TILTS {
                let parts = parts(timbre, &self.partials[..self.count - self.neighbours], beside, tilt);
                self.looks.push(Look { parts, prior: -0.5 * (tilt / TILT_SPREAD).powi(2), best: f64::NEG_INFINITY });
            }
        }
        let mut best = f64::NEG_INFINITY;
        for (seating, weight) in self.seatings.iter().zip(&mut self.weights) {
            *weight = f64::NEG_INFINITY;
            for look in &mut self.looks {
                let likely = lines.likelihood(look, seating, 1.0);
                look.best = look.best.max(likely);
                *weight = weight.max(likely);
            }
            best = best.max(*weight);
        }
        self.looks.retain(|look| look.best > best - UNLIKE);
        let mut top = f64::NEG_INFINITY;
        for (seating, weight) in self.seatings.iter().zip(&mut self.weights) {
            if *weight < best - HOPELESS {
                *weight = f64::NEG_INFINITY;
                continue;
            }
            let mut sum = Sum::new();
            for look in &self.looks {
                for gain in GAINS {
                    sum.add(lines.likelihood(look, seating, gain) - 0.5 * (gain.ln() / GAIN_SPREAD).powi(2));
                }
            }
            *weight = sum.logarithm();
            top = top.max(*weight);
        }
        for (note, share) in shares.iter_mut().enumerate().take(self.count) {
            *share = self.share(note, top);
        }
        shares
    }

    fn share(&self, note: usize, top: f64) -> Share {
        let heads = self.heads;
        let of = |seating: &[u8; NOTES]| f64::from(seating[note]) / heads;
        let (mut sum, mut mean, mut leads, mut bounded) = (0.0, 0.0, 0.0, 0.0);
        let mut by_heads = [0.0; MOST_HEADS as usize + 1];
        for (seating, weight) in self.seatings.iter().zip(&self.weights) {
            let likely = (TRUST * (weight - top)).exp();
            sum += likely;
            mean += likely * of(seating);
            let most = seating.iter().copied().max().unwrap_or(0);
            if seating[note] == most {
                leads += likely / seating.iter().filter(|heads| **heads == most).count() as f64;
            }
            let loose = (self.trust_bounds * (weight - top)).exp();
            bounded += loose;
            by_heads[usize::from(seating[note])] += loose;
        }
        let bound = |share: f64| {
            let mut below = 0.0;
            let at = by_heads.iter().position(|weight| {
                below += weight / bounded;
                below >= share
            });
            at.map_or(1.0, |at| at as f64 / heads)
        };
        let (low, high) = (bound(0.05) - self.margin, bound(0.95) + self.margin);
        let bounds = (low.max(0.0), high.min(1.0));
        Share { partial: self.partials[note], share: mean / sum, bounds, leads: leads / sum }
    }
}

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

/// One head's mean power on every line for each note, of one timbre at one tilt.
#[derive(Debug)]
struct Look {
    parts: [[f64; PLACES]; NOTES],
    prior: f64,
    /// How likely its best seating is.
    best: f64,
}

fn parts(timbre: &Timbre, partials: &[u8], beside: Option<&Beside>, tilt: f64) -> [[f64; PLACES]; NOTES] {
    let mut parts = [[0.0; PLACES]; NOTES];
    let power = |h: usize| timbre.harmonics()[h - 1] * 10.0_f64.powf(tilt * (h as f64).log2() / 10.0);
    let whole = |count: usize| (1..=count).map(power).sum::<f64>().max(1e-12);
    for (part, partial) in parts.iter_mut().zip(partials) {
        let step = usize::from((*partial).max(1));
        let whole = whole(LINES / step);
        for h in 1..=LINES / step {
            part[h * step - 1] = power(h) / whole;
        }
    }
    if let Some(beside) = beside {
        let whole = whole(HARMONICS);
        for (side, part) in parts[partials.len()..].iter_mut().take(SIDES).enumerate() {
            for h in 1..=HARMONICS {
                part[place(side, h)] = beside.own[side][h - 1] * power(h) / whole;
                for line in beside.lines[side][h - 1].into_iter().flatten() {
                    part[line - 1] += power(h) / whole / STEPS as f64;
                }
            }
        }
    }
    parts
}

/// Where harmonic `h` of the neighbours on one side is.
const fn place(side: usize, h: usize) -> usize {
    LINES + side * HARMONICS + h - 1
}

/// The lines of a grid that any of the notes feeds.
struct Seen {
    at: [usize; PLACES],
    count: usize,
    power: [f64; PLACES],
    logarithm: [f64; PLACES],
    floor: [f64; PLACES],
    sum: f64,
    common: f64,
}

impl Seen {
    fn new(grid: &Grid, beside: Option<&Beside>, whole: f64, partials: &[u8]) -> Self {
        let nothing = [0.0; PLACES];
        let mut seen = Self { at: [0; PLACES], count: 0, power: nothing, logarithm: nothing, floor: nothing, sum: 0.0, common: 0.0 };
        for line in 0..LINES {
            let fed = partials.iter().any(|partial| (line + 1).is_multiple_of(usize::from((*partial).max(1))));
            // a line where nothing is heard says that nobody feeds it; only what lies beyond the sound says nothing
            if fed && grid.floor[line] > 0.0 {
                seen.add(line, grid.power[line] / whole, grid.floor[line] / whole);
            }
        }
        for side in 0..SIDES {
            for h in 1..=HARMONICS {
                if let Some(beside) = beside
                    && beside.own[side][h - 1] > 0.0
                {
                    seen.add(place(side, h), beside.power[side][h - 1] / whole, beside.floor[side][h - 1] / whole);
                }
            }
        }
        seen
    }

    fn add(&mut self, at: usize, power: f64, floor: f64) {
        let floor = FLOOR * floor + 1e-4;
        self.at[self.count] = at;
        self.power[self.count] = power + floor;
        self.logarithm[self.count] = (power + floor).ln();
        self.floor[self.count] = floor;
        self.sum += power;
        self.count += 1;
    }

    /// The logarithm of how likely these lines are from `seating`.
    fn likelihood(&self, look: &Look, seating: &[u8; NOTES], gain: f64) -> f64 {
        let (mut means, mut squares) = ([0.0; PLACES], [0.0; PLACES]);
        let mut all = 0.0;
        for n in 0..self.count {
            for (part, heads) in look.parts.iter().zip(seating) {
                let (power, heads) = (part[self.at[n]], f64::from(*heads));
                means[n] += heads * power;
                squares[n] += heads * power * power;
            }
            all += means[n];
        }
        let gain = gain * self.sum / f64::max(all, 1e-12);
        let mut sum = look.prior;
        for n in 0..self.count {
            let floor = self.floor[n];
            let mean = gain * means[n] + floor;
            let variance = gain * gain * (BY_HEAD * squares[n] + self.common * means[n] * means[n]) + 0.25 * floor * floor;
            let shape = (mean * mean / variance).clamp(0.3, 40.0);
            sum += shape * (shape / mean).ln() + (shape - 1.0) * self.logarithm[n] - shape * self.power[n] / mean - ln_gamma(shape);
        }
        sum
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

/// The logarithm of the gamma function for `x` above 0, by Stirling's series from 7 on and its recurrence below.
fn ln_gamma(x: f64) -> f64 {
    let (mut x, mut product) = (x, 1.0);
    while x < 7.0 {
        product *= x;
        x += 1.0;
    }
    let inverse = 1.0 / x;
    let series = inverse * (1.0 / 12.0 - inverse * inverse * (1.0 / 360.0 - inverse * inverse / 1260.0));
    (x - 0.5) * x.ln() - x + 0.5 * std::f64::consts::TAU.ln() + series - product.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_gamma_function_is_the_factorial() {
        for (x, factorial) in [(1.0, 1.0), (2.0, 1.0), (5.0, 24.0), (11.0, 3_628_800.0)] {
            assert!((ln_gamma(x) - f64::ln(factorial)).abs() < 1e-9, "{x}");
        }
        assert!((ln_gamma(0.5) - std::f64::consts::PI.sqrt().ln()).abs() < 1e-9);
    }

    #[test]
    fn every_seating_is_weighed_once() {
        let heads = Heads::new(&[2, 3, 4, 5, 6], Some(12), false);
        assert_eq!(heads.seatings.len(), 1820);
        assert!(heads.seatings.iter().all(|seating| seating.iter().sum::<u8>() == 12));
        assert_eq!(Heads::new(&[], None, false).seatings.len(), 1);
    }

    #[test]
    fn a_section_made_of_the_timbre_itself_is_told_with_honest_bounds() {
        let partials = [3, 4, 5, 6, 8];
        let timbre = Timbre::brass();
        let parts = parts(&timbre, &partials, None, 0.0);
        for truth in [[6, 0, 0, 0, 0], [0, 3, 0, 3, 0], [1, 2, 3, 0, 0], [0, 6, 0, 0, 0]] {
            let mut grid = Grid { power: [0.0; LINES], floor: [1e-9; LINES], tuning: units::Cents(0.0) };
            for (part, heads) in parts.iter().zip(truth) {
                grid.power.iter_mut().zip(part).for_each(|(power, one)| *power += f64::from(heads) * one);
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
