//! How likely a grid is from one seating of a section's heads.
//!
//! A seating of `n_k` heads on partial `k` puts on line `m` a power of mean `sum n_k T_k(m)`, where `T_k` is the timbre. Its spread has a
//! part that falls with the number of heads (rooms and players differ from head to head), one that does not (the timbre itself is not
//! quite theirs), and one that grows with it: heads on one line beat, and where the line is low, too slowly to even out. The power's
//! logarithm is taken as nearly normal. The section's loudness, how much duller or brighter it is than the timbre, and how strong its
//! first two harmonics are, are not known and are integrated out to first order.

use super::beside::{Beside, HARMONICS, SIDES, STEPS};
use super::heads::{NOTES, Timbre};
use super::lines::{Grid, LINES};

/// Variance of one head's power on a line, relative to the square of its mean.
const BY_HEAD: f64 = 0.4;
/// Relative variance that is common to all heads: on the first line, and more by every octave above it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Common {
    pub(super) first: f64,
    pub(super) octave: f64,
}
impl Common {
    /// On the line or harmonic of that number.
    fn at(self, number: usize) -> f64 {
        self.first + self.octave * (number as f64).log2()
    }
}

pub(super) const COMMON: Common = Common { first: 0.15, octave: 0.0 };
/// On woodwinds, with neighbours: the timbres are less alike from note to note, and the less so the higher the line.
pub(super) const COMMON_NEIGHBOURS: Common = Common { first: 0.25, octave: 0.25 };
/// What beating heads add to it on a line where nothing evens out.
const BEATING: f64 = 0.5;
/// By how much two heads differ in pitch, as a share of their frequency: the square root of two times 12 cents.
const APART: f64 = 0.0098;
/// Degrees of freedom of Student's distribution, which is nearly normal but forgives a line that is quite wrong.
const FREEDOM: f64 = 100.0;
/// Limits of a line's variance.
const VARIANCE: (f64, f64) = (0.02, 4.0);
/// The share of the floor that stays in a line's power.
const FLOOR: f64 = 0.3;
/// Standard deviations of what is not known of a section: the logarithm of its loudness, its tilt in dB an octave and the strengths of
/// its first harmonic and of its second in dB. A strong second harmonic passes for players an octave above.
const SPREADS: [f64; UNKNOWN] = [0.3, 3.0, 3.0, 3.5];
const UNKNOWN: usize = 4;
/// A decibel of power as a natural logarithm.
const DECIBEL: f64 = std::f64::consts::LN_10 / 10.0;

/// Where a line may be: those of the grid, then those of the neighbours.
const PLACES: usize = LINES + SIDES * HARMONICS;

/// What one head on a note puts on a place in the mean.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Part {
    pub(super) power: f64,
    /// The power times the octaves from the note's first harmonic.
    octaves: f64,
    /// The power if it is that of the first harmonic.
    first: f64,
    /// The power if it is that of the second.
    second: f64,
}

impl Part {
    fn add(&mut self, h: usize, power: f64) {
        self.power += power;
        self.octaves += power * (h as f64).log2();
        self.first += if h == 1 { power } else { 0.0 };
        self.second += if h == 2 { power } else { 0.0 };
    }
}

/// One head's power on every place for each note, of one timbre.
#[derive(Debug)]
pub(super) struct Look {
    pub(super) parts: [[Part; PLACES]; NOTES],
}

impl Look {
    pub(super) fn new(timbre: &Timbre, partials: &[u8], beside: Option<&Beside>) -> Self {
        let mut parts = [[Part::default(); PLACES]; NOTES];
        let power = |h: usize| timbre.harmonics()[h - 1];
        let whole = |count: usize| timbre.harmonics()[..count].iter().sum::<f64>().max(1e-12);
        for (part, partial) in parts.iter_mut().zip(partials) {
            let step = usize::from((*partial).max(1));
            for h in 1..=LINES / step {
                part[h * step - 1].add(h, power(h) / whole(LINES / step));
            }
        }
        if let Some(beside) = beside {
            for (side, part) in parts[partials.len()..].iter_mut().take(SIDES).enumerate() {
                for h in 1..=HARMONICS {
                    let power = power(h) / whole(HARMONICS);
                    part[place(side, h)].add(h, beside.own[side][h - 1] * power);
                    for line in beside.lines[side][h - 1].into_iter().flatten() {
                        part[line - 1].add(h, power / STEPS as f64);
                    }
                }
            }
        }
        Self { parts }
    }
}

