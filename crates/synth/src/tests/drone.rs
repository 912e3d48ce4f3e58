//! The drone keeps its pitch for hours and does not beat.

use super::measure::follow;
use super::*;

const TEN_HOURS: u64 = 36_000 * RATE as u64;

fn held(start: u64, chord: DroneChord, seconds: f64) -> Vec<f32> {
    let mut stage = Stage::at(start, Vec::new());
    stage.watched = Bus::Drone;
    stage.band.set_drone(Some(chord));
    stage.run(1.3);
    stage.forget();
    stage.run(seconds);
    stage.stem
}

#[test]
fn within_a_hundredth_of_a_cent_now_and_after_ten_hours() {
    for root in [58.270_470_190, 116.540_940_379, 440.0] {
        for start in [0, TEN_HOURS] {
            for (ratio, cents) in [((1, 1), 0.0), ((3, 2), 0.0), ((5, 4), 0.0), ((45, 32), 0.0), ((3, 2), -1.955)] {
                let sound = held(start, chord(root, &[(ratio.0, ratio.1, cents)]), 4.0);
                let hz = root * f64::from(ratio.0) / f64::from(ratio.1) * 2_f64.powf(cents / 1200.0);
                let partial = follow(&sound, f64::from(RATE), hz, 0.5);
                assert!(partial.cents.abs() < 0.01, "{ratio:?} of {root} is {} cents off", partial.cents);
                assert!(partial.wander < 0.01, "{ratio:?} of {root} wanders by {} cents", partial.wander);
            }
        }
    }
}

#[test]
fn ten_hours_end_on_the_phase_that_arithmetic_says() {
    let hz = 116.540_940_379_f64;
    let mut stage = Stage::at(TEN_HOURS, Vec::new());
    stage.watched = Bus::Drone;
    stage.band.set_drone(Some(chord(hz, &[(1, 1, 0.0)])));
    stage.run(1.3);
    stage.forget();
    let first = stage.now;
    stage.run(1.0);
    let partial = follow(&stage.stem, f64::from(RATE), hz, 0.5);
    let expected = (hz * first as f64 / f64::from(RATE)).fract();
    let off = (partial.phase - expected + 0.5).rem_euclid(1.0) - 0.5;
    assert!(off.abs() < 1e-3, "{off} turns off after {} s", first / u64::from(RATE));
}

/// How much the partial at `hz` swells and fades: its largest amplitude over its smallest, less one.
fn beating(sound: &[f32], hz: f64) -> f64 {
    // windows long enough to keep neighbours 20 Hz away out, short enough for a beat of a tempered interval to show
    let amplitudes = follow(sound, f64::from(RATE), hz, 0.5).amplitudes;
    amplitudes.iter().copied().fold(0.0, f64::max) / amplitudes.iter().copied().fold(f64::MAX, f64::min) - 1.0
}

#[test]
fn a_just_fifth_does_not_beat_and_a_tempered_one_does() {
    let root = 220.0;
    let just = held(TEN_HOURS, chord(root, &[(1, 1, 0.0), (3, 2, 0.0)]), 6.0);
    assert!(beating(&just, 3.0 * root) < 1e-4, "the just fifth beats by {}", beating(&just, 3.0 * root));
    let tempered = held(0, chord(root, &[(1, 1, 0.0), (3, 2, -1.955)]), 6.0);
    assert!(beating(&tempered, 3.0 * root) > 0.5, "the tempered fifth beats by {}", beating(&tempered, 3.0 * root));
}

#[test]
fn a_large_just_chord_does_not_beat_either() {
    let root = 110.0;
    let sound = held(0, chord(root, &[(1, 1, 0.0), (5, 4, 0.0), (3, 2, 0.0), (2, 1, 0.0)]), 8.0);
    for partial in [2.0, 3.0, 5.0, 6.0] {
        assert!(beating(&sound, partial * root) < 1e-4, "partial {partial} beats by {}", beating(&sound, partial * root));
    }
}

#[test]
fn more_changes_than_layers_still_end_on_the_last_chord() {
    let mut stage = Stage::new();
    stage.watched = Bus::Drone;
    for step in 0..12 {
        stage.band.set_drone(Some(chord(200.0 + 10.0 * f64::from(step), &[(1, 1, 0.0)])));
        stage.run(0.05);
    }
    stage.run(3.0);
    stage.forget();
    stage.run(1.0);
    let last = follow(&stage.stem, f64::from(RATE), 310.0, 0.2);
    assert!(last.cents.abs() < 0.01 && last.amplitudes[1] > 0.02);
    let first = follow(&stage.stem, f64::from(RATE), 200.0, 0.2);
    assert!(first.amplitudes[1] < 1e-4, "an old chord still sounds: {}", first.amplitudes[1]);
}
