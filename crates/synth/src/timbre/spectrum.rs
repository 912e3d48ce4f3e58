//! The harmonics of one tone from its first frame to its last: measured strengths between registers and dynamics, made equally loud for
//! every timbre, each harmonic rising in its measured time.

use super::Register;
use super::model::Sustained;
use crate::care::TONE_RMS;
use crate::cpu::{Arithmetic, Work};
use crate::curve::s_curve;
use crate::loudness::KWeight;
use crate::noise::chance;
use crate::wave::{HARMONICS, audible_harmonics};
use units::{Gain, Hertz, SampleRate};

/// Unweighted rms stays under this many times [`TONE_RMS`], so that a low tone is not driven up without end to be heard.
const LOW_TONE_LIMIT: f32 = 2.0;
/// Harmonics this far under the strongest are not worth their arithmetic: -70 dB.
const FAINT: f32 = 3.2e-4;
/// Seconds in which a tone settles after its attack.
const SETTLE: f32 = 0.25;
/// Seconds between the turning points of the slow fluctuation of level, and how far it goes: a third of a decibel. Looped recordings have
/// lost theirs (common practice, no source).
const LEVEL_LIFE: (f32, f32) = (0.13, 0.035);
/// The same for each harmonic by itself, the first and from the twelfth on.
const HARMONIC_LIFE: (f32, [f32; 2]) = (0.23, [0.03, 0.08]);
/// How much of its brightness a tone loses in its release (common practice, no source).
const RELEASE_DULLING: f32 = 0.6;
/// Seconds a release may last: long enough not to click, over before the next tone speaks.
const RELEASE: (f32, f32) = (0.030, 0.080);
/// The share of an S-curve's length between 10 and 90 %.
const S_SPAN: f32 = 0.506;

/// A sustained tone's make-up; times in frames.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spectrum {
    /// Strengths of the settled tone, scaled to its level.
    held: [f32; HARMONICS],
    /// When each harmonic begins to rise.
    begins: [f32; HARMONICS],
    /// One over the time it takes.
    quickness: [f32; HARMONICS],
    /// How many harmonics sound.
    pub(crate) count: usize,
    /// Until the last harmonic has risen.
    pub(crate) attack: f32,
    /// From the start of its release to silence.
    pub(crate) release: f32,
    /// Rms of the noise, scaled to the level.
    pub(crate) noise: f32,
    /// Rms of the noise of the attack over it, as the tone starts, scaled to the level.
    pub(crate) burst: f32,
    /// Frames in which the noise of the attack falls to 1/e.
    pub(crate) burst_fall: f32,
    /// Centre of the noise in hertz.
    pub(crate) hiss: f32,
    settle: f32,
    second: f32,
}

/// A moment of a tone's life, in frames.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Moment {
    /// Since the tone's start.
    pub(crate) age: i64,
    /// Since the start of its release; negative before.
    pub(crate) released: i64,
}

