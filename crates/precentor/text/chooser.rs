//! Lists to choose from.

use crate::app::state::ChooserOf;

/// Where the demo comes from.
pub const DEMO: &str = "demo, built in";
/// An empty list.
pub const NOTHING: &str = "Nothing here yet. Put room and drill files into one folder and open one: precentor FILE";

/// The heading of a list.
#[must_use]
pub const fn title(of: ChooserOf) -> &'static str {
    match of {
        ChooserOf::Rooms => "Which room?",
        ChooserOf::Drills => "Which drill?",
        ChooserOf::Landmarks => "Whose landmarks? They are named and played at once.",
        ChooserOf::Roll => "Whose roll? Each seat is called in turn.",
        ChooserOf::Climbs => "Which passage climbs to its concert tempo?",
        ChooserOf::Lessons => "Which lesson?",
        ChooserOf::Items => "Which item of the lesson? What stands now can be come back to.",
    }
}

/// How many seats a section has.
#[must_use]
pub fn seats(seats: u16) -> String {
    if seats == 1 { "1 seat".to_owned() } else { format!("{seats} seats") }
}

/// A climb with no piece.
#[must_use]
pub fn up_to(goal: u16) -> String {
    format!("up to {goal}")
}
/// Where such a climb comes from.
pub const NO_PIECE: &str = "no piece: 8 bars of 4/4";

/// A section without landmarks.
pub const NO_LANDMARKS: &str = "none in the room file";
