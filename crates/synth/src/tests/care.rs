//! The ceiling holds, and what is no number is silence.

use super::measure::true_peak;
use super::*;
use crate::care::{START_LEVEL, TRUE_PEAK_CEILING};

fn channel(stage: &Stage, side: usize) -> Vec<f32> {
    stage.out.iter().map(|frame| frame[side]).collect()
}

/// White noise of full scale, seven seconds' worth of no pattern.
fn white() -> Vec<f32> {
    let mut state = 1_u32;
    let mut next = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / 8_388_608.0 - 1.0
    };
    (0..24_000).map(|_| next()).collect()
}

/// `noise` without what lies above 20 kHz: a windowed sinc of 255 taps.
fn band_limited(noise: &[f32]) -> Vec<f32> {
    let cutoff = 2.0 * 19_500.0 / f64::from(RATE);
    let taps: Vec<f32> = (-127_i32..=127)
        .map(|i| {
            let x = std::f64::consts::PI * f64::from(i);
            let sinc = if i == 0 { cutoff } else { (cutoff * x).sin() / x };
            (sinc * (0.5 + 0.5 * (x / 128.0).cos())) as f32
        })
        .collect();
    noise.windows(taps.len()).map(|window| window.iter().zip(&taps).map(|(a, b)| a * b).sum()).collect()
}

/// The true peak of a tutti with these clips, in dB relative to full scale, and the largest sample.
fn loudest(clips: &[Vec<f32>], master: f32) -> (f64, f32) {
    let mut stage = Stage::with_clips(clips.to_vec());
    stage.band.set_master(Gain::new(master));
    tutti(&mut stage, 1.0);
    stage.run(0.6);
    let peak = (0..2).map(|side| true_peak(&channel(&stage, side))).fold(0.0, f64::max);
    (20.0 * peak.log10(), stage.out.as_flattened().iter().fold(0.0, |top, sample| top.max(sample.abs())))
}

#[test]
fn everything_at_once_stays_under_minus_one_decibel_true_peak() {
    let noise = band_limited(&white());
    let square: Vec<f32> = (0..24_000).map(|i| if (i / 37) % 2 == 0 { 1.0 } else { -1.0 }).collect();
    // a quarter of the rate, an eighth of a turn off: the true peak lies 3 dB over the samples
    let between: Vec<f32> = (0..24_000).map(|i| if i % 4 < 2 { 0.9 } else { -0.9 }).collect();
    for clips in [vec![noise.clone()], vec![square.clone()], vec![between.clone()], vec![noise, square, between], vec![]] {
        for master in [1.0, 4.0] {
            let (decibels, sample) = loudest(&clips, master);
            assert!(decibels <= -1.0, "{decibels} dB with {} clips, master {master}", clips.len());
            assert!(decibels > -3.0, "the limiter lets the level come up to its ceiling: {decibels} dB");
            assert!(sample <= TRUE_PEAK_CEILING);
        }
    }
}

#[test]
fn noise_up_to_half_the_rate_stays_under_the_ceiling() {
    // more than any recording holds: the standard's interpolator is blind to part of it
    let (decibels, sample) = loudest(&[white()], 1.0);
    assert!(decibels <= -1.0 && sample <= TRUE_PEAK_CEILING, "{decibels} dB");
}

#[test]
fn what_is_no_number_becomes_silence_and_is_counted() {
    let mut bad = vec![0.1_f32; 4_800];
    bad[1_000] = f32::NAN;
    bad[1_001] = f32::INFINITY;
    let mut stage = Stage::with_clips(vec![bad]);
    stage.band.say(0, FrameInstant(stage.now), None);
    stage.run(0.2);
    assert_eq!(stage.band.non_finite(), 2);
    assert!(stage.out.as_flattened().iter().all(|sample| sample.is_finite()));
    let latency = stage.band.latency().0 as usize;
    assert_eq!(stage.out[1_000 + latency], [0.0; 2]);
    assert!(stage.out[1_002 + latency][0] > 0.05, "only those samples are lost");
}

#[test]
fn a_new_band_starts_modestly() {
    let mut band = Band::new(SampleRate::DEFAULT);
    let tone = |section: u8| Tone {
        timbre: Timbre::Trumpet,
        frequency: hertz(233.08),
        start: FrameInstant(0),
        end: FrameInstant(96_000),
        level: Gain::UNITY,
        bus: Bus::Section(section),
        slide: None,
    };
    band.tone(tone(0));
    let (mut energy, mut peak) = (0.0_f64, 0.0_f32);
    for block in 0..750 {
        let mut out = [[0.0; 2]; BLOCK];
        band.render(FrameInstant(block * BLOCK as u64), &ClipBank::default(), &mut out, None);
        energy += out.as_flattened().iter().map(|s| f64::from(s * s)).sum::<f64>();
        peak = peak.max(band.peak());
    }
    let level = 10.0 * (energy / (750.0 * BLOCK as f64)).log10();
    assert!((-32.0..-20.0).contains(&level), "one tone at {level} dBFS (power of both channels)");
    assert!(peak < 0.3, "peak {peak}");
    assert!((START_LEVEL - 0.5).abs() < f32::EPSILON);
}
