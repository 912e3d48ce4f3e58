//! The sound device's events, as they show on the screen.

use device::{Event, Output};

use super::action::Action;
use super::state::{Sound, Standing};

/// What `event` changes on the screen, if anything.
pub(super) fn action_of(event: &Event) -> Action {
    let says = event.to_string();
    let mend = if let Event::NoDevice { mend, .. } = event { mend.clone() } else { String::new() };
    let stands = |standing, name: &str| Action::Sound(Sound { standing, name: name.to_owned(), says: says.clone(), mend: mend.clone() });
    match event {
        Event::Playing { device, .. } | Event::Returned { device, .. } => stands(Standing::Playing, device),
        Event::Lost { device, .. } => stands(Standing::Lost, device),
        Event::NoDevice { .. } => stands(Standing::Silent, ""),
        Event::Panicked => stands(Standing::Failed, ""),
        Event::Moved | Event::Gap { .. } | Event::BufferGrown { .. } => Action::Tell(says),
    }
}

/// What the screen says of a console that was told to be silent.
pub(super) fn no_sound_wanted() -> Action {
    let says = crate::text::status::NO_SOUND_WANTED.to_owned();
    Action::Sound(Sound { standing: Standing::Silent, name: String::new(), says: says.clone(), mend: says })
}

/// Whether the journal keeps `event`: what went wrong, not that all is well.
pub(super) const fn is_a_fault(event: &Event) -> bool {
    !matches!(event, Event::Playing { .. })
}

/// All events that wait.
pub(super) fn news(output: &Output) -> Vec<Event> {
    output.events().try_iter().collect()
}
