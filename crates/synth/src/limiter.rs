//! The hard ceiling: a look-ahead limiter on the true peak of both channels.
//!
//! The peak between samples is estimated with the four-phase interpolator of ITU-R BS.1770-5, annex 2. A gain that would bring it under
//! the ceiling is held over the look-ahead and averaged twice, so that it has arrived, smoothly, when the peak leaves the delay.

use crate::cpu::{Arithmetic, Work};
use crate::{BLOCK, Block};
use units::{FrameSpan, SampleRate};

/// Where the limiter aims: -1.5 dB. Against an eight-fold interpolator of 96 taps the estimate reads up to 0.35 dB low for noise up to
/// 20 kHz at 48 kHz. For what lies above, the interpolator is nearly blind, and [`EDGE`] is added.
const CEILING: f32 = 0.841_395_14;
/// What is added to the estimate, as a share of the third difference over its gain at half the rate: little for what a band
/// sounds like (9 % of 8 kHz at 48 kHz), and enough that white noise up to half the rate stays under -1 dB.
const EDGE: f32 = 0.68 / 8.0;
/// The most the estimate can be, as a factor of the largest sample: the taps' magnitudes, the outer phase's being the larger sum, and
/// what the edge adds.
const REACH: f32 = 2.1 + 8.0 * EDGE;
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

/// A running sum of whole numbers.
struct Sum {
    line: Delay<u64>,
    sum: u64,
}

impl Sum {
    /// Over `length` numbers, so far all `filled_with`.
    fn new(length: usize, filled_with: u64) -> Self {
        Self { line: Delay::new(length, filled_with), sum: filled_with * length.max(1) as u64 }
    }

    fn push(&mut self, value: u64) -> u64 {
        self.sum = self.sum + value - self.line.push(value);
        self.sum
    }
}

/// A channel on its way through the look-ahead.
struct Channel {
    /// The last samples before the present block, and it.
    history: [f32; TAPS - 1 + BLOCK],
    /// Samples not given out yet.
    waiting: Box<[f32]>,
}

impl Channel {
    fn new(latency: usize) -> Self {
        Self { history: [0.0; TAPS - 1 + BLOCK], waiting: vec![0.0; latency + BLOCK].into_boxed_slice() }
    }

    /// Takes a block, and gives the one that is due.
    fn push(&mut self, block: &Block) -> Block {
        for line in [&mut self.history[..], &mut self.waiting] {
            line.copy_within(BLOCK.., 0);
            if let Some(end) = line.last_chunk_mut::<BLOCK>() {
                *end = *block;
            }
        }
        self.waiting.first_chunk().copied().unwrap_or([0.0; BLOCK])
    }

    /// Whether the estimate of no peak can exceed the ceiling.
    fn is_low(&self) -> bool {
        self.history.iter().fold(0.0_f32, |top, sample| if sample.abs() > top { sample.abs() } else { top }) * REACH <= CEILING
    }
}

/// Raises `peaks` to the true-peak estimate of a channel's present block.
struct Measure<'a> {
    history: &'a [f32; TAPS - 1 + BLOCK],
    peaks: &'a mut Block,
}

impl Work for Measure<'_> {
    #[inline(always)]
    fn run(self) {
        let mut here = [0.0_f32; BLOCK];
        if let Some(block) = self.history.last_chunk::<BLOCK>() {
            here = block.map(f32::abs);
        }
        for phase in &PHASES {
            let (mut forward, mut backward) = ([0.0; BLOCK], [0.0; BLOCK]);
            for (window, (tap, mirrored)) in self.history.windows(BLOCK).zip(phase.iter().zip(phase.iter().rev())) {
                for ((forward, backward), sample) in forward.iter_mut().zip(&mut backward).zip(window) {
                    *forward += tap * sample;
                    *backward += mirrored * sample;
                }
            }
            for ((here, forward), backward) in here.iter_mut().zip(&forward).zip(&backward) {
                *here = here.max(forward.abs()).max(backward.abs());
            }
        }
        let around = self.history.windows(4).skip(TAPS - 4);
        for ((peak, here), around) in self.peaks.iter_mut().zip(&here).zip(around) {
            if let [a, b, c, d] = around {
                *peak = peak.max(here + EDGE * ((d - a) + 3.0 * (b - c)).abs());
            }
        }
    }
}

