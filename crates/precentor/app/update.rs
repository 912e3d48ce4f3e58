//! From a state and an action to what is to be done. No input, no output, no drawing.

mod choosing;
mod ear;
mod learning;
mod lesson;
#[cfg(test)]
mod tests;

use sequencer::plan::PlanKind;
use sequencer::{Cue, Motion, Role, Room, SectionIndex};
use std::sync::Arc;
use std::time::Duration;
use units::Decibels;

pub use learning::lessons;

use super::effect::{Effect, Errand, Loudspeaker, Start};
use super::state::{Base, Chooser, ChooserOf, DeskRow, Finder, Hearing, Led, Over, Pulse, QUIT_WITHIN, Sound, Standing, State, Voice};
use super::{Action, action::OpenedRoom};
use crate::inputs::{Command, Way};
use crate::text::told;
use crate::workshop::Choice;

/// Takes `action` in: changes the state and says what is to be done outside.
pub fn update(state: &mut State, action: Action) -> Vec<Effect> {
    let mut effects = take(state, action);
    effects.extend(ear::at_the_desk(state));
    effects
}

fn take(state: &mut State, action: Action) -> Vec<Effect> {
    match action {
        Action::Tick { snapshot, in_force, now } => return tick(state, Pulse::of(&snapshot), in_force, now),
        Action::Do(command) => {
            state.changed = true;
            return perform(state, command);
        }
        Action::Type(sign) => {
            if let Some(Over::Keys(finder) | Over::Commands(finder)) = &mut state.over {
                finder.typed.push(sign);
                finder.mark = 0;
            }
        }
        Action::Sound(sound) => return hear(state, sound),
        Action::Voice(voice) => {
            if let Voice::Missing(why) = &voice {
                state.tell(told::no_voice(why));
            }
            state.voice = voice;
        }
        Action::Room(opened) => return enter(state, *opened),
        Action::Lesson(opened) => {
            let (room, lesson) = *opened;
            return lesson::open(state, room, &lesson);
        }
        Action::LessonAgain(opened) => return lesson::refresh(state, opened.as_deref()),
        Action::ItemFaulty { number, faults } => return lesson::at_fault(state, number, faults),
        Action::Led(led) => return take_up(state, led),
        Action::Amended(led) => {
            state.tell(told::amended(&led.score.plan.title));
            let number = item_of(&led);
            let mut effects = go_over_to(state, led);
            // what comes after it was made for the plan before
            effects.extend(number.map(|number| lesson::arrived(state, number, false)).unwrap_or_default());
            return effects;
        }
        Action::Edited if state.lesson.is_some() => return vec![Effect::RereadLesson],
        Action::Edited => return vec![Effect::Reread(None)],
        Action::Mended => {
            if state.faults.take().is_some() {
                state.tell(told::MENDED);
            }
        }
        Action::Focus(focus) => state.focus = focus,
        Action::Heard(signal, port) => learning::hear(state, signal, port),
        Action::Bind(deed) => {
            state.changed = true;
            return learning::bind(state, deed);
        }
        Action::Port { name, there } => learning::port(state, name, there),
        Action::Faulty { what, faults } => {
            state.tell(what);
            state.faults = Some(faults);
        }
        Action::Shelf(shelf) => state.shelf = shelf,
        Action::Input(input) => state.input = Some(input),
        Action::Hearing(hearing) => {
            state.input = None;
            state.tell(crate::text::ear::hearing(&hearing, state.recording));
            state.hearing = hearing;
        }
        Action::Echoed(heard) => {
            state.changed = true;
            return ear::hear(state, &heard);
        }
        Action::SectionEchoed(heard) => {
            state.changed = true;
            return ear::hear_section(state, &heard);
        }
        Action::EchoSound(sound) => {
            return state.ear.kept.take().map(|echo| Effect::KeepSound(echo, sound)).into_iter().collect();
        }
        Action::Sounds(sounding) => {
            if let Some(Over::OpenEar(open)) = &mut state.over {
                open.sounding = sounding;
            } else if let Some(heard) = &mut state.at_the_desk {
                heard.sounding = sounding;
            }
        }
        Action::Tell(text) => state.tell(text),
        Action::Broken(loudspeaker, text) => {
            state.tell(text);
            return vec![Effect::MeetAgain(loudspeaker)];
        }
        Action::Redraw => {}
    }
    state.changed = true;
    Vec::new()
}

