//! How fast drones beat, against `temperament_beats.csv`, measured in the sound.
//!
//! Sources: the table names a published column (S-JN) and computes the rest from the frequencies of equal temperament.

use super::{Row, table};
use crate::render::held::{Beat, beat, chord, held};
use pitch::{Concert, Key, Temperament};
use sequencer::StackTone;
use synth::{DroneChord, DroneTone};
use units::{Cents, Gain, Hertz};

/// A level that changes by less is not heard to change: about 1 dB (from memory; no outside source kept).
const HEARD: f64 = 1.0;

/// The rows of `kind`, which must be `count`.
fn rows(kind: &str, count: usize) -> Vec<Row> {
    let rows: Vec<Row> = table("temperament_beats.csv", 128).into_iter().filter(|row| row.get("kind") == kind).collect();
    assert_eq!(rows.len(), count, "{kind}");
    rows
}

fn partials(row: &Row) -> (u32, u32) {
    let (low, high) = row.get("partials").split_once(':').unwrap();
    (low.parse().unwrap(), high.parse().unwrap())
}

/// The beat of a row's coincident partials in `chord`, held for some of its beats.
fn measured(row: &Row, chord: DroneChord) -> Beat {
    let (low, high) = partials(row);
    let middle = (f64::from(low) * row.read::<f64>("low_hz") + f64::from(high) * row.read::<f64>("upper_hz")) / 2.0;
    let seconds = (3.5 / row.read::<f64>("beats_per_second")).clamp(3.0, 52.0);
    beat(&held(chord, 0, seconds).1, middle)
}

/// That the row's rate and, where there is one, its published rate are what was measured; it may be heard.
fn check(row: &Row, beat: &Beat) {
    let expected: f64 = row.read("beats_per_second");
    assert!((beat.hz / expected - 1.0).abs() < 0.01, "{beat:?} in {row:?}");
    if let Some(published) = row.filled("published") {
        // one decimal, and the last place of some of the column is rounded from rounded frequencies
        assert!((beat.hz - published.parse::<f64>().unwrap()).abs() < 0.06, "{beat:?} in {row:?}");
    }
    assert!(beat.decibels > 3.0 * HEARD, "{beat:?} in {row:?}");
}

/// Sounds the row's two notes in equal and, if `just`, in just tuning.
fn equal_and_just(row: &Row) {
    let low: Concert = row.read("low");
    let (upper_partial, lower_partial) = partials(row);
    let (hz, just_hz): (f64, f64) = (row.read("upper_hz"), row.read("just_upper_hz"));
    let semitones = (12.0 * (hz / row.read::<f64>("low_hz")).log2()).round() as i32;
    let upper = Concert::new(Key::default().spell(low.semitone() + semitones));
    let stack = |temperament| chord(low, vec![StackTone::Root, StackTone::Free(upper)], temperament);
    check(row, &measured(row, stack(Temperament::Equal)));
    // the chord of just tuning, but for the seventh partial, which no tuning of a drone has
    let just = match stack(Temperament::Just) {
        chord if chord.tones.iter().flatten().any(|tone| tone.ratio == (upper_partial, lower_partial)) => chord,
        mut chord => {
            assert_eq!(partials(row).0 % 7, 0, "{row:?}");
            chord.tones[1] = Some(DroneTone { ratio: partials(row), detune: Cents(0.0), level: Gain::UNITY });
            chord
        }
    };
    assert!((f64::from(upper_partial) / f64::from(lower_partial) * row.read::<f64>("low_hz") - just_hz).abs() < 1e-5, "{row:?}");
    let beat = measured(row, just);
    assert!(beat.decibels < 0.01 * HEARD, "just, but {beat:?} in {row:?}");
}

#[test]
fn equal_intervals_beat_as_the_table_says_and_just_ones_do_not() {
    rows("equal_interval", 72).iter().for_each(equal_and_just);
}

#[test]
fn a_note_over_a_drone_beats_as_the_table_says_and_a_just_one_does_not() {
    rows("drone_vs_note", 8).iter().for_each(equal_and_just);
}

#[test]
fn mistuned_unisons_beat_as_the_table_says() {
    for row in &rows("unison_mistuned", 48) {
        let cents = row.get("interval").split(' ').nth(1).unwrap().parse().unwrap();
        let tone = |cents| Some(DroneTone { ratio: (1, 1), detune: Cents(cents), level: Gain::new(0.7) });
        let mut tones = [None; synth::drone::DRONE_TONES];
        (tones[0], tones[1]) = (tone(0.0), tone(cents));
        check(row, &measured(row, DroneChord { root: Hertz::new(row.read("low_hz")).unwrap(), tones }));
    }
}
