//! Measuring: phases, spectra, true peaks.

use realfft::RealFftPlanner;
use std::f64::consts::TAU;

/// What a steady partial near a known frequency does.
pub(super) struct Partial {
    /// Average deviation from the known frequency, in cents, by a least-squares line through its phase.
    pub(super) cents: f64,
    /// The largest deviation from window to window, in cents.
    pub(super) wander: f64,
    /// Amplitude in each window.
    pub(super) amplitudes: Vec<f64>,
    /// Phase of a sine at the first sample, in turns, 0 to 1.
    pub(super) phase: f64,
}

/// Follows the partial at `hz` through windows of `window` seconds, half overlapping.
pub(super) fn follow(samples: &[f32], rate: f64, hz: f64, window: f64) -> Partial {
    let size = (window * rate) as usize;
    let hop = size / 2;
    let mut phases = Vec::new();
    let mut amplitudes = Vec::new();
    for start in (0..=samples.len() - size).step_by(hop) {
        let (mut re, mut im, mut sum) = (0.0, 0.0, 0.0);
        for (i, sample) in samples[start..start + size].iter().enumerate() {
            let weight = 0.5 - 0.5 * (TAU * (i as f64 + 0.5) / size as f64).cos();
            let angle = TAU * (hz * (start + i) as f64 / rate).fract();
            re += f64::from(*sample) * weight * angle.cos();
            im -= f64::from(*sample) * weight * angle.sin();
            sum += weight;
        }
        let mut phase = im.atan2(re) / TAU;
        if let Some(last) = phases.last() {
            let turns: f64 = phase - last;
            phase -= turns.round();
        }
        phases.push(phase);
        amplitudes.push(2.0 * (re * re + im * im).sqrt() / sum);
    }
    let seconds = hop as f64 / rate;
    let cents = |slope: f64| 1200.0 * (1.0 + slope / hz).log2();
    let n = phases.len() as f64;
    let middle = (n - 1.0) / 2.0;
    let mean = phases.iter().sum::<f64>() / n;
    let (mut upper, mut lower) = (0.0, 0.0);
    for (i, phase) in phases.iter().enumerate() {
        upper += (i as f64 - middle) * (phase - mean);
        lower += (i as f64 - middle).powi(2);
    }
    let wander = phases.windows(2).map(|pair| cents((pair[1] - pair[0]) / seconds).abs()).fold(0.0, f64::max);
    // a sine lies a quarter turn behind the cosine the windows are compared with
    Partial { cents: cents(upper / lower / seconds), wander, amplitudes, phase: (phases[0] + 0.25).rem_euclid(1.0) }
}

/// Power in each bin of a Blackman-Harris windowed spectrum, so scaled that the bins sum to the mean square.
pub(super) fn spectrum(samples: &[f32]) -> Vec<f64> {
    let n = samples.len();
    let window = |i: usize| {
        let x = TAU * i as f64 / n as f64;
        0.35875 - 0.48829 * x.cos() + 0.14128 * (2.0 * x).cos() - 0.01168 * (3.0 * x).cos()
    };
    let mut input: Vec<f64> = samples.iter().enumerate().map(|(i, s)| f64::from(*s) * window(i)).collect();
    let energy: f64 = (0..n).map(|i| window(i).powi(2)).sum();
    let plan = RealFftPlanner::<f64>::new().plan_fft_forward(n);
    let mut output = plan.make_output_vec();
    plan.process(&mut input, &mut output).unwrap();
    output.iter().map(|bin| 2.0 * bin.norm_sqr() / (n as f64 * energy)).collect()
}

/// The loudest level above `hz` in any window of 1024 samples, in dB relative to full scale.
pub(super) fn level_above(samples: &[f32], rate: f64, hz: f64) -> f64 {
    let size = 1024;
    let first = (hz * size as f64 / rate).ceil() as usize;
    let windows = (0..=samples.len() - size).step_by(size / 8);
    let top = windows.map(|start| spectrum(&samples[start..start + size])[first..].iter().sum::<f64>()).fold(0.0, f64::max);
    10.0 * top.max(1e-30).log10()
}

/// The largest magnitude of a signal interpolated eight times by a Kaiser-windowed sinc of 48 samples each way.
pub(super) fn true_peak(samples: &[f32]) -> f64 {
    const REACH: isize = 48;
    let bessel = |x: f64| {
        (1..30)
            .fold((1.0, 1.0), |(sum, term), k| {
                let term = term * (x / (2.0 * f64::from(k))).powi(2);
                (sum + term, term)
            })
            .0
    };
    let kernels: Vec<Vec<f64>> = (0..8)
        .map(|phase| {
            let shift = f64::from(phase) / 8.0;
            (-REACH + 1..=REACH)
                .map(|i| {
                    let x = shift - i as f64;
                    let sinc = if x == 0.0 { 1.0 } else { (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x) };
                    let edge = 1.0 - (x / REACH as f64).powi(2);
                    sinc * bessel(9.0 * edge.max(0.0).sqrt()) / bessel(9.0)
                })
                .collect()
        })
        .collect();
    let mut top = 0.0_f64;
    for centre in REACH..samples.len() as isize - REACH {
        let around = &samples[(centre - REACH + 1) as usize..=(centre + REACH) as usize];
        // silence and soft passages cannot hold the peak: the kernel's gain is bounded
        if around.iter().fold(0.0_f32, |m, s| m.max(s.abs())) * 4.0 < top as f32 {
            continue;
        }
        for kernel in &kernels {
            top = top.max(kernel.iter().zip(around).map(|(k, s)| k * f64::from(*s)).sum::<f64>().abs());
        }
    }
    top
}

#[test]
fn the_measures_find_what_is_put_in() {
    let rate = 48_000.0;
    let sine = |hz: f64, turn: f64, amplitude: f64| -> Vec<f32> {
        (0..48_000).map(|i| (amplitude * (TAU * (hz * f64::from(i) / rate + turn)).sin()) as f32).collect()
    };
    let partial = follow(&sine(440.1, 0.3, 0.5), rate, 440.0, 0.1);
    assert!((partial.cents - 1200.0 * (440.1_f64 / 440.0).log2()).abs() < 1e-3, "{}", partial.cents);
    let partial = follow(&sine(440.0, 0.3, 0.5), rate, 440.0, 0.1);
    assert!((partial.phase - 0.3).abs() < 1e-4 && (partial.amplitudes[3] - 0.5).abs() < 1e-3);
    assert!((level_above(&sine(12_000.0, 0.0, 0.1), rate, 10_000.0) - (-23.01)).abs() < 0.2);
    // a sine at a quarter of the rate, an eighth of a turn off: samples at 0.707 of the true peak
    let peak = true_peak(&sine(12_000.0, 0.125, 1.0));
    assert!((peak - 1.0).abs() < 0.002, "{peak}");
}
