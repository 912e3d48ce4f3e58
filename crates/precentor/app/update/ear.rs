//! Whose echo it is, and what the director's ear and the microphone say of it; and who plays freely.

use jiff::Timestamp;
use pitch::Written;
use records::{Confidence, EntryMs, HeardBy, NoteShare, Record, SectionRecord, SpreadMs};
use sequencer::plan::{Part, TurnKind};
use sequencer::{Cue, Motion, SectionIndex};
use std::num::NonZeroU16;
use std::sync::Arc;
use units::Cents;

use crate::app::effect::Effect;
use crate::app::state::{AtTheDesk, Base, Hearing, Led, OpenEar, Over, SeatHeard, SeatedOn, SectionHeard, State};
use crate::inputs::Verdict;
use crate::text::told;

/// Follows the plan from echo to echo; shows the ear's table once a roll is through.
pub(super) fn follow(state: &mut State, was: Option<Motion>) {
    let echoing = state.bar().filter(|_| state.turn() == Some(TurnKind::Echo)).map(|bar| (bar.station, bar.round));
    let seat = state.station().and_then(|station| station.seat);
    state.ear.follow(echoing, seat);
    if !state.is_roll() {
        return;
    }
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
    state.ear.kept = state.ear.next_note();
    // what the director noted counts, and needs no voice
    let Some(note) = state.ear.kept else { return Vec::new() };
    state.ear.remark_on(heard);
    let mut effects = remark(state);
    let judged = heard.judged;
    let said = Said {
        verdict: judged.verdict,
        heard: judged.heard,
        cents: judged.cents,
        entry: judged.entry_ms.map(EntryMs),
        by: HeardBy::Microphone,
        confidence: Confidence::new(judged.confidence),
    };
    effects.extend(record(state, heard.seat, Some(heard.target), said).map(|record| Effect::Keep(note, Box::new(record))));
    effects
}

