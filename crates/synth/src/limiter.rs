//! The hard ceiling: a look-ahead limiter on the true peak of both channels.
//!
//! The peak between samples is estimated with the four-phase interpolator of ITU-R BS.1770-5, annex 2. A gain that would bring it under
//! the ceiling is held over the look-ahead and averaged twice, so that it has arrived, smoothly, when the peak leaves the delay.

use crate::{BLOCK, Block};
use units::{FrameSpan, SampleRate};

/// Where the limiter aims: -1.5 dB. Against an eight-fold interpolator of 96 taps the estimate reads up to 0.35 dB low for noise up to
/// 20 kHz at 48 kHz. For what lies above, the interpolator is nearly blind, and [`EDGE`] is added.
const CEILING: f32 = 0.841_395_14;
/// What is added to the estimate, as a share of the third difference over its gain at half the rate: next to nothing for what a band
/// sounds like (5 % of 8 kHz at 48 kHz), and enough that white noise up to half the rate stays under -1 dB.
const EDGE: f32 = 0.42 / 8.0;
/// Seconds of look-ahead.
const LOOK_AHEAD: f64 = 0.0015;
/// Seconds in which the gain recovers by about two thirds.
const RECOVERY: f64 = 0.120;
/// Taps of each phase of the interpolator.
const TAPS: usize = 12;
/// ITU-R BS.1770-5 annex 2: the first two phases; the other two are these backwards.
const PHASES: [[f32; TAPS]; 2] = [
    [
        0.001_708_984_4,
        0.010_986_328,
        -0.019_653_32,
        0.033_203_125,
        -0.059_448_242,
        0.137_329_1,
        0.972_167_97,
        -0.102_294_92,
        0.047_607_422,
        -0.026_611_328,
        0.014_892_578,
        -0.008_300_781,
    ],
    [
        -0.029_174_805,
        0.029_296_875,
        -0.051_757_813,
        0.089_111_33,
        -0.166_503_9,
        0.465_087_9,
        0.779_785_16,
        -0.200_317_38,
        0.101_562_5,
        -0.058_227_54,
        0.033_081_055,
        -0.018_920_898,
    ],
];
/// Frames the lowest gain stays beyond the averaging, so that it covers the interpolator's own reach around a peak.
const MARGIN: usize = 16;
/// Frames from a peak to the middle of the margin once the interpolator has seen it.
const DETECTION: usize = 14;
/// Gains are averaged as whole numbers, exactly: this is 1.
const ONE: f32 = 16_777_216.0;

/// A line that gives back what it was given a fixed number of pushes ago.
struct Delay<T> {
    items: Box<[T]>,
    at: usize,
}

impl<T: Copy> Delay<T> {
    fn new(length: usize, filled_with: T) -> Self {
        Self { items: vec![filled_with; length.max(1)].into_boxed_slice(), at: 0 }
    }

    fn push(&mut self, item: T) -> T {
        let oldest = self.items.get_mut(self.at).map_or(item, |place| std::mem::replace(place, item));
        self.at = if self.at + 1 < self.items.len() { self.at + 1 } else { 0 };
        oldest
    }
}

/// A running average of whole numbers.
struct Average {
    line: Delay<u32>,
    sum: u64,
}

impl Average {
    fn new(length: usize) -> Self {
        let one = ONE as u32;
        Self { line: Delay::new(length, one), sum: u64::from(one) * length.max(1) as u64 }
    }

    fn push(&mut self, value: u32) -> u32 {
        self.sum = self.sum + u64::from(value) - u64::from(self.line.push(value));
        (self.sum / self.line.items.len() as u64) as u32
    }
}

/// The last samples of a channel, before the present block.
#[derive(Clone, Copy)]
struct History([f32; TAPS - 1 + BLOCK]);

impl History {
    /// Takes a new block and raises `peaks` to its true-peak estimate.
    fn measure(&mut self, block: &Block, peaks: &mut Block) {
        self.0.copy_within(BLOCK.., 0);
        if let Some(end) = self.0.last_chunk_mut::<BLOCK>() {
            *end = *block;
        }
        let mut here = block.map(f32::abs);
        for phase in &PHASES {
            self.interpolate(phase.iter(), &mut here);
            self.interpolate(phase.iter().rev(), &mut here);
        }
        let around = self.0.windows(4).skip(TAPS - 4);
        for ((peak, here), around) in peaks.iter_mut().zip(&here).zip(around) {
            if let [a, b, c, d] = around {
                *peak = peak.max(here + EDGE * ((d - a) + 3.0 * (b - c)).abs());
            }
        }
    }

