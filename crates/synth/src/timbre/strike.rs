//! The partials of a struck tone: measured, made as loud as held tones.

use super::StruckRegister;
use super::model::Struck;
use super::spectrum::{around, dynamics, equal_loudness};
use crate::wave::BAND_LIMIT;
use units::{Gain, Hertz, SampleRate};

/// The most partials a struck tone has.
pub(crate) const MODES: usize = 8;

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

/// A struck tone's make-up.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Strike {
    /// Unused places have no amplitude.
    pub(crate) modes: [Mode; MODES],
    /// Seconds of attack.
    pub(crate) attack: f32,
}

impl Strike {
    /// The make-up of one tone; nothing if nothing was measured.
    pub(crate) fn of(model: &Struck, frequency: Hertz, level: Gain, rate: SampleRate) -> Option<Self> {
        let mut modes = [Mode::default(); MODES];
        let (low, high, share) = around(model.registers, |register: &StruckRegister| register.hz, frequency.hz() as f32)?;
        // partials of two bars are no partials of a third: the nearer one's are kept
        let register = if share < 0.5 { low } else { high };
        let (soft, medium, loud) = dynamics(level);
        let blend = |[a, b, c]: [f32; 3]| soft * a + medium * b + loud * c;
        for (mode, partial) in modes.iter_mut().zip(register.partials) {
            let hz = frequency.hz() * f64::from(partial.ratio);
            if hz < BAND_LIMIT * f64::from(rate.hz()) {
                *mode = Mode { hz, amplitude: blend(partial.amplitudes), keeps: 10_f32.powf(-3.0 / partial.fall) };
            }
        }
        // a struck tone is loudest as it starts and soon over: half as strong again as a held one
        let scale = 1.5 * level.amplitude() * equal_loudness(modes.iter().map(|mode| (mode.hz as f32, mode.amplitude)), rate);
        modes.iter_mut().for_each(|mode| mode.amplitude *= scale);
        Some(Self { modes, attack: blend(register.attacks) })
    }
}
