//! Time and turns: what a class does, laid out in beats, and the cursor that steps through it.
//!
//! - [`meter`]: how a bar is counted
//! - [`room`]: one class: its sections, their instruments and landmarks
//! - [`drone`]: a held concert pitch and what stands on it
//! - [`drill`]: lines, turns, groups and rounds as the teacher wrote them
//! - [`syllables`]: what is said between the beats
//! - [`piece`]: a piece as the band's page has it
//! - [`climb`]: the stages from under-tempo to concert tempo, their passes, and the recheck
//! - [`lesson`]: the items of a class hour, and how they fit the time there is
//! - [`click`]: which beats are ticked
//! - [`language`]: the languages of the voice and their numbers
//! - [`words`]: what the voice says, as ids of recorded words
//! - [`mix`]: how loud each role is beside the others
//! - [`plan`]: everything compiled: bars, sounds at exact beats, and what follows what
//! - [`compile`]: drills, rolls, landmarks and sections in turn become plans
//! - [`cue`]: what the director tells the engine
//! - [`cursor`]: where a plan stands, stepped from the audio thread without allocating

pub mod click;
pub mod climb;
pub mod compile;
pub mod cue;
pub mod cursor;
pub mod drill;
pub mod drone;
pub mod language;
pub mod lesson;
pub mod meter;
pub mod mix;
pub mod piece;
pub mod plan;
pub mod room;
pub mod syllables;
pub mod words;

#[cfg(test)]
mod tests;

pub use climb::{Advance, ClimbSettings, Pass, RecheckSettings};
pub use cue::Cue;
pub use cursor::{Cursor, Motion};
pub use drill::{Adaptive, Drill, Group, Line, SectionLine, Turn};
pub use drone::{Drone, Registers, StackTone};
pub use language::Language;
pub use lesson::{Hour, Item, Lesson, Slot, Work};
pub use meter::Meter;
pub use mix::{Mix, Role};
pub use piece::{Passage, Piece, PieceBar};
pub use plan::{Plan, TurnKind};
pub use room::{PresetId, Room, Section, SectionIndex, SectionSet};
pub use syllables::{Division, Syllables};
