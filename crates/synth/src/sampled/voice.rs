//! One tone of a sampled sound.

use super::kernel::{Kernels, TAPS, read};
use super::lowpass::LowPass;
use super::{Envelope, LAYERS, Region, SampleBank, SoundIndex, Wave};
use crate::bank::{Life, Singer, Stage};
use crate::curve::{multiply_fall, multiply_rise};
use crate::{BLOCK, Block, Tone};
use units::SampleRate;

/// Seconds of the quickest and slowest attack: softer than a click, and never so slow that a class waits for it.
const ATTACK: (f32, f32) = (0.005, 0.200);
/// Seconds of the shortest and longest release; all of it lies inside the tone.
const RELEASE: (f32, f32) = (0.040, 0.120);
/// Of the time a fall of 100 dB takes, what it takes to be gone for the ear: 60 dB.
const GONE: f32 = 0.6;
/// A layer under this level is over: -100 dB, where a SoundFont's envelope ends.
const INAUDIBLE: f32 = 1e-5;
/// One frame in fixed-point positions.
const FRAME: f64 = 4_294_967_296.0;

/// One sample being read: the whole of a `u64` position counts frames in its upper half and their parts in its lower.
#[derive(Clone, Copy)]
struct Layer {
    region: u16,
    position: u64,
    step: u64,
    kernel: u8,
    gain: f32,
    filter: Option<LowPass>,
    over: bool,
}

/// One tone on its way.
#[derive(Clone, Copy)]
pub(super) struct SampledVoice {
    life: Life,
    sound: SoundIndex,
    layers: [Option<Layer>; LAYERS],
    release: f32,
}

impl Singer for SampledVoice {
    fn life(&mut self) -> &mut Life {
        &mut self.life
    }
}

impl SampledVoice {
    /// A voice for `tone`, unless it would make no sound.
    pub(super) fn new(tone: &Tone<SoundIndex>, bank: &SampleBank, rate: SampleRate) -> Option<Self> {
        let life = Life::of(tone)?;
        let length = life.length() as f32;
        let sound = bank.get(tone.timbre)?;
        let level = tone.level.amplitude();
        let chosen = sound.layers(tone.frequency, level);
        let scale = level * sound.loudness(chosen, tone.frequency, rate);
        let regions = chosen.map(|number| Some((number?, sound.regions().get(usize::from(number?))?)));
        let hz = f64::from(rate.hz());
        let layers = regions.map(|region| {
            let (number, region) = region?;
            let speed = tone.frequency.hz() / region.own_hz * region.rate / hz;
            // faster than a thousand frames a step nothing is left to hear
            let step = (speed < 1_000.0).then_some((speed * FRAME).round() as u64)?;
            let filter = region.low_pass.map(|(corner, damping)| LowPass::new(corner, damping, rate));
            Some(Layer {
                region: number,
                position: 0,
                step,
                kernel: Kernels::choose(speed),
                gain: scale * region.gain,
                filter,
                over: false,
            })
        });
        let release = regions.iter().flatten().map(|(_, region)| region.envelope.release * GONE).fold(RELEASE.0, f32::max);
        Some(Self { life, sound: tone.timbre, layers, release: (release.min(RELEASE.1) * rate.hz() as f32).min(length * 0.5).floor() })
    }

    /// Adds the block at `start` to `out`; whether the voice has more to come.
    pub(super) fn render(&mut self, start: u64, bank: &SampleBank, rate: SampleRate, out: &mut Block) -> bool {
        let Some(sound) = bank.get(self.sound) else { return false };
        let age = match self.life.reach(start) {
            Stage::Before => return true,
            Stage::Within(age) => age,
            Stage::After => return false,
        };
        let length = self.life.length() as i64;
        let mut gain = [1.0; BLOCK];
        multiply_fall(&mut gain, age - (length - self.release as i64), self.release);
        let faded = self.life.fade.apply(start, &mut gain);
        let mut ringing = false;
        self.life.loudness = 0.0;
        for layer in self.layers.iter_mut().flatten().filter(|layer| !layer.over) {
            let Some(region) = sound.regions().get(usize::from(layer.region)) else { continue };
            let now = layer.render(age, length as f32, region, bank, rate, &gain, out);
            self.life.loudness = self.life.loudness.max(now * layer.gain);
            ringing |= !layer.over;
        }
        ringing && !faded && self.life.goes_on(start)
    }
}

impl Layer {
    /// Adds a block that begins `age` frames into the tone; how far the envelope is open at its end.
    #[allow(clippy::too_many_arguments, reason = "all of it makes one layer's block")]
    fn render(
        &mut self,
        age: i64,
        length: f32,
        region: &Region,
        bank: &SampleBank,
        rate: SampleRate,
        gain: &Block,
        out: &mut Block,
    ) -> f32 {
        let hz = rate.hz() as f32;
        let envelope = &region.envelope;
        let delay = (envelope.delay * hz).round();
        let own_age = age - delay as i64;
        if own_age <= -(BLOCK as i64) {
            return 1.0;
        }
        let mut wave = [0.0; BLOCK];
        let wait = (-own_age).clamp(0, BLOCK as i64) as usize;
        let Some(table) = bank.kernels.table(self.kernel) else { return 0.0 };
        for sample in wave.iter_mut().skip(wait) {
            *sample = self.next(&region.wave, table);
        }
        if let Some(filter) = &mut self.filter {
            filter.apply(&mut wave);
        }
        let attack = (envelope.attack.clamp(ATTACK.0, ATTACK.1) * hz).min(length * 0.4);
        let mut shape = *gain;
        multiply_rise(&mut shape, own_age, attack);
        let (from, to) = (envelope.fallen(own_age as f32 / hz), envelope.fallen((own_age + BLOCK as i64) as f32 / hz));
        let slope = (to - from) / BLOCK as f32;
        for (frame, ((out, wave), shape)) in out.iter_mut().zip(&wave).zip(&shape).enumerate() {
            *out += wave * shape * self.gain * (from + slope * frame as f32);
        }
        self.over |= to < INAUDIBLE;
        to
    }

    /// The sample at the position, which moves on.
    fn next(&mut self, wave: &Wave, table: &[[f32; TAPS]; 257]) -> f32 {
        let frame = (self.position >> 32) as u32;
        if frame >= wave.end {
            match wave.back {
                Some(back) => self.position -= u64::from((frame - wave.end) / back + 1) * back as u64 * (1 << 32),
                None => {
                    self.over = true;
                    return 0.0;
                }
            }
        }
        let first = (self.position >> 32) as usize;
        let window = wave.padded.get(first..).and_then(|rest| rest.first_chunk::<TAPS>());
        let sample = window.map_or(0.0, |window| read(table, window, self.position as u32));
        self.position = self.position.saturating_add(self.step);
        sample
    }
}

impl Envelope {
    /// The level `seconds` into the tone, its attack and release apart.
    fn fallen(&self, seconds: f32) -> f32 {
        let falling = seconds - self.attack.clamp(ATTACK.0, ATTACK.1) - self.hold;
        if falling <= 0.0 {
            return 1.0;
        }
        10_f32.powf(-5.0 * falling / self.decay.max(0.001)).max(self.sustain)
    }
}
