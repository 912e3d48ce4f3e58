//! One voice singing one tone.

use crate::bank::{Life, Singer, Stage};
use crate::care::TONE_RMS;
use crate::cpu::{Arithmetic, Work};
use crate::curve::{multiply_fall, multiply_rise, s_curve};
use crate::noise::{NoiseLoops, hash};
use crate::timbre::{self, MODES, Mode, Model, Moment, Spectrum, Strike};
use crate::wave::{HARMONICS, Sung, add_sine, increment, sing};
use crate::{BLOCK, Block, Slide, Tone};
use units::{Hertz, SampleRate};

/// Seconds in which the first frames of a held tone come up, under the rise of its harmonics.
const ONSET: f32 = 0.004;
/// Seconds a struck tone takes to be damped at its end.
const DAMP: f32 = 0.040;
/// A struck partial under this amplitude is over: -120 dB.
const INAUDIBLE: f32 = 1e-6;

/// What makes the waveform. Voices live in one array for good, so that the room a struck one leaves unused costs nothing.
#[expect(clippy::large_enum_variant)]
#[derive(Clone, Copy)]
enum Source {
    Sustained(Sustained),
    Struck { modes: [StruckMode; MODES] },
}

/// A held tone: phase and strengths as they are at the start of the next block.
#[derive(Clone, Copy)]
struct Sustained {
    spectrum: Spectrum,
    colour: u8,
    /// Rms of its noise.
    noise: f32,
    phase: u64,
    step: u64,
    /// The step it keeps once its slide is over, and the blocks until then.
    goal: u64,
    sliding: u32,
    course: Course,
}

/// Strengths on their way to the next ones.
#[derive(Clone, Copy)]
struct Course {
    strengths: [f32; HARMONICS],
    slopes: [f32; HARMONICS],
    /// Blocks until the next ones are reached; none before the first.
    left: u32,
}

#[derive(Clone, Copy)]
struct StruckMode {
    step: u64,
    amplitude: f32,
    /// What it keeps of its amplitude from block to block.
    keeps: f32,
}

impl Source {
    /// Roughly how loud it is, on the scale of levels: a held tone's level stays, a struck one's follows its partials.
    fn strength(&self, level: f32) -> f32 {
        match self {
            Self::Sustained(_) => level,
            Self::Struck { modes } => modes.iter().map(|mode| mode.amplitude).sum::<f32>() / (2.0 * TONE_RMS),
        }
    }
}

/// One tone on its way.
#[derive(Clone, Copy)]
pub(crate) struct Voice {
    life: Life,
    source: Source,
    attack: f32,
    release: f32,
    seed: u64,
    level: f32,
}

impl Singer for Voice {
    fn life(&mut self) -> &mut Life {
        &mut self.life
    }
}

impl Voice {
    /// A voice for `tone`, unless it would make no sound.
    pub(crate) fn new(tone: &Tone, rate: SampleRate) -> Option<Self> {
        let mut life = Life::of(tone)?;
        let length = life.length() as f32;
        let hz = rate.hz() as f32;
        let seed = hash(life.start ^ hash(tone.bus.index() as u64 ^ tone.frequency.hz().to_bits()));
        let (source, attack, release) = match tone.timbre.model() {
            Model::Sustained(model) => {
                let held = Sustained::new(&model, tone, length, rate)?;
                (Source::Sustained(held), ONSET * hz, held.spectrum.release)
            }
            Model::Struck(model) => {
                let strike = Strike::of(&model, tone.frequency, tone.level, rate)?;
                let modes = strike.modes.map(|mode: Mode| StruckMode {
                    step: increment(mode.hz, rate),
                    amplitude: mode.amplitude,
                    keeps: mode.keeps.powf(BLOCK as f32 / hz),
                });
                (Source::Struck { modes }, strike.attack * hz, DAMP * hz)
            }
        };
        let level = tone.level.amplitude();
        life.loudness = source.strength(level);
        Some(Self {
            life,
            source,
            // a tone too short for its attack and release shares itself out between them
            attack: attack.min(length * 0.4),
            release: release.min(length * 0.5),
            seed,
            level,
        })
    }

    /// Adds the block at `start` to `out`; whether the voice has more to come.
    pub(crate) fn render(&mut self, start: u64, arithmetic: Arithmetic, noise: &NoiseLoops, out: &mut Block) -> bool {
        let age = match self.life.reach(start) {
            Stage::Before => return true,
            Stage::Within(age) => age,
            Stage::After => return false,
        };
        let mut gain = [1.0; BLOCK];
        multiply_rise(&mut gain, age, self.attack);
        let release_age = age - (self.life.length() as i64 - self.release as i64);
        multiply_fall(&mut gain, release_age, self.release.floor());
        let faded = self.life.fade.apply(start, &mut gain);
        let ending = (release_age + BLOCK as i64) as f32 / self.release.max(1.0);
        let ringing = match &mut self.source {
            Source::Sustained(held) => {
                let breath = noise.block(held.colour, self.seed.wrapping_add(age as u64));
                held.sing(Moment { age, released: release_age }, self.seed, arithmetic, breath, &gain, out);
                true
            }
            Source::Struck { modes } => {
                let mut ringing = false;
                arithmetic.run(Ring { modes, age, gain: &gain, out, ringing: &mut ringing });
                ringing
            }
        };
        self.life.loudness = self.source.strength(self.level) * (1.0 - s_curve(ending));
        ringing && !faded && self.life.goes_on(start)
    }
}