    fn interpolate<'a>(&self, taps: impl Iterator<Item = &'a f32>, peaks: &mut Block) {
        let mut between = [0.0; BLOCK];
        for (window, tap) in self.0.windows(BLOCK).zip(taps) {
            between.iter_mut().zip(window).for_each(|(sum, sample)| *sum += tap * sample);
        }
        peaks.iter_mut().zip(&between).for_each(|(peak, sample)| *peak = peak.max(sample.abs()));
    }
}

/// The limiter.
pub(crate) struct Limiter {
    latency: usize,
    left: Delay<f32>,
    right: Delay<f32>,
    left_history: History,
    right_history: History,
    /// Wanted gains: those of the frames before the block still within the hold, then the block's.
    wanted: Box<[f32]>,
    /// Room to find running minima in.
    lowest: Box<[f32]>,
    hold: usize,
    recovered: f64,
    recovery: f64,
    first: Average,
    second: Average,
    /// Frames since anything went in.
    quiet: usize,
}

impl Limiter {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let latency = (rate.span(LOOK_AHEAD).0 as usize).max(DETECTION + MARGIN);
        let smoothing = latency - DETECTION;
        let hold = smoothing + MARGIN - 1;
        let first = smoothing / 2 + 1;
        let wanted = vec![1.0; hold - 1 + BLOCK].into_boxed_slice();
        Self {
            latency,
            left: Delay::new(latency, 0.0),
            right: Delay::new(latency, 0.0),
            left_history: History([0.0; TAPS - 1 + BLOCK]),
            right_history: History([0.0; TAPS - 1 + BLOCK]),
            lowest: wanted.clone(),
            wanted,
            hold,
            recovered: 1.0,
            recovery: 1.0 - (-1.0 / (RECOVERY * f64::from(rate.hz()))).exp(),
            first: Average::new(first),
            second: Average::new(smoothing - first + 1),
            quiet: latency,
        }
    }

    pub(crate) fn latency(&self) -> FrameSpan {
        FrameSpan(self.latency as u64)
    }

    /// Whether nothing is left in the delay.
    pub(crate) fn is_silent(&self) -> bool {
        self.quiet >= self.latency
    }

    /// Limits a block of finite samples; what comes out went in [`Limiter::latency`] frames before.
    pub(crate) fn process(&mut self, left: &Block, right: &Block, out: &mut [[f32; 2]; BLOCK]) {
        let mut peaks = [0.0; BLOCK];
        self.left_history.measure(left, &mut peaks);
        self.right_history.measure(right, &mut peaks);
        self.want(&peaks);
        let lowest = self.lowest.iter();
        for ((out, (left, right)), lowest) in out.iter_mut().zip(left.iter().zip(right)).zip(lowest) {
            let target = f64::from(*lowest);
            self.recovered = target.min(self.recovered + (1.0 - self.recovered) * self.recovery);
            if self.recovered > 0.999_999 {
                self.recovered = 1.0;
            }
            let gain = self.second.push(self.first.push((self.recovered * f64::from(ONE)) as u32)) as f32 / ONE;
            let channels = [self.left.push(*left), self.right.push(*right)];
            *out = channels.map(|sample| (sample * gain).clamp(-CEILING, CEILING));
        }
        let used = left.iter().zip(right).rposition(|(left, right)| *left != 0.0 || *right != 0.0);
        self.quiet = match used {
            Some(last) => BLOCK - 1 - last,
            None => self.quiet.saturating_add(BLOCK).min(self.latency),
        };
    }

    /// Turns peaks into wanted gains, and leaves in the first places of `lowest` the lowest wanted within the hold of each frame.
    fn want(&mut self, peaks: &Block) {
        self.wanted.copy_within(BLOCK.., 0);
        if let Some(end) = self.wanted.last_chunk_mut::<BLOCK>() {
            for (wanted, peak) in end.iter_mut().zip(peaks) {
                *wanted = if *peak > CEILING { CEILING / peak } else { 1.0 };
            }
        }
        // minima over 1, 2, 4 ... frames, then two overlapping ones for the exact width
        self.lowest.copy_from_slice(&self.wanted);
        let mut width = 1;
        while width < self.hold {
            let step = width.min(self.hold - width);
            let ahead = self.lowest.len() - step;
            for place in 0..ahead {
                let later = self.lowest.get(place + step).copied().unwrap_or(1.0);
                if let Some(lowest) = self.lowest.get_mut(place) {
                    *lowest = lowest.min(later);
                }
            }
            width += step;
        }
    }
}
