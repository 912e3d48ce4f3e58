//! Loudness as ITU-R BS.1770-5 defines it: power behind the K weighting, annex 1. EBU R 128's momentary and short-term loudness are
//! its means over 400 ms and 3 s.

use crate::{BLOCK, Block};
use units::SampleRate;

/// What a loudness of 0 LUFS is in weighted power: the standard's offset of -0.691 dB.
#[cfg(test)]
pub(crate) const OFFSET_DECIBELS: f64 = -0.691;

/// The two filters of the K weighting at one sample rate: a high shelf for the head, then a high pass.
///
/// The standard tabulates them at 48 kHz; these are the analogue filters behind its table, from the corner frequencies and qualities
/// that the open-source library libebur128 derives from it, so that every rate has the same response.
#[derive(Clone, Copy, Debug)]
pub(crate) struct KWeight {
    stages: [Biquad; 2],
}

/// A filter of second order; its first feedback coefficient, 1, is left out.
#[derive(Clone, Copy, Debug)]
struct Biquad {
    forward: [f64; 3],
    back: [f64; 2],
}

impl KWeight {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let bend = |hz: f64| (std::f64::consts::PI * hz / f64::from(rate.hz())).tan();
        let shelf = {
            let (k, q) = (bend(1_681.974_450_955_533), 0.707_175_236_955_419_6);
            let high = 10_f64.powf(3.999_843_853_973_347 / 20.0);
            let middle = high.powf(0.499_666_774_154_541_6);
            let scale = 1.0 + k / q + k * k;
            Biquad {
                forward: [high + middle * k / q + k * k, 2.0 * (k * k - high), high - middle * k / q + k * k].map(|a| a / scale),
                back: [2.0 * (k * k - 1.0) / scale, (1.0 - k / q + k * k) / scale],
            }
        };
        let pass = {
            let (k, q) = (bend(38.135_470_876_024_44), 0.500_327_037_323_877_3);
            let scale = 1.0 + k / q + k * k;
            Biquad { forward: [1.0, -2.0, 1.0], back: [2.0 * (k * k - 1.0) / scale, (1.0 - k / q + k * k) / scale] }
        };
        Self { stages: [shelf, pass] }
    }

    /// The factor by which the power of a partial at `hz` counts.
    pub(crate) fn power(&self, hz: f64, rate: SampleRate) -> f64 {
        let cosine = (std::f64::consts::TAU * hz / f64::from(rate.hz())).cos();
        self.stages.iter().map(|stage| stage.power(cosine)).product()
    }
}

impl Biquad {
    /// The squared magnitude of the response at an angle given by its cosine.
    fn power(&self, cosine: f64) -> f64 {
        let magnitude = |[zero, one, two]: [f64; 3]| {
            // of a polynomial with real coefficients on the unit circle: their autocorrelation's cosine series
            let twice_cosine = 2.0 * cosine * cosine - 1.0;
            zero * zero + one * one + two * two + 2.0 * ((zero + two) * one * cosine + zero * two * twice_cosine)
        };
        magnitude(self.forward) / magnitude([1.0, self.back[0], self.back[1]])
    }
}

/// K-weights signals side by side.
#[derive(Clone, Copy, Debug)]
pub(crate) struct KFilter<const N: usize> {
    weight: KWeight,
    state: [[[f64; N]; 2]; 2],
}

/// Filters keep silent below this power, so that their tails do not ring on in numbers no processor likes: -200 dB.
const STILL: f64 = 1e-20;

impl<const N: usize> KFilter<N> {
    pub(crate) fn new(rate: SampleRate) -> Self {
        Self { weight: KWeight::new(rate), state: [[[0.0; N]; 2]; 2] }
    }

