//! Fingerings, slide positions and partials, against `fingerings.csv`, `valve_physics.csv` and `harmonic_series.csv`.

use super::{Row, assert_close, table};
use pitch::{Concert, Fingering, HornSide, Instrument, Tuning, Written, partials};
use std::collections::HashMap;

fn side(row: &Row) -> Option<HornSide> {
    match row.get("side") {
        "" => None,
        "F" => Some(HornSide::F),
        "Bb" => Some(HornSide::BFlat),
        other => panic!("no such side of a horn: {other}"),
    }
}

pub fn fingering(instrument: &Instrument, side: Option<HornSide>, written: Written) -> Option<Fingering> {
    match side {
        Some(side) => instrument.fingering_on(side, written),
        None => instrument.fingering(written),
    }
}

fn open(instrument: &Instrument, side: Option<HornSide>, partial: u8) -> Option<Written> {
    match side {
        Some(side) => instrument.open_partial_on(side, partial),
        None => instrument.open_partial(partial),
    }
}

/// How sharp each combination of valves is, in cents.
fn sharpness() -> HashMap<String, f64> {
    table("valve_physics.csv", 8).iter().map(|row| (row.get("valves").to_owned(), row.read("sharp_by_cents"))).collect()
}

#[test]
fn every_row_of_the_charts_agrees() {
    let sharpness = sharpness();
    let mut by_confidence = HashMap::new();
    for row in &table("fingerings.csv", 209) {
        let instrument = Instrument::find(row.get("instrument")).unwrap();
        let side = side(row);
        let written: Written = row.read("written");
        let sounding = instrument.sounding(written);
        assert_eq!(sounding.semitone(), row.read::<i32>("midi"), "{row:?}");
        assert_eq!(row.read::<Concert>("sounding").semitone(), sounding.semitone(), "{row:?}");

        let found = fingering(instrument, side, written).unwrap_or_else(|| panic!("no fingering for {row:?}"));
        assert_eq!(found.side, side, "{row:?}");
        if let Some(twin) = row.filled("also_written") {
            assert_eq!(fingering(instrument, side, twin.parse().unwrap()), Some(found), "{row:?}");
        }
        let stated = (row.get("fingering").to_owned(), row.read::<u8>("partial"));
        if row.get("confidence").starts_with("medium") {
            // two answers are usual: the row's, or one of the others that give the same note
            let thumb = if side == Some(HornSide::BFlat) { "T" } else { "" };
            let others = row.get("other_physical").split(' ').map(|other| {
                let (valves, partial) = other.split_once('@').unwrap();
                (format!("{thumb}{}", if thumb == "T" && valves == "0" { "" } else { valves }), partial.parse().unwrap())
            });
            let answers: Vec<(String, u8)> = others.chain([stated]).collect();
            assert!(answers.contains(&(found.text.to_owned(), found.partial)), "{found:?} in {row:?}");
            *by_confidence.entry("medium").or_insert(0) += 1;
        } else {
            assert_eq!((found.text.to_owned(), found.partial), stated, "{row:?}");
            assert_eq!(i32::from(found.lowered), row.read::<i32>("semitones_lowered"), "{row:?}");
            assert_eq!(open(instrument, side, found.partial), Some(row.read("open_partial_written")), "{row:?}");
            let combination = match row.get("kind") {
                "slide position" => 0.0,
                _ => {
                    sharpness[match found.text.trim_start_matches('T') {
                        "" => "0",
                        valves => valves,
                    }]
                }
            };
            // two values rounded to a tenth
            assert_close(partials::deviation(found.partial).0 + combination, row.read("theory_cents"), 0.15, row);
            *by_confidence.entry("high").or_insert(0) += 1;
        }
    }
    assert_eq!(by_confidence, HashMap::from([("high", 199), ("medium", 10)]));
}

#[test]
fn instruments_without_a_chart_of_their_own_are_fingered_as_their_kin() {
    // common practice, no source, for cornet and flugelhorn; S-WERDEN for the treble-clef parts
    let rows = table("fingerings.csv", 209);
    for (kin, charted, count) in [
        ("cornet_bb", "trumpet_bb", 31),
        ("flugelhorn_bb", "trumpet_bb", 31),
        ("baritone_tc", "euphonium_tc", 31),
        ("baritone_bc", "euphonium_bc", 31),
    ] {
        let kin = Instrument::find(kin).unwrap();
        let chart: Vec<&Row> = rows.iter().filter(|row| row.get("instrument") == charted).collect();
        assert_eq!(chart.len(), count);
        for row in chart {
            let found = kin.fingering(row.read("written")).unwrap();
            assert_eq!((found.text, found.partial), (row.get("fingering"), row.read("partial")), "{row:?}");
        }
    }
}

