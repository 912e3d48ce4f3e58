//! The power spectrum of the last instants, and what it says of one pitch.

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::fmt;
use std::sync::Arc;

/// Harmonics that are looked at.
pub(crate) const HARMONICS: usize = 8;

/// The mean power spectrum of the last few windows; allocates nothing once built.
pub(crate) struct Spectrum {
    window: Vec<f32>,
    plan: Arc<dyn RealToComplex<f32>>,
    frame: Vec<f32>,
    bins: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    kept: Vec<Vec<f32>>,
    next: usize,
    mean: Vec<f32>,
    bin_hz: f64,
}

impl fmt::Debug for Spectrum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Spectrum").field("window", &self.window.len()).field("size", &self.frame.len()).finish_non_exhaustive()
    }
}

/// A Hann window of `length`.
pub(crate) fn hann(length: usize) -> Vec<f32> {
    let turn = |i: usize| 2.0 * std::f64::consts::PI * (i as f64 + 0.5) / length as f64;
    (0..length).map(|i| (0.5 - 0.5 * turn(i).cos()) as f32).collect()
}

impl Spectrum {
    /// Windows of `length` frames at `rate`, `average` of them together.
    pub(crate) fn new(rate: f64, length: usize, average: usize) -> Self {
        let size = (2 * length).next_power_of_two();
        let plan = RealFftPlanner::new().plan_fft_forward(size);
        let window = hann(length);
        // a sine of amplitude 1 has power 1 in its bin
        let unit = 2.0 / window.iter().sum::<f32>();
        Self {
            window: window.into_iter().map(|w| w * unit).collect(),
            frame: plan.make_input_vec(),
            bins: plan.make_output_vec(),
            scratch: plan.make_scratch_vec(),
            plan,
            kept: vec![vec![0.0; size / 2 + 1]; average],
            next: 0,
            mean: vec![0.0; size / 2 + 1],
            bin_hz: rate / size as f64,
        }
    }

    /// Frames of one window.
    pub(crate) fn length(&self) -> usize {
        self.window.len()
    }

    /// Takes the next window's sound, which has [`Self::length`] frames.
    pub(crate) fn take(&mut self, sound: &[f32]) {
        self.frame.fill(0.0);
        for ((to, x), w) in self.frame.iter_mut().zip(sound).zip(&self.window) {
            *to = x * w;
        }
        if self.plan.process_with_scratch(&mut self.frame, &mut self.bins, &mut self.scratch).is_err() {
            unreachable!("the buffers are the plan's own");
        }
        for (power, bin) in self.kept[self.next].iter_mut().zip(&self.bins) {
            *power = bin.norm_sqr();
        }
        self.next = (self.next + 1) % self.kept.len();
        let share = 1.0 / self.kept.len() as f32;
        self.mean.fill(0.0);
        for kept in &self.kept {
            for (mean, power) in self.mean.iter_mut().zip(kept) {
                *mean += share * power;
            }
        }
    }

    /// The mean power by bin.
    pub(crate) fn power(&self) -> &[f32] {
        &self.mean
    }

    /// Hz from bin to bin.
    pub(crate) const fn bin_hz(&self) -> f64 {
        self.bin_hz
    }

    /// The size of the transform.
    pub(crate) fn size(&self) -> usize {
        self.frame.len()
    }

    /// The window's own power spectrum, as the mean would hold it.
    pub(crate) fn of_window(&self) -> Vec<f32> {
        let mut frame = self.plan.make_input_vec();
        frame[..self.window.len()].copy_from_slice(&self.window);
        let mut bins = self.plan.make_output_vec();
        if self.plan.process(&mut frame, &mut bins).is_err() {
            unreachable!("the buffers are the plan's own");
        }
        bins.iter().map(|bin| bin.norm_sqr()).collect()
    }
}

/// What a spectrum holds at the harmonics of one pitch.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Comb {
    /// The pitch that fits the harmonics best, in Hz.
    pub(crate) hz: f64,
    /// The power at each harmonic; 0 beyond the spectrum.
    pub(crate) powers: [f32; HARMONICS],
}

/// How far from its place a harmonic is looked for, in cents.
const REACH: f64 = 40.0;
/// A harmonic further than this from the others is another's.
const STRAY: f64 = 35.0;

/// The least weight of a harmonic beside the heaviest.
const FAINTEST: f64 = 0.005;

