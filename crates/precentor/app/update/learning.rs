//! Pedals that come and go, and teaching them what they do.

use std::sync::Arc;

use super::super::Effect;
use super::super::state::{Learn, Over, State};
use crate::inputs::{Deed, Signal, bindings};
use crate::text::pedals as text;

/// What a press can be taught, in the order of the list: what it does as it comes, nothing, and everything else.
pub fn lessons() -> impl Iterator<Item = Option<Deed>> {
    [None, Some(Deed::Nothing)].into_iter().chain(bindings::bindable().map(|entry| Some(Deed::Do(entry.command))))
}

/// Opens the learn screen.
pub(super) fn open(state: &mut State) -> Vec<Effect> {
    state.pedals.heard.clear();
    state.over = Some(Over::Learn(Learn::default()));
    Vec::new()
}

/// Shows a press.
pub(super) fn hear(state: &mut State, signal: Signal, port: Option<Arc<str>>) {
    if let Some(Over::Learn(_)) = state.over {
        state.pedals.hear(signal, port);
        // what is being chosen was for the press before
        state.over = Some(Over::Learn(Learn::default()));
    }
}

/// From listening to choosing what the newest press shall do; the mark stands on what it does now.
pub(super) fn teach(state: &mut State) -> Vec<Effect> {
    if let Some(heard) = state.pedals.heard.first() {
        let own = state.pedals.bindings.own(heard.signal);
        let mark = lessons().position(|deed| deed == own).unwrap_or(0);
        state.over = Some(Over::Learn(Learn { choosing: Some(mark) }));
    } else {
        state.tell(text::NOTHING_HEARD);
    }
    Vec::new()
}

/// Takes what is marked.
pub(super) fn take(state: &mut State, learn: Learn) -> Vec<Effect> {
    match learn.choosing.and_then(|mark| lessons().nth(mark)) {
        Some(deed) => bind(state, deed),
        None => teach(state),
    }
}

/// Binds the newest press, and goes on listening.
pub(super) fn bind(state: &mut State, deed: Option<Deed>) -> Vec<Effect> {
    state.over = Some(Over::Learn(Learn::default()));
    let Some(heard) = state.pedals.heard.first() else {
        state.tell(text::NOTHING_HEARD);
        return Vec::new();
    };
    let (signal, exact) = (heard.taught(), heard.signal);
    // one on this channel alone, written by hand, would go on deciding
    let mut effects = Vec::new();
    if exact != signal && state.pedals.bindings.all().any(|(own, _)| own == exact) {
        state.pedals.bindings.bind(exact, None);
        effects.push(Effect::Bind(exact, None));
    }
    state.pedals.bindings.bind(signal, deed);
    state.tell(text::taught(signal, state.pedals.bindings.does(signal)));
    effects.push(Effect::Bind(signal, deed));
    effects
}

/// From choosing back to listening, or from the learn screen back to the stage.
pub(super) fn leave(state: &mut State, learn: Learn) {
    state.over = learn.choosing.map(|_| Over::Learn(Learn::default()));
}

/// A port came or went.
pub(super) fn port(state: &mut State, name: Arc<str>, there: bool) {
    if !there {
        state.tell(text::went(&name));
        state.pedals.went(name);
    } else if state.pedals.came(Arc::clone(&name)) {
        state.tell(text::back(&name));
    } else {
        state.tell(text::came(&name));
    }
}
