//! Leading a lesson: one item after another, skipping and coming back, and what is remembered of it.

use sequencer::plan::PlanKind;
use sequencer::{Cue, Motion};
use std::time::{Duration, SystemTime};
use units::Tempo;

use super::{enter, item_of, place_kept};
use crate::app::action::OpenedRoom;
use crate::app::effect::{Effect, Errand, Start};
use crate::app::state::{LessonRun, OpenedLesson, Over, State};
use crate::standing::{ClimbStanding, Place};
use crate::text::{lesson as text, told};
use crate::workshop::Choice;

/// A start later than this is told of.
const WORTH_TELLING: Duration = Duration::from_secs(60);
/// How often a lesson that stands is remembered all the same, for its clock: 10 s.
const KEPT_EVERY: Duration = Duration::from_secs(10);

/// Enters the room of a lesson and stands at its first item, or where it was left.
pub(super) fn open(state: &mut State, room: Option<OpenedRoom>, opened: &OpenedLesson) -> Vec<Effect> {
    let mut effects = room.map(|room| enter(state, OpenedRoom { first: None, ..room })).unwrap_or_default();
    let mut run = LessonRun::new(opened, state.now);
    run.tick(state.now, false);
    // the cautions are read first
    state.over.take_if(|over| !matches!(over, Over::Cautions));
    state.aside = None;
    state.kept = None;
    let errand = run.errand(run.at, Start::OnGo).map(|errand| match &opened.resume {
        Some(resumed) => Errand { stood: resumed.at.place.map(|place| (place, resumed.tempo)), ..errand },
        None => errand,
    });
    let at_fault = run.items.iter().filter(|item| item.errand.is_err()).count();
    state.tell(match &opened.resume {
        Some(resumed) => {
            let item = run.items.get(run.at).map_or("", |item| item.name.as_str());
            format!("{} {}", text::resume(&run.title, item, resumed.ago), told::GO_TAKES_IT_UP)
        }
        None => opening_words(&run, at_fault),
    });
    state.lesson = Some(run);
    // the words above are not to be lost under those of the item
    effects.extend(errand.map(Effect::Lead));
    effects
}

fn opening_words(run: &LessonRun, at_fault: usize) -> String {
    let clock = run.clock();
    let mut words = vec![told::lesson(&run.title, run.items.len())];
    if at_fault > 0 {
        words.push(told::items_at_fault(at_fault));
    }
    if run.at_fault.is_some() {
        words.push(told::OTHER_ROOM.to_owned());
    }
    if clock.hour.run >= WORTH_TELLING {
        words.push(format!("{}.", text::begun_late(clock.hour.run)));
    }
    if let Some(proposal) = &clock.proposal {
        if !clock.misfits.is_empty() {
            words.push(format!("{}.", text::no_longer_fit(&clock.misfits, &run.names())));
        }
        words.push(told::proposed(&text::proposal(proposal, &run.names())));
    }
    words.join(" ")
}

/// A file of the lesson was edited: its items by their new names and times, and what is led of it read again.
pub(super) fn refresh(state: &mut State, opened: Option<&OpenedLesson>) -> Vec<Effect> {
    let led = state.led.as_ref().and_then(|led| item_of(led));
    let Some((run, opened)) = state.lesson.as_mut().zip(opened) else { return vec![Effect::Reread(led)] };
    let known = run.reread(opened);
    let again = |number: usize| known.iter().position(|was| *was == Some(number));
    let now = led.and_then(again);
    if let Some(Choice::Item { number }) = state.aside.as_mut().map(|aside| &mut aside.choice) {
        *number = again(*number).unwrap_or(run.at);
    }
    let mut effects = match (led, now) {
        // what is led is gone from the file: it goes on as it is
        (Some(_), None) => Vec::new(),
        _ => vec![Effect::Reread(now)],
    };
    effects.extend(queue(state));
    effects
}

/// The item `number` cannot be made: it is told of and passed by from now on.
pub(super) fn at_fault(state: &mut State, number: usize, why: String) -> Vec<Effect> {
    let Some(run) = &mut state.lesson else { return Vec::new() };
    let was_queued = run.queued == Some(number);
    run.is_at_fault(number, why);
    state.changed = true;
    if was_queued {
        state.tell(told::NEXT_AT_FAULT);
        return queue(state);
    }
    state.tell(told::ITEM_AT_FAULT);
    Vec::new()
}

