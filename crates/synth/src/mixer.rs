//! Levels, ducking and places in the room: from buses to two channels.

use crate::care::{LEVEL_SECONDS, START_LEVEL};
use crate::curve::Ramp;
use crate::{BLOCK, BUS_COUNT, Block, Bus, MAX_SECTIONS, Stems};
use units::{Gain, SampleRate};

/// What everything but words and clicks keeps of its level while a word sounds: -12 dB.
const DUCKED: f32 = 0.251_188_64;
/// Seconds of ducking after a word, and of the way down and up.
const DUCK_HOLD: f32 = 0.150;
const DUCK_SECONDS: f32 = 0.030;
/// How far sections spread from the middle, 1 being all the way out.
const SPREAD: f32 = 0.7;

/// One bus's channel.
struct Channel {
    block: Block,
    used: bool,
    level: Ramp,
    ducks: bool,
    left: f32,
    right: f32,
}

/// The mixer.
pub(crate) struct Mixer {
    channels: Box<[Channel]>,
    master: Ramp,
    duck: Ramp,
    duck_until: u64,
    rate: SampleRate,
    non_finite: u64,
}

impl Mixer {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let channels = Bus::all().map(|bus| {
            let (left, right) = place(bus);
            let ducks = !matches!(bus, Bus::Voice | Bus::Click);
            Channel { block: [0.0; BLOCK], used: false, level: Ramp::at(1.0), ducks, left, right }
        });
        let channels: Box<[Channel]> = channels.collect();
        debug_assert_eq!(channels.len(), BUS_COUNT);
        Self { channels, master: Ramp::at(START_LEVEL), duck: Ramp::at(1.0), duck_until: 0, rate, non_finite: 0 }
    }

    /// The block of `bus`, to be added to.
    pub(crate) fn bus(&mut self, bus: Bus) -> Option<&mut Block> {
        let channel = self.channels.get_mut(bus.index())?;
        channel.used = true;
        Some(&mut channel.block)
    }

    pub(crate) fn set_level(&mut self, bus: Bus, gain: Gain) {
        let length = LEVEL_SECONDS * self.rate.hz() as f32;
        if let Some(channel) = self.channels.get_mut(bus.index()) {
            channel.level.head_for(gain.amplitude(), length);
        }
    }

    pub(crate) fn set_master(&mut self, gain: Gain) {
        self.master.head_for(gain.amplitude(), LEVEL_SECONDS * self.rate.hz() as f32);
    }

    /// Keeps the other sounds down: a word sounds in the block at `start`.
    pub(crate) fn duck(&mut self, start: u64) {
        let hold = self.rate.span(f64::from(DUCK_HOLD)).0;
        self.duck_until = self.duck_until.max(start.saturating_add(BLOCK as u64).saturating_add(hold));
    }

    /// Samples so far that were no numbers.
    pub(crate) fn non_finite(&self) -> u64 {
        self.non_finite
    }

    /// Mixes the block at `start` to left and right, and clears the buses for the next.
    pub(crate) fn mix(&mut self, start: u64, left: &mut Block, right: &mut Block, mut stems: Option<&mut Stems>) {
        let ducked = if start < self.duck_until { DUCKED } else { 1.0 };
        self.duck.head_for(ducked, DUCK_SECONDS * self.rate.hz() as f32);
        let (mut master, mut duck, mut level) = ([0.0; BLOCK], [0.0; BLOCK], [0.0; BLOCK]);
        self.master.fill(&mut master);
        self.duck.fill(&mut duck);
        left.fill(0.0);
        right.fill(0.0);
        for (number, channel) in self.channels.iter_mut().enumerate() {
            channel.level.fill(&mut level);
            if channel.used {
                channel.used = false;
                for ((sample, level), master) in channel.block.iter_mut().zip(&level).zip(&master) {
                    *sample *= level * master;
                }
                if channel.ducks {
                    channel.block.iter_mut().zip(&duck).for_each(|(sample, duck)| *sample *= duck);
                }
                let broken = channel.block.iter_mut().filter(|sample| !sample.is_finite());
                self.non_finite += broken.map(|sample| *sample = 0.0).count() as u64;
                for ((sample, left), right) in channel.block.iter().zip(left.iter_mut()).zip(right.iter_mut()) {
                    *left += sample * channel.left;
                    *right += sample * channel.right;
                }
            }
            if let Some(stem) = stems.as_mut().and_then(|stems| stems.buses.get_mut(number)) {
                *stem = channel.block;
            }
            channel.block.fill(0.0);
        }
        for sample in left.iter_mut().chain(right.iter_mut()).filter(|sample| !sample.is_finite()) {
            *sample = 0.0;
            self.non_finite += 1;
        }
    }
}

/// The constant-power shares of left and right. Sections are spread so that neighbours in number stand apart: the order of a
/// bit-reversed count. All else is in the middle.
fn place(bus: Bus) -> (f32, f32) {
    let position = match bus {
        Bus::Section(number) if (number as usize) < MAX_SECTIONS => (number + 1).reverse_bits() as f32 / 128.0 - 1.0,
        _ => 0.0,
    };
    let angle = (1.0 + SPREAD * position) * std::f32::consts::FRAC_PI_4;
    (angle.cos(), angle.sin())
}
