//! The director's ear.

use crate::inputs::Verdict;

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
pub const KEPT: &str = "Seats, not names; kept until you quit.";
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
