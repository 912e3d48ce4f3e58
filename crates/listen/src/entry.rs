//! When a note began: the moment its own harmonics rose out of what was there before.

use crate::spectrum::{HARMONICS, hann};
use realfft::num_complex::Complex;

/// From one point of the envelope to the next, in seconds.
const STEP: f64 = 0.0025;
/// What is heard at once: this many periods, and at least [`SHORTEST`] seconds.
const PERIODS: f64 = 3.0;
const SHORTEST: f64 = 0.012;
/// The share of the plateau's amplitude at which a note is said to begin.
const SHARE: f64 = 0.09;
/// The envelope must fall to this many times what lay before the note.
const OVER_FLOOR: f64 = 1.4;
/// Where the plateau is read, in seconds after the pitch was first held.
const PLATEAU: (f64, f64) = (0.04, 0.24);

/// Finds entries; allocates nothing once built.
#[derive(Debug)]
pub(crate) struct Entries {
    rate: f64,
    step: usize,
    points: Vec<Complex<f64>>,
    envelope: Vec<f64>,
    sorted: Vec<f64>,
    shapes: Vec<f32>,
}

impl Entries {
    /// For stretches of at most `length` frames at `rate`.
    pub(crate) fn new(rate: f64, length: usize) -> Self {
        let step = (rate * STEP).round().max(1.0) as usize;
        let count = length / step + 1;
        Self {
            rate,
            step,
            points: vec![Complex::default(); count],
            envelope: vec![0.0; count],
            sorted: Vec::with_capacity(count),
            shapes: (1..=LONGEST).flat_map(hann).collect(),
        }
    }

    /// Where in `sound`, in frames, a note of `hz` began that was held from frame `held` on.
    pub(crate) fn find(&mut self, sound: &[f32], hz: f64, held: f64) -> f64 {
        let count = (sound.len() / self.step).min(self.envelope.len());
        let width = ((self.rate * (PERIODS / hz).max(SHORTEST) / self.step as f64).round() as usize).clamp(3, LONGEST) | 1;
        self.follow(sound, hz, count, width);
        let (rate, step) = (self.rate, self.step as f64);
        let at = |seconds: f64| ((held + seconds * rate) / step).max(0.0) as usize;
        let plateau = self.median(at(PLATEAU.0).min(count.saturating_sub(1))..at(PLATEAU.1).min(count));
        let floor = self.median(0..at(-0.12).min(count));
        let threshold = (SHARE * plateau).max(OVER_FLOOR * floor).min(0.5 * plateau);
        let mut from = at(PLATEAU.0).min(count.saturating_sub(1));
        while from + 1 < count && self.envelope[from] < threshold {
            from += 1;
        }
        let crossed = (0..from).rev().find(|n| self.envelope[*n] < threshold);
        let Some(below) = crossed else { return held };
        let (low, high) = (self.envelope[below], self.envelope[below + 1]);
        let part = if high > low { (threshold - low) / (high - low) } else { 0.5 };
        let late = self.late(below, count, threshold, plateau);
        let wide = width as f64 * STEP - SHORTEST;
        (below as f64 + part + 0.5 - late) * step + (FORE * wide - EARLY) * rate
    }

    /// By how many points a threshold that noise has raised is crossed after the one sought.
    fn late(&self, below: usize, count: usize, threshold: f64, plateau: f64) -> f64 {
        let raised = threshold - SHARE * plateau;
        let half = (below..count).find(|n| self.envelope[*n] > 0.5 * plateau + 0.5 * threshold);
        match half {
            Some(half) if raised > 0.0 => (BENT * raised / (0.5 * plateau - 0.5 * threshold) * (half - below) as f64).min(LATEST / STEP),
            _ => 0.0,
        }
    }

    /// The root of the summed power of the harmonics of `hz`, by points.
    fn follow(&mut self, sound: &[f32], hz: f64, count: usize, width: usize) {
        self.envelope[..count].fill(0.0);
        let start = width * (width - 1) / 2;
        let shape = &self.shapes[start..start + width];
        for h in 1..=HARMONICS {
            let turn = 2.0 * std::f64::consts::PI * hz * h as f64 / self.rate;
            if turn > 0.84 * std::f64::consts::PI {
                break;
            }
            let step = Complex::from_polar(1.0, -turn);
            let mut phase = Complex::new(1.0, 0.0);
            for (point, frames) in self.points[..count].iter_mut().zip(sound.chunks_exact(self.step)) {
                *point = Complex::default();
                for x in frames {
                    *point += phase * f64::from(*x);
                    phase *= step;
                }
                phase /= phase.norm();
            }
            for (n, to) in self.envelope[..count].iter_mut().enumerate() {
                let half = width / 2;
                let mut sum = Complex::<f64>::default();
                for (k, weight) in shape.iter().enumerate() {
                    if let Some(point) = (n + k).checked_sub(half).and_then(|at| self.points[..count].get(at)) {
                        sum += point * f64::from(*weight);
                    }
                }
                *to += sum.norm_sqr();
            }
        }
        for x in &mut self.envelope[..count] {
            *x = x.sqrt();
        }
    }

    fn median(&mut self, range: std::ops::Range<usize>) -> f64 {
        self.sorted.clear();
        self.sorted.extend_from_slice(self.envelope.get(range).unwrap_or_default());
        let middle = self.sorted.len() / 2;
        if self.sorted.is_empty() { 0.0 } else { *self.sorted.select_nth_unstable_by(middle, f64::total_cmp).1 }
    }
}

/// Points of the widest window.
const LONGEST: usize = 41;
/// Taken off a crossing, in seconds: what the window and a room delay it by. Measured on notes of known entry.
const EARLY: f64 = 0.002;
/// A wider window than the shortest sees a tone coming by this share of what it is wider. Measured on the same notes.
const FORE: f64 = 0.10;
/// What a raised threshold is late by, beside what it would be if envelopes rose in a straight line: they begin steeply. Measured so too.
const BENT: f64 = 0.7;
/// The most a raised threshold is taken to be late by, in seconds.
const LATEST: f64 = 0.030;
