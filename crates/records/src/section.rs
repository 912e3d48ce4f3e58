//! What the echo of a whole section came to: who sat on which note, and how together they came.

use jiff::Timestamp;
use pitch::Written;
use std::num::NonZeroU16;
use units::Cents;

use crate::EntryMs;

/// A whole section's echo as it is kept. It knows no seat. The microphone alone tells of one: no ear counts shares.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionRecord {
    /// When it was heard; kept to the millisecond.
    pub when: Timestamp,
    /// The room's name.
    pub room: String,
    /// The section's name.
    pub section: String,
    /// The title of what was led.
    pub drill: String,
    /// The lesson's title, if the drill was led in one.
    pub lesson: Option<String>,
    /// The note asked for, as the section reads it.
    pub target: Option<Written>,
    /// The share of the section on each note it may have played, in the order they are to be shown.
    pub shares: Vec<NoteShare>,
    /// How many played, if somebody counted them.
    pub players: Option<NonZeroU16>,
    /// The share of the sound on none of these notes, 0 to 1.
    pub elsewhere: Option<f64>,
    /// How far the section's mean tuning lies above (negative: below) the notes. What is no number is not kept.
    pub cents: Option<Cents>,
    /// When they came, in the mean. What is no number is not kept.
    pub entry: Option<EntryMs>,
    /// How far apart they came. What is no number is not kept.
    pub spread: Option<SpreadMs>,
}

/// The share of a section on one note.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteShare {
    /// The note, as the section reads it.
    pub written: Written,
    /// The share on it, 0 to 1; what lies outside is kept as the nearer of the two.
    pub share: f64,
    /// It is at least this, as sure as the microphone says.
    pub low: f64,
    /// It is at most this, as sure as the microphone says.
    pub high: f64,
}

/// How far apart the players of a section came: the standard deviation of their entries, in milliseconds.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct SpreadMs(pub f64);

impl SectionRecord {
    /// The share on the note asked for, if that is among the notes.
    #[must_use]
    pub fn on_target(&self) -> Option<&NoteShare> {
        self.shares.iter().find(|share| Some(share.written) == self.target)
    }

    /// The note of the biggest group; of two as big, the first.
    #[must_use]
    pub fn largest(&self) -> Option<&NoteShare> {
        self.shares.iter().reduce(|largest, share| if share.share > largest.share { share } else { largest })
    }
}
