//! A known sound that measures the way from the loudspeaker to the microphone.

use crate::care::{HUSH_SECONDS, PROBE_PEAK};
use crate::curve::{multiply_fall, multiply_rise};
use crate::fade::Fade;
use crate::{BLOCK, Block};
use std::sync::Arc;
use units::{FrameSpan, SampleRate};

/// Seconds in which any probe swells and ends.
const RISE: f32 = 0.15;
const FALL: f32 = 0.02;

/// A sound to measure with, in one channel, at the rate of the [`crate::Band`] that plays it. Its peak is [`PROBE_PEAK`], whatever it is
/// made of, and it swells before it is at its level.
#[derive(Clone, Debug, PartialEq)]
pub struct Probe {
    samples: Arc<[f32]>,
    kind: &'static str,
}

impl Probe {
    /// A sound of one's own, known as `kind`; what is no number in it is silence.
    #[must_use]
    pub fn new(kind: &'static str, samples: &[f32]) -> Self {
        let peak = samples.iter().filter(|sample| sample.is_finite()).fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
        let gain = if peak > 0.0 { f64::from(PROBE_PEAK) / f64::from(peak) } else { 0.0 };
        let fit = |sample: &f32| if sample.is_finite() { (f64::from(*sample) * gain) as f32 } else { 0.0 };
        Self { samples: samples.iter().map(fit).collect(), kind }
    }

    /// What journals know it as.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        self.kind
    }

    /// Its samples before it swells, full scale at 1.
    #[must_use]
    pub fn samples(&self) -> &[f32] {
        &self.samples
    }

    /// How long it lasts.
    #[must_use]
    pub fn length(&self) -> FrameSpan {
        FrameSpan(self.samples.len() as u64)
    }
}

/// Plays one probe at a time.
pub(crate) struct ProbePlayer {
    probe: Option<Probe>,
    start: u64,
    fade: Fade,
    over: bool,
    rate: SampleRate,
}

impl ProbePlayer {
    pub(crate) fn new(rate: SampleRate) -> Self {
        Self { probe: None, start: 0, fade: Fade::default(), over: false, rate }
    }

    /// Begins `probe` on frame `start`, or gives it back while there is another.
    pub(crate) fn start(&mut self, probe: Probe, start: u64) -> Result<(), Probe> {
        if self.probe.is_some() {
            return Err(probe);
        }
        (self.probe, self.start, self.fade, self.over) = (Some(probe), start, Fade::default(), false);
        Ok(())
    }

    pub(crate) fn hush(&mut self, next: u64) {
        if self.start >= next {
            self.over = true;
        }
        self.fade.ask(HUSH_SECONDS * self.rate.hz() as f32);
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.probe.is_none() || self.over
    }

    /// What is over, to be freed where freeing is allowed.
    pub(crate) fn worn_out(&mut self) -> Option<Probe> {
        if self.over { self.probe.take() } else { None }
    }

    /// Adds the block at `start`.
    pub(crate) fn render(&mut self, start: u64, out: &mut Block) {
        let Some(probe) = self.probe.as_ref().filter(|_| !self.over) else { return };
        let hz = self.rate.hz() as f32;
        let age = start.wrapping_sub(self.start) as i64;
        let mut gain = [1.0; BLOCK];
        multiply_rise(&mut gain, age, (RISE * hz).floor());
        let fall = (FALL * hz).floor();
        multiply_fall(&mut gain, age - probe.samples.len() as i64 + fall as i64, fall);
        let faded = self.fade.apply(start, &mut gain);
        let wait = (-age).clamp(0, BLOCK as i64) as usize;
        let here = probe.samples.get(age.max(0) as usize..).unwrap_or_default();
        for ((out, gain), sample) in out.iter_mut().zip(&gain).skip(wait).zip(here) {
            *out += sample * gain;
        }
        self.over = faded || age + BLOCK as i64 >= probe.samples.len() as i64;
    }
}