/// What was heard of the last echo said aloud, in the rest after it. While the class still answers it waits: the engine would refuse it.
pub(super) fn remark(state: &mut State) -> Vec<Effect> {
    let rests = state.is_roll() && state.turn() == Some(TurnKind::Rest) && state.says_verdicts();
    let verdict = if rests { state.ear.take_remark() } else { None };
    verdict.and_then(|verdict| crate::text::ear::spoken(verdict, state.class().language)).map(Effect::Say).into_iter().collect()
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

/// The title of the lesson that `led` is an item of.
fn lesson_of(state: &State, led: &Led) -> Option<String> {
    state.lesson.as_ref().filter(|_| led.errand.lesson.is_some()).map(|lesson| lesson.title.clone())
}

/// The verdict as it is kept.
fn record(state: &State, seat: u16, target: Option<Written>, said: Said) -> Option<Record> {
    let (roll, led) = (state.ear.roll()?, state.leading()?);
    let Said { verdict, heard, cents, entry, by, confidence } = said;
    Some(Record {
        when: Timestamp::now(),
        room: led.room.name.clone(),
        section: roll.name.clone(),
        seat: NonZeroU16::new(seat),
        drill: led.score.plan.title.clone(),
        lesson: lesson_of(state, led),
        target,
        heard,
        verdict,
        cents,
        entry,
        by,
        confidence,
    })
}

/// Takes what the microphone heard of a section that answered alone. In an adaptive drill it decides how to go on, unless the director
/// has decided already.
pub(super) fn hear_section(state: &mut State, heard: &SectionHeard) -> Vec<Effect> {
    let share = state.ear.hear_section(heard);
    state.ear.kept = None;
    let mut effects: Vec<Effect> = keep_section(state, heard).into_iter().collect();
    let name = state.class().section(heard.section).map(|section| section.name.clone()).unwrap_or_default();
    let said = crate::text::ear::section(&name, heard);
    let decided = share.filter(|_| state.asked.is_none()).and_then(|share| decide(state, share));
    let Some(cue) = decided else {
        state.tell(said);
        return effects;
    };
    state.asked = Some(cue);
    state.tell(format!("{said} {}", crate::text::ear::decided(cue)));
    effects.push(Effect::Cue(cue));
    effects
}

/// A section's echo as it is kept; nothing where no section was to be heard.
fn keep_section(state: &mut State, heard: &SectionHeard) -> Option<Effect> {
    let seated = heard.seated.as_ref()?;
    let echo = state.ear.next_note()?;
    let led = state.leading()?;
    let share = |on: &SeatedOn| NoteShare { written: on.written, share: on.share, low: on.bounds.0, high: on.bounds.1 };
    let record = SectionRecord {
        when: Timestamp::now(),
        room: led.room.name.clone(),
        section: led.room.section(heard.section)?.name.clone(),
        drill: led.score.plan.title.clone(),
        lesson: lesson_of(state, led),
        target: Some(heard.target),
        shares: seated.notes.iter().map(share).collect(),
        players: NonZeroU16::new(u16::from(heard.heads)),
        elsewhere: Some(seated.elsewhere),
        cents: Some(seated.tuning),
        entry: heard.entries.map(|entries| EntryMs(entries.mean_ms)),
        spread: heard.entries.map(|entries| SpreadMs(entries.spread_ms)),
    };
    state.ear.kept = Some(echo);
    Some(Effect::KeepSection(echo, Box::new(record)))
}

/// How an adaptive drill goes on when `share` of the section was on its note: nothing lets the round come again, or the plan take its course.
fn decide(state: &State, share: f64) -> Option<Cue> {
    let adaptive = state.plan()?.adaptive?;
    let last_round = usize::from(state.bar()?.round) + 1 >= state.station()?.rounds.len();
    if !matches!(state.pulse.motion, Some(Motion::Running)) || last_round {
        return None;
    }
    let percent = 100.0 * share;
    if percent >= f64::from(adaptive.enough) {
        Some(Cue::Next)
    } else if percent < f64::from(adaptive.landmark_below) {
        Some(Cue::Landmark)
    } else {
        None
    }
}

/// Opens the ear for whoever of the section that is shown plays freely.
pub(super) fn open(state: &mut State) -> Vec<Effect> {
    let Some(section) = one_pitched(state) else {
        state.tell(told::NOBODY_PITCHED);
        return Vec::new();
    };
    let opened = state.hearing.is_closed();
    let mut effects = Vec::new();
    if opened {
        state.hearing = Hearing::Opening;
        effects.push(Effect::Listen(true));
    }
    effects.extend(turn_to(state, OpenEar { section, sounding: None, opened }, 0));
    effects
}

/// Hears who plays near the drone as long as its screen is open and the microphone on.
pub(super) fn at_the_desk(state: &mut State) -> Option<Effect> {
    let open = matches!(state.over, Some(Over::DroneDesk(_))) && !state.hearing.is_closed();
    let section = if open { one_pitched(state) } else { None };
    if section == state.at_the_desk.map(|heard| heard.section) {
        return None;
    }
    state.at_the_desk = section.map(|section| AtTheDesk { section, sounding: None });
    let Some(who) = section.and_then(|section| state.class().section(section)) else {
        // what the open ear hears is its own
        return (!matches!(state.over, Some(Over::OpenEar(_)))).then_some(Effect::OpenEar(None));
    };
    Some(Effect::OpenEar(Some((who.instrument, state.class().equal_tuning()))))
}

/// The section that is shown, or the first with a pitch.
fn one_pitched(state: &State) -> Option<SectionIndex> {
    let pitched = |section: &SectionIndex| state.class().section(*section).is_some_and(|who| who.instrument.is_pitched());
    Some(state.shown_section()).filter(pitched).or_else(|| state.class().everyone().iter().find(pitched))
}

/// Goes `by` sections on to whom the open ear hears.
pub(super) fn turn_to(state: &mut State, open: OpenEar, by: i32) -> Vec<Effect> {
    let class = Arc::clone(state.class());
    let pitched: Vec<SectionIndex> = class.indexed().filter(|(_, who)| who.instrument.is_pitched()).map(|(section, _)| section).collect();
    let here = pitched.iter().position(|section| *section == open.section).unwrap_or(0);
    let there = here.saturating_add_signed(by as isize).min(pitched.len().saturating_sub(1));
    let Some((section, who)) = pitched.get(there).and_then(|section| Some((*section, class.section(*section)?))) else { return Vec::new() };
    state.picked = Some(section);
    state.over = Some(Over::OpenEar(OpenEar { section, sounding: None, ..open }));
    vec![Effect::OpenEar(Some((who.instrument, class.equal_tuning())))]
}

/// Closes the open ear, and the microphone if it was opened for it.
pub(super) fn leave(state: &mut State, open: OpenEar) -> Vec<Effect> {
    let mut effects = vec![Effect::OpenEar(None)];
    if open.opened {
        state.hearing = Hearing::Off;
        effects.push(Effect::Listen(false));
    }
    effects
}
