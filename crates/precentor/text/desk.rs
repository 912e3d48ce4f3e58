//! The drone's screen.

use crate::app::state::DeskRow;
use pitch::Temperament;

/// The heading.
pub const TITLE: &str = "Drone";
/// While it sounds.
pub const SOUNDS: &str = "sounding: every change is heard at once";
/// While it does not.
pub const SILENT: &str = "silent";
/// While it sounds and the microphone hears it as well.
pub const HEARS_ITSELF: &str = "the microphone hears the drone itself: u, with the drone let go, measures the room";
/// The heading of the written notes.
pub const READS: &str = "To play the root, read";

/// What a row is called.
#[must_use]
pub const fn row(row: DeskRow, sounds: bool) -> &'static str {
    match row {
        DeskRow::Root => "root, concert",
        DeskRow::WithRoot => "root",
        DeskRow::Fifth => "fifth above",
        DeskRow::Octave => "octave above",
        DeskRow::LowerOctave => "octave below",
        DeskRow::Free => "another note",
        DeskRow::Registers => "every section",
        DeskRow::Tuning => "tuning",
        DeskRow::Sound if sounds => "let it go",
        DeskRow::Sound => "sound it",
    }
}

/// Who is heard near it, in what they play.
#[must_use]
pub fn near(section: &str, sounds: &str) -> String {
    format!("{section}: {sounds}")
}

/// A tuning in words.
#[must_use]
pub const fn tuning(temperament: Temperament) -> &'static str {
    match temperament {
        Temperament::Equal => "equal",
        Temperament::Just => "just",
        Temperament::Pythagorean => "Pythagorean",
    }
}
