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

/// The momentary loudness of what `play` does to a held drone, over its mean before, in LU: lowest and highest.
fn moved(from: DroneChord, to: DroneChord) -> (f64, f64) {
    let mut stage = Stage::new();
    stage.watched = Bus::Drone;
    stage.band.set_drone(Some(from));
    stage.run(2.0);
    stage.forget();
    stage.band.set_drone(Some(to));
    stage.run(2.5);
    let lufs = |from: usize, to: usize| super::loudness::lufs(&[&stage.stem[from..to]], RATE);
    let before = lufs(0, 2_400);
    // windows of a tenth of a second show a hole that a longer one would fill
    let windows = (0..stage.stem.len() - 4_800).step_by(960).map(|at| lufs(at, at + 4_800) - before);
    windows.fold((f64::MAX, f64::MIN), |(low, high), loudness| (low.min(loudness), high.max(loudness)))
}

#[test]
fn a_drone_that_moves_keeps_its_loudness() {
    let fifth = |root: f64| chord(root, &[(1, 1, 0.0), (3, 2, 0.0)]);
    let third = chord(233.08, &[(1, 1, 0.0), (5, 4, 0.0)]);
    for (name, from, to) in [
        ("another root", fifth(233.08), fifth(174.61)),
        ("a whole tone", fifth(233.08), fifth(261.63)),
        ("the third for the fifth", fifth(233.08), third),
        ("an octave down", fifth(233.08), fifth(116.54)),
        ("from just to equal", fifth(233.08), chord(233.08, &[(1, 1, 0.0), (1, 1, 700.0)])),
    ] {
        let (low, high) = moved(from, to);
        assert!(low > -2.0 && high < 2.0, "{name}: {low:.2} to {high:.2} LU");
    }
}

#[test]
fn a_chord_is_as_loud_as_its_tones_however_many_partials_coincide() {
    let power = |chord: DroneChord| {
        10.0 * (chord.tones.iter().flatten().map(|tone| f64::from(tone.level.amplitude()).powi(2)).sum::<f64>()).log10()
    };
    let one = super::loudness::lufs(&[&held(0, chord(116.54, &[(1, 1, 0.0)]), 1.0)], RATE);
    for tones in [
        &[(1, 1, 0.0), (2, 1, 0.0)][..],
        &[(1, 1, 0.0), (2, 1, 0.0), (4, 1, 0.0), (8, 1, 0.0)],
        &[(1, 1, 0.0), (1, 1, 0.0)],
        &[(1, 1, 0.0), (5, 4, 0.0), (3, 2, 0.0)],
        &[(1, 1, 0.0), (1, 1, 400.0), (1, 1, 700.0)],
    ] {
        let chord = chord(116.54, tones);
        let found = super::loudness::lufs(&[&held(0, chord, 4.0)], RATE) - power(chord);
        assert!((found - one).abs() < 0.3, "{tones:?}: {found:.2} for {one:.2}");
    }
}
