//! What any screen may say.

use crate::app::state::Over;

/// Too small a terminal, with both sizes.
#[must_use]
pub fn too_small(width: u16, height: u16) -> String {
    format!(
        "This window is {width} columns by {height} rows; Precentor needs {} by {}. Make the window larger or its letters smaller.",
        crate::view::LEAST.0,
        crate::view::LEAST.1
    )
}

/// The heading of the keys.
pub const KEYS: &str = "Keys: type to find, ENTER does it";
/// The heading of the command list.
pub const COMMANDS: &str = "Do: type a word, ENTER does it";
/// Nothing was found.
pub const NOTHING_FOUND: &str = "Nothing is called that. BKSP takes letters back.";
/// The heading of the pane beside the sections.
pub const FAULTS: &str = "Saved with faults; the version before plays on";
/// The heading of the page.
pub const TROUBLES: &str = "What is wrong, and how to mend it";

/// What a page over the stage is called, for line mode.
#[must_use]
pub const fn over(over: &Over) -> &'static str {
    match over {
        Over::Cautions => super::cautions::TITLE,
        Over::Chooser(chooser) => super::chooser::title(chooser.of),
        Over::DroneDesk(_) => super::desk::TITLE,
        Over::Keys(_) => KEYS,
        Over::Commands(_) => COMMANDS,
        Over::Faults(_) => TROUBLES,
        Over::Ear(_) => "What you noted",
        Over::OpenEar(_) => super::open_ear::TITLE,
        Over::Learn(_) => super::pedals::TITLE,
    }
}
