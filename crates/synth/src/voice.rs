//! One voice singing one tone.

use crate::care::{RELEASE_SECONDS, TONE_RMS};
use crate::curve::{multiply_fall, multiply_rise, s_curve};
use crate::fade::Fade;
use crate::noise::{NoiseLoops, chance, hash};
use crate::timbre::{Mode, Model, Spectrum, struck_modes};
use crate::wave::{add_sine, harmonics, increment};
use crate::{BLOCK, Block, Bus, Tone};
use units::SampleRate;

/// Seconds of release inside the tone.
const RELEASE: f32 = 0.050;
/// Seconds a struck tone takes to be damped at its end.
const DAMP: f32 = 0.040;
/// Seconds in which a tone settles after its attack.
const SETTLE: f32 = 0.25;
/// Seconds between the turning points of the slow fluctuation of level, and how far it goes: a third of a decibel.
const LIFE: (f32, f32) = (0.13, 0.035);
/// How much brighter than its end a tone still is when its release is over.
const RELEASE_DULLING: f32 = 0.6;
/// A struck partial under this amplitude is over: -120 dB.
const INAUDIBLE: f32 = 1e-6;

/// What makes the waveform.
#[derive(Clone, Copy)]
enum Source {
    Sustained { step: u64, spectrum: Spectrum, settle: f32, settling: f32, colour: u8 },
    Struck { modes: [StruckMode; 6] },
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
            Self::Sustained { .. } => level,
            Self::Struck { modes } => modes.iter().map(|mode| mode.amplitude).sum::<f32>() / (2.0 * TONE_RMS),
        }
    }
}

/// One tone on its way.
#[derive(Clone, Copy)]
pub(crate) struct Voice {
    source: Source,
    pub(crate) bus: Bus,
    pub(crate) start: u64,
    end: u64,
    attack: f32,
    release: f32,
    life: f32,
    seed: u64,
    pub(crate) fade: Fade,
    level: f32,
    /// Roughly how loud it is now, for choosing whom to silence.
    pub(crate) loudness: f32,
    fresh: bool,
}

impl Voice {
    /// A voice for `tone`, unless it would make no sound.
    pub(crate) fn new(tone: &Tone, rate: SampleRate) -> Option<Self> {
        let (start, end) = (tone.start.0, tone.end.0);
        let length = end.checked_sub(start).filter(|length| *length > 0)? as f32;
        let hz = rate.hz() as f32;
        let seed = hash(start ^ hash(tone.bus.index() as u64 ^ tone.frequency.hz().to_bits()));
        let (source, attack, release) = match tone.timbre.model() {
            Model::Sustained(model) => {
                let spectrum = Spectrum::of(&model, tone.frequency, tone.level, rate)?;
                let step = increment(tone.frequency.hz(), rate);
                let colour = NoiseLoops::colour_for(3.0 * tone.frequency.hz() as f32);
                (Source::Sustained { step, spectrum, settle: model.settle, settling: SETTLE * hz, colour }, spectrum.attack, RELEASE)
            }
            Model::Struck(model) => {
                let modes = struck_modes(&model, tone.frequency, tone.level, rate).map(|mode: Mode| StruckMode {
                    step: increment(mode.hz, rate),
                    amplitude: mode.amplitude,
                    keeps: mode.keeps.powf(BLOCK as f32 / hz),
                });
                (Source::Struck { modes }, model.attack, DAMP)
            }
        };
        Some(Self {
            source,
            bus: tone.bus,
            start,
            end,
            // a tone too short for its attack and release shares itself out between them
            attack: (attack * hz).min(length * 0.4),
            release: (release * hz).min(length * 0.5),
            life: LIFE.0 * hz,
            seed,
            fade: Fade::default(),
            level: tone.level.amplitude(),
            loudness: source.strength(tone.level.amplitude()),
            fresh: true,
        })
    }

    /// Fades from `at` on, as when a model is cut short.
    pub(crate) fn release_from(&mut self, at: u64, rate: SampleRate) {
        if self.start < at {
            self.fade.from(at, RELEASE_SECONDS * rate.hz() as f32);
        }
    }

    /// Fades from the next block on, or is dropped if it has not begun; whether it stays.
    pub(crate) fn hush(&mut self, next: u64, length: f32) -> bool {
        if self.fresh || self.start >= next {
            return false;
        }
        self.fade.ask(length);
        true
    }

