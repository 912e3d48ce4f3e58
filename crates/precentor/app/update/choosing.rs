//! Lists to choose from, and what is chosen.

use super::place_kept;
use crate::app::effect::{Effect, Errand, Start};
use crate::app::shelf::Source;
use crate::app::state::{Chooser, ChooserOf, Over, State};
use crate::text::told;
use crate::workshop::Choice;

/// Opens the list, marked where the choice now stands.
pub(super) fn open(state: &mut State, of: ChooserOf) -> Vec<Effect> {
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
        ChooserOf::Landmarks | ChooserOf::Roll => Some(usize::from(state.shown_section().0)),
    };
    state.over = Some(Over::Chooser(Chooser { of, mark: mark.unwrap_or(0) }));
    match of {
        ChooserOf::Rooms | ChooserOf::Drills => vec![Effect::Look],
        ChooserOf::Landmarks | ChooserOf::Roll => Vec::new(),
    }
}

/// Takes the marked line.
pub(super) fn take(state: &mut State, chooser: Chooser) -> Vec<Effect> {
    let section = || state.class().sections.get(chooser.mark).map(|section| section.name.clone());
    let effect = match chooser.of {
        ChooserOf::Rooms => state.shelf.rooms.get(chooser.mark).map(|title| Effect::OpenRoom(title.source.clone())),
        ChooserOf::Drills => state.shelf.drills.get(chooser.mark).map(|title| Effect::Lead(Errand::drill(title.source.clone()))),
        ChooserOf::Landmarks => section().map(|section| {
            let choice = Choice::Landmarks { section };
            Effect::Lead(Errand { choice, drill: None, place: None, start: Start::AtOnce })
        }),
        ChooserOf::Roll => section().map(|section| {
            let choice = Choice::Roll { section };
            Effect::Lead(Errand { choice, drill: drill_at_hand(state), place: None, start: Start::OnGo })
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

/// Every section's note at once: the drill's line, or the drone's root where there is no drill.
pub(super) fn in_turn(state: &mut State) -> Vec<Effect> {
    let errand = match drill_at_hand(state) {
        Some(drill) => Errand { choice: Choice::DrillInTurn, drill: Some(drill), place: None, start: Start::AtOnce },
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
