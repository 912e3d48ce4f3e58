//! Whether a pitch that has held was played: how steady it was, how it fell, and what else sounded with it.

use crate::notes::{Lasting, OWN, STEADY, cents, median};
use crate::settled::Seen;
use crate::spectrum::HARMONICS;
use crate::track::Instant;

/// How steady some instants are.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Look {
    /// Instants with the note's pitch.
    voiced: usize,
    /// From the tenth to the ninetieth part of the pitches, in cents.
    spread: f64,
    /// From the middle of the first half to that of the second, in cents.
    drift: f64,
    /// By how much the level falls from the first third to the last, in dB.
    fall: f64,
    /// The same by the lesser of its two halves: what is struck falls all the while.
    falling: f64,
    /// How much each harmonic changes against the others within a tenth of a second, in dB.
    flicker: f64,
    strength: f64,
}

impl Look {
    pub(crate) fn at<'a>(instants: impl Iterator<Item = &'a Instant>, reference: f64) -> Self {
        let mut pitches = [0.0; STEADY];
        let mut shapes = [[0.0_f64; HARMONICS]; STEADY];
        let mut levels = [0.0; STEADY];
        let (mut count, mut strength) = (0, 0.0);
        for instant in instants {
            let Some(off) = instant.hz.map(|hz| cents(hz, reference)).filter(|off| off.abs() <= OWN) else { continue };
            pitches[count] = off;
            let sum: f32 = instant.harmonics.iter().sum::<f32>().max(1e-20);
            levels[count] = 10.0 * f64::from(sum).log10();
            for (to, power) in shapes[count].iter_mut().zip(instant.harmonics) {
                *to = 10.0 * f64::from((power / sum).max(1e-4)).log10();
            }
            strength += instant.strength;
            count += 1;
        }
        let third = count / 3;
        let mean = |list: &[f64]| list.iter().sum::<f64>() / list.len().max(1) as f64;
        let fall = mean(&levels[..third]) - mean(&levels[count - third..count]);
        let middle = mean(&levels[third..count - third]);
        let falling = (mean(&levels[..third]) - middle).min(middle - mean(&levels[count - third..count]));
        let (mut change, mut weight) = (0.0, 1e-9);
        const APART: usize = 8;
        for n in APART..count {
            for (before, after) in shapes[n - APART].iter().zip(&shapes[n]) {
                let counts = 10.0_f64.powf(before.max(*after) / 20.0);
                change += counts * (after - before).abs();
                weight += counts;
            }
        }
        let (first, second) = pitches[..count].split_at_mut(count / 2);
        let drift = median(second) - median(first);
        let pitches = &mut pitches[..count];
        pitches.sort_unstable_by(f64::total_cmp);
        let part = |share: f64| if count == 0 { 0.0 } else { pitches[((count - 1) as f64 * share).round() as usize] };
        Self {
            voiced: count,
            spread: part(0.9) - part(0.1),
            drift,
            fall,
            falling,
            flicker: change / weight,
            strength: strength / count.max(1) as f64,
        }
    }

    /// Whether the pitch was there all the while.
    pub(crate) const fn is_whole(&self) -> bool {
        self.voiced + 2 >= STEADY
    }

    /// Whether it falls as no blown note does; `lost` is how far in dB it lies under the loudest it was.
    pub(crate) fn dies_away(&self, lost: f64) -> bool {
        self.fall > DIES.0 || self.falling > DIES.1 || lost > DIES.2
    }

    /// The logarithm of how many times likelier a played note is than talk, a drum or a chair: a logistic
    /// regression on players (seeds 11 to 14 of `benches/listening/clips.py`, at every level of noise) against talk, drums and clutter
    /// (seeds 11 and 15, heard as several instruments each).
    pub(crate) fn score(&self, lasting: Lasting, seen: &Seen) -> f64 {
        if seen.lonely > LONELY {
            return f64::NEG_INFINITY;
        }
        let most = if lasting == Lasting::Held { FALL.1 } else { 0.0 };
        let figures = [
            (self.spread.max(STILLEST.0) + 3.0).ln(),
            (self.drift.abs().max(STILLEST.1) + 2.0).ln(),
            self.fall.clamp(FALL.0, most),
            (self.flicker.max(STILLEST.2) + 0.3).ln(),
            self.strength,
            seen.foreign.max(CLEANEST.0),
            seen.share.clamp(SHARE, CLEANEST.1),
        ];
        let mut weights = GATE.iter();
        let mut weigh = |figure: f64| weights.next().map_or(0.0, |weight| weight * figure);
        let lines: f64 = figures.iter().map(|figure| weigh(*figure)).sum();
        let squares: f64 =
            (0..figures.len()).flat_map(|i| (i..figures.len()).map(move |j| (i, j))).map(|(i, j)| weigh(figures[i] * figures[j])).sum();
        GATE_BASE + lines + squares
    }
}

/// The score from which a note is told at once.
pub(crate) const SURE: f64 = 7.0;
/// The scores of look after look, each counted as [`MOST`] at most, are told when they come to this: a note in much noise.
pub(crate) const ENOUGH: f64 = 17.0;
pub(crate) const MOST: f64 = 4.0;
/// Blown, a note does not fall further in dB within [`STEADY`] instants, nor by as much in each half of them, nor as far from the
/// loudest it was: what does is struck, or has ended.
const DIES: (f64, f64, f64) = (4.0, 2.0, 9.0);
/// Spread, drift and flicker under which no player comes; a machine that does counts as this still.
const STILLEST: (f64, f64, f64) = (9.0, 2.0, 0.6);
/// A high harmonic further than this in dB over those beside it is a partial of something struck.
const LONELY: f64 = 15.0;
/// A fall in dB beyond which nothing more is learnt from it; what is struck may fall as it will.
const FALL: (f64, f64) = (-6.0, 4.0);
/// As few foreign tones, and as much of the sound, as a player in a quiet room has.
const CLEANEST: (f64, f64) = (-5.0, -0.15);
/// The least share of the sound.
const SHARE: f64 = -2.0;
/// Weights of the figures and of their products, two by two.
const GATE: [f64; 35] = [
    0.094, 1.660, -0.064, 0.574, 1.058, -0.715, 1.426, -0.276, -0.273, -0.026, -0.126, -0.333, -0.146, -0.227, -0.431, 0.001, -0.094,
    0.245, -0.201, -0.993, -0.099, 0.307, -0.760, -0.024, 0.056, -1.679, 0.590, -0.239, -4.070, 9.057, -0.237, 0.779, -0.093, 1.857,
    -3.172,
];
const GATE_BASE: f64 = -7.0790;