    /// Adds the block at `start` to `out`; whether the voice has more to come.
    pub(crate) fn render(&mut self, start: u64, noise: &NoiseLoops, out: &mut Block) -> bool {
        if self.fresh {
            self.fresh = false;
            self.start = self.start.max(start);
        }
        if start >= self.end {
            return false;
        }
        let age = start.wrapping_sub(self.start) as i64;
        if age <= -(BLOCK as i64) {
            return true;
        }
        let mut gain = [1.0; BLOCK];
        multiply_rise(&mut gain, age, self.attack);
        let release_age = age - (self.end.saturating_sub(self.start) as i64 - self.release as i64);
        multiply_fall(&mut gain, release_age, self.release.floor());
        let faded = self.fade.apply(start, &mut gain);
        let ending = (release_age + BLOCK as i64) as f32 / self.release.max(1.0);
        let ringing = match &mut self.source {
            Source::Sustained { step, spectrum, settle, settling, colour } => {
                let level = |age: i64| {
                    life(self.seed, age, self.life) * (1.0 - *settle * s_curve((age as f32 - self.attack) / (self.attack + *settling)))
                };
                let (from, to) = (level(age), level(age + BLOCK as i64));
                for (frame, gain) in gain.iter_mut().enumerate() {
                    *gain *= from + (to - from) * (frame as f32 / BLOCK as f32);
                }
                let share = brightness(age, 1.5 * self.attack, release_age, self.release);
                sing(spectrum, step.wrapping_mul(age as u64), *step, &gain, share, out);
                noise.add(out, *colour, self.seed.wrapping_add(age as u64), &gain, spectrum.noise);
                true
            }
            Source::Struck { modes } => strike(modes, age, &gain, out),
        };
        self.loudness = self.source.strength(self.level) * (1.0 - s_curve(ending));
        ringing && !faded && start.saturating_add(BLOCK as u64) < self.end
    }
}

/// How far a sustained tone is between dark (0) and bright (1) along a block, if it is not bright throughout: it brightens while it
/// speaks and dulls in its release.
fn brightness(age: i64, speaking: f32, release_age: i64, release: f32) -> Option<Block> {
    let ending = release_age + BLOCK as i64 > 0;
    if age as f32 >= speaking && !ending {
        return None;
    }
    let mut share = [1.0; BLOCK];
    multiply_rise(&mut share, age, speaking);
    if ending {
        let scale = 1.0 / release.max(1.0);
        for (frame, share) in share.iter_mut().enumerate() {
            *share *= 1.0 - RELEASE_DULLING * s_curve((release_age + frame as i64) as f32 * scale);
        }
    }
    Some(share)
}

/// Adds a sustained tone.
fn sing(spectrum: &Spectrum, phase: u64, step: u64, gain: &Block, share: Option<Block>, out: &mut Block) {
    let bright = spectrum.bright.get(..spectrum.count).unwrap_or_default();
    let mut wave = [0.0; BLOCK];
    if let Some(share) = share {
        let dark = spectrum.dark.get(..spectrum.count).unwrap_or_default();
        let mut dull = [0.0; BLOCK];
        harmonics(phase, step, [bright, dark], [&mut wave, &mut dull]);
        for ((wave, dull), share) in wave.iter_mut().zip(&dull).zip(&share) {
            *wave = dull + (*wave - dull) * share;
        }
    } else {
        harmonics(phase, step, [bright], [&mut wave]);
    }
    for ((out, wave), gain) in out.iter_mut().zip(&wave).zip(gain) {
        *out += wave * gain;
    }
}

/// Adds a struck tone; whether any partial still rings.
fn strike(modes: &mut [StruckMode], age: i64, gain: &Block, out: &mut Block) -> bool {
    let mut wave = [0.0; BLOCK];
    let mut ringing = false;
    for mode in modes {
        let from = mode.amplitude;
        let mut to = if age + (BLOCK as i64) <= 0 { from } else { from * mode.keeps };
        if to < INAUDIBLE {
            to = 0.0;
        }
        if from > 0.0 {
            add_sine(&mut wave, mode.step.wrapping_mul(age as u64), mode.step, from, to);
            ringing |= to > 0.0;
        }
        mode.amplitude = to;
    }
    for ((out, wave), gain) in out.iter_mut().zip(&wave).zip(gain) {
        *out += wave * gain;
    }
    ringing
}

/// The slow fluctuation of a tone's level at `age`: smooth from chance to chance.
fn life(seed: u64, age: i64, spacing: f32) -> f32 {
    let at = age.max(0) as f64 / f64::from(spacing.max(1.0));
    let knot = at as u64;
    let point = |knot: u64| chance(seed.wrapping_add(knot));
    let (from, to) = (point(knot), point(knot + 1));
    1.0 + LIFE.1 * (from + (to - from) * s_curve((at - knot as f64) as f32))
}
