//! Keeps everything else under the voice, as far as what sounds calls for.

use crate::curve::Ramp;
use crate::loudness::{KFilter, Meter};
use crate::{BLOCK, Block};
use units::SampleRate;

/// How far everything else stays under the words, in power: 16 LU, and what [`NEAR`] may take of it. A drone or a tone at its usual
/// level is then 12 dB or more softer while a word sounds.
const UNDER: f64 = 0.025_118_864 / (NEAR as f64 * NEAR as f64);
/// A new depth this near the old one, as a factor, is not worth moving for: half a decibel.
const NEAR: f32 = 1.059_253_7;
/// The least that is left of the other sounds: -30 dB.
const DEEPEST: f32 = 0.031_622_776;
/// Seconds of ducking after a word.
const HOLD: f64 = 0.150;
/// Seconds of the way down and up.
const WAY: f32 = 0.030;

/// The gain of everything but words and clicks.
pub(crate) struct Ducking {
    filter: KFilter<2>,
    meter: Meter,
    gain: Ramp,
    /// The weighted power of the words that sound.
    voice: f64,
    until: u64,
    hold: u64,
    way: f32,
}

impl Ducking {
    pub(crate) fn new(rate: SampleRate) -> Self {
        Self {
            filter: KFilter::new(rate),
            meter: Meter::new(rate),
            gain: Ramp::at(1.0),
            voice: 0.0,
            until: 0,
            hold: rate.span(HOLD).0,
            way: WAY * rate.hz() as f32,
        }
    }

    /// A word of this weighted power sounds in the block at `start`, or is about to.
    pub(crate) fn speak(&mut self, start: u64, power: f64) {
        if power <= 0.0 {
            return;
        }
        // the softest word of a phrase decides, so that the way down is gone once
        self.voice = if start < self.until { self.voice.min(power) } else { power };
        self.until = self.until.max(start.saturating_add(BLOCK as u64).saturating_add(self.hold));
    }

    /// The gain along the block at `start`, whose other sounds are `left` and `right` if there are any; `level` is the voice's own gain.
    pub(crate) fn fill(&mut self, start: u64, others: Option<[&Block; 2]>, level: f32, out: &mut Block) {
        let power = match others {
            Some(others) => self.filter.block(others),
            None if self.meter.is_silent() => 0.0,
            None => self.filter.block([&[0.0; BLOCK]; 2]),
        };
        self.meter.push(power);
        let target = if start < self.until {
            let allowed = self.voice * f64::from(level) * f64::from(level) * UNDER;
            let heard = self.meter.power();
            if heard > allowed { ((allowed / heard).sqrt() as f32).max(DEEPEST) } else { 1.0 }
        } else {
            1.0
        };
        let aim = self.gain.target();
        if target == 1.0 || target > aim * NEAR || target * NEAR < aim {
            self.gain.head_for(target, self.way);
        }
        self.gain.fill(out);
    }
}