/// Blocks from one set of strengths to the next while a tone is simply held: its life is slow.
const HELD_BLOCKS: i64 = 16;

impl Sustained {
    fn new(model: &timbre::Sustained, tone: &Tone, length: f32, rate: SampleRate) -> Option<Self> {
        let hz = tone.frequency.hz();
        let highest = tone.slide.map_or(hz, |slide| slide.from.hz().max(hz));
        let spectrum = Spectrum::of(model, tone.frequency, Hertz::new(highest).ok()?, tone.level, length, rate)?;
        let goal = increment(hz, rate);
        let (step, sliding) = match tone.slide {
            Some(Slide { from, length }) => (increment(from.hz(), rate), length.0.div_ceil(BLOCK as u64) as u32),
            None => (goal, 0),
        };
        Some(Self {
            spectrum,
            colour: NoiseLoops::colour_for(spectrum.hiss),
            noise: 0.0,
            phase: 0,
            step,
            goal,
            sliding,
            course: Course { strengths: [0.0; HARMONICS], slopes: [0.0; HARMONICS], left: 0 },
        })
    }

    /// Adds the block that starts at `now`.
    fn sing(&mut self, now: Moment, seed: u64, arithmetic: Arithmetic, breath: &Block, gain: &Block, out: &mut Block) {
        let age = now.age;
        if age <= 0 {
            // so that the first frame's phase is zero; no harmonic has risen yet, nor its noise
            self.phase = self.step.wrapping_mul(age as u64);
        }
        let blocks = BLOCK as u64;
        if self.course.left == 0 {
            self.aim(now, seed, arithmetic);
        }
        // a slide begins with the first whole block
        let bend = match i64::from(self.sliding) {
            0 => 0,
            _ if age < 0 => 0,
            left => ((self.goal.wrapping_sub(self.step) as i64) / (left * BLOCK as i64)) as u64,
        };
        let count = self.spectrum.count;
        let strengths = self.course.strengths.get(..count).unwrap_or_default();
        // once the attack's noise has died away, what is left stays
        let noise = if (age as f32) < self.spectrum.attack + 8.0 * self.spectrum.burst_fall {
            self.spectrum.noise_at(age + BLOCK as i64)
        } else {
            self.noise
        };
        let (phase, step, breath) = (self.phase, self.step, (breath, self.noise, (noise - self.noise) / BLOCK as f32));
        self.noise = noise;
        sing(arithmetic, Sung { phase, step, bend, strengths, slopes: &self.course.slopes, breath }, gain, out);
        self.phase = self.phase.wrapping_add(self.step.wrapping_mul(blocks)).wrapping_add(bend.wrapping_mul(blocks * (blocks - 1) / 2));
        self.step = self.step.wrapping_add(bend.wrapping_mul(blocks));
        if self.sliding > 0 && age >= 0 {
            self.sliding -= 1;
            if self.sliding == 0 {
                self.step = self.goal;
            }
        }
        self.course.left -= 1;
        for (strength, slope) in self.course.strengths.iter_mut().zip(&self.course.slopes).take(count) {
            *strength += slope * BLOCK as f32;
        }
    }

    /// Heads for the next strengths: a block away while the tone speaks or releases, further while it is held.
    fn aim(&mut self, now: Moment, seed: u64, arithmetic: Arithmetic) {
        let block = BLOCK as i64;
        let speaking = (now.age as f32) < self.spectrum.attack;
        let until_release = -now.released / block;
        let blocks = if speaking || until_release < 1 { 1 } else { until_release.min(HELD_BLOCKS) };
        let after = blocks * block;
        let next = self.spectrum.strengths_at(Moment { age: now.age + after, released: now.released + after }, seed, arithmetic);
        let share = 1.0 / after as f32;
        let moves = self.course.slopes.iter_mut().zip(&self.course.strengths).zip(next);
        for ((slope, strength), next) in moves.take(self.spectrum.count) {
            *slope = (next - strength) * share;
        }
        self.course.left = blocks as u32;
    }
}

/// Adds a struck tone, and tells whether any partial still rings.
struct Ring<'a> {
    modes: &'a mut [StruckMode],
    age: i64,
    gain: &'a Block,
    out: &'a mut Block,
    ringing: &'a mut bool,
}

impl Work for Ring<'_> {
    #[inline(always)]
    fn run(self) {
        let mut wave = [0.0; BLOCK];
        for mode in self.modes {
            let from = mode.amplitude;
            let mut to = if self.age + (BLOCK as i64) <= 0 { from } else { from * mode.keeps };
            if to < INAUDIBLE {
                to = 0.0;
            }
            if from > 0.0 {
                add_sine(&mut wave, mode.step.wrapping_mul(self.age as u64), mode.step, from, to);
                *self.ringing |= to > 0.0;
            }
            mode.amplitude = to;
        }
        for ((out, wave), gain) in self.out.iter_mut().zip(&wave).zip(self.gain) {
            *out += wave * gain;
        }
    }
}
