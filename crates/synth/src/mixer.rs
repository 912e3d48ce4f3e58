//! Levels, ducking and places in the room: from buses to two channels.

use crate::care::{LEVEL_SECONDS, START_LEVEL};
use crate::curve::Ramp;
use crate::ducking::Ducking;
use crate::{BLOCK, BUS_COUNT, Block, Bus, MAX_SECTIONS, Stems};
use std::f32::consts::FRAC_1_SQRT_2;
use units::{Gain, SampleRate};

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
    /// What goes by no bus: in the middle, under the master level alone.
    direct: Option<Block>,
    master: Ramp,
    ducking: Ducking,
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
        Self { channels, direct: None, master: Ramp::at(START_LEVEL), ducking: Ducking::new(rate), rate, non_finite: 0 }
    }

    /// The block of `bus`, to be added to.
    pub(crate) fn bus(&mut self, bus: Bus) -> Option<&mut Block> {
        let channel = self.channels.get_mut(bus.index())?;
        channel.used = true;
        Some(&mut channel.block)
    }

    /// The block of what goes by no bus, to be added to.
    pub(crate) fn direct(&mut self) -> &mut Block {
        self.direct.get_or_insert([0.0; BLOCK])
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

    /// Keeps the other sounds under a word of this weighted power that sounds in the block at `start` or is about to.
    pub(crate) fn duck(&mut self, start: u64, power: f64) {
        self.ducking.speak(start, power);
    }

    /// Samples so far that were no numbers.
    pub(crate) fn non_finite(&self) -> u64 {
        self.non_finite
    }

    /// Mixes the block at `start` to left and right, and clears the buses for the next.
    pub(crate) fn mix(&mut self, start: u64, left: &mut Block, right: &mut Block, stems: Option<&mut Stems>) {
        // words and clicks on one side, what gives way to words on the other
        let mut clear = [[0.0; BLOCK]; 2];
        let mut ducked = [[0.0; BLOCK]; 2];
        let mut others = false;
        let mut voice = 1.0;
        for (number, channel) in self.channels.iter_mut().enumerate() {
            if number == Bus::Voice.index() {
                voice = channel.level.target();
            }
            if !channel.used {
                channel.level.skip();
                continue;
            }
            self.non_finite += channel.take_level();
            others |= channel.ducks;
            channel.pan(if channel.ducks { &mut ducked } else { &mut clear });
        }
        if let Some(direct) = self.direct.take() {
            for out in &mut clear {
                out.iter_mut().zip(&direct).for_each(|(out, sample)| *out += sample * FRAC_1_SQRT_2);
            }
        }
        let (mut master, mut duck) = ([0.0; BLOCK], [0.0; BLOCK]);
        self.master.fill(&mut master);
        self.ducking.fill(start, others.then_some([&ducked[0], &ducked[1]]), voice, &mut duck);
        for (out, (clear, ducked)) in [left, right].into_iter().zip(clear.iter().zip(&ducked)) {
            for ((((out, clear), ducked), duck), master) in out.iter_mut().zip(clear).zip(ducked).zip(&duck).zip(&master) {
                *out = (clear + ducked * duck) * master;
            }
            self.non_finite += silence_what_is_no_number(out);
        }
        if let Some(stems) = stems {
            for (channel, stem) in self.channels.iter().zip(stems.buses.iter_mut()) {
                let duck = if channel.ducks { &duck } else { &[1.0; BLOCK] };
                for (((stem, sample), duck), master) in stem.iter_mut().zip(&channel.block).zip(duck).zip(&master) {
                    *stem = sample * duck * master;
                }
            }
        }
        for channel in self.channels.iter_mut().filter(|channel| channel.used) {
            channel.used = false;
            channel.block.fill(0.0);
        }
    }
}

impl Channel {
    /// Brings the block to its level; how many samples were no numbers.
    fn take_level(&mut self) -> u64 {
        match self.level.steady() {
            Some(level) => self.block.iter_mut().for_each(|sample| *sample *= level),
            None => {
                let mut level = [0.0; BLOCK];
                self.level.fill(&mut level);
                self.block.iter_mut().zip(&level).for_each(|(sample, level)| *sample *= level);
            }
        }
        silence_what_is_no_number(&mut self.block)
    }

    fn pan(&self, [left, right]: &mut [Block; 2]) {
        for ((sample, left), right) in self.block.iter().zip(left).zip(right) {
            *left += sample * self.left;
            *right += sample * self.right;
        }
    }
}

/// Sets samples that are no finite numbers to zero, and counts them.
fn silence_what_is_no_number(block: &mut Block) -> u64 {
    // nearly always there are none, and this way of asking runs at full width
    if !block.iter().fold(false, |any, sample| any | !sample.is_finite()) {
        return 0;
    }
    let broken = block.iter_mut().filter(|sample| !sample.is_finite());
    broken.map(|sample| *sample = 0.0).count() as u64
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
