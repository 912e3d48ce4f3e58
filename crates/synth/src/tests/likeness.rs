//! Tones are like the recordings they were measured from: the same figures, read from the sound by code that shares nothing with it.

mod facts;

use super::measure::spectrum;
use super::*;
use facts::FACTS;

/// What was measured of one recorded tone.
struct Fact {
    timbre: Timbre,
    hz: f64,
    /// Seconds from 10 to 90 % of the level it reaches.
    rise: f64,
    /// Centre of the first 64 harmonics by amplitude, in hertz, soft and loud.
    centroids: [f64; 2],
    /// Levels of the first twelve harmonics in dB relative to their whole, not under -60 dB from the strongest, soft and loud.
    levels: [[f64; 12]; 2],
}

/// The levels at which tones are as strong as the soft and the loud measurement.
const LEVELS: [f32; 2] = [0.501_187, 1.995_262];

/// Two seconds of the fact's tone.
fn sound(fact: &Fact, level: f32) -> Vec<f32> {
    let mut stage = Stage::new();
    stage.tone(fact.timbre, fact.hz, 0, 2.0, level, 0);
    stage.run(2.0);
    stage.stem
}

/// Amplitudes of as many harmonics as lie under half the rate, from a steady stretch.
fn harmonics(samples: &[f32], hz: f64) -> Vec<f64> {
    let steady = &samples[24_000..89_536];
    let bins = spectrum(steady);
    let bin = |hz: f64| hz * steady.len() as f64 / f64::from(RATE);
    let count = (0.45 * f64::from(RATE) / hz) as usize;
    let power = |k: usize| bins[bin(k as f64 * hz) as usize - 6..bin(k as f64 * hz) as usize + 8].iter().sum::<f64>();
    (1..=count.min(64)).map(|k| power(k).sqrt()).collect()
}

/// The rise read as `assets-synth/timbre/figures.py` reads it: rms by the millisecond over two periods but at least 10 ms, against the
/// level exceeded in three quarters of the time from 0.2 to 0.7 s.
fn rise(samples: &[f32], hz: f64) -> f64 {
    let size = (0.010_f64).max(2.0 / hz) * f64::from(RATE);
    let size = size.round() as usize;
    let mut padded = vec![0.0_f32; size];
    padded.extend_from_slice(samples);
    let levels: Vec<f64> = (0..720)
        .map(|ms| {
            let window = &padded[ms * 48..ms * 48 + size];
            (window.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / size as f64).sqrt()
        })
        .collect();
    let mut sorted = levels[200..700].to_vec();
    sorted.sort_by(f64::total_cmp);
    let top = sorted[125];
    let passes = |share: f64| {
        let at = levels.iter().position(|level| *level > share * top).unwrap();
        let before = levels[at.saturating_sub(1)];
        at as f64 - (levels[at] - share * top) / (levels[at] - before).max(1e-12)
    };
    (passes(0.9) - passes(0.1)) / 1_000.0
}

#[test]
fn sustained_spectra_are_the_measured_ones() {
    for fact in FACTS {
        for (strength, level) in LEVELS.into_iter().enumerate() {
            let amplitudes = harmonics(&sound(fact, level), fact.hz);
            let twelve: Vec<f64> = amplitudes.iter().copied().chain(std::iter::repeat(0.0)).take(12).collect();
            let floor = twelve.iter().copied().fold(0.0, f64::max) * 1e-3;
            let whole = twelve.iter().map(|a| a.max(floor).powi(2)).sum::<f64>().sqrt();
            let differences =
                twelve.iter().zip(fact.levels[strength]).map(|(a, level)| (20.0 * (a.max(floor) / whole).log10() - level).powi(2));
            let distance = (differences.sum::<f64>() / 12.0).sqrt();
            assert!(distance < 3.0, "{:?} at {} Hz, level {level}: {distance:.2} dB from its recording", fact.timbre, fact.hz);
            let sum: f64 = amplitudes.iter().sum();
            let centroid = amplitudes.iter().enumerate().map(|(k, a)| a * (k + 1) as f64 * fact.hz).sum::<f64>() / sum;
            let ratio = centroid / fact.centroids[strength];
            assert!(
                (0.92..1.08).contains(&ratio),
                "{:?} at {} Hz, level {level}: centroid {ratio:.3} of its recording's",
                fact.timbre,
                fact.hz
            );
        }
    }
}

#[test]
fn attacks_are_as_quick_as_the_measured_ones() {
    let mut wrong = Vec::new();
    for fact in FACTS {
        for level in LEVELS {
            let got = rise(&sound(fact, level), fact.hz);
            if !(0.75..1.25).contains(&(got / fact.rise)) {
                wrong.push(format!("{:?} at {} Hz, level {level}: {got:.4} s for {}", fact.timbre, fact.hz, fact.rise));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn harmonics_rise_in_their_measured_order() {
    // the trumpet's table at 185 Hz: the fundamental and its octave first, the sixth and up last (figures of the table's comment)
    let mut stage = Stage::new();
    stage.tone(Timbre::Trumpet, 184.997, 0, 2.0, 1.0, 0);
    stage.run(1.0);
    let level =
        |k: f64, from: usize| super::measure::follow(&stage.stem[from..from + 1_040], f64::from(RATE), k * 184.997, 0.021).amplitudes[0];
    let share = |k: f64| level(k, 700) / level(k, 24_000);
    assert!(share(1.0) > 1.3 * share(8.0), "{} {}", share(1.0), share(8.0));
}
