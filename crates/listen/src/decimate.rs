//! From any device rate to about 24 kHz, in which every instrument of the band has its first harmonics.

use units::{FrameSpan, SampleRate};

/// The rate sought, in Hz.
const SOUGHT: u32 = 24_000;
/// Filter taps for each frame kept out of `factor`: passes what lies under a third of the slower rate, and stops at half of it.
const TAPS_PER_FACTOR: usize = 32;

/// Keeps one frame in `factor` after a low-pass; a rate below 36 kHz goes through as it is.
///
/// What is no number counts as silence, and what is far beyond full scale is held there: one bad frame spoils nothing that follows.
#[derive(Debug)]
pub struct Decimator {
    rate: f64,
    factor: usize,
    taps: Vec<f32>,
    /// The last frames, written twice so that a window of them is always in one piece.
    held: Vec<f32>,
    at: usize,
    due: usize,
}

impl Decimator {
    /// A decimator for a device at `rate`.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let factor = ((f64::from(rate.hz()) / f64::from(SOUGHT)).round() as usize).max(1);
        let taps = if factor == 1 { vec![1.0] } else { low_pass(TAPS_PER_FACTOR * factor + 1, 0.42 / factor as f64) };
        Self { rate: f64::from(rate.hz()) / factor as f64, factor, held: vec![0.0; 2 * taps.len()], taps, at: 0, due: 0 }
    }

    /// Frames per second after it.
    #[must_use]
    pub const fn rate(&self) -> f64 {
        self.rate
    }

    /// How many frames of the device become one.
    #[must_use]
    pub const fn factor(&self) -> usize {
        self.factor
    }

    /// How late what comes out is, in frames of the device.
    #[must_use]
    pub const fn delay(&self) -> FrameSpan {
        FrameSpan((self.taps.len() / 2) as u64)
    }

    /// Forgets what went in; the next frame is the first.
    pub fn clear(&mut self) {
        self.held.fill(0.0);
        (self.at, self.due) = (0, 0);
    }

    /// Takes one frame of the device; every `factor`-th gives one of the slower rate.
    pub fn push(&mut self, sample: f32) -> Option<f32> {
        let sample = if sample.is_finite() { sample.clamp(-LIMIT, LIMIT) } else { 0.0 };
        let length = self.taps.len();
        self.held[self.at] = sample;
        self.held[self.at + length] = sample;
        self.at = (self.at + 1) % length;
        self.due += 1;
        if self.due < self.factor {
            return None;
        }
        self.due = 0;
        let window = &self.held[self.at..self.at + length];
        Some(window.iter().zip(&self.taps).map(|(x, tap)| x * tap).sum())
    }
}

/// Beyond this no microphone goes; full scale is 1.
const LIMIT: f32 = 8.0;

/// A sinc under a Blackman window, of unit gain; `cutoff` in cycles per frame.
fn low_pass(length: usize, cutoff: f64) -> Vec<f32> {
    use std::f64::consts::PI;
    let centre = (length - 1) as f64 / 2.0;
    let shape = |i: usize| {
        let x = i as f64 - centre;
        let sinc = if x == 0.0 { 2.0 * cutoff } else { (2.0 * PI * cutoff * x).sin() / (PI * x) };
        let turn = 2.0 * PI * (i as f64 + 0.5) / length as f64;
        sinc * (0.42 - 0.5 * turn.cos() + 0.08 * (2.0 * turn).cos())
    };
    let taps: Vec<f64> = (0..length).map(shape).collect();
    let sum: f64 = taps.iter().sum();
    taps.into_iter().map(|tap| (tap / sum) as f32).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn level_of(rate: u32, hz: f64) -> f64 {
        let mut decimator = Decimator::new(SampleRate::new(rate).unwrap());
        let tone = (0..rate).map(|n| (2.0 * std::f64::consts::PI * hz * f64::from(n) / f64::from(rate)).sin() as f32);
        let out: Vec<f64> = tone.filter_map(|x| decimator.push(x)).map(f64::from).skip(200).collect();
        (2.0 * out.iter().map(|x| x * x).sum::<f64>() / out.len() as f64).sqrt()
    }

    #[test]
    fn notes_pass_and_what_would_fold_down_does_not_at_any_rate() {
        for rate in [8_000, 16_000, 22_050, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000] {
            let slow = Decimator::new(SampleRate::new(rate).unwrap()).rate();
            assert!((8_000.0..36_000.0).contains(&slow), "{rate}: {slow}");
            assert!((level_of(rate, 440.0) - 1.0).abs() < 1e-3, "{rate}");
            assert!((level_of(rate, 0.3 * slow) - 1.0).abs() < 1e-2, "{rate}");
            if rate > 36_000 {
                assert!(level_of(rate, 0.52 * slow) < 1e-3 && level_of(rate, 0.9 * slow) < 1e-3, "{rate}");
            }
        }
    }

    #[test]
    fn one_bad_frame_spoils_nothing() {
        for bad in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, f32::MAX] {
            let mut decimator = Decimator::new(SampleRate::DEFAULT);
            decimator.push(bad);
            let out: Vec<f32> = (0..400).filter_map(|_| decimator.push(0.0)).collect();
            assert!(out.iter().all(|x| x.is_finite()), "{bad}");
            assert_eq!(out.last(), Some(&0.0), "{bad}");
        }
    }
}
