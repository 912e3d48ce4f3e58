//! What a class would notice: who plays what, when, and what a cue does.

mod climbing;
mod compiling;
mod practising;
mod registers;
mod stepping;

use pitch::{Concert, Instrument, Temperament, Written};
use std::num::NonZeroU16;
use units::{Beats, Tempo};

use crate::{Division, Drill, Drone, Group, Language, Line, Meter, Room, Section, SectionLine, StackTone, Syllables, Turn};

/// A small invented room.
fn room() -> Room {
    let section = |name: &str, instrument: &str, seats: u16, landmarks: &[&str]| {
        let instrument = Instrument::find(instrument).unwrap();
        Section {
            name: name.to_owned(),
            instrument,
            seats: NonZeroU16::new(seats).unwrap(),
            comfortable: *instrument.comfortable(),
            landmarks: landmarks.iter().map(|note| note.parse().unwrap()).collect(),
            preset: None,
            level: units::Decibels(0.0),
            trusted: name == "Trombones",
        }
    };
    Room {
        name: "Ferry Lane School, period 3".to_owned(),
        reference: Default::default(),
        sections: vec![
            section("Flutes", "flute", 5, &["F5", "D5", "Bb4"]),
            section("Clarinets", "clarinet_bb", 6, &["G4", "E4", "C4"]),
            section("Trumpets", "trumpet_bb", 4, &["G4", "E4", "C4"]),
            section("Horns", "horn_f", 3, &["G4", "E4", "C4"]),
            section("Trombones", "trombone", 3, &[]),
        ],
        drone: Drone {
            root: "Bb3".parse().unwrap(),
            stack: vec![StackTone::Root, StackTone::Fifth],
            temperament: Temperament::Just,
            registers: crate::Registers::Stack,
        },
        syllables: Syllables::default(),
        soundfont: None,
        voice: None,
        language: Language::English,
        mix: Default::default(),
    }
}

fn concert(line: &[(&str, i64)]) -> SectionLine {
    SectionLine::Concert(Line { notes: notes::<Concert>(line) })
}

fn written(line: &[(&str, i64)]) -> SectionLine {
    SectionLine::Written(Line { notes: notes::<Written>(line) })
}

fn notes<P: std::str::FromStr>(line: &[(&str, i64)]) -> Vec<(Option<P>, Beats)> {
    line.iter().map(|(note, beats)| ((*note != "-").then(|| note.parse().ok()).flatten(), Beats::whole(*beats))).collect()
}

/// The middle note: one bar each of count, model, breath, echo and breath, four rounds, three groups.
fn middle_note() -> Drill {
    Drill {
        title: "Middle note".to_owned(),
        tempo: Tempo::new(72.0).unwrap(),
        meter: Meter::COMMON,
        key: None,
        rounds: 4,
        groups: vec![
            Group::Sections(vec!["Horns".to_owned()]),
            Group::Sections(vec!["Flutes".to_owned(), "trumpets".to_owned()]),
            Group::Everyone,
        ],
        everyone: Some(concert(&[("F4", 4)])),
        own: vec![("Horns".to_owned(), written(&[("G4", 4)]))],
        turns: vec![
            Turn::Count { bars: 1, first_round_only: false, division: Division::Beat },
            Turn::Model,
            Turn::Breath { bars: 1, beats: 2, division: Division::Beat },
            Turn::Echo,
            Turn::Breath { bars: 1, beats: 2, division: Division::Beat },
        ],
        syllables: None,
        call: false,
        click: true,
        adaptive: None,
        say_verdicts: false,
    }
}
