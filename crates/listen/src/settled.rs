//! A long look at a pitch that has held: one window of a third of a second, in which a steady note's harmonics are lines, talk is
//! smeared, and what is struck shows the partials that are no harmonics.

use crate::floor::Floor;
use crate::memory::Memory;
use crate::spectrum::{self, Spectrum};

/// Seconds of the window: what a pitch has held before it may be told.
const WINDOW: f64 = 0.34;
/// Nothing below or above is looked at, in Hz: the hum of a room, the hiss of a breath.
const BAND: (f64, f64) = (60.0, 6000.0);
/// How far beside its place a harmonic is its own, in cents, and at least in bins.
const BESIDE: f64 = 22.0;
const FEWEST: f64 = 5.0;
/// What stands this many times over the floor is a tone, not noise.
const TONE: f32 = 8.0;

/// What the long look shows of one pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Seen {
    /// The power of tones that are not its harmonics against that of its harmonics, as a logarithm.
    pub(crate) foreign: f64,
    /// The share of all the power that is its harmonics, as a logarithm.
    pub(crate) share: f64,
    /// By how many dB its strongest harmonic, if that is a high one, stands over the two on either side and the first three: what is
    /// blown has them all, or every other one, or the first.
    pub(crate) lonely: f64,
}

/// Allocates nothing once built.
#[derive(Debug)]
pub(crate) struct LongLook {
    spectrum: Spectrum,
    floor: Floor,
    band: std::ops::Range<usize>,
    /// What belongs to the pitch, by bins of the band.
    own: Vec<bool>,
}

impl LongLook {
    pub(crate) fn new(rate: f64) -> Self {
        let spectrum = Spectrum::new(rate, (rate * WINDOW) as usize, 1);
        let bin = |hz: f64| (hz / spectrum.bin_hz()) as usize;
        let band = bin(BAND.0)..bin(BAND.1.min(0.45 * rate));
        Self { floor: Floor::new(band.clone(), f32::INFINITY), own: vec![false; band.len()], band, spectrum }
    }

    /// Looks for the harmonics of `hz` in the newest sound.
    pub(crate) fn look(&mut self, memory: &Memory, hz: f64) -> Seen {
        self.spectrum.take(memory.last(self.spectrum.length()));
        let (power, bin_hz) = (self.spectrum.power(), self.spectrum.bin_hz());
        self.floor.read(power);
        let comb = spectrum::comb(power, bin_hz, hz);
        self.own.fill(false);
        let mut powers = [1e-20_f32; LOOKED_AT];
        let mut h = 1.0;
        while h * comb.hz < BAND.1 {
            let centre = h * comb.hz / bin_hz;
            let reach = (centre * ((BESIDE / 1200.0).exp2() - 1.0)).max(FEWEST).min(0.4 * comb.hz / bin_hz);
            let (low, high) = ((centre - reach).round() as usize, (centre + reach).round() as usize);
            if let (Some(to), Some(bins)) = (powers.get_mut(h as usize - 1), power.get(low..=high)) {
                *to = bins.iter().copied().fold(*to, f32::max);
            }
            for at in low.max(self.band.start)..(high + 1).min(self.band.end) {
                self.own[at - self.band.start] = true;
            }
            h += 1.0;
        }
        let (mut own, mut foreign, mut all) = (1e-20, 0.0, 1e-20);
        for at in self.band.clone() {
            let (power, floor) = (power[at], self.floor.at(at));
            all += f64::from(power);
            if self.own[at - self.band.start] {
                own += f64::from((power - floor).max(0.0));
            } else if power > TONE * floor {
                foreign += f64::from(power);
            }
        }
        Seen { foreign: ((foreign + 1e-3 * own) / own).ln(), share: (own / all).ln(), lonely: lonely(&powers) }
    }
}

/// Harmonics among which the strongest is sought, and the first that counts as a high one.
const LOOKED_AT: usize = 24;
const HIGH: usize = 4;

fn lonely(powers: &[f32; LOOKED_AT]) -> f64 {
    let strongest = (0..LOOKED_AT).max_by(|a, b| powers[*a].total_cmp(&powers[*b])).unwrap_or(0);
    if strongest + 1 < HIGH {
        return 0.0;
    }
    let beside = (strongest - 2..=(strongest + 2).min(LOOKED_AT - 1)).filter(|at| *at != strongest);
    let beside = beside.chain(0..HIGH - 1).map(|at| powers[at]).fold(1e-20, f32::max);
    10.0 * f64::from(powers[strongest] / beside).log10()
}
