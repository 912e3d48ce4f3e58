//! What the screen says of a lesson: its items with their minutes, and its clock.

use crate::app::state::{LessonRun, State};
use crate::text::lesson as text;

/// Every item with what it takes of the hour and how it stands.
pub(super) fn items(run: &LessonRun) -> Vec<(String, String)> {
    let clock = run.clock();
    let item = |(index, item): (usize, &crate::app::state::LessonItem)| {
        let minutes = match item.slot.minutes {
            Some(0) => text::LEFT_OUT.to_owned(),
            Some(minutes) => text::minutes(minutes),
            None => String::new(),
        };
        let stands = if index == run.at {
            format!("{} {}", text::STANDS, text::run(&clock.item))
        } else if clock.misfits.contains(&index) {
            text::NO_LONGER_FITS.to_owned()
        } else if item.errand.is_err() {
            text::AT_FAULT.to_owned()
        } else {
            String::new()
        };
        let said: Vec<String> = [minutes, stands].into_iter().filter(|part| !part.is_empty()).collect();
        (item.name.clone(), said.join("; "))
    };
    run.items.iter().enumerate().map(item).collect()
}

/// The lesson, if what is led is an item of it, or gone aside to from one.
fn led(state: &State) -> Option<&LessonRun> {
    let errands = [state.leading().map(|led| &led.errand), state.aside.as_ref()];
    errands.into_iter().flatten().find_map(|errand| errand.lesson.as_ref())?;
    state.lesson.as_ref()
}

/// Which item of the lesson stands, and its own clock.
pub(super) fn item(state: &State) -> Option<String> {
    let run = led(state)?;
    let name = run.items.get(run.at).map_or("", |item| item.name.as_str());
    Some(text::place(run.at + 1, run.items.len(), name, &text::run(&run.clock().item)))
}

/// What is left of the hour.
pub(super) fn clock(state: &State) -> Option<String> {
    Some(text::clock(&led(state)?.clock()))
}
