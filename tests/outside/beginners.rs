//! The first five notes of a band, against `beginner_notes.csv` (S-CFB for the notes; octaves common practice, no source).

use super::fingering::fingering;
use super::{Row, table};
use pitch::{Concert, HornSide, Instrument, Key, Written, WrittenRange, partials};
use std::collections::HashMap;

/// The published first-year range of `level`, by instrument.
fn first_year(level: &str) -> HashMap<String, WrittenRange> {
    let rows = table("ranges.csv", 237);
    let chosen = rows.iter().filter(|row| row.get("level") == level);
    chosen
        .map(|row| {
            let range = format!("{}..{}", row.get("written_low"), row.get("written_high"));
            (row.get("instrument").to_owned(), range.parse().unwrap())
        })
        .collect()
}

fn notes(row: &Row) -> Vec<Written> {
    row.get("written").split(' ').map(|note| note.parse().unwrap()).collect()
}

fn side(row: &Row) -> Option<HornSide> {
    match row.get("side") {
        "F" => Some(HornSide::F),
        "Bb" => Some(HornSide::BFlat),
        _ => None,
    }
}

fn joined<T: ToString>(cells: impl Iterator<Item = T>) -> String {
    cells.map(|cell| cell.to_string()).collect::<Vec<_>>().join(" ")
}

#[test]
fn every_placement_reads_sounds_and_is_fingered_as_stated() {
    let (core, union) = (first_year("first_year_core"), first_year("first_year_union"));
    let mut brass = 0;
    for row in &table("beginner_notes.csv", 109) {
        let instrument = Instrument::find(row.get("instrument")).unwrap();
        let written = notes(row);
        let sounding: Vec<Concert> = written.iter().map(|note| instrument.sounding(*note)).collect();
        assert_eq!(joined(sounding.iter()), row.get("sounding"), "{row:?}");
        assert_eq!(joined(sounding.iter().map(|note| note.pitch().class())), row.get("concert"), "{row:?}");
        assert_eq!(joined(sounding.iter().map(|note| note.semitone())), row.get("midi"), "{row:?}");
        let key: Key = if row.get("option") == "F_start" { "F".parse().unwrap() } else { "Bb".parse().unwrap() };
        let page: Vec<Written> = sounding.iter().map(|note| instrument.written_for(*note, key)).collect();
        assert_eq!(page, written, "{row:?}");
        for (ranges, column) in [(&core, "in_core"), (&union, "in_union")] {
            let inside = written.iter().filter(|note| ranges[instrument.id()].contains(**note)).count();
            assert_eq!(format!("{inside}/5"), row.get(column), "{row:?}");
        }
        if row.filled("fingering").is_some() {
            let found: Vec<_> = written.iter().map(|note| fingering(instrument, side(row), *note).unwrap()).collect();
            assert_eq!(joined(found.iter().map(|fingering| fingering.partial)), row.get("partial"), "{row:?}");
            let gap = |n: u8| {
                let to = |other: u8| (partials::nearest_semitones(n) - partials::nearest_semitones(other)).abs();
                to(n - 1).min(to(n + 1))
            };
            let gaps = || found.iter().map(|fingering| gap(fingering.partial));
            assert_eq!(joined(gaps()), row.get("gap_to_next_partial_semitones"), "{row:?}");
            assert_eq!(gaps().min(), Some(row.read("min_gap")), "{row:?}");
            assert_eq!(joined(found.iter().map(|fingering| fingering.text)), row.get("fingering"), "{row:?}");
            brass += 1;
        } else {
            assert!(instrument.fingering(written[0]).is_none(), "{row:?}");
        }
    }
    assert_eq!(brass, 36);
}

#[test]
fn the_usual_start_is_the_octave_that_leaves_the_comfortable_range_least() {
    let mut tested = 0;
    for row in table("beginner_notes.csv", 109).iter().filter(|row| row.get("usual") == "yes") {
        let instrument = Instrument::find(row.get("instrument")).unwrap();
        let key: Key = if row.get("option") == "F_start" { "F".parse().unwrap() } else { "Bb".parse().unwrap() };
        // the same five notes as the band sounds them, in one octave for all
        let line: Vec<Option<Concert>> = notes(row)
            .into_iter()
            .map(|note| instrument.sounding(note))
            .map(|note| Some(note.moved_octaves(4 - first_octave(row))))
            .collect();
        let read = match pitch::fit_line(instrument, instrument.comfortable(), &line, key) {
            Ok(fitted) => fitted.written,
            Err(misfit) => misfit.unison.unwrap().written,
        };
        assert_eq!(read, notes(row).into_iter().map(Some).collect::<Vec<_>>(), "{row:?}");
        tested += 1;
    }
    assert_eq!(tested, 22);
}

/// The octave of the first sounding note.
fn first_octave(row: &Row) -> i32 {
    row.get("sounding").split(' ').next().unwrap().parse::<Concert>().unwrap().pitch().octave()
}
