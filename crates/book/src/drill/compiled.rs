//! What compiling finds wrong, at its place in the file.

use pitch::{Reference, Temperament, Written};
use sequencer::compile::{self, CompileError, Place, Problem};
use sequencer::{Drill, Drone, Language, Mix, Registers, Room, SectionLine, Syllables};
use std::ops::Range;

use super::{DrillFile, LineSpans, Spans};
use crate::fault::{Fault, Faults};
use crate::room::nearest_section;
use crate::source::Source;
use crate::walk;

/// What is wrong with a drill in any room: found by compiling it for a room without sections and leaving out what that room is to blame
/// for. Of a drill that is not `whole` only the parts that were read are judged.
pub(super) fn without_a_room(source: &Source, drill: &Drill, spans: &Spans, whole: bool) -> Vec<Fault> {
    let Ok(root) = "Bb3".parse() else { return Vec::new() };
    let drone = Drone { root, stack: Vec::new(), temperament: Temperament::default(), registers: Registers::Stack };
    let empty = Room {
        name: String::new(),
        reference: Reference::default(),
        sections: Vec::new(),
        drone,
        syllables: Syllables::default(),
        soundfont: None,
        voice: None,
        language: Language::default(),
        mix: Mix::default(),
    };
    let Err(CompileError { mut problems }) = compile::drill(&empty, drill) else { return Vec::new() };
    problems.retain(|(place, problem)| {
        // the room may count another way
        let needs_a_room = drill.syllables.is_none() && matches!(problem, Problem::NoSyllables { .. })
            || matches!(
                problem,
                Problem::UnknownSection { .. }
                    | Problem::NoSuchSection
                    | Problem::NothingForSection { .. }
                    | Problem::NothingFits { .. }
                    | Problem::OutsideInstrument { .. }
            );
        !needs_a_room && (whole || !matches!(place, Place::Whole | Place::Rounds))
    });
    faults(source, drill, spans, &empty, &problems)
}

impl DrillFile {
    pub(super) fn faults(&self, room: &Room, error: &CompileError) -> Faults {
        let faults = faults(&self.source, &self.drill, &self.spans, room, &error.problems);
        let whole = || Faults::from(self.source.fault(self.spans.title.clone(), error.to_string(), "change the drill"));
        Faults::new(faults).unwrap_or_else(whole)
    }
}

fn faults(source: &Source, drill: &Drill, spans: &Spans, room: &Room, problems: &[(Place, Problem)]) -> Vec<Fault> {
    let mut faults: Vec<Fault> = Vec::new();
    for (place, problem) in problems {
        let (message, mend) = match problem {
            Problem::UnknownSection { name } => (problem.to_string(), nearest_section(room, name)),
            _ => walk::in_two(&problem.to_string()),
        };
        let fault = source.fault(span(drill, spans, room, place, problem), message, mend);
        if !faults.contains(&fault) {
            faults.push(fault);
        }
        if faults.len() == Faults::MOST {
            break;
        }
    }
    faults
}

fn span(drill: &Drill, spans: &Spans, room: &Room, place: &Place, problem: &Problem) -> Range<usize> {
    let found = match place {
        Place::Whole => None,
        Place::Rounds => Some(spans.rounds.clone()),
        Place::Group { group, member } => spans.groups.get(*group).map(|(whole, members)| {
            let member = member.and_then(|member| members.get(member));
            member.unwrap_or(whole).clone()
        }),
        Place::Everyone => drill.everyone.as_ref().map(|line| note(line, &spans.everyone, room, problem)),
        Place::Own(index) => match (spans.own.get(*index), drill.own.get(*index)) {
            (Some((name, _)), _) if matches!(problem, Problem::UnknownSection { .. }) => Some(name.clone()),
            (Some((_, line_spans)), Some((_, line))) => Some(note(line, line_spans, room, problem)),
            _ => None,
        },
        Place::Turn(index) => spans.turns.get(*index).map(|turn| turn.beats.clone()),
        Place::Division(index) => spans.turns.get(*index).map(|turn| turn.division.clone()),
    };
    found.unwrap_or(spans.title.clone())
}

/// The token a problem speaks of, or the whole line.
fn note(line: &SectionLine, spans: &LineSpans, room: &Room, problem: &Problem) -> Range<usize> {
    let token = || {
        let Problem::OutsideInstrument { note, instrument, .. } = problem else { return None };
        let written: Written = note.parse().ok()?;
        let instrument = room.sections.iter().map(|section| section.instrument).find(|known| known.label() == instrument)?;
        let index = match line {
            SectionLine::Written(line) => line.pitches().iter().position(|pitch| *pitch == Some(written)),
            SectionLine::Concert(line) | SectionLine::ExactConcert(line) => {
                let sounds = instrument.sounding(written).semitone();
                line.pitches().iter().position(|pitch| pitch.is_some_and(|concert| concert.semitone() == sounds))
            }
        };
        spans.tokens.get(index?).cloned()
    };
    token().unwrap_or(spans.whole.clone())
}
