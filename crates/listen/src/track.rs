//! The pitch of one player from instant to instant, within what the instrument can play.

use crate::follow::Follower;
use crate::memory::Memory;
use crate::periods::Periods;
use crate::prior::Prior;
use crate::spectrum::{self, HARMONICS, Spectrum};

/// From one instant to the next, in seconds.
pub(crate) const HOP: f64 = 0.010;
/// Periods of the lowest pitch in one window.
const PERIODS: f64 = 3.2;
/// No window is shorter, in seconds.
const SHORTEST: f64 = 0.040;

/// The share by which what is held in mind of a pitch goes over to the newest instant: half of it is of the last 170 ms.
const FORGET: f32 = 0.04;

/// What one instant holds.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Instant {
    /// The pitch in Hz, if there is one.
    pub(crate) hz: Option<f64>,
    /// The share of the sound that repeats with the pitch's period, 0 to 1.
    pub(crate) strength: f64,
    /// The power of the whole window, where a sine at full scale has 1/2.
    pub(crate) power: f64,
    /// The power of each harmonic.
    pub(crate) harmonics: [f32; HARMONICS],
}

impl Instant {
    /// The power of its harmonics in dB.
    pub(crate) fn level(&self) -> f64 {
        10.0 * f64::from(self.harmonics.iter().sum::<f32>().max(1e-20)).log10()
    }
}

/// Follows the pitch; allocates nothing once built.
#[derive(Debug)]
pub(crate) struct Track {
    spectrum: Spectrum,
    periods: Periods,
    follower: Follower,
    prior: Prior,
    hop: usize,
    due: usize,
    average: usize,
    /// The spectrum since the pitch that is followed began, as a mean that forgets.
    held: Vec<f32>,
    following: bool,
}

impl Track {
    /// Follows pitches from `low` to `high` Hz in sound at `rate`, over the mean of `average` windows.
    pub(crate) fn new(rate: f64, low: f64, high: f64, average: usize) -> Self {
        let length = (rate * (PERIODS / low).max(SHORTEST)).round() as usize;
        let spectrum = Spectrum::new(rate, length, average);
        let periods = Periods::new(&spectrum, rate, low, high.min(0.4 * rate));
        let hop = (rate * HOP).round() as usize;
        let held = vec![0.0; spectrum.power().len()];
        Self { spectrum, periods, follower: Follower::new(), prior: Prior::default(), hop, due: 0, average, held, following: false }
    }

    /// Says which pitches are likelier than the rest.
    pub(crate) const fn expect(&mut self, prior: Prior) {
        self.prior = prior;
    }

    /// Frames from the newest back to the middle of what an instant is heard in.
    pub(crate) fn lag(&self) -> usize {
        (self.spectrum.length() + (self.average - 1) * self.hop) / 2
    }

    /// Frames from one instant to the next.
    pub(crate) const fn hop(&self) -> usize {
        self.hop
    }

    /// How many frames of memory it reads.
    pub(crate) fn reach(&self) -> usize {
        self.spectrum.length()
    }

    /// Goes on by the one frame just pushed to `memory`; every [`HOP`] there is an instant.
    pub(crate) fn step(&mut self, memory: &Memory) -> Option<Instant> {
        self.due += 1;
        if self.due < self.hop {
            return None;
        }
        self.due = 0;
        let sound = memory.last(self.spectrum.length());
        let power = sound.iter().map(|x| f64::from(x * x)).sum::<f64>() / sound.len() as f64;
        self.spectrum.take(sound);
        let forget = if self.following { FORGET } else { 1.0 };
        for (held, power) in self.held.iter_mut().zip(self.spectrum.power()) {
            *held += forget * (power - *held);
        }
        let candidates = self.periods.find(self.spectrum.power(), &self.held, &self.prior);
        let at = self.follower.step(&candidates);
        self.following = at.is_some();
        let silent = Instant { hz: None, strength: 0.0, power, harmonics: [0.0; HARMONICS] };
        let Some(candidate) = at.map(|at| candidates.as_slice()[at]) else { return Some(silent) };
        let comb = spectrum::comb(self.spectrum.power(), self.spectrum.bin_hz(), candidate.hz);
        Some(Instant { hz: Some(comb.hz), strength: candidate.strength.clamp(0.0, 1.0), harmonics: comb.powers, ..silent })
    }
}