/// Where harmonic `h` of the neighbours on one side is.
const fn place(side: usize, h: usize) -> usize {
    LINES + side * HARMONICS + h - 1
}

/// The lines of a grid that any of the notes feeds.
pub(super) struct Seen {
    at: [usize; PLACES],
    count: usize,
    logarithm: [f64; PLACES],
    floor: [f64; PLACES],
    /// The relative variance that beating gives the line.
    beating: [f64; PLACES],
    sum: f64,
    /// The relative variance of the line that all heads have in common.
    common: [f64; PLACES],
    /// How many beats of one line there are, for each hertz it lies at.
    beats: f64,
}

impl Seen {
    pub(super) fn new(grid: &Grid, beside: Option<&Beside>, whole: f64, partials: &[u8], common: Common) -> Self {
        let (nothing, beats) = ([0.0; PLACES], APART * grid.seconds);
        let mut seen =
            Self { at: [0; PLACES], count: 0, logarithm: nothing, floor: nothing, beating: nothing, sum: 0.0, common: nothing, beats };
        let fundamental = grid.fundamental.hz();
        for line in 0..LINES {
            let fed = partials.iter().any(|partial| (line + 1).is_multiple_of(usize::from((*partial).max(1))));
            // a line where nothing is heard says that nobody feeds it; only what lies beyond the sound says nothing
            if fed && grid.floor[line] > 0.0 {
                let hz = (line + 1) as f64 * fundamental;
                seen.add(line, grid.power[line] / whole, grid.floor[line] / whole, hz, common.at(line + 1));
            }
        }
        for side in 0..SIDES {
            for h in 1..=HARMONICS {
                if let Some(beside) = beside
                    && beside.own[side][h - 1] > 0.0
                {
                    let hz = (h * usize::from(beside.target)) as f64 * fundamental;
                    let (power, floor) = (beside.power[side][h - 1] / whole, beside.floor[side][h - 1] / whole);
                    seen.add(place(side, h), power, floor, hz, common.at(h));
                }
            }
        }
        seen
    }

    fn add(&mut self, at: usize, power: f64, floor: f64, hz: f64, common: f64) {
        let floor = FLOOR * floor + 1e-4;
        self.at[self.count] = at;
        self.logarithm[self.count] = (power + floor).ln();
        self.floor[self.count] = floor;
        // the mean square of what is left of a beat by the mean over so many of it, to within some percent
        self.beating[self.count] = BEATING / (1.0 + std::f64::consts::TAU * (self.beats * hz).powi(2)).sqrt();
        self.common[self.count] = common;
        self.sum += power;
        self.count += 1;
    }

    /// The logarithm of how likely these lines are from `seating`, but for what is the same for all seatings.
    pub(super) fn likelihood(&self, look: &Look, seating: &[u8; NOTES]) -> f64 {
        let (mut means, mut squares) = ([Part::default(); PLACES], [0.0; PLACES]);
        let mut all = 0.0;
        for (parts, heads) in look.parts.iter().zip(seating).filter(|(_, heads)| **heads > 0) {
            let heads = f64::from(*heads);
            for n in 0..self.count {
                let part = parts[self.at[n]];
                means[n].power += heads * part.power;
                means[n].octaves += heads * part.octaves;
                means[n].first += heads * part.first;
                means[n].second += heads * part.second;
                squares[n] += heads * part.power * part.power;
                all += heads * part.power;
            }
        }
        let gain = self.sum / f64::max(all, 1e-12);
        let (mut variances, mut tails) = (1.0, 1.0);
        let mut known = Known::new();
        for n in 0..self.count {
            let mean = gain * means[n].power + self.floor[n];
            let (scale, noise) = (gain / mean, self.floor[n] / mean);
            let (signal, by_head) = (scale * means[n].power, scale * scale * squares[n]);
            let together = signal * signal;
            let beating = self.beating[n] * (together - by_head).max(0.0);
            let variance = BY_HEAD * by_head + self.common[n] * together + beating + 0.25 * noise * noise;
            let variance = variance.clamp(VARIANCE.0, VARIANCE.1);
            // the mean of a logarithm lies under the logarithm of the mean
            let off = self.logarithm[n] - mean.ln() + 0.5 * variance;
            variances *= variance;
            tails *= 1.0 + off * off / (FREEDOM * variance);
            let weight = (FREEDOM + 1.0) / (FREEDOM * variance + off * off);
            let by_decibel = [means[n].octaves, means[n].first, means[n].second].map(|power| scale * power * DECIBEL);
            known.add([signal, by_decibel[0], by_decibel[1], by_decibel[2]], weight, off);
        }
        -0.5 * ((FREEDOM + 1.0) * f64::ln(tails) + f64::ln(variances)) + known.gained()
    }
}