#[test]
fn horn_parts_in_bass_clef_are_fingered_by_what_sounds() {
    let horn = Instrument::find("horn_f").unwrap();
    let mut tested = 0;
    for id in ["horn_f_bass_new", "horn_f_bass_old"] {
        let low_horn = Instrument::find(id).unwrap();
        for row in table("fingerings.csv", 209).iter().filter(|row| row.get("instrument") == "horn_f") {
            let written: Written = row.read("written");
            let same_sound = low_horn.writing(horn.sounding(written));
            assert_eq!(fingering(low_horn, side(row), same_sound), fingering(horn, side(row), written), "{row:?}");
            tested += 1;
        }
    }
    assert_eq!(tested, 2 * 59);
}

#[test]
fn valves_lower_by_their_sum_and_positions_by_their_number() {
    // S-BRASSVALVE, S-JMU-MATH
    let (trumpet, trombone) = (Instrument::find("trumpet").unwrap(), Instrument::find("trombone").unwrap());
    let mut unused = Vec::new();
    for row in &table("valve_physics.csv", 8) {
        let lowered: i32 = row.read("semitones_lower");
        let below_open = |open: Written| pitch::Key::default().spell(open.semitone() - lowered);
        let valves = trumpet.fingering(Written::new(below_open(trumpet.open_partial(3).unwrap()))).unwrap();
        assert_eq!((i32::from(valves.lowered), valves.partial), (lowered, 3), "{row:?}");
        if valves.text != row.get("valves") {
            unused.push(row.get("valves").to_owned());
        }
        let slide = trombone.fingering(Written::new(below_open(trombone.open_partial(3).unwrap()))).unwrap();
        assert_eq!(slide.text, row.get("trombone_position"), "{row:?}");
    }
    assert_eq!(unused, ["3"], "the third valve alone is rarely the first choice");
}

#[test]
fn harmonics_lie_where_the_formula_and_the_tables_put_them() {
    // S-FMP, S-NODES, music21 getHarmonic
    let rows = table("harmonic_series.csv", 128);
    let harmonics: Vec<&Row> = rows.iter().filter(|row| row.get("table") == "A_harmonic").collect();
    assert_eq!(harmonics.len(), 16);
    for row in harmonics {
        let n: u8 = row.read("harmonic");
        assert_eq!(row.get("ratio"), format!("{n}/1"));
        assert_close(partials::cents_above_fundamental(n).0, row.read("cents_from_fundamental"), 1e-4, row);
        assert_eq!(partials::nearest_semitones(n), row.read::<i32>("nearest_semitones"), "{row:?}");
        assert_eq!(partials::notated(n).unwrap().semitones(), row.read::<i32>("nearest_semitones"), "{row:?}");
        assert_close(partials::deviation(n).0, row.read("deviation_cents"), 1e-4, row);
    }
}

#[test]
fn open_tubes_have_their_published_series() {
    // S-KLOSS, S-JMU-FUND, S-OEIS
    let rows = table("harmonic_series.csv", 128);
    let tubes: Vec<&Row> = rows.iter().filter(|row| row.get("table") == "B_brass_open").collect();
    assert_eq!(tubes.len(), 7 * 16);
    let tuning = Tuning::default();
    for row in tubes {
        let (id, note) = row.get("instrument").split_once(" (").unwrap_or((row.get("instrument"), ""));
        let side = match note {
            "F side)" => Some(HornSide::F),
            "B-flat side)" => Some(HornSide::BFlat),
            _ => None,
        };
        let instrument = Instrument::find(id).unwrap();
        let n: u8 = row.read("harmonic");
        let written = open(instrument, side, n).unwrap();
        assert_eq!(written, row.read("written"), "{row:?}");
        let sounding = instrument.sounding(written);
        assert_eq!(sounding, row.read("sounding"), "{row:?}");
        let fundamental = tuning.frequency(instrument.sounding(open(instrument, side, 1).unwrap()));
        assert_close(fundamental.hz(), row.read("fundamental_hz"), 1e-6, row);
        let harmonic = fundamental.moved(partials::cents_above_fundamental(n));
        assert_close(harmonic.hz(), row.read("harmonic_hz"), 1e-6, row);
        let nearest = tuning.frequency(sounding);
        assert_close(nearest.hz(), row.read("nearest_et_hz"), 1e-6, row);
        assert_close(harmonic.cents_above(nearest).0, row.read("deviation_cents"), 1e-4, row);
    }
}