/// Reads the harmonics of a pitch near `hz`: each one's frequency from the parabola through the logarithms of its three highest bins,
/// weighed by its amplitude and number, strays left out.
pub(crate) fn comb(power: &[f32], bin_hz: f64, hz: f64) -> Comb {
    let mut powers = [0.0; HARMONICS];
    let mut readings = [(0.0_f64, 0.0_f64); HARMONICS];
    let mut count = 0;
    for (at, to) in powers.iter_mut().enumerate() {
        let h = (at + 1) as f64;
        let centre = hz * h / bin_hz;
        let reach = (centre * ((REACH / 1200.0).exp2() - 1.0)).clamp(1.0, 0.45 * hz / bin_hz);
        let (low, high) = ((centre - reach).round().max(1.0) as usize, (centre + reach).round() as usize);
        if high + 1 >= power.len() {
            break;
        }
        let Some(top) = (low..=high).max_by(|a, b| power[*a].total_cmp(&power[*b])) else { break };
        *to = power[top];
        let [left, middle, right] = [power[top - 1], power[top], power[top + 1]].map(|p| f64::from(p.max(1e-30)).ln());
        if middle < left || middle < right {
            continue;
        }
        let bend = left - 2.0 * middle + right;
        let shift = if bend < 0.0 { (0.5 * (left - right) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        let cents = 1200.0 * ((top as f64 + shift) * bin_hz / (h * hz)).log2();
        readings[count] = (cents, f64::from(power[top]).sqrt() * h);
        count += 1;
    }
    // what lies this far under the loudest is the loudest one's own skirt
    let faintest = readings[..count].iter().map(|r| r.1).fold(0.0, f64::max) * FAINTEST;
    let mut kept = 0;
    for at in 0..count {
        if readings[at].1 > faintest {
            readings.swap(kept, at);
            kept += 1;
        }
    }
    let readings = &mut readings[..kept];
    readings.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let half = readings.iter().map(|r| r.1).sum::<f64>() / 2.0;
    let mut below = 0.0;
    let median = readings.iter().find(|r| {
        below += r.1;
        below >= half
    });
    let median = median.map_or(0.0, |r| r.0);
    let near = readings.iter().filter(|r| (r.0 - median).abs() <= STRAY);
    let (sum, weight) = near.fold((0.0, 0.0), |(sum, weight), (cents, w)| (sum + cents * w, weight + w));
    let cents = if weight > 0.0 { sum / weight } else { 0.0 };
    Comb { hz: hz * (cents / 1200.0).exp2(), powers }
}

/// By how many dB the harmonics that are no multiples of 2 (and of 3, whichever is less) stand above the gaps beside them: the two that
/// stand highest of the first eight. A pitch taken an octave or a twelfth too low has nothing but noise there, or what a sample or a
/// player's breath leaves of a subharmonic: what lies more than [`FAINT`] under the strongest harmonic counts by that much less.
pub(crate) fn own_harmonics(power: &[f32], bin_hz: f64, hz: f64) -> f64 {
    let step = hz / bin_hz;
    let top = |centre: f64| {
        let reach = (0.06 * step).max(1.0);
        let (low, high) = ((centre - reach).round().max(0.0) as usize, (centre + reach).round() as usize);
        power.get(low..=high).map(|bins| bins.iter().copied().fold(1e-20, f32::max))
    };
    let decibels = |ratio: f32| 10.0 * f64::from(ratio).log10();
    let (mut heights, mut peaks) = ([0.0_f64; HARMONICS], [1e-20_f32; HARMONICS]);
    for (at, (height, peak)) in heights.iter_mut().zip(&mut peaks).enumerate() {
        let h = (at + 1) as f64;
        let (Some(here), Some(left), Some(right)) = (top(h * step), top((h - 0.5) * step), top((h + 0.5) * step)) else { break };
        *peak = here;
        *height = decibels(here / (0.5 * (left + right)));
    }
    let strongest = peaks.iter().copied().fold(1e-20, f32::max);
    [2, 3].into_iter().fold(f64::MAX, |least, divisor| {
        let (mut first, mut second, mut own) = (0.0_f64, 0.0_f64, 1e-20_f32);
        let mine = heights.iter().zip(&peaks).enumerate().filter(|(at, _)| !(at + 1).is_multiple_of(divisor));
        for (_, (height, peak)) in mine {
            own = own.max(*peak);
            if *height > first {
                (first, second) = (*height, first);
            } else if *height > second {
                second = *height;
            }
        }
        let faint = (-decibels(own / strongest) - FAINT).max(0.0);
        least.min(0.5 * (first + second) - faint)
    })
}

/// How far under the strongest harmonic a pitch's own harmonics may lie, in dB.
const FAINT: f64 = 18.0;
