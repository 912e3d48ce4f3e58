//! Comfortable and full ranges, against `ranges.csv`. First-year ranges are opinions; ours must lie in what all of them share.

use super::{Row, table};
use pitch::{Concert, Instrument, Written, WrittenRange};
use std::collections::BTreeSet;

fn rows() -> Vec<Row> {
    table("ranges.csv", 237)
}

fn written_range(row: &Row) -> WrittenRange {
    WrittenRange::new(row.read("written_low"), row.read("written_high")).unwrap()
}

#[test]
fn every_published_end_sounds_as_stated() {
    let (mut ends, mut empty) = (0, 0);
    for row in &rows() {
        let instrument = Instrument::find(row.get("instrument")).unwrap();
        for (written, sounding) in [("written_low", "sounding_low"), ("written_high", "sounding_high")] {
            match row.filled(written) {
                Some(_) => {
                    let sounds = instrument.sounding(row.read(written));
                    assert_eq!(sounds.semitone(), row.read::<Concert>(sounding).semitone(), "{row:?}");
                    ends += 1;
                }
                None => empty += 1,
            }
        }
    }
    assert_eq!(ends + empty, 2 * 237);
    // no figures at all in 16 rows (unusable, or text only), no upper end in 15
    assert_eq!(empty, 2 * 16 + 15);
}

#[test]
fn comfortable_lies_inside_what_every_first_year_source_allows() {
    let mut with_core = BTreeSet::new();
    let mut with_union = BTreeSet::new();
    for row in &rows() {
        let instrument = Instrument::find(row.get("instrument")).unwrap();
        let stated = match row.get("level") {
            "first_year_core" => &mut with_core,
            "first_year_union" => &mut with_union,
            _ => continue,
        };
        let published = written_range(row);
        let comfortable = instrument.comfortable();
        assert!(published.contains(comfortable.low()) && published.contains(comfortable.high()), "{comfortable} in {row:?}");
        stated.insert(instrument.id());
    }
    assert_eq!(with_core.len(), 28);
    let without_core: Vec<&str> = Instrument::all().iter().map(Instrument::id).filter(|id| !with_core.contains(id)).collect();
    assert_eq!(without_core, ["horn_f_bass_new", "horn_f_bass_old", "timpani"]);
    assert!(with_union.contains("timpani"));
}

#[test]
fn a_horn_in_bass_clef_is_comfortable_on_the_same_sounds() {
    let treble = Instrument::find("horn_f").unwrap();
    let sounds = |instrument: &Instrument, written: Written| instrument.sounding(written).semitone();
    for id in ["horn_f_bass_new", "horn_f_bass_old"] {
        let bass = Instrument::find(id).unwrap();
        for (ours, theirs) in [(bass.comfortable(), treble.comfortable()), (bass.full(), treble.full())] {
            assert_eq!(sounds(bass, ours.low()), sounds(treble, theirs.low()));
            assert_eq!(sounds(bass, ours.high()), sounds(treble, theirs.high()));
        }
    }
}

#[test]
fn full_lies_inside_the_widest_published_range() {
    let rows = rows();
    let mut without = Vec::new();
    for instrument in Instrument::all() {
        let published = |column: &str| -> Vec<i32> {
            let own = rows.iter().filter(|row| row.get("instrument") == instrument.id());
            let full = own.filter(|row| row.get("level").starts_with("full") || row.get("level").starts_with("drum"));
            full.filter(|row| row.filled(column).is_some()).map(|row| row.read::<Written>(column).semitone()).collect()
        };
        let (lows, highs) = (published("written_low"), published("written_high"));
        match (lows.iter().min(), highs.iter().max()) {
            (Some(lowest), Some(highest)) => {
                assert!(instrument.full().low().semitone() >= *lowest, "{}", instrument.id());
                assert!(instrument.full().high().semitone() <= *highest, "{}", instrument.id());
            }
            _ => without.push(instrument.id()),
        }
    }
    // no published range of their own: taken from their kin, as the instrument table says
    let kin = [
        "clarinet_alto_eb",
        "bass_clarinet_bass",
        "cornet_bb",
        "flugelhorn_bb",
        "horn_f_bass_new",
        "horn_f_bass_old",
        "baritone_bc",
        "euphonium_tc",
    ];
    assert_eq!(without, kin);
}