/// What the lines tell of the unknowns: the inverse of their covariance and the pull on them.
struct Known {
    inverse: [[f64; UNKNOWN]; UNKNOWN],
    pull: [f64; UNKNOWN],
}

impl Known {
    fn new() -> Self {
        let mut inverse = [[0.0; UNKNOWN]; UNKNOWN];
        (0..UNKNOWN).for_each(|n| inverse[n][n] = SPREADS[n].powi(-2));
        Self { inverse, pull: [0.0; UNKNOWN] }
    }

    /// A line that is `off` by so much, and whose logarithm moves by `moves` with each unknown.
    fn add(&mut self, moves: [f64; UNKNOWN], weight: f64, off: f64) {
        for i in 0..UNKNOWN {
            self.pull[i] += weight * off * moves[i];
            for j in 0..=i {
                self.inverse[i][j] += weight * moves[i] * moves[j];
            }
        }
    }

    /// By how much the lines are more likely where the unknowns are integrated out than where they are nought, by the natural logarithm and
    /// but for a constant: half of the pull's square over the inverse, less half of the inverse's determinant. By Cholesky's way.
    fn gained(mut self) -> f64 {
        let (mut square, mut determinant) = (0.0, 1.0);
        for i in 0..UNKNOWN {
            for j in 0..=i {
                let left = self.inverse[i][j] - (0..j).map(|k| self.inverse[i][k] * self.inverse[j][k]).sum::<f64>();
                self.inverse[i][j] = if i == j { left.max(1e-12).sqrt() } else { left / self.inverse[j][j] };
            }
            let left = self.pull[i] - (0..i).map(|k| self.inverse[i][k] * self.pull[k]).sum::<f64>();
            self.pull[i] = left / self.inverse[i][i];
            square += self.pull[i] * self.pull[i];
            determinant *= self.inverse[i][i];
        }
        0.5 * square - f64::ln(determinant)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_integrated_out_widens_a_line() {
        // one line of variance 0.25 that moves with the loudness alone: what is left is normal, of both variances together
        let (variance, spread) = (0.25, SPREADS[0] * SPREADS[0]);
        let gained = |off: f64| {
            let mut known = Known::new();
            known.add([1.0, 0.0, 0.0, 0.0], 1.0 / variance, off);
            known.gained()
        };
        let normal = |off: f64, variance: f64| -0.5 * off * off / variance - 0.5 * variance.ln();
        let constant = Known::new().gained();
        for off in [0.0, 0.3, -2.0] {
            let truth = normal(off, variance + spread) - normal(off, variance);
            assert!((gained(off) - constant - truth).abs() < 1e-9, "{off}");
        }
    }

    #[test]
    fn a_line_moves_with_the_unknowns_as_its_parts_do() {
        let look = Look::new(&Timbre::brass(), &[2, 3], None);
        // harmonic 3 of partial 2 and harmonic 2 of partial 3 are one line
        assert!((look.parts[0][5].octaves / look.parts[0][5].power - 3.0_f64.log2()).abs() < 1e-12);
        assert!((look.parts[1][5].octaves / look.parts[1][5].power - 1.0).abs() < 1e-12);
        assert_eq!((look.parts[0][1].first, look.parts[0][3].first), (look.parts[0][1].power, 0.0));
        assert_eq!((look.parts[0][1].second, look.parts[0][3].second), (0.0, look.parts[0][3].power));
        assert!(look.parts.iter().take(2).all(|parts| (parts.iter().map(|part| part.power).sum::<f64>() - 1.0).abs() < 1e-9));
    }
}
