//! What is written and what sounds, against `transpositions.csv` and `written_to_concert_cases.csv`.
//!
//! Sources: MusicXML 4.0 sound list, music21 10.5.1, abjad 3.19 and Verovio 6.4.1 (all run), and the pages named in each row.

use super::{Row, assert_close, table};
use pitch::{Concert, Instrument, Interval, Key, Pitch, Tuning, Written};
use std::collections::HashMap;

fn instrument(row: &Row, column: &str) -> &'static Instrument {
    Instrument::find(row.get(column)).unwrap_or_else(|error| panic!("{error} in {row:?}"))
}

#[test]
fn every_instrument_reads_and_sounds_as_published() {
    let rows = table("transpositions.csv", 31);
    assert_eq!(Instrument::all().len(), rows.len());
    let mut statements = 0;
    for row in &rows {
        let found = instrument(row, "id");
        assert_eq!(found.id(), row.get("id"));
        assert_eq!(found.label(), row.get("label"));
        assert_eq!(found.family().to_string(), row.get("family"));
        assert_eq!(found.clef().to_string(), row.get("clef"));
        let total = Interval::new(row.read("total_diatonic"), row.read("total_semitones"));
        assert_eq!(found.transposition(), total, "{row:?}");
        // the three numbers of MusicXML, of which only the totals count
        let split = Interval::new(row.read("diatonic"), row.read("chromatic")).plus_octaves(row.read("octave_change"));
        assert_eq!(found.transposition(), split, "{row:?}");
        let c4: Written = "C4".parse().unwrap();
        assert_eq!(found.sounding(c4), row.read("written_C4_sounds"), "{row:?}");
        assert_eq!(found.sounding(c4).semitone(), row.read::<i32>("verovio_midi_of_C4"), "{row:?}");
        let b_flat: Concert = "Bb3".parse().unwrap();
        assert_eq!(found.writing(b_flat).pitch().class(), row.read("concert_Bb_written_as"), "{row:?}");
        assert_eq!(found.key_shift_fifths(), row.read::<i32>("written_key_shift_fifths"), "{row:?}");
        // each source that agrees states the number of semitones itself
        for statement in row.get("agrees").split("; ").filter(|statement| !statement.is_empty()) {
            let (_, semitones) = statement.split_once('=').unwrap();
            assert_eq!(found.transposition().semitones(), semitones.parse::<i32>().unwrap(), "{statement} in {row:?}");
            statements += 1;
        }
    }
    assert_eq!(statements, 118);
}

/// What every row of the cases states, whatever its group.
fn sounds_as_stated(row: &Row) -> (&'static Instrument, Written, Concert) {
    let found = instrument(row, "instrument");
    let written: Written = row.read("written");
    let sounding: Concert = row.read("sounding_by_interval");
    assert_eq!(found.sounding(written), sounding, "{row:?}");
    assert_eq!(found.sounding_simple(written), row.read("sounding_simple"), "{row:?}");
    assert_eq!(found.writing(sounding), written, "{row:?}");
    assert_eq!(sounding.semitone(), row.read::<i32>("midi"), "{row:?}");
    assert_eq!(sounding.pitch().midi().map(|midi| i32::from(midi.number())), Some(sounding.semitone()), "{row:?}");
    assert_close(Tuning::default().frequency(sounding).hz(), row.read("hz"), 1e-6, row);
    (found, written, sounding)
}

#[test]
fn every_written_to_concert_case_agrees() {
    let mut tested: HashMap<String, usize> = HashMap::new();
    for row in &table("written_to_concert_cases.csv", 3684) {
        let (found, written, sounding) = sounds_as_stated(row);
        let group = row.get("group");
        match group {
            "scale" => {
                let concert_key: Key = row.read("concert_key");
                let page: Key = row.read("written_key");
                assert_eq!(concert_key.transposed_for(found), page, "{row:?}");
                assert_eq!(page.fifths(), row.read::<i32>("written_fifths"), "{row:?}");
                let concert: Concert = row.read("sounding_in_concert_key");
                assert_eq!(concert.semitone(), sounding.semitone(), "{row:?}");
                assert_eq!(concert_key.spell(concert.semitone()), concert.pitch(), "{row:?}");
                assert_eq!(page.spell(written.semitone()), written.pitch(), "{row:?}");
                assert_eq!(found.written_for(concert, concert_key), written, "{row:?}");
                let unflipped = row.filled("written_unflipped").map(|text| text.parse::<Pitch>().unwrap());
                assert_eq!(found.writing(concert).pitch(), unflipped.unwrap_or(written.pitch()), "{row:?}");
            }
            "concert_to_written" | "written_to_sounding" => {
                assert_eq!(found.written_for(sounding, Key::default()).semitone(), written.semitone(), "{row:?}");
                assert_eq!(found.writing_simple(sounding), written, "{row:?}");
            }
            "odd_spelling" => assert!(!found.sounding_simple(written).pitch().alteration().is_double(), "{row:?}"),
            other => panic!("a group of cases that is not tested: {other}"),
        }
        *tested.entry(group.to_owned()).or_default() += 1;
    }
    let count = |group: &str| tested.get(group).copied();
    assert_eq!(count("scale"), Some(2880));
    assert_eq!(count("concert_to_written"), Some(372));
    assert_eq!(count("written_to_sounding"), Some(372));
    assert_eq!(count("odd_spelling"), Some(60));
}

// common practice, no source
#[test]
fn concert_f_is_trumpet_g_and_horn_c() {
    let f: Concert = "F4".parse().unwrap();
    let read = |name: &str| Instrument::find(name).unwrap().writing(f).to_string();
    assert_eq!(read("trumpet"), "G4");
    assert_eq!(read("horn in F"), "C5");
}

// common practice, no source
#[test]
fn the_horns_own_g_sounds_a_fourth_under_concert_f() {
    // a horn plays its written G4; the band, told "concert F", sounds F: the horn's G is concert C, a perfect fourth under it
    let horn = Instrument::find("horn in F").unwrap();
    let own_g = horn.sounding("G4".parse().unwrap());
    let band: Concert = "F4".parse().unwrap();
    assert_eq!(own_g.to_string(), "C4");
    assert_eq!(own_g.pitch().transposed(Interval::new(3, 5)), band.pitch());
}

// common practice, no source
#[test]
fn a_horn_on_written_c_d_e_f_g_sounds_a_fourth_below_a_band_on_concert_b_flat() {
    let horn = Instrument::find("horn in F").unwrap();
    let fourth_down = Interval::new(-3, -5);
    for (own, band) in ["C4", "D4", "E4", "F4", "G4"].into_iter().zip(["Bb3", "C4", "D4", "Eb4", "F4"]) {
        let band: Concert = band.parse().unwrap();
        assert_eq!(horn.sounding(own.parse().unwrap()).pitch(), band.pitch().transposed(fourth_down));
    }
}
