//! What an update asks to be done outside.

use pitch::{Concert, Instrument, Tuning};
use records::{Echo, Record, SectionRecord};
use sequencer::words::Phrase;
use sequencer::{Cue, Drone, Mix, Room};
use std::sync::Arc;
use std::time::Duration;

use super::shelf::Source;
use crate::inputs::{Deed, Signal};
use crate::standing::{ClimbStanding, LessonStanding};
use crate::workshop::Choice;
use units::{SampleRate, Tempo};

/// What plays after the loudspeaker's sound was broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loudspeaker {
    /// The same: it ran dry, or its buffer is another size.
    TheSame,
    /// One that may be another: it was lost and is back, or the system chose.
    PerhapsAnother,
}

/// Something to be done.
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// A word for the engine.
    Cue(Cue),
    /// Another drone in this room, or none.
    Drone(Option<(Drone, Arc<Room>)>),
    /// Every role and section of this room at its level.
    Mix(Mix, Arc<Room>),
    /// Make what is asked for and give it to the engine.
    Lead(Errand),
    /// Make what comes by itself after what is led, or take back what would; `within` is how long what is led begins new rounds.
    Queue(Option<Errand>, Option<Duration>),
    /// Open a lesson, from where it stood if it was left a short while ago.
    OpenLesson(Source),
    /// Remember where the lesson stands, or that it is through.
    KeepLesson(Option<Box<LessonStanding>>),
    /// Remember where a climb stands.
    KeepClimb(ClimbStanding),
    /// Keep the verdict on an echo, in the place of an earlier one on the same.
    Keep(Echo, Box<Record>),
    /// Keep what was heard of a whole section's echo.
    KeepSection(Echo, Box<SectionRecord>),
    /// Keep the sound of an echo whose verdict is kept.
    KeepSound(Echo, Box<(SampleRate, Vec<f32>)>),
    /// Read the files of what is led again and go over to it without stopping; an item of a lesson by the number it has now.
    Reread(Option<usize>),
    /// Read the lesson and its files again.
    RereadLesson,
    /// Open a room.
    OpenRoom(Source),
    /// Look for rooms and drills.
    Look,
    /// The device is gone: the plan stands.
    Halt(String),
    /// Keep what a press does from now on; nothing for what it does as it comes.
    Bind(Signal, Option<Deed>),
    /// Listen with the microphone, or no more.
    Listen(bool),
    /// Say this in the rest that is under way.
    Say(Phrase),
    /// Measure the room.
    Measure,
    /// The loudspeaker's sound was broken: what the microphone hears meets other frames than before.
    MeetAgain(Loudspeaker),
    /// Tell what somebody plays on this instrument as it sounds, or no more.
    OpenEar(Option<(&'static Instrument, Tuning)>),
    /// Remember that the cautions were read.
    CautionsRead,
    /// The end.
    Quit,
}

/// What to make and lead.
#[derive(Clone, Debug, PartialEq)]
pub struct Errand {
    /// How the class takes it.
    pub choice: Choice,
    /// The drill, for the choices that take one.
    pub drill: Option<Source>,
    /// The piece, for the choices that take one.
    pub piece: Option<Source>,
    /// The lesson, for an item of one.
    pub lesson: Option<Source>,
    /// The bar and tempo to stand at, when coming back.
    pub place: Option<(u32, Tempo)>,
    /// Where it stood in an earlier run, if that is still there: the top of that round.
    pub stood: Option<(crate::standing::Place, Option<Tempo>)>,
    /// Whether it starts at once.
    pub start: Start,
}

/// When what was chosen starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// With the next go.
    OnGo,
    /// At once.
    AtOnce,
}

impl Errand {
    /// A choice of the drill at `source` that waits for go.
    #[must_use]
    pub fn drill(source: Source) -> Self {
        Self { drill: Some(source), ..Self::of(Choice::Drill) }
    }

    /// One concert note, section after section, at once.
    #[must_use]
    pub fn in_turn(concert: Concert) -> Self {
        Self { start: Start::AtOnce, ..Self::of(Choice::InTurn { concert }) }
    }

    /// A passage of the piece at `source`, climbed or rechecked, that waits for go.
    #[must_use]
    pub fn piece(source: Source, choice: Choice) -> Self {
        Self { piece: Some(source), ..Self::of(choice) }
    }

    /// A choice that takes no file and waits for go.
    #[must_use]
    pub const fn of(choice: Choice) -> Self {
        Self { choice, drill: None, piece: None, lesson: None, place: None, stood: None, start: Start::OnGo }
    }

    /// The files it is made from.
    pub fn sources(&self) -> impl Iterator<Item = &Source> {
        [&self.drill, &self.piece, &self.lesson].into_iter().flatten()
    }
}
