//! A child plays, and the room sees what.

use units::Cents;

use crate::hearing::IN_TUNE;

/// The heading.
pub const TITLE: &str = "Open ear: play, and see your note";
/// Nothing sounds.
pub const NOTHING: &str = "...";
/// Nothing sounds, in a sentence.
pub const WAITS: &str = "It waits for a note that lasts.";
/// Over the partials.
pub const PARTIALS: &str = "same fingering";
/// How to hear another section.
pub const OTHERS: &str = "UP and DOWN: another section";

/// Whose instrument is expected.
#[must_use]
pub fn whose(section: &str, instrument: &str) -> String {
    format!("{section} ({instrument})")
}

/// How far off, in words.
#[must_use]
pub fn off(cents: Cents) -> String {
    let whole = cents.0.round();
    let word = match whole {
        _ if cents.0.abs() <= IN_TUNE.0 / 4.0 => return "in the middle".to_owned(),
        _ if whole < 0.0 => "low",
        _ => "high",
    };
    format!("{:.0} cents {word}", whole.abs())
}

/// What sounds, in a line.
#[must_use]
pub fn sounds(written: &str, concert: &str, cents: Cents, partial: Option<u8>) -> String {
    let partial = partial.map_or_else(String::new, |partial| format!(", partial {partial}"));
    format!("{written} (sounds {concert}{partial}), {}", off(cents))
}
