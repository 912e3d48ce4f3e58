//! Line mode.

/// How to choose from a list.
pub const CHOOSE: &str = "Type its number, or: up, down, choose, stage.";
/// How to set a drone.
pub const DESK: &str = "up and down go from row to row, less and more change it, choose switches it, sound starts or ends, stage leaves.";
/// A switch.
pub const ON: &str = "on";
/// A switch.
pub const OFF: &str = "off";
/// How line mode is led with keys.
pub const KEYS_LEAD: &str = "Line mode. SPACE go, BKSP again, ESC hush, ? keys, q quit.";
/// How line mode is led with words.
pub const WORDS_LEAD: &str = "Line mode. Type a word and ENTER: go, again, hush, keys, quit.";

/// A word that means nothing here.
#[must_use]
pub fn unknown(word: &str, nearest: Option<&str>, all: &str) -> String {
    match nearest {
        Some(nearest) => format!("\"{word}\" is no word here; did you mean \"{nearest}\"?"),
        None => format!("\"{word}\" is no word here; there are: {all}"),
    }
}