impl Spectrum {
    /// The make-up of one tone of `length` frames that never goes above `highest`; nothing if nothing was measured.
    pub(crate) fn of(model: &Sustained, frequency: Hertz, highest: Hertz, level: Gain, length: f32, rate: SampleRate) -> Option<Self> {
        let hz = frequency.hz() as f32;
        let (low, high, share) = around(model.registers, |register: &Register| register.hz, hz * model.pitch)?;
        let (soft, medium, loud) = dynamics(level);
        let slope = model.darker + under_soft(level);
        let mut held = [0.0; HARMONICS];
        for (k, strength) in held.iter_mut().enumerate().take(audible_harmonics(highest, rate)) {
            let at = |register: &Register| {
                let pick = |from: &[f32]| from.get(k).copied().unwrap_or(0.0);
                soft * pick(register.soft) + medium * pick(register.medium) + loud * pick(register.loud)
            };
            *strength = mix(at(low), at(high), share) * ((k + 1) as f32).powf(-slope);
        }
        let scale = level.amplitude() * equal_loudness(held.iter().enumerate().map(|(k, s)| (hz * (k + 1) as f32, *s)), rate);
        held.iter_mut().for_each(|strength| *strength *= scale);
        let faint = held.iter().fold(0.0_f32, |top, s| top.max(*s)) * FAINT;
        let count = held.iter().rposition(|s| *s > faint).map_or(0, |last| last + 1);
        let second = rate.hz() as f32;
        let speaks = |k: usize| {
            let at = |register: &Register| register.speaks.get(k).or(register.speaks.last()).copied().unwrap_or_default();
            let ((low_begin, low_end), (high_begin, high_end)) = (at(low), at(high));
            (mix(low_begin, high_begin, share) * second, mix(low_end, high_end, share) * second)
        };
        // the first to speak speaks on the tone's first frame
        let earliest = (0..count).map(|k| speaks(k).0).fold(f32::MAX, f32::min);
        let attack = (0..count).map(|k| speaks(k).1 - earliest).fold(0.0, f32::max);
        // a tone too short for its attack and release shares itself out between them
        let hurry = (0.4 * length / attack.max(1.0)).min(1.0);
        let mut begins = [0.0; HARMONICS];
        let mut quickness = [0.0; HARMONICS];
        for (k, (begin, quickness)) in begins.iter_mut().zip(&mut quickness).enumerate() {
            let (from, to) = speaks(k);
            *begin = (from - earliest).max(0.0) * hurry;
            *quickness = 1.0 / ((to - from) * hurry).max(1.0);
        }
        let rms = held.iter().map(|strength| 0.5 * strength * strength).sum::<f32>().sqrt();
        let burst = |register: &Register| {
            let [a, b, c] = register.burst;
            soft * a + medium * b + loud * c
        };
        let release = (mix(low.release, high.release, share) / S_SPAN).clamp(RELEASE.0, RELEASE.1) * second;
        Some(Self {
            held,
            begins,
            quickness,
            count,
            attack: attack * hurry,
            release: release.min(0.5 * length),
            noise: mix(low.noise, high.noise, share) * rms,
            burst: mix(burst(low), burst(high), share) * rms,
            burst_fall: mix(low.burst_fall, high.burst_fall, share) * hurry * second,
            hiss: mix(low.hiss, high.hiss, share),
            settle: mix(low.settle, high.settle, share),
            second,
        })
    }

    /// Rms of the noise `age` frames after the tone's start: it rises with the first harmonic, and the attack's dies away.
    pub(crate) fn noise_at(&self, age: i64) -> f32 {
        let age = age.max(0) as f32;
        let risen = s_curve((age - self.begins[0]) * self.quickness[0]);
        risen * (self.noise + self.burst * (-age / self.burst_fall).exp())
    }

    /// The strength of every harmonic that sounds at a moment: each rises in its own time, lives a little by itself once the tone has
    /// spoken, and the upper ones die first.
    pub(crate) fn strengths_at(&self, moment: Moment, seed: u64, arithmetic: Arithmetic) -> [f32; HARMONICS] {
        let mut strengths = [0.0; HARMONICS];
        arithmetic.run(Strengths { of: self, moment, seed, into: &mut strengths });
        strengths
    }
}

/// Finds the strengths at a moment: many small steps for each harmonic, quicker with the processor's own rounding.
struct Strengths<'a> {
    of: &'a Spectrum,
    moment: Moment,
    seed: u64,
    into: &'a mut [f32; HARMONICS],
}