/// The limiter.
pub(crate) struct Limiter {
    latency: usize,
    channels: [Channel; 2],
    /// Wanted gains: those of the frames before the block still within the hold, then the block's.
    wanted: Box<[f32]>,
    /// Room to find running minima in.
    lowest: [Box<[f32]>; 2],
    hold: usize,
    recovered: f64,
    recovery: f64,
    averages: [Sum; 2],
    /// From the sum of sums to a gain.
    scale: f64,
    /// Frames since anything was limited, up to [`Limiter::reach`].
    free: usize,
    /// How long a wanted gain acts.
    reach: usize,
    /// Frames since anything went in.
    quiet: usize,
}

impl Limiter {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let latency = (rate.span(LOOK_AHEAD).0 as usize).max(DETECTION + MARGIN);
        let smoothing = latency - DETECTION;
        let hold = smoothing + MARGIN - 1;
        let first = smoothing / 2 + 1;
        let second = smoothing - first + 1;
        let wanted = vec![1.0; hold - 1 + BLOCK].into_boxed_slice();
        let reach = hold + first + second;
        Self {
            latency,
            channels: [Channel::new(latency), Channel::new(latency)],
            lowest: [wanted.clone(), wanted.clone()],
            wanted,
            hold,
            recovered: 1.0,
            recovery: 1.0 - (-1.0 / (RECOVERY * f64::from(rate.hz()))).exp(),
            averages: [Sum::new(first, ONE as u64), Sum::new(second, ONE as u64 * first as u64)],
            scale: f64::from(ONE) * first as f64 * second as f64,
            free: reach,
            reach,
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
    pub(crate) fn process(&mut self, arithmetic: Arithmetic, left: &Block, right: &Block, out: &mut [[f32; 2]; BLOCK]) {
        let due = [self.channels[0].push(left), self.channels[1].push(right)];
        let low = self.channels.iter().all(Channel::is_low);
        if low && self.free >= self.reach {
            // nothing has been limited for so long that every gain is 1
            for (out, (left, right)) in out.iter_mut().zip(due[0].iter().zip(&due[1])) {
                *out = [*left, *right];
            }
        } else {
            let mut peaks = [0.0; BLOCK];
            if !low {
                for channel in &self.channels {
                    arithmetic.run(Measure { history: &channel.history, peaks: &mut peaks });
                }
            }
            self.want(&peaks);
            let gains = self.gains();
            for ((out, gain), (left, right)) in out.iter_mut().zip(gains).zip(due[0].iter().zip(&due[1])) {
                *out = [*left, *right].map(|sample| (sample * gain).clamp(-CEILING, CEILING));
            }
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
        let [lowest, room] = &mut self.lowest;
        lowest.copy_from_slice(&self.wanted);
        let mut width = 1;
        while width < self.hold {
            let step = width.min(self.hold - width);
            room.copy_from_slice(lowest);
            for ((lowest, here), later) in lowest.iter_mut().zip(room.iter()).zip(room.iter().skip(step)) {
                *lowest = if later < here { *later } else { *here };
            }
            width += step;
        }
    }

    /// The block's gains: the lowest wanted, recovering slowly, averaged twice.
    fn gains(&mut self) -> Block {
        let mut gains = [1.0; BLOCK];
        let mut limited = false;
        let [first, second] = &mut self.averages;
        for (gain, lowest) in gains.iter_mut().zip(&self.lowest[0]) {
            let target = f64::from(*lowest);
            self.recovered = target.min(self.recovered + (1.0 - self.recovered) * self.recovery);
            if self.recovered > 0.999_999 {
                self.recovered = 1.0;
            }
            limited |= self.recovered < 1.0;
            *gain = (second.push(first.push((self.recovered * f64::from(ONE)) as u64)) as f64 / self.scale) as f32;
        }
        self.free = if limited { 0 } else { (self.free + BLOCK).min(self.reach) };
        gains
    }
}
