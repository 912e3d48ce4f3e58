//! In a roll: whose echo it is, and what the director's ear and the microphone say of it.

use jiff::Timestamp;
use pitch::Written;
use records::{Confidence, EntryMs, HeardBy, Record};
use sequencer::Motion;
use sequencer::plan::{Part, TurnKind};
use std::num::NonZeroU16;
use units::Cents;

use crate::app::effect::Effect;
use crate::app::state::{Base, Over, SeatHeard, State};
use crate::inputs::Verdict;
use crate::text::told;

/// Follows the roll from echo to echo; shows the ear's table once it is through.
pub(super) fn follow(state: &mut State, was: Option<Motion>) {
    if !state.is_roll() {
        return;
    }
    let echoing = state.bar().filter(|_| state.turn() == Some(TurnKind::Echo)).map(|bar| (bar.station, bar.round));
    let seat = state.station().and_then(|station| station.seat);
    state.ear.follow(echoing, seat);
    let through = state.pulse.motion == Some(Motion::Done) && was.is_some_and(|was| matches!(was, Motion::Running | Motion::Closing));
    if through && state.over.is_none() && state.base == Base::Stage {
        state.over = Some(Over::Ear(0));
    }
}

/// Takes the verdict on the seat that echoes or echoed last.
pub(super) fn note(state: &mut State, verdict: Verdict) -> Vec<Effect> {
    if !state.is_roll() {
        state.tell(told::NO_ROLL);
        return Vec::new();
    }
    let Some(seat) = state.ear.note(verdict) else {
        state.tell(told::NO_SEAT_YET);
        return Vec::new();
    };
    state.tell(told::noted(seat, verdict));
    let said = Said {
        verdict: match verdict {
            Verdict::OnIt => records::Verdict::OnIt,
            Verdict::Low => records::Verdict::Low,
            Verdict::High => records::Verdict::High,
            Verdict::Silent => records::Verdict::Nothing,
        },
        heard: None,
        cents: None,
        entry: None,
        by: HeardBy::Ear,
        confidence: None,
    };
    let target = first_note(state);
    record(state, seat, target, said).map(|record| Effect::Keep(state.ear.echo(), Box::new(record))).into_iter().collect()
}

/// Takes what the microphone heard of a seat.
pub(super) fn hear(state: &mut State, heard: &SeatHeard) -> Vec<Effect> {
    state.ear.hear(heard);
    state.tell(crate::text::ear::heard(heard));
    let Some(note) = state.ear.next_note() else { return Vec::new() };
    let judged = heard.judged;
    let said = Said {
        verdict: judged.verdict,
        heard: judged.heard,
        cents: judged.cents,
        entry: judged.entry_ms.map(EntryMs),
        by: HeardBy::Microphone,
        confidence: Confidence::new(judged.confidence),
    };
    record(state, heard.seat, Some(heard.target), said).map(|record| Effect::Keep(note, Box::new(record))).into_iter().collect()
}

/// What is said of an echo, by whom.
struct Said {
    verdict: records::Verdict,
    heard: Option<Written>,
    cents: Option<Cents>,
    entry: Option<EntryMs>,
    by: HeardBy,
    confidence: Option<Confidence>,
}

/// The first note the section of the roll reads.
fn first_note(state: &State) -> Option<Written> {
    match state.plan()?.part(state.ear.roll()?.section) {
        Part::Notes(notes) => notes.iter().find_map(|note| note.pitch).map(|pitch| pitch.written),
        Part::Nothing | Part::DoesNotFit { .. } => None,
    }
}

/// The verdict as it is kept.
fn record(state: &State, seat: u16, target: Option<Written>, said: Said) -> Option<Record> {
    let (roll, led) = (state.ear.roll()?, state.leading()?);
    let lesson = state.lesson.as_ref().filter(|_| led.errand.lesson.is_some());
    let Said { verdict, heard, cents, entry, by, confidence } = said;
    Some(Record {
        when: Timestamp::now(),
        room: led.room.name.clone(),
        section: roll.name.clone(),
        seat: NonZeroU16::new(seat),
        drill: led.score.plan.title.clone(),
        lesson: lesson.map(|lesson| lesson.title.clone()),
        target,
        heard,
        verdict,
        cents,
        entry,
        by,
        confidence,
    })
}
