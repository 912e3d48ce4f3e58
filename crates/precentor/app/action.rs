//! Everything that can happen to the console.

use engine::Snapshot;
use std::sync::Arc;
use std::time::Duration;

use super::effect::Loudspeaker;
use super::shelf::Shelf;
use super::state::{Hearing, Input, Led, OpenedLesson, SeatHeard, SectionHeard, Sound, Sounding, Voice};
use crate::inputs::{Command, Deed, Signal};
use crate::workshop::RoomText;
use units::SampleRate;

/// Something that happened.
#[derive(Clone, Debug)]
pub enum Action {
    /// The director asked for something.
    Do(Command),
    /// A letter was typed into a list that filters.
    Type(char),
    /// The engine was looked at.
    Tick {
        /// What it showed.
        snapshot: Snapshot,
        /// What is led, as far as the engine has taken it up.
        in_force: Option<Arc<Led>>,
        /// Since the console started.
        now: Duration,
    },
    /// The sound device said something.
    Sound(Sound),
    /// The voice arrived, or cannot.
    Voice(Voice),
    /// A room was read.
    Room(Box<OpenedRoom>),
    /// A lesson was read, and its room if it is another.
    Lesson(Box<(Option<OpenedRoom>, OpenedLesson)>),
    /// The lesson under way was read again after an edit; nothing if it has faults and stays as it was.
    LessonAgain(Option<Box<OpenedLesson>>),
    /// An item of the lesson cannot be made.
    ItemFaulty {
        /// Which, from zero.
        number: usize,
        /// Every fault with its caret.
        faults: String,
    },
    /// What was chosen is ready and with the engine.
    Led(Arc<Led>),
    /// An edited file is taken up.
    Amended(Arc<Led>),
    /// A file that is in use was edited on disk.
    Edited,
    /// An edited file says again what is led already.
    Mended,
    /// A file has faults; what sounds goes on as it is.
    Faulty {
        /// What went wrong, in a few words.
        what: String,
        /// Every fault with its caret.
        faults: String,
    },
    /// The lists of rooms and drills were read.
    Shelf(Shelf),
    /// How the microphone stands.
    Hearing(Hearing),
    /// What the microphone gives just now.
    Input(Input),
    /// What was heard of a seat.
    Echoed(SeatHeard),
    /// What was heard of a section that answered alone.
    SectionEchoed(Box<SectionHeard>),
    /// The sound of the echo that was told last, where sound is kept.
    EchoSound(Box<(SampleRate, Vec<f32>)>),
    /// What somebody who plays freely sounds just now.
    Sounds(Option<Sounding>),
    /// Something to be told for a few seconds.
    Tell(String),
    /// The loudspeaker's sound was broken, or is another time behind than before; this is told of it.
    Broken(Loudspeaker, String),
    /// The terminal has another size, or was redrawn.
    Redraw,
    /// The learn screen is open and this was pressed; with the MIDI port it came through.
    Heard(Signal, Option<Arc<str>>),
    /// What was pressed last shall do this from now on, or what it does as it comes.
    Bind(Option<Deed>),
    /// A MIDI port is there, or no longer.
    Port {
        /// Its name.
        name: Arc<str>,
        /// Whether it is there.
        there: bool,
    },
    /// The window got the keyboard, or another window did.
    Focus(Focus),
}

/// Where the keyboard is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Focus {
    /// In this window.
    Here,
    /// In another: a pedal that acts as a keyboard types there.
    Elsewhere,
}

/// A room that was read, and what goes with it.
#[derive(Clone, Debug)]
pub struct OpenedRoom {
    /// Where it lies.
    pub source: super::shelf::Source,
    /// Its text.
    pub text: RoomText,
    /// What the text says.
    pub room: Arc<sequencer::Room>,
    /// What to start with.
    pub first: Option<super::effect::Errand>,
}
