//! No gain steps: with a constant in place of a sound, the output is the gain itself.

use super::measure::level_above;
use super::*;
use crate::care::{DECLARED_STEP, LIMITER_STEP};

/// A stage that plays a constant 0.5 in the middle: both channels carry 0.3536 times the gain.
fn constant() -> Stage {
    let mut stage = Stage::with_clips(vec![vec![0.5; 480_000]]);
    stage.watched = Bus::Voice;
    stage.band.say(0, FrameInstant(stage.now), None);
    stage.run(0.1);
    stage
}

/// The largest step of the watched stem relative to the constant, after `then` and half a second.
fn step(mut stage: Stage, then: impl FnOnce(&mut Stage)) -> f32 {
    stage.forget();
    then(&mut stage);
    stage.run(0.5);
    let largest = stage.stem.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f32::max) / 0.5;
    assert!(largest > 0.0, "something moves");
    largest
}

#[test]
fn no_gain_moves_faster_than_declared() {
    let bound = DECLARED_STEP * 1.01;
    let cases: [(&str, f32); 6] = [
        (
            "start",
            step(Stage::with_clips(vec![vec![0.5; 48_000]]), |stage| {
                stage.watched = Bus::Voice;
                stage.band.say(0, FrameInstant(stage.now + 3), None);
            }),
        ),
        ("hush", step(constant(), |stage| stage.band.hush())),
        ("level", step(constant(), |stage| stage.band.set_level(Bus::Voice, Gain::SILENCE))),
        ("master", step(constant(), |stage| stage.band.set_master(Gain::new(0.1)))),
        (
            "level again and again",
            step(constant(), |stage| {
                for n in 0..40_u8 {
                    stage.band.set_level(Bus::Voice, Gain::new(f32::from(n % 3) * 0.4));
                    stage.block();
                }
            }),
        ),
        (
            "steal",
            step(constant(), |stage| {
                for _ in 0..8 {
                    stage.band.say(9, FrameInstant(stage.now), None);
                }
            }),
        ),
    ];
    for (name, step) in cases {
        // a clip's own safety fade is its 2 ms; everything else is within the declared step
        let bound = if name == "start" { 1.875 / 96.0 * 1.01 } else { bound };
        assert!(step <= bound, "{name}: a step of {step}, declared {bound}");
    }
}

/// The level above 10 kHz while `event` happens to a drone and low vibraphone tones, which have nothing there themselves.
fn splash(event: impl FnOnce(&mut Stage)) -> f64 {
    let mut stage = Stage::new();
    stage.band.set_drone(Some(chord(110.0, &[(1, 1, 0.0), (3, 2, 0.0)])));
    for voice in 0..4 {
        stage.tone(Timbre::Vibraphone, 175.0 + 20.0 * f64::from(voice), 0, 9.0, 0.5, voice);
    }
    stage.run(1.5);
    stage.forget();
    event(&mut stage);
    stage.run(0.6);
    level_above(&stage.left(), f64::from(RATE), 10_000.0)
}

#[test]
fn no_event_splashes_above_10_khz() {
    for (name, level) in [
        ("nothing", splash(|_| ())),
        ("hush", splash(|stage| stage.band.hush())),
        ("chord", splash(|stage| stage.band.set_drone(Some(chord(130.8, &[(1, 1, 0.0), (5, 4, 0.0)]))))),
        ("drone off", splash(|stage| stage.band.set_drone(None))),
        ("release", splash(|stage| stage.band.release_tones(FrameInstant(stage.now + 20)))),
        ("master", splash(|stage| stage.band.set_master(Gain::new(0.2)))),
        ("duck", splash(|stage| stage.band.say(0, FrameInstant(stage.now), None))),
    ] {
        assert!(level < -90.0, "{name}: {level} dB above 10 kHz");
    }
}

#[test]
fn ninety_six_tones_and_one_more_do_not_click() {
    let mut stage = Stage::new();
    for voice in 0..96 {
        stage.tone(Timbre::Vibraphone, 110.0 + 2.0 * f64::from(voice), 0, 9.0, 0.05, (voice % 24) as u8);
    }
    stage.run(0.5);
    assert_eq!(stage.band.sounding_tones(), 96);
    stage.forget();
    for voice in 0..20 {
        stage.tone(Timbre::Vibraphone, 330.0 + f64::from(voice), 10, 9.0, 0.05, 0);
    }
    stage.run(0.3);
    assert_eq!((stage.band.sounding_tones(), stage.band.lost_tones()), (96, 0));
    let new = super::measure::follow(&stage.stem[4_800..], f64::from(RATE), 330.0, 0.2);
    assert!(new.amplitudes[0] > 1e-3, "the new tones sound");
    let level = level_above(&stage.left(), f64::from(RATE), 10_000.0);
    assert!(level < -80.0, "{level} dB above 10 kHz");
}

#[test]
fn of_96_tones_the_quietest_makes_room() {
    let mut stage = Stage::new();
    for voice in 0..96 {
        let level = if voice == 40 { 0.02 } else { 0.04 };
        stage.tone(Timbre::Flute, 300.0, 0, 9.0, level, if voice == 40 { 1 } else { 0 });
    }
    stage.run(0.5);
    stage.watched = Bus::Section(1);
    stage.forget();
    stage.tone(Timbre::Flute, 500.0, 0, 9.0, 0.1, 0);
    stage.run(0.05);
    assert!(stage.stem[0] != 0.0 && stage.stem[240..].iter().all(|s| *s == 0.0));
}

#[test]
fn the_limiter_moves_no_faster_than_declared() {
    // a constant that leaps to four times full scale: the output over the input is the limiter's gain
    let mut loud = vec![0.5_f32; 4_800];
    loud.extend((0..9_600).map(|i| 0.5 + 3.5 * (i as f32 / 200.0).min(1.0)));
    let mut stage = Stage::with_clips(vec![loud]);
    stage.watched = Bus::Voice;
    stage.band.say(0, FrameInstant(stage.now), None);
    stage.run(0.25);
    let latency = stage.band.latency().0 as usize;
    let gains: Vec<f32> = (200..11_000).map(|i| stage.out[i + latency][0] / (stage.stem[i] * std::f32::consts::FRAC_1_SQRT_2)).collect();
    let largest = gains.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f32::max);
    assert!((gains[0] - 1.0).abs() < 1e-5 && gains.iter().any(|gain| *gain < 0.5), "it limits");
    assert!(largest < LIMITER_STEP, "a step of {largest}");
}
