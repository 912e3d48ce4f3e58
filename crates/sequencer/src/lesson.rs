//! A class hour: what is done in it, one item after another, and how that fits the time there is.

mod hour;

pub use hour::{Clock, Hour, Progress, Proposal, Shorter, Slot, Spell, WallTime};

use thiserror::Error;
use units::Tempo;

use crate::{ClimbSettings, Drone, Meter, RecheckSettings};

/// The most items one lesson holds.
pub const MAX_ITEMS: usize = 100;

/// A lesson, without its items: those stand or fall one by one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lesson {
    /// What it is called.
    pub title: String,
    /// The file of the room it is for, as the lesson names it; nothing for the room that is open.
    pub room: Option<String>,
    /// The time there is.
    pub hour: Hour,
}

/// One item of a lesson.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// What the teacher calls it; nothing lets it be named by what is done.
    pub title: Option<String>,
    /// What it takes of the hour.
    pub slot: Slot,
    /// What is done.
    pub work: Work,
}

/// What is done in an item. Files are named as the lesson names them, sections by name.
#[derive(Clone, Debug, PartialEq)]
pub enum Work {
    /// A held chord to tune and breathe to; nothing for the room's own.
    Drone(Option<Drone>),
    /// A section's landmarks, in order.
    Landmarks {
        /// Which section.
        section: String,
    },
    /// A drill, group after group.
    Drill {
        /// The drill's file.
        file: String,
    },
    /// A drill seat by seat through one section.
    Roll {
        /// Which section.
        section: String,
        /// The drill's file.
        drill: String,
    },
    /// From under-tempo to concert tempo.
    Climb {
        /// With what.
        of: Ground,
        /// How.
        settings: ClimbSettings,
    },
    /// A passage that fell apart, taken up again.
    Recheck {
        /// Of what.
        of: Excerpt,
        /// How.
        settings: RecheckSettings,
    },
    /// Waits for the director.
    Talk {
        /// What to talk about, shown to the director.
        note: String,
    },
}

/// What a climb is practised on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Ground {
    /// Bars of a piece.
    Piece(Excerpt),
    /// So many bars of one meter, with no piece.
    Bare {
        /// The concert tempo.
        tempo: Tempo,
        /// How a bar is counted.
        meter: Meter,
        /// How many bars a pass has, at least one.
        bars: u16,
    },
}

/// Bars of a piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Excerpt {
    /// The piece's file.
    pub file: String,
    /// Which passage; nothing for all of it.
    pub passage: Option<String>,
}

/// A text that is none of a lesson's notations.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum LessonError {
    /// Not a time of day.
    #[error("\"{0}\" is no time of day; write hours and minutes from 0:00 to 23:59, such as 10:15")]
    WallTime(String),
}

impl Work {
    /// Every word for work in files, in the order of the variants.
    pub const WORDS: [&'static str; 7] = ["drone", "landmarks", "drill", "roll", "climb", "recheck", "talk"];

    /// Its word in files.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Drone(_) => "drone",
            Self::Landmarks { .. } => "landmarks",
            Self::Drill { .. } => "drill",
            Self::Roll { .. } => "roll",
            Self::Climb { .. } => "climb",
            Self::Recheck { .. } => "recheck",
            Self::Talk { .. } => "talk",
        }
    }

    /// The file it names.
    #[must_use]
    pub fn file(&self) -> Option<&str> {
        match self {
            Self::Drill { file } | Self::Roll { drill: file, .. } => Some(file),
            Self::Climb { of: Ground::Piece(of), .. } | Self::Recheck { of, .. } => Some(&of.file),
            Self::Drone(_) | Self::Landmarks { .. } | Self::Climb { of: Ground::Bare { .. }, .. } | Self::Talk { .. } => None,
        }
    }

    /// Whether it ends by itself; a drone and a talk go on until something ends them.
    #[must_use]
    pub const fn ends(&self) -> bool {
        !matches!(self, Self::Drone(_) | Self::Talk { .. })
    }
}