fn tick(state: &mut State, pulse: Pulse, in_force: Option<Arc<Led>>, now: Duration) -> Vec<Effect> {
    state.now = now;
    // what the engine has not taken up yet stands where it will
    let stands_at = state.led.as_ref().filter(|_| in_force.is_none()).map(|led| led.stands_at);
    let pulse = Pulse { bar: stands_at.unwrap_or(pulse.bar), ..pulse };
    let other_plan = match (&in_force, &state.in_force) {
        (Some(new), Some(old)) => !Arc::ptr_eq(new, old),
        (new, old) => new.is_some() != old.is_some(),
    };
    let was = state.pulse.motion;
    if other_plan || pulse.bar != state.pulse.bar || pulse.motion != state.pulse.motion {
        state.asked = None;
    }
    let station = state.bar().map(|bar| bar.station);
    if other_plan || pulse != state.pulse {
        state.in_force = in_force;
        state.pulse = pulse;
        state.changed = true;
        if other_plan || state.bar().map(|bar| bar.station) != station {
            state.picked = None;
        }
        ear::follow(state, was);
    }
    if state.told.as_ref().is_some_and(|(_, until)| *until <= now) {
        state.told = None;
        state.changed = true;
    }
    if state.quit_asked.is_some_and(|asked| asked + QUIT_WITHIN <= now) {
        state.quit_asked = None;
        state.changed = true;
    }
    let came = state.in_force.clone().filter(|_| other_plan && is_another(state));
    let mut effects = came.map(|led| take_up(state, led)).unwrap_or_default();
    effects.extend(lesson::follow(state));
    effects.extend(ear::remark(state));
    effects
}

/// Whether what the engine has taken up is not what it was last given by hand: it came by itself.
fn is_another(state: &State) -> bool {
    let came = |led: &Arc<Led>| state.lesson.as_ref().is_some_and(|run| run.queued.is_some() && item_of(led) == run.queued);
    state.in_force.as_ref().is_some_and(|in_force| state.led.as_ref().is_none_or(|led| !Arc::ptr_eq(led, in_force)) && came(in_force))
}

/// The number of the lesson's item that is led.
fn item_of(led: &Led) -> Option<usize> {
    match led.errand.choice {
        Choice::Item { number } => Some(number),
        _ => None,
    }
}

fn hear(state: &mut State, sound: Sound) -> Vec<Effect> {
    // a device that is lost may then be found to be absent for good: the way back is told from either
    let away = |standing| matches!(standing, Standing::Lost | Standing::Silent);
    let lost = sound.standing == Standing::Lost && state.sound.standing != Standing::Lost;
    let back = sound.standing == Standing::Playing && away(state.sound.standing);
    let why = sound.says.clone();
    if matches!(sound.standing, Standing::Silent | Standing::Failed) && sound.standing != state.sound.standing {
        state.tell(why.clone());
    }
    state.sound = sound;
    state.changed = true;
    if lost {
        return vec![Effect::Halt(why)];
    }
    if back {
        state.tell(told::DEVICE_BACK);
        return vec![Effect::MeetAgain(Loudspeaker::PerhapsAnother)];
    }
    Vec::new()
}

fn enter(state: &mut State, opened: OpenedRoom) -> Vec<Effect> {
    state.room = opened.room;
    state.room_source = opened.source;
    state.desk = super::state::Desk::of(&state.room.drone);
    state.mix = state.room.mix;
    state.faults = None;
    state.aside = None;
    state.picked = None;
    state.changed = true;
    state.tell(told::room(&state.room.name));
    state.lesson = None;
    let mut effects = vec![Effect::Mix(state.mix, Arc::clone(&state.room)), Effect::Look];
    if let Some(first) = opened.first {
        effects.insert(0, Effect::Lead(first));
    }
    effects
}

fn take_up(state: &mut State, led: Arc<Led>) -> Vec<Effect> {
    // a roll may be a lesson's item as well
    let plan = &led.score.plan;
    if plan.kind == PlanKind::Roll
        && let Some(index) = plan.bars.first().and_then(|bar| bar.sections.iter().next())
        && let Some(who) = led.room.section(index)
    {
        state.ear.begin(index, &who.name, who.seats.get());
    }
    if led.score.plan.adaptive.is_some() && state.hearing.is_closed() {
        state.tell(crate::text::ear::ADAPTIVE_IS_DEAF);
    }
    state.ear.told = None;
    let number = item_of(&led);
    if !is_aside(state, &led) {
        if number.is_none() {
            lesson::leave(state);
        }
        state.aside = None;
    }
    let mut effects = go_over_to(state, led);
    effects.extend(number.map(|number| lesson::arrived(state, number, true)).unwrap_or_default());
    effects
}

