//! Tones are in tune and stay so.

use super::measure::follow;
use super::*;

/// Deviation and wander of the strongest of a tone's first eight harmonics, both in cents.
fn intonation(timbre: Timbre, hz: f64) -> (f64, f64) {
    let mut stage = Stage::new();
    stage.tone(timbre, hz, 17, 3.0, 1.0, 0);
    stage.run(2.9);
    let held = &stage.stem[RATE as usize / 4..];
    let harmonics = (1..=8).map(f64::from).take_while(|k| k * hz < 20_000.0);
    let partials = harmonics.map(|k| follow(held, f64::from(RATE), k * hz, 0.2));
    let strongest = partials.max_by(|a, b| a.amplitudes[1].total_cmp(&b.amplitudes[1])).unwrap();
    assert!(strongest.amplitudes.iter().all(|a| *a > 0.01), "{timbre:?} at {hz} sounds throughout");
    (strongest.cents.abs(), strongest.wander)
}

#[test]
fn every_sustained_timbre_is_in_tune_at_three_pitches() {
    for timbre in Timbre::ALL.into_iter().take(19) {
        for hz in [61.735_412_657, 233.081_880_759, 987.766_602_512] {
            let (cents, wander) = intonation(timbre, hz);
            assert!(cents < 0.05, "{timbre:?} at {hz} Hz is {cents} cents off");
            assert!(wander < 1.0, "{timbre:?} at {hz} Hz wanders by {wander} cents");
        }
    }
}

#[test]
fn struck_tones_are_in_tune_while_they_ring() {
    for (timbre, hz) in [
        (Timbre::Glockenspiel, 1_864.655),
        (Timbre::Xylophone, 932.328),
        (Timbre::Marimba, 233.082),
        (Timbre::Vibraphone, 349.228),
        (Timbre::Timpani, 116.541),
    ] {
        let mut stage = Stage::new();
        stage.tone(timbre, hz, 0, 2.0, 1.0, 0);
        stage.run(0.5);
        let partial = follow(&stage.stem[2_400..], f64::from(RATE), hz, 0.1);
        assert!(partial.cents.abs() < 0.05, "{timbre:?} is {} cents off", partial.cents);
        assert!(partial.amplitudes[0] > 1.2 * partial.amplitudes[partial.amplitudes.len() - 1], "{timbre:?} decays");
    }
}

#[test]
fn harmonics_stay_under_the_band_limit() {
    let mut stage = Stage::new();
    stage.tone(Timbre::Trumpet, 1_500.0, 0, 1.0, 1.0, 0);
    stage.run(1.0);
    let level = super::measure::level_above(&stage.stem, f64::from(RATE), 21_900.0);
    assert!(level < -90.0, "{level} dB above the limit");
}
