//! The inhale before an entry.

use crate::care::RELEASE_SECONDS;
use crate::curve::{multiply_fall, multiply_rise};
use crate::noise::{Filter, chance, hash, tangent};
use crate::places::{Placed, Places};
use crate::{BLOCK, Block};
use units::{FrameInstant, Gain, SampleRate};

/// An inhale that swells over its beats and stops as the entry comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Breath {
    /// Where the inhale begins.
    pub start: FrameInstant,
    /// The first frame on which it is silent: the entry.
    pub end: FrameInstant,
}

/// Breaths that can sound at once.
const PLAYERS: usize = 4;
/// Rms at level 1 at the swell's top, about that of a tone.
const STRENGTH: f32 = 0.10;
/// Share of the breath after which it stops, and seconds at least for stopping.
const TURN: f32 = 0.86;
const STOP: f32 = 0.06;

/// One inhale under way: two bands of noise, throat and teeth, that rise as the lungs fill.
#[derive(Clone, Copy)]
struct Inhale {
    end: u64,
    level: f32,
    throat: Filter,
    teeth: Filter,
}

/// Breathes.
pub(crate) struct Breaths {
    players: Places<Inhale, PLAYERS>,
    rate: SampleRate,
}

impl Breaths {
    pub(crate) fn new(rate: SampleRate) -> Self {
        Self { players: Places::new(), rate }
    }

    /// Starts a breath; one too many is not heard.
    pub(crate) fn start(&mut self, start: u64, end: u64, level: Gain) {
        let inhale = Inhale { end, level: level.amplitude(), throat: Filter::default(), teeth: Filter::default() };
        self.players.start(start, inhale);
    }

    pub(crate) fn hush(&mut self, next: u64) {
        self.players.hush(next, self.rate);
    }

    /// Ends every inhale that began before `at`.
    pub(crate) fn release(&mut self, at: u64) {
        for placed in self.players.iter_mut().filter(|placed| placed.start < at) {
            placed.fade.from(at, RELEASE_SECONDS * self.rate.hz() as f32);
        }
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.players.is_silent()
    }

    /// Adds the block at `start`.
    pub(crate) fn render(&mut self, start: u64, out: &mut Block) {
        let rate = self.rate;
        self.players.render(start, |placed| placed.render(start, rate, out));
    }
}

impl Placed<Inhale> {
    /// Adds the block at `start`; whether there is more to come.
    fn render(&mut self, start: u64, rate: SampleRate, out: &mut Block) -> bool {
        if start >= self.sound.end {
            return false;
        }
        let age = start.wrapping_sub(self.start) as i64;
        let length = self.sound.end.saturating_sub(self.start) as i64;
        let stop = (length as f32 * (1.0 - TURN)).max(STOP * rate.hz() as f32).min(0.5 * length as f32) as i64;
        let mut gain = [self.sound.level * STRENGTH; BLOCK];
        multiply_rise(&mut gain, age, (length - stop) as f32);
        multiply_fall(&mut gain, age - length + stop, stop as f32);
        let faded = self.fade.apply(start, &mut gain);
        let filled = (age.max(0) as f32 / length.max(1) as f32).min(1.0);
        let throat = tangent(700.0 + 500.0 * filled, rate);
        let teeth = tangent(2_600.0 + 1_400.0 * filled, rate);
        // white noise through a band of this width keeps about a tenth of its power at 48 kHz; three times the amplitude restores it
        for (frame, (out, gain)) in out.iter_mut().zip(&gain).enumerate() {
            let white = 3.0 * chance(self.start ^ hash(start + frame as u64));
            let sound = 1.4 * self.sound.throat.band(white, throat, 0.9) + 0.6 * self.sound.teeth.band(white, teeth, 0.8);
            *out += sound * gain;
        }
        !faded && start + (BLOCK as u64) < self.sound.end
    }
}
