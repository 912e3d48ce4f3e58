//! Sampled tones: on their frame, in tune, as loud as the built-in ones, and gone when they should be.

use super::measure::follow;
use super::*;
use crate::sampled::{Envelope, PARTIALS, Region, SampleBank, SampledSound, SoundIndex, Wave};
use std::sync::Arc;

pub(super) const ENVELOPE: Envelope = Envelope { delay: 0.0, attack: 0.001, hold: 0.0, decay: 0.1, sustain: 1.0, release: 0.1 };
/// Frames, and turns in them, of the loop of the wave: 44100 * 5 / 509 = 433.2 Hz.
const LOOP: (usize, usize) = (509, 5);
const OWN: f64 = 44_100.0 * LOOP.1 as f64 / LOOP.0 as f64;
const STRENGTHS: [f32; 3] = [0.3, 0.2, 0.1];

/// A wave of three harmonics, looped after a tenth of a second.
fn wave() -> Arc<Wave> {
    let turns = |frame: usize| std::f64::consts::TAU * (frame * LOOP.1 % LOOP.0) as f64 / LOOP.0 as f64;
    let harmonic = |frame: usize, k: usize| f64::from(STRENGTHS[k]) * (turns(frame) * (k + 1) as f64).sin();
    let samples: Vec<f32> = (0..4_410 + LOOP.0).map(|frame| (0..3).map(|k| harmonic(frame, k)).sum::<f64>() as f32).collect();
    let mut partials = [0.0; PARTIALS];
    partials[..3].copy_from_slice(&STRENGTHS);
    Arc::new(Wave::new(&samples, Some(4_410..4_410 + LOOP.0), partials))
}

pub(super) fn bank(envelope: Envelope) -> Arc<SampleBank> {
    let region = Region {
        wave: wave(),
        keys: 0..=127,
        velocities: 0..=127,
        own_hz: OWN,
        rate: 44_100.0,
        ratio: 1.0,
        gain: 0.5,
        envelope,
        low_pass: None,
    };
    Arc::new(SampleBank::new(vec![SampledSound::new("three sines".to_owned(), vec![region]).unwrap()]))
}

fn sing(stage: &mut Stage, hz: f64, after: u64, seconds: f64) {
    let start = FrameInstant(stage.now + after);
    let end = start + SampleRate::DEFAULT.span(seconds);
    let bus = Bus::Section(0);
    stage.band.sampled_tone(Tone { timbre: SoundIndex(0), frequency: hertz(hz), start, end, level: Gain::UNITY, bus, slide: None });
}

fn stage(envelope: Envelope) -> Stage {
    let mut stage = Stage::new();
    stage.band.set_samples(Some(&bank(envelope)));
    stage
}

#[test]
fn a_sampled_tone_is_in_tune_wherever_it_is_read() {
    for hz in [110.0, 233.081_880_759, OWN, 440.0, 700.0, 1_200.0] {
        let mut stage = stage(ENVELOPE);
        sing(&mut stage, hz, 17, 3.0);
        stage.run(2.8);
        let partial = follow(&stage.stem[24_000..], f64::from(RATE), hz, 0.2);
        assert!(partial.cents.abs() < 0.01 && partial.wander < 0.1, "{hz} Hz: {} cents, wanders {}", partial.cents, partial.wander);
    }
}

#[test]
fn it_starts_and_ends_on_its_frames() {
    for after in [0, 1, 63, 64, 100] {
        let mut stage = stage(ENVELOPE);
        sing(&mut stage, 300.0, after, 0.5);
        stage.run(0.7);
        let heard = |sample: &f32| sample.abs() > 1e-9;
        let first = stage.stem.iter().position(heard).unwrap();
        let last = stage.stem.iter().rposition(heard).unwrap();
        // its first frame is where the rise is still nothing
        assert!((after as usize..=after as usize + 2).contains(&first), "asked for {after}, heard at {first}");
        assert!((24_000 + after as usize - 40..24_000 + after as usize).contains(&last), "{last}");
        assert!(stage.band.is_silent());
    }
}

#[test]
fn it_is_as_loud_as_a_built_in_timbre() {
    for hz in [116.54, 233.08, 466.16, 932.33] {
        let lufs = |stage: &Stage| super::loudness::lufs(&[&stage.stem[24_000..67_200]], RATE);
        let mut sampled = stage(ENVELOPE);
        sing(&mut sampled, hz, 0, 2.0);
        sampled.run(1.5);
        // a held tone at level 1, by the standard: -0.691 LUFS for a power of one
        let wanted = -0.691 + 20.0 * f64::from(crate::care::TONE_RMS).log10();
        assert!((lufs(&sampled) - wanted).abs() < 0.2, "{hz} Hz: {} LUFS, not {wanted}", lufs(&sampled));
    }
}

#[test]
fn a_sound_that_dies_away_ends_by_itself() {
    let mut stage = stage(Envelope { decay: 1.0, sustain: 0.0, ..ENVELOPE });
    sing(&mut stage, 440.0, 0, 5.0);
    stage.run(0.5);
    let rms = |range: std::ops::Range<usize>| (stage.stem[range.clone()].iter().map(|x| x * x).sum::<f32>() / range.len() as f32).sqrt();
    // 100 dB in a second: 20 dB in a fifth
    let fall = 20.0 * (rms(4_800..5_760) / rms(14_400..15_360)).log10();
    assert!((fall - 20.0).abs() < 0.5, "{fall}");
    stage.run(0.7);
    assert!(stage.band.is_silent());
}

#[test]
fn another_bank_takes_over_without_a_break_and_the_old_one_comes_home() {
    let mut stage = Stage::new();
    let first = bank(ENVELOPE);
    stage.band.set_samples(Some(&first));
    sing(&mut stage, 440.0, 0, 5.0);
    stage.run(0.5);
    stage.band.set_samples(Some(&bank(ENVELOPE)));
    assert!(stage.band.exchanging_samples() && stage.band.worn_out_samples().is_none());
    stage.forget();
    stage.run(0.1);
    let step = stage.stem.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f32::max);
    assert!(step < 0.03, "{step}");
    assert!(stage.stem[1_600..].iter().all(|sample| *sample == 0.0));
    let home = stage.band.worn_out_samples().unwrap();
    assert!(Arc::ptr_eq(&home, &first) && !stage.band.exchanging_samples());
}

#[test]
fn a_tone_of_no_bank_or_no_such_sound_is_silent() {
    let mut stage = Stage::new();
    sing(&mut stage, 440.0, 0, 1.0);
    assert!(stage.band.is_silent());
    stage.band.set_samples(Some(&bank(ENVELOPE)));
    let tone = Tone {
        timbre: SoundIndex(7),
        frequency: hertz(440.0),
        start: FrameInstant(stage.now),
        end: FrameInstant(stage.now + 999),
        level: Gain::UNITY,
        bus: Bus::Drone,
        slide: None,
    };
    stage.band.sampled_tone(tone);
    assert!(stage.band.is_silent());
}

#[test]
fn more_tones_than_voices_take_the_place_of_the_quietest() {
    let mut stage = stage(ENVELOPE);
    for voice in 0..60 {
        sing(&mut stage, 200.0 + f64::from(voice), 0, 2.0);
    }
    stage.run(0.1);
    assert_eq!(stage.band.lost_tones(), 0);
    assert_eq!(stage.band.sounding_tones(), 48);
}
