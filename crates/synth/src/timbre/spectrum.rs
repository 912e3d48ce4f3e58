//! The harmonics of one tone: measured strengths between registers and dynamics, made equally loud for every timbre.

use super::model::{Struck, Sustained};
use super::{Register, StruckRegister};
use crate::care::TONE_RMS;
use crate::loudness::KWeight;
use crate::wave::{BAND_LIMIT, HARMONICS, audible_harmonics};
use units::{Gain, Hertz, SampleRate};

/// The most partials a struck tone has.
pub(crate) const MODES: usize = 6;
/// Unweighted rms stays under this many times [`TONE_RMS`], so that a low tone is not driven up without end to be heard.
const LOW_TONE_LIMIT: f32 = 2.0;

/// A sustained tone's make-up.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spectrum {
    /// Strengths once the tone speaks fully, scaled to its level.
    pub(crate) bright: [f32; HARMONICS],
    /// Strengths as it begins and ends.
    pub(crate) dark: [f32; HARMONICS],
    /// How many harmonics sound.
    pub(crate) count: usize,
    /// Seconds of attack.
    pub(crate) attack: f32,
    /// Rms of the noise, scaled to the level.
    pub(crate) noise: f32,
}

impl Spectrum {
    /// The make-up of one tone that never goes above `highest`; nothing if nothing was measured.
    pub(crate) fn of(model: &Sustained, frequency: Hertz, highest: Hertz, level: Gain, rate: SampleRate) -> Option<Self> {
        let (low, high, share) = around(model.registers, |register: &Register| register.hz, frequency)?;
        let loudness = loudness_share(level);
        // Recordings at two strengths differ less than players do, so softer than mezzo forte each halving of the level also takes
        // another quarter of an octave's slope off the upper harmonics (common practice, no source).
        let softer = 0.25 * (-level.amplitude().max(0.01).log2()).clamp(-1.0, 4.0);
        let sounding = audible_harmonics(highest, rate);
        let mut bright = [0.0; HARMONICS];
        for (k, strength) in bright.iter_mut().enumerate().take(sounding) {
            let pick = |from: &[f32; HARMONICS]| from.get(k).copied().unwrap_or(0.0);
            let soft = mix(pick(&low.soft), pick(&high.soft), share);
            let loud = mix(pick(&low.loud), pick(&high.loud), share);
            *strength = mix(soft, loud, loudness) * ((k + 1) as f32).powf(-(model.darker + softer).max(-0.2));
        }
        let scale =
            level.amplitude() * equal_loudness(bright.iter().enumerate().map(|(k, s)| (frequency.hz() as f32 * (k + 1) as f32, *s)), rate);
        bright.iter_mut().for_each(|strength| *strength *= scale);
        let mut dark = bright;
        dark.iter_mut().enumerate().for_each(|(k, strength)| *strength /= (k + 1) as f32);
        // harmonics 80 dB under the strongest are not worth their arithmetic
        let floor = bright.iter().fold(0.0_f32, |top, s| top.max(*s)) * 1e-4;
        let count = bright.iter().rposition(|s| *s > floor).map_or(0, |last| last + 1);
        let noise = mix(low.noise, high.noise, share).clamp(model.breath, 0.025);
        let attack = mix(low.rise, high.rise, share).clamp(model.attack.0, model.attack.1);
        Some(Self { bright, dark, count, attack, noise: noise * TONE_RMS * level.amplitude() })
    }
}

/// One partial of a struck tone.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Mode {
    /// Frequency in hertz.
    pub(crate) hz: f64,
    /// Amplitude as it is struck.
    pub(crate) amplitude: f32,
    /// Factor by which it shrinks in a second.
    pub(crate) keeps: f32,
}

/// The partials of a struck tone; unused places have no amplitude.
pub(crate) fn struck_modes(model: &Struck, frequency: Hertz, level: Gain, rate: SampleRate) -> [Mode; MODES] {
    let mut modes = [Mode::default(); MODES];
    let Some((low, high, share)) = around(model.registers, |register: &StruckRegister| register.hz, frequency) else { return modes };
    let register = if share < 0.5 { low } else { high };
    let fundamental = register.partials.first().map_or(1.0, |partial| partial.amplitude);
    for (number, (mode, partial)) in modes.iter_mut().zip(register.partials).enumerate() {
        let hz = frequency.hz() * f64::from(partial.ratio);
        if hz < BAND_LIMIT * f64::from(rate.hz()) {
            // a child tunes to the lowest partial, so no other may outshine it
            let amplitude = if number == 0 { fundamental } else { partial.amplitude.min(0.7 * fundamental) };
            *mode = Mode { hz, amplitude, keeps: 10_f32.powf(-3.0 / partial.fall) };
        }
    }
    // a struck tone is loudest as it starts and soon over: half as strong again as a held one
    let scale = 1.5 * level.amplitude() * equal_loudness(modes.iter().map(|mode| (mode.hz as f32, mode.amplitude)), rate);
    modes.iter_mut().for_each(|mode| mode.amplitude *= scale);
    modes
}

/// The factor that gives partials, as (frequency in hertz, amplitude), the loudness of [`TONE_RMS`].
pub(crate) fn equal_loudness(partials: impl Iterator<Item = (f32, f32)> + Clone, rate: SampleRate) -> f32 {
    let weight = KWeight::new(rate);
    let power: f32 = partials.clone().map(|(_, amplitude)| 0.5 * amplitude * amplitude).sum();
    let weighted: f32 = partials.map(|(hz, amplitude)| 0.5 * amplitude * amplitude * weight.power(f64::from(hz), rate) as f32).sum();
    if power <= 0.0 || weighted <= 0.0 {
        return 0.0;
    }
    (TONE_RMS / weighted.sqrt()).min(LOW_TONE_LIMIT * TONE_RMS / power.sqrt())
}

/// Where between soft (0) and loud (1) a level lies: 20 dB wide, mezzo forte at 0.7.
fn loudness_share(level: Gain) -> f32 {
    (0.7 + level.decibels().0 as f32 / 20.0).clamp(0.0, 1.0)
}

/// The two measurements around a frequency and how far it lies from the first to the second, in pitch.
fn around<R>(registers: &'static [R], hz: impl Fn(&R) -> f32, frequency: Hertz) -> Option<(&'static R, &'static R, f32)> {
    let target = frequency.hz() as f32;
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

fn mix(from: f32, to: f32, share: f32) -> f32 {
    from + (to - from) * share
}
