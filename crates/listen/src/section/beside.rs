//! The notes beside the one asked for, a semitone and a whole tone below and above it: what a wrong finger gives.

use super::lines::{Grid, LINES, Lines};
use units::Hertz;

/// Below and above.
pub(crate) const SIDES: usize = 2;
/// How many semitones the neighbours on one side are away: [`STEPS`] of them.
const AWAY: [[f64; STEPS]; SIDES] = [[-1.0, -2.0], [1.0, 2.0]];
pub(crate) const STEPS: usize = 2;
/// Harmonics of a neighbour that are looked at.
pub(crate) const HARMONICS: usize = 7;
/// A neighbour's line reaches no further than this share of its frequency, which is a quarter tone less a little.
const REACH: f64 = 0.027;

/// The power on the neighbours' lines.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Beside {
    /// The partial beside which they lie.
    pub(crate) target: u8,
    /// The power over the noise on each harmonic, of both neighbours of one side together.
    pub(crate) power: [[f64; HARMONICS]; SIDES],
    /// What the noise puts there.
    pub(crate) floor: [[f64; HARMONICS]; SIDES],
    /// Which share of a head's harmonic is to be found there ...
    pub(crate) own: [[f64; HARMONICS]; SIDES],
    /// ... and which lines of the grid, counted from 1, have the rest: each an equal part. What both sides have in common is not
    /// looked at.
    pub(crate) lines: [[[Option<usize>; STEPS]; HARMONICS]; SIDES],
}

impl Lines {
    /// What lies beside partial `target` of the series that `grid` was read for.
    pub(crate) fn beside(&self, grid: &Grid, fundamental: Hertz, target: u8) -> Beside {
        let mut beside = Beside { target, ..Beside::default() };
        let step = self.bins(fundamental.moved(grid.tuning));
        for (side, away) in AWAY.iter().enumerate() {
            for h in 0..HARMONICS {
                for (neighbour, semitones) in away.iter().enumerate() {
                    let at = place(target, h + 1, *semitones);
                    let line = at.round() as usize;
                    if !(1..=LINES).contains(&line) || grid.floor[line - 1] <= 0.0 {
                        continue;
                    }
                    let (half, wide) = (self.half_neighbour(step, at), self.half_line(step, line as f64));
                    // a neighbour below and one above are a third apart, which has harmonics in common
                    let common = |other: f64| (at - other).abs() * step < half + self.half_neighbour(step, other);
                    if harmonics(target, AWAY[1 - side]).any(common) {
                        continue;
                    }
                    if (at - line as f64).abs() * step < half + wide {
                        beside.lines[side][h][neighbour] = Some(line);
                        continue;
                    }
                    let (sum, bins) = self.sum_around(at * step, half);
                    let noise = grid.floor[line - 1] * bins / (2.0 * wide + 1.0);
                    beside.power[side][h] += (sum - noise).max(0.0);
                    beside.floor[side][h] += noise;
                    beside.own[side][h] += 1.0 / STEPS as f64;
                }
            }
        }
        beside
    }

    fn half_neighbour(&self, step: f64, at: f64) -> f64 {
        self.half_line(step, at).min(REACH * at * step)
    }
}

/// Where harmonic `h` lies of what is `semitones` away from partial `target`, in multiples of the fundamental.
fn place(target: u8, h: usize, semitones: f64) -> f64 {
    f64::from(target) * h as f64 * (semitones / 12.0).exp2()
}

fn harmonics(target: u8, away: [f64; STEPS]) -> impl Iterator<Item = f64> {
    (1..=HARMONICS).flat_map(move |h| away.map(|semitones| place(target, h, semitones)))
}