impl Work for Strengths<'_> {
    #[inline(always)]
    fn run(self) {
        let Self { of, moment, seed, into } = self;
        let age = moment.age as f32;
        let settled = s_curve((age - of.attack) / (SETTLE * of.second));
        let level =
            (1.0 + of.settle * (1.0 - settled)) * (1.0 + settled * LEVEL_LIFE.1 * wandering(seed, age / (LEVEL_LIFE.0 * of.second)));
        let dull = RELEASE_DULLING * s_curve(moment.released as f32 / of.release.max(1.0));
        let rises = of.held.iter().zip(&of.begins).zip(&of.quickness);
        for (strength, ((held, begin), quickness)) in into.iter_mut().zip(rises).take(of.count) {
            *strength = held * s_curve((age - begin) * quickness) * level;
        }
        // while a tone speaks, none lives by itself; each turns at its own times: a golden section of a knot apart
        if settled > 0.0 {
            let knots = age.max(0.0) / (HARMONIC_LIFE.0 * of.second);
            let [first, twelfth] = HARMONIC_LIFE.1;
            for (k, strength) in into.iter_mut().enumerate().take(of.count) {
                let reach = settled * mix(first, twelfth, (k as f32 / 11.0).min(1.0));
                let own = wandering(seed ^ (k as u64 + 1) << 32, knots + (k as f32 * 0.618_034).fract());
                *strength *= 1.0 + reach * own;
            }
        }
        if dull > 0.0 {
            for (k, strength) in into.iter_mut().enumerate().take(of.count) {
                *strength *= 1.0 - dull * (1.0 - 1.0 / (k + 1) as f32);
            }
        }
    }
}

/// How much soft, medium and loud have in a tone of this level: they lie 6 dB apart, medium at a level of 1.
pub(super) fn dynamics(level: Gain) -> (f32, f32, f32) {
    let over = (level.decibels().0 as f32 / 6.0).clamp(-1.0, 1.0);
    ((-over).max(0.0), 1.0 - over.abs(), over.max(0.0))
}

/// The slope that takes a tone under the softest measured one further down: each halving of its level takes another quarter of an
/// octave's slope off its upper harmonics (common practice, no source).
fn under_soft(level: Gain) -> f32 {
    0.25 * (-1.0 - level.amplitude().max(0.01).log2()).clamp(0.0, 4.0)
}

/// From -1 to 1, smooth from chance to chance at each whole `at`.
#[inline(always)]
fn wandering(seed: u64, at: f32) -> f32 {
    let at = at.max(0.0);
    let knot = at as u64;
    let (from, to) = (chance(seed.wrapping_add(knot)), chance(seed.wrapping_add(knot + 1)));
    mix(from, to, s_curve(at - knot as f32))
}

/// The factor that gives partials, as (frequency in hertz, amplitude), the loudness of [`TONE_RMS`].
pub(crate) fn equal_loudness(partials: impl Iterator<Item = (f32, f32)> + Clone, rate: SampleRate) -> f32 {
    let weight = KWeight::new(rate);
    let partials = partials.filter(|(_, amplitude)| *amplitude > 0.0);
    let power: f32 = partials.clone().map(|(_, amplitude)| 0.5 * amplitude * amplitude).sum();
    let weighted: f32 = partials.map(|(hz, amplitude)| 0.5 * amplitude * amplitude * weight.power(f64::from(hz), rate) as f32).sum();
    if power <= 0.0 || weighted <= 0.0 {
        return 0.0;
    }
    (TONE_RMS / weighted.sqrt()).min(LOW_TONE_LIMIT * TONE_RMS / power.sqrt())
}

/// The two measurements around a frequency and how far it lies from the first to the second, in pitch.
pub(super) fn around<R>(registers: &'static [R], hz: impl Fn(&R) -> f32, target: f32) -> Option<(&'static R, &'static R, f32)> {
    let mut low = registers.first()?;
    let mut high = low;
    for register in registers {
        if hz(register) <= target {
            low = register;
        }
        high = register;
        if hz(register) >= target {
            break;
        }
    }
    let width = (hz(high) / hz(low)).log2();
    let share = if width > 0.0 { ((target / hz(low)).log2() / width).clamp(0.0, 1.0) } else { 0.0 };
    Some((low, high, share))
}

#[inline(always)]
fn mix(from: f32, to: f32, share: f32) -> f32 {
    from + (to - from) * share
}
