//! Frequencies, against `midi_frequencies.csv` and `temperament.csv`.
//!
//! Sources: ISO 16:1975, the MIDI Tuning Standard formula, the Scala archive, librosa 0.11.0 and music21 10.5.1.

use super::{Row, assert_close, table};
use pitch::{Concert, PitchClass, Reference, Temperament, Tuning};
use std::collections::HashMap;

#[test]
fn every_midi_note_has_its_frequency_at_three_references() {
    for row in &table("midi_frequencies.csv", 128) {
        let (flat, sharp): (Concert, Concert) = (row.read("name_flat"), row.read("name_sharp"));
        for concert in [flat, sharp] {
            assert_eq!(concert.semitone(), row.read::<i32>("midi"), "{row:?}");
            for (column, reference) in [("hz_440", 440.0), ("hz_442", 442.0), ("hz_435", 435.0)] {
                let tuning = Tuning { reference: Reference::new(reference).unwrap(), ..Tuning::default() };
                assert_close(tuning.frequency(concert).hz(), row.read(column), 1e-6, row);
            }
        }
        assert_close(1000.0 / Tuning::default().frequency(flat).hz(), row.read("period_ms"), 1e-6, row);
    }
}

fn temperament(row: &Row) -> Temperament {
    match row.get("system") {
        "equal" => Temperament::Equal,
        "pythagorean" => Temperament::Pythagorean,
        "just_5limit" => Temperament::Just,
        other => panic!("no such temperament: {other}"),
    }
}

/// A ratio as the table prints it: `3/2`, or `2` for `2/1`.
fn printed((upper, lower): (u32, u32)) -> String {
    if lower == 1 { upper.to_string() } else { format!("{upper}/{lower}") }
}

#[test]
fn every_degree_of_every_temperament_agrees() {
    let rows = table("temperament.csv", 53);
    let degrees: Vec<&Row> = rows.iter().filter(|row| row.get("kind") == "degree").collect();
    assert_eq!(degrees.len(), 39);
    for row in degrees {
        let temperament = temperament(row);
        let semitones: u8 = row.read("semitones");
        assert_eq!(temperament.ratio(semitones).map(printed).as_deref(), row.filled("ratio"), "{row:?}");
        assert_close(temperament.cents(semitones).0, row.read("cents"), 1e-4, row);
        assert_close(temperament.cents(semitones).0 - 100.0 * f64::from(semitones), row.read("minus_equal_cents"), 1e-4, row);
        // the same over every tonic, as frequencies
        for tonic in ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"] {
            let tuning = Tuning { temperament, tonic: tonic.parse().unwrap(), ..Tuning::default() };
            let class: PitchClass = tonic.parse().unwrap();
            let root: Concert = format!("{class}3").parse().unwrap();
            let key = pitch::Key::default();
            let degree = Concert::new(key.spell(root.semitone() + i32::from(semitones)));
            let ratio = tuning.frequency(degree).hz() / tuning.frequency(root).hz();
            assert_close(ratio, row.read("decimal"), 1e-9, row);
        }
    }
}

/// A ratio of two degrees, in lowest terms.
fn quotient(above: (u32, u32), below: (u32, u32)) -> String {
    let (upper, lower) = (u64::from(above.0) * u64::from(below.1), u64::from(above.1) * u64::from(below.0));
    let (mut a, mut b) = (upper, lower);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    format!("{}/{}", upper / a, lower / a)
}

#[test]
fn the_commas_come_out_of_our_own_degrees() {
    let just = |semitones: u8| Temperament::Just.ratio(semitones).unwrap();
    let fifths = |semitones: u8| Temperament::Pythagorean.ratio(semitones).unwrap();
    let found = HashMap::from([
        ("syntonic comma", quotient(fifths(4), just(4))),
        // six fifths up against six down
        ("Pythagorean comma", quotient(fifths(6), (2 * fifths(6).1, fifths(6).0))),
        // the Pythagorean comma less the syntonic, 81/80
        ("schisma", quotient((80 * fifths(6).0, fifths(6).1), (81 * 2 * fifths(6).1, fifths(6).0))),
        ("minor tone", quotient(just(4), just(2))),
        ("harmonic seventh", quotient((7, 1), (4, 1))),
        ("diminished fifth 5-limit", quotient((2, 1), just(6))),
        ("Malcolm minor seventh", quotient(fifths(10), (1, 1))),
        ("chromatic semitone", quotient(just(4), just(3))),
    ]);
    let rows = table("temperament.csv", 53);
    let intervals: Vec<&Row> = rows.iter().filter(|row| row.get("kind") == "interval").collect();
    assert_eq!(intervals.len(), found.len());
    for row in intervals {
        assert_eq!(found[row.get("degree")], row.get("ratio"), "{row:?}");
    }
}

#[test]
fn the_standard_frequencies_are_ours() {
    let rows = table("temperament.csv", 53);
    let constants: Vec<&Row> = rows.iter().filter(|row| row.get("kind") == "constant").collect();
    assert_eq!(constants.len(), 6);
    let mut tested = 0;
    for row in constants {
        let hz = || row.get("decimal").trim_end_matches(" Hz").parse::<f64>().unwrap();
        let frequency = |name: &str| Tuning::default().frequency(name.parse().unwrap()).hz();
        match row.get("degree") {
            "A4 standard tuning frequency" => assert_close(frequency("A4"), hz(), 1e-9, row),
            "MTS 45 00 00" => assert_close(frequency("A4"), hz(), 1e-9, row),
            "MTS 3C 00 00" => assert_close(frequency("C4"), hz(), 5e-5, row),
            // the formula is tested note by note above; the other two describe the messages, which nothing here sends
            "MIDI note to Hz" | "MTS resolution" | "MTS 7F 7F 7F" => continue,
            other => panic!("a constant that is not tested: {other}"),
        }
        tested += 1;
    }
    assert_eq!(tested, 3);
}
