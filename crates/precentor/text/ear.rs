//! The director's ear.

use crate::app::state::{Hearing, SeatHeard};
use crate::inputs::Verdict;

/// A microphone that gives only zeros.
pub const MUTED: &str = "The microphone gives nothing but zeros: it is muted, or the system does not let this program hear it.";

/// A drone sounds while a seat echoes.
pub const UNDER_A_DRONE: &str = "The microphone judges nobody while a drone sounds: o lets it go.";

/// How the microphone stands.
#[must_use]
pub fn hearing(hearing: &Hearing) -> String {
    match hearing {
        Hearing::Off => "The microphone hears no more.".to_owned(),
        Hearing::Opening => "The microphone is being opened.".to_owned(),
        Hearing::On(name) => format!("{name} hears the echoes of rolls; no sound is kept. What you note yourself counts."),
        Hearing::Failed(why) => format!("The microphone cannot be used: {why}"),
    }
}

/// What was heard of a seat.
#[must_use]
pub fn heard(heard: &SeatHeard) -> String {
    let SeatHeard { seat, target, judged } = heard;
    let what = match (judged.heard, judged.cents) {
        (Some(note), _) if note != *target => format!(", {note} for {target}"),
        (Some(_), Some(cents)) => format!(", {:+.0} cents", cents.0),
        _ => String::new(),
    };
    format!("Seat {seat}: {}{what}.", judged.verdict)
}

/// The heading of the table.
#[must_use]
pub fn title(section: &str) -> String {
    format!("{section}, as you heard them")
}

/// A verdict in words.
#[must_use]
pub const fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::OnIt => "on it",
        Verdict::Low => "low",
        Verdict::High => "high",
        Verdict::Silent => "silent",
    }
}

/// A verdict as a shape of three signs.
#[must_use]
pub const fn shape(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(Verdict::OnIt) => "[=]",
        Some(Verdict::Low) => "[v]",
        Some(Verdict::High) => "[^]",
        Some(Verdict::Silent) => "[ ]",
        None => " . ",
    }
}

/// A seat nothing was noted for.
pub const NOT_NOTED: &str = "not noted";
/// What becomes of it.
pub const KEPT: &str = "Kept by seat, not name: precentor records.";
/// Young lips.
pub const REST: &str = "Rest now, as long as they played.";

/// A seat.
#[must_use]
pub fn seat(number: usize) -> String {
    format!("seat {number}")
}

/// What the stage asks of a seat that has echoed.
#[must_use]
pub fn asks(seat: u16, noted: Option<Verdict>, keys: &str) -> String {
    let noted = noted.map_or("?", word);
    format!("seat {seat} {noted}:  {keys}")
}