    /// Takes one frame in and gives it weighted.
    #[inline]
    fn push(&mut self, frame: [f64; N]) -> [f64; N] {
        let mut signal = frame;
        for (stage, [near, far]) in self.weight.stages.iter().zip(&mut self.state) {
            for ((signal, near), far) in signal.iter_mut().zip(near).zip(far) {
                let input = *signal;
                *signal = stage.forward[0] * input + *near;
                *near = stage.forward[1] * input - stage.back[0] * *signal + *far;
                *far = stage.forward[2] * input - stage.back[1] * *signal;
            }
        }
        signal
    }

    /// The weighted mean power of a block, summed over its signals.
    pub(crate) fn block(&mut self, signals: [&Block; N]) -> f64 {
        let mut sums = [0.0; N];
        for frame in 0..BLOCK {
            let weighted = self.push(signals.map(|signal| f64::from(signal.get(frame).copied().unwrap_or(0.0))));
            sums.iter_mut().zip(weighted).for_each(|(sum, weighted)| *sum += weighted * weighted);
        }
        let power = sums.iter().sum::<f64>() / BLOCK as f64;
        if power < STILL {
            self.state = [[[0.0; N]; 2]; 2];
            return 0.0;
        }
        power
    }
}

/// The weighted power of the loudest stretch of `seconds` in `samples`, or of all of them where they are shorter.
pub(crate) fn loudest(samples: &[f32], seconds: f64, rate: SampleRate) -> f64 {
    let mut filter = KFilter::<1>::new(rate);
    let powers: Vec<f64> = samples
        .iter()
        .map(|sample| {
            let [weighted] = filter.push([f64::from(*sample)]);
            weighted * weighted
        })
        .collect();
    let length = (rate.span(seconds).0 as usize).clamp(1, powers.len().max(1));
    let mut sum: f64 = powers.iter().take(length).sum();
    let mut top = sum;
    for (newer, older) in powers.iter().skip(length).zip(&powers) {
        sum += newer - older;
        top = top.max(sum);
    }
    top / length as f64
}

/// Seconds over which a sound's power is averaged: one for a sound that has just begun, then R 128's momentary and short-term ones.
const WINDOWS: [f64; 3] = [0.1, 0.4, 3.0];
/// Powers are summed as whole numbers, exactly: this is 1.
const ONE: f64 = 4_294_967_296.0;
/// The most power a block counts for.
const MOST: f64 = 1_024.0;

/// Follows the loudness of a signal, block by block.
pub(crate) struct Meter {
    powers: Box<[u64]>,
    at: usize,
    lengths: [usize; WINDOWS.len()],
    sums: [u64; WINDOWS.len()],
}

impl Meter {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let lengths = WINDOWS.map(|seconds| (seconds * f64::from(rate.hz()) / BLOCK as f64).ceil().max(1.0) as usize);
        let longest = lengths.iter().copied().max().unwrap_or(1);
        Self { powers: vec![0; longest].into_boxed_slice(), at: 0, lengths, sums: [0; WINDOWS.len()] }
    }

    /// Takes the weighted power of the next block.
    pub(crate) fn push(&mut self, power: f64) {
        let power = (power.min(MOST) * ONE) as u64;
        let size = self.powers.len();
        for (sum, length) in self.sums.iter_mut().zip(self.lengths) {
            let place = self.at + size - length;
            let oldest = self.powers.get(if place >= size { place - size } else { place }).copied().unwrap_or(0);
            *sum = sum.saturating_sub(oldest) + power;
        }
        if let Some(place) = self.powers.get_mut(self.at) {
            *place = power;
        }
        self.at = if self.at + 1 < size { self.at + 1 } else { 0 };
    }

    /// The largest of the mean powers over the windows.
    pub(crate) fn power(&self) -> f64 {
        let means = self.sums.iter().zip(self.lengths).map(|(sum, length)| *sum as f64 / (ONE * length as f64));
        means.fold(0.0, f64::max)
    }

    /// Whether nothing was heard over the longest window.
    pub(crate) fn is_silent(&self) -> bool {
        self.sums.iter().all(|sum| *sum == 0)
    }
}
