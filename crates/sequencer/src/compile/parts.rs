//! Who reads what: lines fitted to every section of the room.

use pitch::{Concert, Instrument, Key, Pitch, Tuning, Written};
use units::Beats;

use super::problems::{CompileError, Place, Problem};
use crate::drill::{Drill, Line, SectionLine};
use crate::plan::{Notice, Part, PartNote, PartPitch};
use crate::room::Section;
use crate::{Meter, Room, SectionIndex, SectionSet};

/// Every section's part, and how many bars they last.
pub(super) struct Parts {
    parts: Vec<Part>,
    notices: Vec<Notice>,
    bars: usize,
}

impl Parts {
    /// Fits the drill's lines to every section; what is wrong goes to `problems`.
    pub(super) fn fit(room: &Room, drill: &Drill, problems: &mut CompileError) -> Self {
        let mut bars = None;
        if let Some(line) = &drill.everyone {
            check_length(line, drill.meter, Place::Everyone, &mut bars, problems);
        }
        let mut own = vec![None; room.sections.len()];
        for (index, (name, line)) in drill.own.iter().enumerate() {
            let place = Place::Own(index);
            check_length(line, drill.meter, place.clone(), &mut bars, problems);
            match room.find(name).and_then(|section| own.get_mut(usize::from(section.0))) {
                Some(slot) => *slot = Some((line, place)),
                None => problems.push(place, Problem::UnknownSection { name: name.clone() }),
            }
        }
        let key = drill.key.unwrap_or_else(|| key_for(concert_pitches(drill)));
        let mut fitted = Self { parts: Vec::new(), notices: Vec::new(), bars: bars.unwrap_or(0) };
        for ((index, section), own) in room.indexed().zip(own) {
            let part = match own.or_else(|| drill.everyone.as_ref().map(|line| (line, Place::Everyone))) {
                Some((line, place)) => fitted.part_for(room, index, section, line, key, place, problems),
                None => Part::Nothing,
            };
            fitted.parts.push(part);
        }
        fitted
    }

    /// A part for one section only.
    pub(super) fn of_one(room: &Room, section: SectionIndex, notes: &[(PartPitch, Beats)]) -> Self {
        let mut parts = vec![Part::Nothing; room.sections.len()];
        let mut start = Beats::ZERO;
        let own = notes
            .iter()
            .map(|(pitch, length)| {
                let note = PartNote { pitch: Some(*pitch), start, length: *length };
                start += *length;
                note
            })
            .collect();
        if let Some(slot) = parts.get_mut(usize::from(section.0)) {
            *slot = Part::Notes(own);
        }
        Self { parts, notices: Vec::new(), bars: notes.len() }
    }

    /// Parts for no section: nothing is sounded for anyone.
    pub(super) fn none(room: &Room) -> Self {
        Self { parts: vec![Part::Nothing; room.sections.len()], notices: Vec::new(), bars: 0 }
    }

    pub(super) fn part(&self, section: SectionIndex) -> &Part {
        self.parts.get(usize::from(section.0)).unwrap_or(&Part::Nothing)
    }

    /// How many bars every line lasts.
    pub(super) fn bars(&self) -> usize {
        self.bars
    }

    /// The sections that have something to play.
    pub(super) fn sections(&self) -> SectionSet {
        let playing = |(index, part): (usize, &Part)| matches!(part, Part::Notes(_)).then_some(SectionIndex(index as u8));
        self.parts.iter().enumerate().filter_map(playing).collect()
    }

    pub(super) fn into_parts(self) -> (Vec<Part>, Vec<Notice>) {
        (self.parts, self.notices)
    }

