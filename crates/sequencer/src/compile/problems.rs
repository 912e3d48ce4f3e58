//! What can be wrong with a drill in a room.

use std::fmt;
use thiserror::Error;

use crate::Syllables;
use crate::climb::ClimbError;

/// Where in the drill the trouble is, so that a file's reader can point at it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// What is led as a whole.
    Whole,
    /// The number of rounds.
    Rounds,
    /// A group, and one of its members, from zero.
    Group {
        /// Which group.
        group: usize,
        /// Which member.
        member: Option<usize>,
    },
    /// The line for everyone.
    Everyone,
    /// A section's own line, by its place among them.
    Own(usize),
    /// A turn, from zero.
    Turn(usize),
    /// How a turn, from zero, divides its beats.
    Division(usize),
}

/// What is wrong, and how to mend it.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[allow(missing_docs, reason = "each variant's message says what its fields mean")]
pub enum Problem {
    #[error("the room has no section called \"{name}\"")]
    UnknownSection { name: String },
    #[error("the room has no such section")]
    NoSuchSection,
    #[error("{section} have no line in this drill; give them one, or a line for all")]
    NothingForSection { section: String },
    #[error("{section} have no landmarks; add landmarks = [\"...\"] to the section in the room file")]
    NoLandmarks { section: String },
    #[error("\"{title}\" fits no section of this room in comfort; choose another note")]
    NothingFits { title: String },
    #[error("a group names no section; write [\"all\"] or the sections that play at once")]
    EmptyGroup,
    #[error("the drill has no groups; write groups = [[\"all\"]]")]
    NoGroups,
    #[error("the drill has no turns; add [[turn]] with count, model, breath or echo")]
    NoTurns,
    #[error("every turn is talk; add [[turn]] with count, model, breath or echo")]
    OnlyTalk,
    #[error("the drill has no rounds; write rounds = 1 or more")]
    NoRounds,
    #[error("{turn} has no bars; write bars = 1 or more")]
    NoBars { turn: &'static str },
    #[error("this would last {bars} bars, over the most of {most}; take fewer rounds or bars")]
    TooLong { bars: usize, most: usize },
    #[error("a breath over {beats} beats does not fit its {available} beats; write beats = 1 to {available}")]
    BreathBeats { beats: u8, available: u32 },
    #[error("a beat of {meter} is not counted in {parts} parts; write subdivide = {instead}")]
    Division { meter: String, parts: u8, instead: &'static str },
    #[error("the way of counting \"{syllables}\" has no words for {parts} to a beat; write syllables = {ways}")]
    NoSyllables { syllables: Syllables, parts: u8, ways: String },
    #[error("the line lasts {beats} beats and does not fill its bars of {bar}; {mend}")]
    BarsNotFilled { beats: String, bar: String, mend: String },
    #[error("the line has no notes; write pitch:beats, such as F4:4")]
    EmptyLine,
    #[error("this line lasts {bars} bars and another lasts {others}; make them equally long, with rests (-:beats) where needed")]
    UnequalLines { bars: usize, others: usize },
    #[error("{note} is outside the {instrument} ({low} to {high} written); write a note inside it")]
    OutsideInstrument { note: String, instrument: String, low: String, high: String },
    #[error("{0}")]
    Climb(ClimbError),
    #[error("\"{passage}\" has no bars; say which, such as from = 17 and to = 32")]
    EmptyPassage { passage: String },
    #[error("the climb has no passes; write passes such as air and play")]
    NoPasses,
    #[error(
        "no section of the room is trusted to play alone, and nothing else is to be done; write trusted = true for one in the room file"
    )]
    NobodyTrusted,
    #[error("bar {bar} holds more than {most} sounds; use longer notes")]
    TooManySounds { bar: usize, most: usize },
}

/// All that is wrong at once; never empty when returned as an error.
#[derive(Clone, Debug, Default, PartialEq, Eq, Error)]
pub struct CompileError {
    /// Each trouble and where it is.
    pub problems: Vec<(Place, Problem)>,
}

impl CompileError {
    pub(crate) fn one(place: Place, problem: Problem) -> Self {
        Self { problems: vec![(place, problem)] }
    }

    pub(crate) fn push(&mut self, place: Place, problem: Problem) {
        self.problems.push((place, problem));
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.problems.is_empty()
    }
}

impl fmt::Display for CompileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, (_, problem)) in self.problems.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{problem}")?;
        }
        Ok(())
    }
}