/// Whether `led` is only gone aside to, and what was led before is come back to.
fn is_aside(state: &State, led: &Led) -> bool {
    match led.score.plan.kind {
        PlanKind::Landmarks | PlanKind::InTurn => item_of(led).is_none(),
        PlanKind::Recheck => item_of(led).is_none() && state.aside.is_some(),
        PlanKind::Drill | PlanKind::Roll | PlanKind::Climb | PlanKind::Hold | PlanKind::Talk => false,
    }
}

/// Shows what is led now, and brings the levels to what its room says anew.
fn go_over_to(state: &mut State, led: Arc<Led>) -> Vec<Effect> {
    state.changed = true;
    let before = std::mem::replace(&mut state.room, Arc::clone(&led.room));
    state.faults = None;
    if let Some(drone) = &led.score.plan.drone {
        state.desk = super::state::Desk::of(drone);
    }
    if state.in_force.is_none() {
        state.pulse.bar = led.stands_at;
    }
    state.led = Some(led);
    bound_selection(state);
    tell_notices(state);
    // what was turned in class stays, unless the file now says something else
    if before.mix != state.room.mix {
        state.mix = state.room.mix;
    }
    let levels = |room: &Room| room.sections.iter().map(|section| section.level.0).collect::<Vec<_>>();
    if before.mix == state.room.mix && levels(&before) == levels(&state.room) {
        return Vec::new();
    }
    vec![Effect::Mix(state.mix, Arc::clone(&state.room))]
}

/// What the teacher should know of a plan before starting it.
fn tell_notices(state: &mut State) {
    let notices = state.led.as_ref().map(|led| told::notices(&led.score.plan.notices)).unwrap_or_default();
    if !notices.is_empty() {
        state.tell(notices);
    }
}

/// An edited room may have fewer sections.
fn bound_selection(state: &mut State) {
    state.picked = state.picked.filter(|picked| state.room.section(*picked).is_some());
}

fn perform(state: &mut State, command: Command) -> Vec<Effect> {
    if !matches!(command, Command::Quit) {
        state.quit_asked = None;
    }
    match command {
        Command::Cue(cue) => give_cue(state, cue),
        Command::Role(role, way) => turn_role(state, role, way),
        Command::Drills => choosing::open(state, ChooserOf::Drills),
        Command::Rooms => choosing::open(state, ChooserOf::Rooms),
        Command::Landmarks => choosing::open(state, ChooserOf::Landmarks),
        Command::Roll => choosing::open(state, ChooserOf::Roll),
        Command::Climb => choosing::open(state, ChooserOf::Climbs),
        Command::Recheck => lesson::recheck(state).unwrap_or_else(|| {
            state.tell(told::NO_CLIMB);
            choosing::open(state, ChooserOf::Climbs)
        }),
        Command::Lessons => choosing::open(state, ChooserOf::Lessons),
        Command::Items => choosing::open(state, ChooserOf::Items),
        Command::NextItem => {
            let next = lesson::next(state);
            lesson::go_to(state, next)
        }
        Command::PreviousItem => {
            let previous = lesson::previous(state);
            lesson::go_to(state, previous)
        }
        Command::Agree => lesson::agree(state),
        Command::InTurn => choosing::in_turn(state),
        Command::DroneDesk => {
            state.over = Some(Over::DroneDesk(DeskRow::Sound));
            Vec::new()
        }
        Command::DroneToggle => toggle_drone(state),
        Command::RoomView => {
            state.base = if state.base == Base::Stage { Base::RoomView } else { Base::Stage };
            Vec::new()
        }
        Command::Keys => find(state, Over::Keys),
        Command::Commands => find(state, Over::Commands),
        Command::Faults => {
            if state.troubles().is_empty() {
                state.tell(told::NO_FAULTS);
            } else {
                state.over = Some(Over::Faults(0));
            }
            Vec::new()
        }
        Command::Ear => {
            match state.ear.roll() {
                Some(_) => state.over = Some(Over::Ear(0)),
                None => state.tell(told::NO_ROLL),
            }
            Vec::new()
        }
        Command::Measure => {
            let on = matches!(state.hearing, Hearing::On(_));
            state.tell(if on { crate::text::ear::MEASURING } else { crate::text::ear::MEASURE_NEEDS_IT });
            if on { vec![Effect::Measure] } else { Vec::new() }
        }
        Command::SayVerdicts => {
            let say = !state.says_verdicts();
            state.verdicts_said = Some(say);
            let rests = state.plan().is_none_or(|plan| plan.bars.iter().any(|bar| bar.turn == sequencer::TurnKind::Rest));
            let deaf = say && rests && state.hearing.is_closed();
            state.tell(if deaf { crate::text::ear::SAYING_NEEDS_IT } else { crate::text::ear::says_verdicts(say, rests) });
            Vec::new()
        }
        Command::OpenEar => ear::open(state),
        Command::Learn => learning::open(state),
        Command::Teach => learning::teach(state),
        Command::Verdict(verdict) => ear::note(state, verdict),
        Command::Listen => {
            let on = state.hearing.is_closed();
            state.hearing = if on { Hearing::Opening } else { Hearing::Off };
            state.input = None;
            state.tell(crate::text::ear::hearing(&state.hearing, state.recording));
            vec![Effect::Listen(on)]
        }
        Command::Up => step(state, -1),
        Command::Down => step(state, 1),
        Command::Less => change_desk(state, -1),
        Command::More => change_desk(state, 1),
        Command::Choose => choose(state),
        Command::Leave => leave(state),
        Command::Erase => {
            if let Some(Over::Keys(finder) | Over::Commands(finder)) = &mut state.over {
                finder.typed.pop();
                finder.mark = 0;
            }
            Vec::new()
        }
        Command::Quit => quit(state),
        Command::QuitNow => vec![Effect::Quit],
    }
}