    #[allow(clippy::too_many_arguments, reason = "all of it decides where one line lands")]
    fn part_for(
        &mut self,
        room: &Room,
        index: SectionIndex,
        section: &Section,
        line: &SectionLine,
        key: Key,
        place: Place,
        problems: &mut CompileError,
    ) -> Part {
        let instrument = section.instrument;
        let tuning = room.equal_tuning();
        let (written, lengths): (Vec<Option<Written>>, Vec<Beats>) = match line {
            line if !instrument.is_pitched() => strokes(line, instrument.full().low()),
            SectionLine::Written(line) => (line.pitches(), lengths(line)),
            SectionLine::ExactConcert(line) => {
                let written = |concert: Option<Concert>| concert.map(|concert| instrument.written_for(concert, key));
                (line.pitches().into_iter().map(written).collect(), lengths(line))
            }
            SectionLine::Concert(line) => match pitch::fit_line(instrument, &section.comfortable, &line.pitches(), key) {
                Ok(fitted) => (fitted.written, lengths(line)),
                Err(nothing) => {
                    let would_fit = nothing.to_string();
                    self.notices.push(Notice { section: Some(index), text: format!("{} sit out: {would_fit}", section.name) });
                    return Part::DoesNotFit { would_fit };
                }
            },
        };
        let full = instrument.full();
        let mut uncomfortable = Vec::new();
        for note in written.iter().flatten() {
            if !full.contains(*note) {
                let (low, high) = (full.low().to_string(), full.high().to_string());
                let problem = Problem::OutsideInstrument { note: note.to_string(), instrument: instrument.label().to_owned(), low, high };
                problems.push(place.clone(), problem);
            } else if !section.comfortable.contains(*note) {
                uncomfortable.push(note.to_string());
            }
        }
        if !uncomfortable.is_empty() {
            let text = format!("{}: {} outside their comfortable {}", section.name, uncomfortable.join(", "), section.comfortable);
            self.notices.push(Notice { section: Some(index), text });
        }
        let mut start = Beats::ZERO;
        let notes = written.into_iter().zip(lengths).map(|(written, length)| {
            let note = PartNote { pitch: written.map(|written| pitch_of(instrument, written, &tuning)), start, length };
            start += length;
            note
        });
        Part::Notes(notes.collect())
    }
}

/// A written note with what sounds.
pub(super) fn pitch_of(instrument: &Instrument, written: Written, tuning: &Tuning) -> PartPitch {
    let concert = instrument.sounding(written);
    PartPitch { written, concert, frequency: tuning.frequency(concert) }
}

/// A drum's part in any line: its rhythm, every note at the drum's one place on the staff.
fn strokes(line: &SectionLine, place: Written) -> (Vec<Option<Written>>, Vec<Beats>) {
    fn of<P: Copy>(line: &Line<P>, place: Written) -> (Vec<Option<Written>>, Vec<Beats>) {
        (line.notes.iter().map(|(note, _)| note.map(|_| place)).collect(), lengths(line))
    }
    match line {
        SectionLine::Concert(line) | SectionLine::ExactConcert(line) => of(line, place),
        SectionLine::Written(line) => of(line, place),
    }
}

fn lengths<P: Copy>(line: &Line<P>) -> Vec<Beats> {
    line.notes.iter().map(|(_, beats)| *beats).collect()
}

fn check_length(line: &SectionLine, meter: Meter, place: Place, bars: &mut Option<usize>, problems: &mut CompileError) {
    let beats = line.beats();
    if beats == Beats::ZERO {
        problems.push(place, Problem::EmptyLine);
        return;
    }
    let whole = (beats.as_f64() / f64::from(meter.beats())).ceil() as i64;
    let missing = meter.bar() * whole - beats;
    if missing != Beats::ZERO {
        let mend = format!("add {missing} more, or a rest (-:{missing}) at the end");
        problems.push(place, Problem::BarsNotFilled { beats: beats.to_string(), bar: meter.bar().to_string(), mend });
        return;
    }
    match *bars {
        None => *bars = Some(whole as usize),
        Some(others) if others != whole as usize => problems.push(place, Problem::UnequalLines { bars: whole as usize, others }),
        Some(_) => {}
    }
}

/// All concert pitches of a drill; what is written for one section is left to that section.
fn concert_pitches(drill: &Drill) -> Vec<Concert> {
    let lines = drill.everyone.iter().chain(drill.own.iter().map(|(_, line)| line));
    lines
        .flat_map(|line| match line {
            SectionLine::Concert(line) | SectionLine::ExactConcert(line) => line.pitches(),
            SectionLine::Written(_) => Vec::new(),
        })
        .flatten()
        .collect()
}

/// See [`super::key_for`].
pub(super) fn key_for(pitches: impl IntoIterator<Item = Concert>) -> Key {
    /// Two flats: B flat major.
    const HOME: i32 = -2;
    let (mut lowest, mut highest) = (i32::MAX, i32::MIN);
    for concert in pitches {
        let place = fifths_from_c(concert.pitch());
        lowest = lowest.min(place);
        highest = highest.max(place);
    }
    // a major key of k fifths holds the notes from k - 1 (its fourth) to k + 5 (its seventh) on the line of fifths
    let fifths = if lowest > highest { HOME } else { HOME.max(highest - 5).min((lowest + 1).max(highest - 5)) };
    Key::major(fifths.clamp(-6, 6)).unwrap_or_default()
}

/// Where a spelled note stands on the line of fifths, C being zero, G one and F minus one.
fn fifths_from_c(pitch: Pitch) -> i32 {
    // a fifth up is four letters up; a sharp is seven fifths up
    let letter = [0, 2, 4, -1, 1, 3, 5].get(pitch.step().index() as usize).copied().unwrap_or(0);
    letter + 7 * pitch.alteration().semitones()
}
