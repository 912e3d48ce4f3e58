//! Time and turns: what a class does, laid out in beats, and the cursor that steps through it.
//!
//! - [`meter`]: how a bar is counted
//! - [`room`]: one class: its sections, their instruments and landmarks
//! - [`drone`]: a held concert pitch and what stands on it
//! - [`drill`]: lines, turns, groups and rounds as the teacher wrote them
//! - [`syllables`]: what is said between the beats
//! - [`climb`]: the stages from under-tempo to concert tempo
//! - [`language`]: the languages of the voice and their numbers
//! - [`words`]: what the voice says, as ids of recorded words
//! - [`plan`]: everything compiled: bars, sounds at exact beats, and what follows what
//! - [`compile`]: drills, rolls, landmarks and sections in turn become plans
//! - [`cue`]: what the director tells the engine
//! - [`cursor`]: where a plan stands, stepped from the audio thread without allocating

pub mod climb;
pub mod compile;
pub mod cue;
pub mod cursor;
pub mod drill;
pub mod drone;
pub mod language;
pub mod meter;
pub mod plan;
pub mod room;
pub mod syllables;
pub mod words;

#[cfg(test)]
mod tests;

pub use cue::Cue;
pub use cursor::{Cursor, Motion};
pub use drill::{Drill, Group, Line, SectionLine, Turn};
pub use drone::{Drone, StackTone};
pub use language::Language;
pub use meter::Meter;
pub use plan::{Plan, TurnKind};
pub use room::{Room, Section, SectionIndex, SectionSet};
pub use syllables::{Division, Syllables};
