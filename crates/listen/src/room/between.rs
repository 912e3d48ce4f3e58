//! A sound read between its frames.

use super::tape::Tape;
use std::f64::consts::PI;

/// Frames to each side that count, when nothing has to be held back.
const REACH: usize = 20;
/// Steps in which a frame is divided; straight between them.
const STEPS: usize = 256;

/// Reads a [`Tape`] at any place: a sinc under a Blackman window. Allocates when built and never after.
#[derive(Debug)]
pub(super) struct Between {
    reach: usize,
    taps: Vec<f32>,
}

impl Between {
    /// Reads in steps of about `step` frames; if that is more than one, what would fold down is held back.
    pub(super) fn new(step: f64) -> Self {
        let wide = step.max(1.0);
        let reach = (REACH as f64 * wide).ceil() as usize;
        let tap = |n: usize| {
            // distance from the place that is read, in frames
            let x = (n % (2 * reach)) as f64 - (reach as f64 - 1.0) - (n / (2 * reach)) as f64 / STEPS as f64;
            let sinc = if x.abs() < 1e-9 { 1.0 } else { (PI * x / wide).sin() / (PI * x / wide) };
            let turn = PI * (x / reach as f64).clamp(-1.0, 1.0);
            (sinc / wide * (0.42 + 0.5 * turn.cos() + 0.08 * (2.0 * turn).cos())) as f32
        };
        Self { reach, taps: (0..(STEPS + 1) * 2 * reach).map(tap).collect() }
    }

    /// How many frames after a place are needed to read it.
    pub(super) const fn reach(&self) -> usize {
        self.reach
    }

    pub(super) fn read(&self, tape: &Tape, place: f64) -> f32 {
        let whole = place.floor();
        let fine = (place - whole) * STEPS as f64;
        let step = (fine as usize).min(STEPS - 1);
        let part = (fine - step as f64) as f32;
        let width = 2 * self.reach;
        let (low, high) = (&self.taps[step * width..][..width], &self.taps[(step + 1) * width..][..width]);
        let first = whole as i64 - (self.reach as i64 - 1);
        low.iter().zip(high).zip(first..).map(|((a, b), n)| (a + part * (b - a)) * tape.at(n)).sum()
    }
}