fn give_cue(state: &mut State, cue: Cue) -> Vec<Effect> {
    if let Some(effects) = lesson::leads_on(state, cue) {
        return effects;
    }
    match cue {
        Cue::Hush => {
            let mut effects = vec![Effect::Cue(Cue::Hush)];
            effects.extend(leave(state));
            // from wherever it was, to the stage
            state.over = None;
            effects
        }
        Cue::Go | Cue::Next if has_been_aside(state) => {
            let back = state.aside.take();
            state.tell(told::BACK_FROM_ASIDE);
            back.map(Effect::Lead).into_iter().collect()
        }
        Cue::Go | Cue::Again | Cue::Hold | Cue::Next | Cue::Back | Cue::Landmark if state.leading().is_none() => {
            state.tell(told::NOTHING_LED);
            if cue == Cue::Go { choosing::open(state, ChooserOf::Drills) } else { Vec::new() }
        }
        Cue::Quicker | Cue::Slower if state.leading().is_none() => {
            state.tell(told::NOTHING_LED);
            Vec::new()
        }
        _ => {
            if waits_for_the_bar_line(cue) && state.pulse.motion == Some(Motion::Running) {
                state.asked = Some(cue);
            }
            vec![Effect::Cue(cue)]
        }
    }
}

/// Whether a cue given on the run takes hold at the next bar line only.
const fn waits_for_the_bar_line(cue: Cue) -> bool {
    matches!(cue, Cue::Go | Cue::Next | Cue::Again | Cue::Back | Cue::Landmark | Cue::Hold)
}

/// Whether landmarks or sections in turn are through and something waits to be gone back to.
fn has_been_aside(state: &State) -> bool {
    let aside = state.leading().is_some_and(|led| is_aside(state, led));
    aside && state.aside.is_some() && state.pulse.motion == Some(Motion::Done)
}

/// One role a step louder or softer beside the others, as far as it goes.
fn turn_role(state: &mut State, role: Role, way: Way) -> Vec<Effect> {
    let by = match way {
        Way::Louder => engine::controls::LEVEL_STEP.0,
        Way::Softer => -engine::controls::LEVEL_STEP.0,
    };
    state.mix = state.mix.with(role, Decibels(state.mix.level(role).0 + by));
    state.tell(told::role_level(role, state.mix.level(role)));
    vec![Effect::Mix(state.mix, Arc::clone(&state.room))]
}

fn toggle_drone(state: &mut State) -> Vec<Effect> {
    if state.pulse.drone { vec![Effect::Drone(None)] } else { vec![sounding(state)] }
}

/// The drone as it is set, for the engine.
fn sounding(state: &State) -> Effect {
    Effect::Drone(Some((state.desk.drone(), Arc::clone(&state.room))))
}

