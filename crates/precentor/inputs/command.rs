//! Everything the director can ask for.

use sequencer::{Cue, Role};

/// What a key, a word or a button asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Command {
    /// A word for the engine.
    Cue(Cue),
    /// One role louder or softer beside the others.
    Role(Role, Way),
    /// The list of rooms.
    Rooms,
    /// The list of drills.
    Drills,
    /// The drone's own screen.
    DroneDesk,
    /// Sounds the drone or lets it go.
    DroneToggle,
    /// One section's landmarks.
    Landmarks,
    /// Every section's note, one section after another.
    InTurn,
    /// A drill seat by seat through one section.
    Roll,
    /// A passage of a piece, stage by stage up to its concert tempo.
    Climb,
    /// The passage that is climbed, at half tempo and then at its own.
    Recheck,
    /// The list of lessons.
    Lessons,
    /// The list of the lesson's items.
    Items,
    /// On to the lesson's next item.
    NextItem,
    /// Back to the lesson's item before.
    PreviousItem,
    /// Shorten the lesson as is proposed.
    Agree,
    /// Large letters for the class, or back.
    RoomView,
    /// The keys and what they do.
    Keys,
    /// Everything that can be done, found by typing.
    Commands,
    /// What is wrong in a file that was edited.
    Faults,
    /// What pedals and keys do, and teaching them.
    Learn,
    /// Chooses what the newest press on the learn screen shall do.
    Teach,
    /// What the director's ear noted.
    Ear,
    /// The microphone hears echoes, or no more.
    Listen,
    /// The voice says what the microphone heard of each seat, or no more.
    SayVerdicts,
    /// A sweep measures the room.
    Measure,
    /// What somebody plays, for the room to see.
    OpenEar,
    /// A verdict on the seat that echoes, or echoed last.
    Verdict(Verdict),
    /// Up a line, or the section above.
    Up,
    /// Down a line, or the section below.
    Down,
    /// A step less, in the drone's screen.
    Less,
    /// A step more, in the drone's screen.
    More,
    /// Takes the line that is marked.
    Choose,
    /// Back to the stage.
    Leave,
    /// Takes back the last typed letter.
    Erase,
    /// The end; asks once more while something sounds.
    Quit,
    /// The end, at once.
    QuitNow,
}

/// Which way a level goes, by one step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Way {
    /// Up.
    Louder,
    /// Down.
    Softer,
}

/// What the director's ear says of one seat's echo.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// The note asked for.
    OnIt,
    /// Something lower.
    Low,
    /// Something higher.
    High,
    /// Nothing came.
    Silent,
}

impl Verdict {
    /// All four, in the order of their keys.
    pub const ALL: [Self; 4] = [Self::OnIt, Self::Low, Self::High, Self::Silent];
}
