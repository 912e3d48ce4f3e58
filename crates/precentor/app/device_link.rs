//! The sound device's events, as they show on the screen.

use device::{Event, Output};
use std::time::Duration;

use super::action::Action;
use super::effect::Loudspeaker;
use super::state::{Sound, Standing};

/// Set by those who measure how long the program takes to its first callback.
const STAMP: &str = "PRECENTOR_STAMP_FIRST_CALLBACK";

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
        Event::Gap { .. } | Event::BufferGrown { .. } => Action::Broken(Loudspeaker::TheSame, says),
        Event::Moved => Action::Broken(Loudspeaker::PerhapsAnother, says),
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

/// Notes in the log when the device first asked for sound, on the system's monotonic clock, if [`STAMP`] is set.
pub(super) fn stamp(output: &Output) {
    if std::env::var_os(STAMP).is_none() {
        return;
    }
    if let Some(first) = output.status().first_callback {
        let now = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
        let now = Duration::new(now.tv_sec.unsigned_abs(), now.tv_nsec.unsigned_abs() as u32);
        eprintln!("first callback at {} ns", now.saturating_sub(first.elapsed()).as_nanos());
    }
}

/// All events that wait.
pub(super) fn news(output: &Output) -> Vec<Event> {
    output.events().try_iter().collect()
}
