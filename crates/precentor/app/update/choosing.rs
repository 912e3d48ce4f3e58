//! Lists to choose from, and what is chosen.

use super::place_kept;
use crate::app::effect::{Effect, Errand, Start};
use crate::app::shelf::{BARE_BARS, BARE_GOALS, Source};
use crate::app::state::{Chooser, ChooserOf, Over, State};
use crate::text::told;
use crate::workshop::Choice;
use sequencer::Meter;
use units::Tempo;

/// Opens the list, marked where the choice now stands.
pub(super) fn open(state: &mut State, of: ChooserOf) -> Vec<Effect> {
    if of == ChooserOf::Items && state.lesson.is_none() {
        state.tell(told::NO_LESSON);
        return open(state, ChooserOf::Lessons);
    }
    if of == ChooserOf::Roll && drill_at_hand(state).is_none() {
        state.tell(told::NO_DRILL);
        return open(state, ChooserOf::Drills);
    }
    let mark = match of {
        ChooserOf::Rooms => state.shelf.rooms.iter().position(|title| title.source == state.room_source),
        ChooserOf::Drills => {
            let here = drill_at_hand(state);
            state.shelf.drills.iter().position(|title| Some(&title.source) == here.as_ref())
        }
        ChooserOf::Climbs => {
            let here = state.leading().and_then(|led| led.errand.piece.clone());
            state.shelf.passages.iter().position(|(title, _)| Some(&title.source) == here.as_ref())
        }
        ChooserOf::Lessons => None,
        ChooserOf::Items => state.lesson.as_ref().map(|run| run.at),
        ChooserOf::Landmarks | ChooserOf::Roll => Some(usize::from(state.shown_section().0)),
    };
    state.over = Some(Over::Chooser(Chooser { of, mark: mark.unwrap_or(0) }));
    match of {
        ChooserOf::Rooms | ChooserOf::Drills | ChooserOf::Climbs | ChooserOf::Lessons => vec![Effect::Look],
        ChooserOf::Landmarks | ChooserOf::Roll | ChooserOf::Items => Vec::new(),
    }
}

/// Takes the marked line.
pub(super) fn take(state: &mut State, chooser: Chooser) -> Vec<Effect> {
    let section = || state.class().sections.get(chooser.mark).map(|section| section.name.clone());
    let effect = match chooser.of {
        ChooserOf::Rooms => state.shelf.rooms.get(chooser.mark).map(|title| Effect::OpenRoom(title.source.clone())),
        ChooserOf::Drills => state.shelf.drills.get(chooser.mark).map(|title| Effect::Lead(Errand::drill(title.source.clone()))),
        ChooserOf::Climbs => match state.shelf.passages.get(chooser.mark) {
            Some((title, passage)) => Some(Effect::Lead(Errand::piece(title.source.clone(), Choice::Climb { passage: passage.clone() }))),
            None => bare_goal(chooser.mark - state.shelf.passages.len()).map(|choice| Effect::Lead(Errand::of(choice))),
        },
        ChooserOf::Lessons => state.shelf.lessons.get(chooser.mark).map(|title| Effect::OpenLesson(title.source.clone())),
        ChooserOf::Items => {
            let marked = state.lesson.as_ref().and_then(|run| run.items.get(chooser.mark));
            if marked.is_some_and(|item| item.errand.is_err()) {
                state.tell(told::ITEM_AT_FAULT);
                return Vec::new();
            }
            return super::lesson::go_to(state, Some(chooser.mark));
        }
        ChooserOf::Landmarks => section().map(|section| {
            let choice = Choice::Landmarks { section };
            Effect::Lead(Errand { start: Start::AtOnce, ..Errand::of(choice) })
        }),
        ChooserOf::Roll => section().map(|section| {
            let choice = Choice::Roll { section };
            Effect::Lead(Errand { drill: drill_at_hand(state), ..Errand::of(choice) })
        }),
    };
    if chooser.of == ChooserOf::Landmarks {
        state.aside = place_kept(state);
    }
    if matches!(chooser.of, ChooserOf::Landmarks | ChooserOf::Roll) {
        state.picked = Some(sequencer::SectionIndex(chooser.mark as u8));
    }
    state.over = None;
    effect.into_iter().collect()
}

/// The climb with no piece that stands at `place` of those offered.
fn bare_goal(place: usize) -> Option<Choice> {
    let tempo = Tempo::new(f64::from(*BARE_GOALS.get(place)?)).ok()?;
    Some(Choice::BareClimb { tempo, meter: Meter::COMMON, bars: BARE_BARS })
}

/// Every section's note at once: the drill's line, or the drone's root where there is no drill.
pub(super) fn in_turn(state: &mut State) -> Vec<Effect> {
    let errand = match drill_at_hand(state) {
        Some(drill) => Errand { drill: Some(drill), start: Start::AtOnce, ..Errand::of(Choice::DrillInTurn) },
        None => Errand::in_turn(state.desk.root),
    };
    state.aside = place_kept(state);
    state.over = None;
    vec![Effect::Lead(errand)]
}

/// The drill that is led, or that is to be come back to.
fn drill_at_hand(state: &State) -> Option<Source> {
    let led = state.leading().and_then(|led| led.errand.drill.clone());
    led.or_else(|| state.aside.as_ref().and_then(|errand| errand.drill.clone()))
}
