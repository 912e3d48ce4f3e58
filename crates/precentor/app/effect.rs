//! What an update asks to be done outside.

use pitch::Concert;
use sequencer::{Cue, Drone, Mix, Room};
use std::sync::Arc;

use super::shelf::Source;
use crate::inputs::{Deed, Signal};
use crate::workshop::Choice;
use units::Tempo;

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
    /// Read the files of what is led again and go over to it without stopping.
    Reread,
    /// Open a room.
    OpenRoom(Source),
    /// Look for rooms and drills.
    Look,
    /// The device is gone: the plan stands.
    Halt(String),
    /// Keep what a press does from now on; nothing for what it does as it comes.
    Bind(Signal, Option<Deed>),
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
    /// The bar and tempo to stand at, when coming back.
    pub place: Option<(u32, Tempo)>,
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
        Self { choice: Choice::Drill, drill: Some(source), place: None, start: Start::OnGo }
    }

    /// One concert note, section after section, at once.
    #[must_use]
    pub fn in_turn(concert: Concert) -> Self {
        Self { choice: Choice::InTurn { concert }, drill: None, place: None, start: Start::AtOnce }
    }
}
