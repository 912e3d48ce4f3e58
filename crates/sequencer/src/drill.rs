//! A counted model/echo pattern as the teacher wrote it: lines, turns, groups and rounds, sections by name.

use pitch::{Concert, Key, Written};
use units::{Beats, Tempo};

use crate::{Division, Meter, Syllables};

/// A drill, not yet bound to a room.
#[derive(Clone, Debug, PartialEq)]
pub struct Drill {
    /// What the screen calls it.
    pub title: String,
    /// Where it starts; nudges move it on the run.
    pub tempo: Tempo,
    /// How its bars are counted.
    pub meter: Meter,
    /// The concert key its notes are spelled in; nothing lets the notes decide.
    pub key: Option<Key>,
    /// How often each group goes through the turns, at least once.
    pub rounds: u16,
    /// Who takes it at once, one group after another.
    pub groups: Vec<Group>,
    /// The concert line of every section that has none of its own.
    pub everyone: Option<SectionLine>,
    /// Sections with a line of their own, by name.
    pub own: Vec<(String, SectionLine)>,
    /// What the bars are for, in order.
    pub turns: Vec<Turn>,
    /// What is said between the beats; nothing leaves it to the room.
    pub syllables: Option<Syllables>,
    /// Whether each group is called by name before its first round.
    pub call: bool,
    /// Whether the pulse is ticked under every turn.
    pub click: bool,
    /// When what is heard of an echo sends a group on or back; nothing lets every round be played.
    pub adaptive: Option<Adaptive>,
    /// Whether what is heard of an echo is said aloud in the rest after it.
    pub say_verdicts: bool,
}

/// When what is heard of a section's echo sends it on, or back to its landmark. Between the two, the round comes again as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Adaptive {
    /// The percentage of the section on its note from which it goes on, 1 to 100.
    pub enough: u8,
    /// The percentage under which it hears its landmark before the next round, 0 to 100; less than `enough`.
    pub landmark_below: u8,
}

/// Who takes a drill at once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Group {
    /// Every section that has a line.
    Everyone,
    /// These sections, by name.
    Sections(Vec<String>),
}

/// Notes and rests, one after another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line<P> {
    /// Each note (or rest) with its length.
    pub notes: Vec<(Option<P>, Beats)>,
}

/// A line and how it is meant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SectionLine {
    /// Concert pitch, moved by whole octaves into each section's comfortable range.
    Concert(Line<Concert>),
    /// Concert pitch exactly as given.
    ExactConcert(Line<Concert>),
    /// Written pitch, exactly as given.
    Written(Line<Written>),
}

/// What some bars are for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Turn {
    /// The voice counts.
    Count {
        /// How many bars.
        bars: u16,
        /// Counted before a group's first round only; later rounds go straight on.
        first_round_only: bool,
        /// Into what each beat is divided aloud.
        division: Division,
    },
    /// The engine sounds the lines.
    Model,
    /// The sections answer; the engine is silent but for the pulse.
    Echo,
    /// The voice counts and an inhale leads the last beats.
    Breath {
        /// How many bars.
        bars: u16,
        /// On how many of the last beats the breath is taken.
        beats: u8,
        /// Into what each beat is divided aloud.
        division: Division,
    },
    /// Silent bars with the pulse.
    Rest {
        /// How many bars.
        bars: u16,
    },
    /// Waits for the director.
    Talk {
        /// What to talk about, shown to the director.
        note: String,
    },
}

impl<P: Copy> Line<P> {
    /// The line's whole length.
    #[must_use]
    pub fn beats(&self) -> Beats {
        self.notes.iter().map(|(_, beats)| *beats).sum()
    }

    /// The notes without their lengths.
    #[must_use]
    pub fn pitches(&self) -> Vec<Option<P>> {
        self.notes.iter().map(|(pitch, _)| *pitch).collect()
    }
}

impl SectionLine {
    /// The line's whole length.
    #[must_use]
    pub fn beats(&self) -> Beats {
        match self {
            Self::Concert(line) | Self::ExactConcert(line) => line.beats(),
            Self::Written(line) => line.beats(),
        }
    }
}
