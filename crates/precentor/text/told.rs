//! What is told for a few seconds.

use crate::inputs::Verdict;
use sequencer::Role;
use units::Decibels;

/// No plan yet.
pub const NOTHING_LED: &str = "Nothing is chosen yet: d for a drill, o for a drone.";
/// A roll needs a drill.
pub const NO_DRILL: &str = "A roll takes a drill seat by seat: choose the drill first.";
/// Verdicts and their table need a roll.
pub const NO_ROLL: &str = "There is no roll to note: e takes a drill seat by seat.";
/// The open ear needs an instrument with a pitch.
pub const NOBODY_PITCHED: &str = "Nobody in this room plays an instrument with a pitch.";
/// No echo yet.
pub const NO_SEAT_YET: &str = "No seat has echoed yet.";
/// A recheck needs a climb.
pub const NO_CLIMB: &str = "There is no passage to recheck: choose one to climb first.";
/// No lesson is open.
pub const NO_LESSON: &str = "No lesson is open: choose one.";
/// The last item is through.
pub const LESSON_THROUGH: &str = "That was the lesson's last item. a goes to any of them again.";
/// An item that has faults was chosen.
pub const ITEM_AT_FAULT: &str = "This item has faults; the others can be led. f shows them.";
/// A lesson stands where it was left.
pub const GO_TAKES_IT_UP: &str = "go takes it up there; a shows every item.";
/// There is nothing to shorten.
pub const ALL_FITS: &str = "All that is left fits the hour.";

/// A lesson is open.
#[must_use]
pub fn lesson(title: &str, items: usize) -> String {
    format!("{title}: {items} items. go starts the first.")
}

/// The room of a lesson cannot be opened.
pub const OTHER_ROOM: &str = "Its own room cannot be opened; it is led in the one that is open. f says why.";

/// Some items cannot be led.
#[must_use]
pub fn items_at_fault(count: usize) -> String {
    if count == 1 {
        "One of them has faults and is passed by; f shows them.".to_owned()
    } else {
        format!("{count} of them have faults and are passed by; f shows them.")
    }
}

/// What would make the rest fit.
#[must_use]
pub fn proposed(proposal: &str) -> String {
    format!("p would {proposal}.")
}

/// What was agreed to.
#[must_use]
pub fn agreed(proposal: &str) -> String {
    format!("Agreed: {proposal}.")
}

/// A climb is offered the stage it stood at.
#[must_use]
pub fn offered(stood: &str, tempo: units::Tempo) -> String {
    format!("{stood} go starts at {tempo}; b goes a stage back.")
}

/// No trouble.
pub const NO_FAULTS: &str = "Nothing is wrong: no file in use has faults, and the sound is as it should be.";
/// The device came back.
pub const DEVICE_BACK: &str = "The sound is back; the place was kept. go starts it.";
/// Landmarks are through.
pub const BACK_FROM_ASIDE: &str = "Back to where it stood.";
/// A file in use cannot be taken up.
pub const FAULTY_FILE: &str = "The saved file has faults; the version before plays on. f shows them.";
/// What would come by itself cannot be led.
pub const NEXT_AT_FAULT: &str = "The lesson's next item has faults and is passed by. f shows them.";
/// The faults are gone and nothing else changed.
pub const MENDED: &str = "The saved file is sound again.";
/// The room last used cannot be opened.
pub const LAST_ROOM_FAULTY: &str = "The room last used has faults, so this is the demo room. f shows them.";
/// What was chosen cannot be led.
pub const CANNOT_LEAD: &str = "That cannot be led in this room. f says why.";
/// The journal cannot be written.
#[must_use]
pub fn no_journal(why: &str) -> String {
    format!("This run keeps no journal: {why}")
}

/// Verdicts cannot be kept.
#[must_use]
pub fn no_records(why: &str) -> String {
    format!("This run keeps no verdicts: {why}")
}

/// An edit is taken up.
#[must_use]
pub fn amended(title: &str) -> String {
    format!("Saved changes taken up at the bar line: {title}")
}

/// A room is open.
#[must_use]
pub fn room(name: &str) -> String {
    format!("Room: {name}")
}

/// The voice cannot speak.
#[must_use]
pub fn no_voice(why: &str) -> String {
    format!("The voice cannot speak: {why}")
}

/// A verdict is noted.
#[must_use]
pub fn noted(seat: u16, verdict: Verdict) -> String {
    format!("Noted: seat {seat} {}.", super::ear::word(verdict))
}

/// A role's level was turned.
#[must_use]
pub fn role_level(role: Role, level: Decibels) -> String {
    let (least, most) = role.bounds();
    let end = if level.0 <= least {
        ", its softest"
    } else if level.0 >= most {
        ", its loudest"
    } else {
        ""
    };
    format!("{} {:+} dB beside its usual level{end}.", role.word(), level.0)
}

/// Who sits out, and what would fit.
#[must_use]
pub fn notices(notices: &[sequencer::plan::Notice]) -> String {
    notices.iter().map(|notice| notice.text.as_str()).collect::<Vec<_>>().join("\n")
}
