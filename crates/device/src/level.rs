//! How loud a microphone's sound is, beside its own full scale. Not in the room: without calibration nobody can tell that.

use units::{Decibels, FrameSpan, SampleRate};

/// Seconds of one part of what is looked at, and how many parts count.
const PART: f64 = 0.1;
const PARTS: usize = 4;
/// What digital silence is told as.
pub const NOTHING: Decibels = Decibels(-144.0);
/// A peak from here on is cut off, as a rule: the last 0.1 dB.
pub const CLIPPING: Decibels = Decibels(-0.1);

/// The level of the last 0.4 s, in dB under the microphone's own full scale (dBFS). It says nothing of dB in the room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// The largest sample: 0 at full scale.
    pub peak: Decibels,
    /// The mean: 0 for a sine at full scale, as AES17 and IEC 61606 have it (from memory).
    pub rms: Decibels,
}

impl Level {
    /// Whether the microphone is overdriven.
    #[must_use]
    pub fn clips(&self) -> bool {
        self.peak >= CLIPPING
    }
}

/// Measures [`Level`]s, and how long there have been only zeros. Allocates nothing.
#[derive(Clone, Debug)]
pub struct Meter {
    part: u64,
    /// Frames, sum of squares and largest of each part, the one under way at `now`.
    parts: [(u64, f64, f32); PARTS + 1],
    now: usize,
    zeros: u64,
}

impl Meter {
    /// For sound at `rate`.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        Self { part: rate.span(PART).0.max(1), parts: [(0, 0.0, 0.0); PARTS + 1], now: 0, zeros: 0 }
    }

    /// Takes what came. What is no number counts as full scale.
    pub fn take(&mut self, samples: &[f32]) {
        for sample in samples {
            let sample = if sample.is_finite() { sample.abs() } else { 1.0 };
            self.zeros = if sample == 0.0 { self.zeros + 1 } else { 0 };
            let Some((frames, squares, peak)) = self.parts.get_mut(self.now) else { continue };
            *frames += 1;
            *squares += f64::from(sample) * f64::from(sample);
            *peak = peak.max(sample);
            if *frames >= self.part {
                self.now = (self.now + 1) % self.parts.len();
                if let Some(next) = self.parts.get_mut(self.now) {
                    *next = (0, 0.0, 0.0);
                }
            }
        }
    }

    /// The level; none before anything came.
    #[must_use]
    pub fn level(&self) -> Option<Level> {
        let (frames, squares, peak) =
            self.parts.iter().fold((0, 0.0, 0.0_f32), |all, part| (all.0 + part.0, all.1 + part.1, all.2.max(part.2)));
        let told = |power: f64| Decibels((10.0 * power.max(1e-30).log10()).max(NOTHING.0));
        (frames > 0).then(|| Level {
            peak: told(f64::from(peak) * f64::from(peak)),
            // a sine's mean square is half the square of its peak
            rms: told(2.0 * squares / frames as f64),
        })
    }

    /// For how long nothing but zeros came: a microphone hears at least its own noise.
    #[must_use]
    pub const fn zeros(&self) -> FrameSpan {
        FrameSpan(self.zeros)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f32::consts::TAU;

    const RATE: SampleRate = SampleRate::DEFAULT;

    fn sine(amplitude: f32, frames: usize) -> Vec<f32> {
        (0..frames).map(|n| amplitude * (TAU * 997.0 * n as f32 / 48_000.0).sin()).collect()
    }

    fn level(samples: &[f32]) -> Level {
        let mut meter = Meter::new(RATE);
        samples.chunks(333).for_each(|part| meter.take(part));
        meter.level().unwrap()
    }

    /// AES17 defines full scale by a sine of 997 Hz (from memory); a square wave is 3.01 dB over a sine of its peak.
    #[test]
    fn a_full_sine_is_0_and_half_of_it_6_under() {
        let near = |told: Decibels, wanted: f64| assert!((told.0 - wanted).abs() < 0.02, "{told:?} for {wanted}");
        let full = level(&sine(1.0, 48_000));
        near(full.peak, 0.0);
        near(full.rms, 0.0);
        assert!(full.clips());
        let half = level(&sine(0.5, 48_000));
        near(half.peak, -6.0206);
        near(half.rms, -6.0206);
        assert!(!half.clips());
        near(level(&[0.1, -0.1].repeat(24_000)).rms, -20.0 + 3.0103);
    }

    #[test]
    fn only_the_last_moments_count_and_silence_is_told_as_nothing() {
        let mut meter = Meter::new(RATE);
        assert_eq!(meter.level(), None);
        meter.take(&sine(0.9, 48_000));
        meter.take(&vec![0.0; 26_000]);
        assert_eq!(meter.level(), Some(Level { peak: NOTHING, rms: NOTHING }));
        assert_eq!(meter.zeros(), FrameSpan(26_000));
        meter.take(&[1e-9]);
        assert_eq!(meter.zeros(), FrameSpan::ZERO);
        meter.take(&[f32::NAN, f32::INFINITY]);
        assert!(meter.level().unwrap().clips());
    }
}