fn find(state: &mut State, over: fn(Finder) -> Over) -> Vec<Effect> {
    let effects = if let Some(Over::OpenEar(open)) = state.over { ear::leave(state, open) } else { Vec::new() };
    let about = if state.base == Base::Stage { crate::inputs::Place::Stage } else { crate::inputs::Place::RoomView };
    state.over = Some(over(Finder::new(about)));
    effects
}

fn step(state: &mut State, by: i32) -> Vec<Effect> {
    let sections = state.class().sections.len();
    let shown = usize::from(state.shown_section().0);
    if let Some(Over::OpenEar(open)) = state.over {
        return ear::turn_to(state, open, by);
    }
    let moved = |mark: usize, len: usize| mark.saturating_add_signed(by as isize).min(len.saturating_sub(1));
    match &mut state.over {
        None => state.picked = Some(SectionIndex(moved(shown, sections) as u8)),
        Some(Over::Chooser(Chooser { of, mark })) => {
            let len = match of {
                ChooserOf::Rooms => state.shelf.rooms.len(),
                ChooserOf::Drills => state.shelf.drills.len(),
                ChooserOf::Climbs => state.shelf.passages.len() + super::shelf::BARE_GOALS.len(),
                ChooserOf::Lessons => state.shelf.lessons.len(),
                ChooserOf::Items => state.lesson.as_ref().map_or(0, |run| run.items.len()),
                ChooserOf::Landmarks | ChooserOf::Roll => sections,
            };
            *mark = moved(*mark, len);
        }
        Some(Over::DroneDesk(row)) => *row = if by < 0 { row.above() } else { row.below() },
        Some(Over::Keys(finder) | Over::Commands(finder)) => finder.mark = moved(finder.mark, finder.found().len()),
        Some(Over::Learn(learn)) => learn.choosing = learn.choosing.map(|mark| moved(mark, lessons().count())),
        Some(Over::Faults(line) | Over::Ear(line)) => *line = line.saturating_add_signed(by as i16),
        Some(Over::Cautions | Over::OpenEar(_)) => {}
    }
    Vec::new()
}

fn change_desk(state: &mut State, by: i32) -> Vec<Effect> {
    let Some(Over::DroneDesk(row)) = state.over else { return Vec::new() };
    if row == DeskRow::Sound {
        // a pedal that browses must not start a sound; ENTER and SPACE do
        return Vec::new();
    }
    state.desk.step(row, by);
    if state.pulse.drone { vec![sounding(state)] } else { Vec::new() }
}

fn choose(state: &mut State) -> Vec<Effect> {
    match state.over.clone() {
        Some(Over::Chooser(chooser)) => choosing::take(state, chooser),
        Some(Over::DroneDesk(DeskRow::Sound | DeskRow::Root)) => toggle_drone(state),
        Some(Over::DroneDesk(row)) => {
            state.desk.toggle(row);
            if state.pulse.drone { vec![sounding(state)] } else { Vec::new() }
        }
        Some(Over::Keys(finder) | Over::Commands(finder)) => {
            state.over = None;
            finder.marked().map(|entry| perform(state, entry.command)).unwrap_or_default()
        }
        Some(Over::Learn(learn)) => learning::take(state, learn),
        Some(Over::Cautions | Over::Faults(_) | Over::Ear(_) | Over::OpenEar(_)) => leave(state),
        None => Vec::new(),
    }
}

fn leave(state: &mut State) -> Vec<Effect> {
    match state.over.take() {
        Some(Over::Cautions) => vec![Effect::CautionsRead],
        Some(Over::Learn(learn)) => {
            learning::leave(state, learn);
            Vec::new()
        }
        Some(Over::OpenEar(open)) => ear::leave(state, open),
        _ => Vec::new(),
    }
}

fn quit(state: &mut State) -> Vec<Effect> {
    if state.is_sounding() && state.quit_asked.is_none() {
        state.quit_asked = Some(state.now);
        return Vec::new();
    }
    vec![Effect::Quit]
}

/// What is led now, to be come back to at the round it stands in.
fn place_kept(state: &State) -> Option<Errand> {
    let led = state.leading()?;
    let plan = &led.score.plan;
    if is_aside(state, led) {
        // from one aside to another: the way back stays the same
        return state.aside.clone();
    }
    let done = state.pulse.motion == Some(Motion::Done);
    let (bar, tempo) = if done { (0, None) } else { (plan.round_top(state.pulse.bar), state.pulse.tempo) };
    let tempo = tempo.unwrap_or(plan.tempo);
    Some(Errand { place: Some((bar, tempo)), stood: None, start: Start::OnGo, ..led.errand.clone() })
}
