//! Pedals, switches and what they are taught.

use crate::inputs::{Deed, Signal};
use std::fmt::Display;

/// The learn screen while presses are listened to.
pub const TITLE: &str = "Learn: press a pedal, a switch or a key to see what it does";
/// What can be done then.
pub const LISTENING: &str = "Nothing is done here but shown. TAB chooses what the newest press shall do from now on.";
/// Before the first press.
pub const WAITING: &str = "Nothing has come yet.";
/// The file says what is meant by a key that is fixed.
pub const FIXED: &str = "ESC, q, TAB and CTRL-C do here what they always do.";
/// To be taught, something must come first.
pub const NOTHING_HEARD: &str = "Press the pedal or switch first, so that it is known which one is meant.";
/// Without a port.
pub const NO_PORTS: &str = "MIDI: no pedal or switch is connected. Pedals that act as keyboards are simply keys.";
/// The list of what the teacher bound.
pub const OWN: &str = "Taught by you:";
/// The keyboard as a source.
pub const KEYBOARD: &str = "keys or a keyboard pedal";
/// The first line of the list.
pub const AS_IT_COMES: &str = "as it comes";
/// What it means.
pub const AS_IT_COMES_MEANS: &str = "What it does without having been taught anything.";
/// What nothing means.
pub const NOTHING_MEANS: &str = "Nothing at all, whatever it did before.";
/// How line mode teaches.
pub const LINES: &str =
    "Press the pedal; then type does and what it shall do, such as: does again. does nothing, does as it comes; stage leaves.";
/// What line mode's word for teaching begins with.
pub const DOES: &str = "does ";

/// What is chosen while choosing.
#[must_use]
pub fn chooses(signal: Signal) -> String {
    format!("Learn: what shall {signal} do from now on?")
}

/// A press that was heard, in a sentence.
#[must_use]
pub fn heard(signal: Signal, deed: Deed, times: u32) -> String {
    let times = if times > 1 { format!(" ({times} times)") } else { String::new() };
    format!("{signal}{times}: {}", deed.word())
}

/// Where it came from.
#[must_use]
pub fn from(port: Option<&str>) -> String {
    format!("from {}", port.unwrap_or(KEYBOARD))
}

/// The ports that are there.
#[must_use]
pub fn ports<T: Display>(ports: &[T]) -> String {
    if ports.is_empty() {
        return NO_PORTS.to_owned();
    }
    format!("MIDI: {}", ports.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "))
}

/// Something was taught.
#[must_use]
pub fn taught(signal: Signal, deed: Deed) -> String {
    format!("{signal} does {} from now on.", deed.word())
}

/// A MIDI port went.
#[must_use]
pub fn went(port: &str) -> String {
    format!("pedal gone: {port}")
}

/// A MIDI port came.
#[must_use]
pub fn came(port: &str) -> String {
    format!("pedal there: {port}")
}

/// A MIDI port came back.
#[must_use]
pub fn back(port: &str) -> String {
    format!("pedal back: {port}")
}

/// The file of bindings has faults.
pub const FAULTY_FILE: &str = "inputs.toml has faults; the rest of it counts. f shows them.";

/// What was taught cannot be kept.
#[must_use]
pub fn not_kept(path: &str, why: &str) -> String {
    format!("This counts until you leave, but is not kept: {path}: {why}")
}

/// Another window has the keyboard, in letters for five metres.
pub const AWAY: &str = "KEYS AWAY";
/// What that means.
pub const AWAY_MEANS: &str = "Keys and keyboard pedals go to another window: click here.";

/// Which pedals still lead.
#[must_use]
pub fn still_there<T: Display>(ports: &[T]) -> Option<String> {
    let names: Vec<_> = ports.iter().map(ToString::to_string).collect();
    (!names.is_empty()).then(|| format!("MIDI still leads: {}", names.join(", ")))
}