/// An item of the lesson is led now, loaded anew or as it is: it stands, and what follows it comes by itself or waits.
pub(super) fn arrived(state: &mut State, number: usize, is_loaded: bool) -> Vec<Effect> {
    let Some(run) = &mut state.lesson else { return Vec::new() };
    run.at = number;
    run.leave_at(None);
    state.kept = None;
    queue_behind(state, is_loaded)
}

/// Something else than the lesson's standing item comes: that is left where it stands.
pub(super) fn leave(state: &mut State) {
    let place = place_in_item(state);
    if let Some(run) = state.lesson.as_mut().filter(|_| place.is_some()) {
        run.leave_at(place);
    }
}

/// Where the standing item stands, if it is led or only gone aside from, and is not through.
fn place_in_item(state: &State) -> Option<(u32, Tempo)> {
    let kept = place_kept(state)?;
    let at = state.lesson.as_ref()?.at;
    let through = state.aside.is_none() && state.pulse.motion == Some(Motion::Done);
    kept.place.filter(|_| kept.choice == Choice::Item { number: at } && !through)
}

/// Lets the engine know what comes by itself after what is led.
fn queue(state: &mut State) -> Vec<Effect> {
    queue_behind(state, false)
}

/// The same; `is_loaded` where what is led was just given to the engine, which may not have taken it up yet.
fn queue_behind(state: &mut State, is_loaded: bool) -> Vec<Effect> {
    let leads_an_item = state.led.as_ref().is_some_and(|led| led.errand.lesson.is_some());
    // behind a plan that is through it would start at once; there go leads on
    let through = state.pulse.motion == Some(Motion::Done) && !is_loaded;
    let Some(run) = state.lesson.as_mut().filter(|_| leads_an_item) else { return Vec::new() };
    match run.comes_by_itself().filter(|_| !through) {
        Some((next, within)) => {
            run.queued = Some(next);
            vec![Effect::Queue(run.errand(next, Start::AtOnce), within)]
        }
        None => {
            run.queued = None;
            vec![Effect::Queue(None, None)]
        }
    }
}

/// On to another item; what stands is left where it stands.
pub(super) fn go_to(state: &mut State, number: Option<usize>) -> Vec<Effect> {
    state.over = None;
    if state.lesson.is_none() {
        state.tell(told::NO_LESSON);
        return Vec::new();
    }
    let Some(number) = number else {
        state.tell(told::LESSON_THROUGH);
        return Vec::new();
    };
    leave(state);
    state.aside = None;
    let moving = state.pulse.is_moving();
    let Some(run) = &state.lesson else { return Vec::new() };
    run.errand(number, if moving { Start::AtOnce } else { Start::OnGo }).map(Effect::Lead).into_iter().collect()
}

/// The item after the standing one.
pub(super) fn next(state: &State) -> Option<usize> {
    state.lesson.as_ref().and_then(|run| run.sound_from(run.at + 1))
}

/// The item before the standing one, or the standing one itself where something else is led or it is the first.
pub(super) fn previous(state: &State) -> Option<usize> {
    let run = state.lesson.as_ref()?;
    let before = run.sound_before().filter(|_| state.leading().is_some_and(|led| led.errand.lesson.is_some()));
    Some(before.unwrap_or(run.at))
}

/// What `cue` does where the standing item is through or goes on until it is left: the next one starts. Nothing where the cue is for the item.
pub(super) fn leads_on(state: &mut State, cue: Cue) -> Option<Vec<Effect>> {
    if !matches!(cue, Cue::Go | Cue::Next) || state.aside.is_some() {
        return None;
    }
    state.lesson.as_ref().filter(|run| run.queued.is_none())?;
    let led = state.leading()?;
    led.errand.lesson.as_ref()?;
    let left_by_go = match led.score.plan.kind {
        // a drone that sounds, a talk that waits
        PlanKind::Hold => state.pulse.is_moving(),
        PlanKind::Talk => state.motion() == Some(Motion::Waiting),
        _ => false,
    };
    if state.motion() != Some(Motion::Done) && !left_by_go {
        return None;
    }
    let Some(next) = next(state) else {
        state.tell(told::LESSON_THROUGH);
        return Some(vec![Effect::Cue(Cue::Hush)]);
    };
    let run = state.lesson.as_mut()?;
    Some(run.errand(next, Start::AtOnce).map(Effect::Lead).into_iter().collect())
}

/// What the clock proposes is agreed to.
pub(super) fn agree(state: &mut State) -> Vec<Effect> {
    let Some(run) = &mut state.lesson else {
        state.tell(told::NO_LESSON);
        return Vec::new();
    };
    let proposal = run.clock().proposal;
    if let Some(proposal) = proposal.filter(|_| run.agree()) {
        let words = told::agreed(&text::proposal(&proposal, &run.names()));
        state.tell(words);
        return queue(state);
    }
    state.tell(told::ALL_FITS);
    Vec::new()
}

