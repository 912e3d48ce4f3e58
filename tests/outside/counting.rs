//! What is said on and between the beats, and when, against `counting.csv`, row by row, each with its source.

use super::{Row, table};
use sequencer::plan::Sound;
use sequencer::{Division, Syllables, compile};
use units::Beats;

fn rows(kind: &str) -> Vec<Row> {
    table("counting.csv", 106).into_iter().filter(|row| row.get("kind") == kind).collect()
}

/// What a bar says, as the table writes it, each word checked to stand on its part of the beat.
fn said(meter: &str, division: Division, syllables: Syllables) -> Vec<String> {
    let text = format!(
        "version = 1\ntitle = \"Count\"\ntempo = 60\nmeter = \"{meter}\"\nsyllables = \"{syllables}\"\n[line]\nall = {{ concert = \"F4:{}\" }}\n\
         [[turn]]\ncount = {{ subdivide = {} }}\n[[turn]]\nmodel = {{}}\n",
        meter.parse::<sequencer::Meter>().unwrap().beats(),
        division.parts(),
    );
    let drill = book::read_drill("count.toml", &text).unwrap_or_else(|faults| panic!("{faults}"));
    let plan = compile::drill(&book::demo::room(), &drill.drill).unwrap();
    let words: Vec<_> = plan
        .sounds_of(&plan.bars[0])
        .iter()
        .filter_map(|sound| match sound.sound {
            Sound::Words(phrase) => Some((sound.beat, phrase.words()[0])),
            Sound::Between(word) => Some((sound.beat, word)),
            _ => None,
        })
        .collect();
    let step = |index: usize| Beats::new(index as i64, i64::from(division.parts()));
    assert!(words.iter().enumerate().all(|(index, (beat, _))| *beat == step(index)), "{words:?}");
    words.into_iter().map(|(_, word)| written(word)).collect()
}

/// A word as counts are written on a board.
fn written(word: &str) -> String {
    let number = (1..=16).find(|beat| sequencer::words::count(*beat) == Some(word));
    number.map(|beat| beat.to_string()).unwrap_or_else(|| if word == "and" { "&".to_owned() } else { word.to_owned() })
}

/// Which way of counting a row speaks of.
fn way(item: &str, value: &str) -> Syllables {
    let starts = |start: &str| item.starts_with(start);
    match () {
        () if starts("traditional") && value.contains("trip") => Syllables::TripLet,
        () if starts("traditional") && value.contains("la li") => Syllables::LaLi,
        () if starts("traditional") => Syllables::EAndA,
        () if starts("Eastman, form B") => Syllables::TaTeTa,
        () if starts("Eastman") => Syllables::TiTeTa,
        () if starts("mixed") => Syllables::ToLaTaLiTi,
        () if starts("Takadimi") => Syllables::TaKaDiMi,
        () if starts("Froseth") => Syllables::TaNeTa,
        () => panic!("no way for {item}"),
    }
}

#[test]
fn every_way_of_counting_says_what_its_sources_say() {
    let mut checked = 0;
    for row in rows("syllables") {
        // the row may give several ways of one thing
        for value in row.get("value").split(", or ") {
            let words: Vec<&str> = value.split(' ').collect();
            let (compound, numbers_only) = (row.get("meter") == "compound", words.iter().all(|word| word.parse::<u8>().is_ok()));
            let meter = match (compound, numbers_only) {
                // eighths counted as numbers are beats of their own
                (true, true) => "6/8 in 6",
                (true, false) => "6/8",
                (false, _) => "4/4",
            };
            let second = words.iter().position(|word| *word == "2").unwrap_or(words.len());
            let parts = if numbers_only { 1 } else { second as u8 };
            let found = said(meter, Division::into(parts).unwrap(), way(row.get("item"), value));
            assert_eq!(found[..words.len()], words, "{row:?}");
            checked += 1;
        }
    }
    assert_eq!(checked, 22, "ways");
}

/// Ways that share their thirds and sixths with another of their rows say the same in both.
#[test]
fn both_forms_of_one_way_divide_compound_beats_alike() {
    for division in [Division::Three, Division::Six] {
        assert_eq!(said("6/8", division, Syllables::TiTeTa), said("6/8", division, Syllables::TaTeTa));
    }
}

#[test]
fn a_counted_bar_lasts_what_the_table_says() {
    let mut bars = 0;
    for row in rows("duration") {
        let meter = row.get("meter").parse().unwrap();
        let (tempo, seconds) = (row.read::<f64>("bpm_low"), row.get("value").strip_suffix(" s").unwrap().parse::<f64>().unwrap());
        let rate = units::SampleRate::DEFAULT;
        let frames = units::Tempo::new(tempo).unwrap().frames(sequencer::Meter::bar(meter), rate);
        super::assert_close(rate.seconds(frames), seconds, 0.000_02, &row);
        bars += 1;
    }
    assert_eq!(bars, 24);
}

#[test]
fn count_offs_are_the_usual_words() {
    for (meter, words) in [("2/4", "1 2"), ("3/4", "1 2 3"), ("4/4", "1 2 3 4"), ("6/8", "1 2"), ("6/8 in 6", "1 2 3 4 5 6")] {
        let item = if meter.starts_with("6/8 in") { meter.to_owned() } else { meter.replace("6/8", "6/8 in 2") };
        let row = rows("count_off").into_iter().find(|row| row.get("meter") == item).unwrap();
        assert!(row.get("value").starts_with(words), "{row:?}");
        assert_eq!(said(meter, Division::Beat, Syllables::default()).join(" "), words, "{row:?}");
    }
    let row = rows("count_off").into_iter().find(|row| row.get("value").contains("la li")).unwrap();
    for (way, syllables) in ["1 la li 2 la li", "1 & a 2 & a"].into_iter().zip([Syllables::LaLi, Syllables::EAndA]) {
        assert!(row.get("value").contains(way));
        assert_eq!(said("6/8", Division::Three, syllables).join(" "), way);
    }
}