/// Follows the engine: a new item that came by itself, the clock, and what is worth remembering.
pub(super) fn follow(state: &mut State) -> Vec<Effect> {
    let mut effects = Vec::new();
    let talks = state.motion() == Some(Motion::Waiting);
    let moves = state.pulse.is_moving() || talks;
    if let Some(run) = &mut state.lesson {
        let before = run.clock().hour.run.as_secs() / 60;
        let was_begun = run.is_begun();
        run.tick(state.now, moves);
        let clock = run.clock();
        state.changed |= clock.hour.run.as_secs() / 60 != before;
        let begins = run.is_begun() && !was_begun;
        let up = clock.goes_on_in == Some(Duration::ZERO);
        if begins {
            // the item's minutes run from now, however long it stood ready
            effects.extend(queue(state));
        } else if up && talks && state.plan().is_some_and(|plan| plan.kind == PlanKind::Talk) {
            effects.extend(talked_long_enough(state));
        }
    }
    effects.extend(keep_lesson(state));
    effects.extend(keep_climb(state));
    effects
}

/// A talk whose minutes are up goes on to what comes by itself: it has no bar line at which the engine could.
fn talked_long_enough(state: &State) -> Option<Effect> {
    let run = state.lesson.as_ref().filter(|_| state.aside.is_none())?;
    state.leading()?.errand.lesson.as_ref()?;
    run.errand(run.queued?, Start::AtOnce).map(Effect::Lead)
}

fn keep_lesson(state: &mut State) -> Option<Effect> {
    let run = state.lesson.as_ref()?;
    state.leading()?.errand.lesson.as_ref()?;
    let through = state.pulse.motion == Some(Motion::Done) && run.sound_from(run.at + 1).is_none();
    if through && run.is_begun() {
        return state
            .kept
            .replace((usize::MAX, 0, 0, state.now))
            .is_none_or(|kept| kept.0 != usize::MAX)
            .then_some(Effect::KeepLesson(None));
    }
    let bar = state.bar()?;
    // a drone's rounds are its seconds
    let holds = state.plan()?.kind == PlanKind::Hold;
    let here = (run.at, bar.station, if holds { 0 } else { bar.round });
    let stale = |(item, station, round, at): (usize, u16, u16, Duration)| (item, station, round) != here || at + KEPT_EVERY <= state.now;
    if state.kept.is_some_and(|kept| !stale(kept)) {
        return None;
    }
    let top = state.plan()?.round_top(state.pulse.bar);
    let place = Place { station: usize::from(bar.station), round: usize::from(bar.round), bar: top as usize };
    let standing = run.standing(&state.room_source, place, state.pulse.tempo)?;
    state.kept = Some((here.0, here.1, here.2, state.now));
    Some(Effect::KeepLesson(Some(Box::new(standing))))
}

/// A climb that moves at another stage than it was last known to stand at.
fn keep_climb(state: &mut State) -> Option<Effect> {
    let led = state.leading()?;
    let of = led.climbing.as_ref()?;
    let station = state.bar().filter(|_| state.pulse.is_moving())?.station;
    let stage = led.score.plan.stations.get(usize::from(station))?;
    let tempo = led.score.plan.tempo_at(stage.first_bar)?.thousandths();
    let same = |known: &ClimbStanding| known.of == *of && known.tempo == tempo;
    if state.climb_kept.as_ref().is_some_and(same) {
        return None;
    }
    let standing = ClimbStanding { of: of.clone(), tempo, written: SystemTime::now() };
    state.climb_kept = Some(standing.clone());
    Some(Effect::KeepClimb(standing))
}

/// The passage that is climbed or rechecked, to be taken the other way: the file it is in, and its name.
pub(super) fn recheck(state: &mut State) -> Option<Vec<Effect>> {
    let led = state.leading()?;
    let errand = &led.errand;
    let piece = errand.piece.clone()?;
    let passage = match &errand.choice {
        Choice::Climb { passage } | Choice::Recheck { passage } => passage.clone(),
        Choice::Item { .. } => led.climbing.as_ref()?.passage.clone(),
        _ => return None,
    };
    let back = place_kept(state);
    let recheck = Errand { start: Start::AtOnce, ..Errand::piece(piece, Choice::Recheck { passage }) };
    state.aside = back;
    state.over = None;
    Some(vec![Effect::Lead(recheck)])
}
