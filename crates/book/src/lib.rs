//! The files people write: TOML becomes checked domain types, or errors at a caret, all of them at once, each with its mend.
//!
//! - [`fault`]: what is wrong in a file, where, and how to mend it
//! - [`file`](mod@file): from a path to a checked room, drill, piece or lesson
//! - [`room`]: one class
//! - [`drill`]: a model/echo pattern, and its plans in a room
//! - [`piece`]: a piece, read and written
//! - [`climb`]: the keys of climbs and rechecks
//! - [`lesson`]: the items of a class hour, each sound or with its own faults
//! - [`schema`]: the JSON Schema of each kind of file
//! - [`bindings`]: what the teacher's own keys, pedals and switches do
//! - [`demo`]: a room, drills, a piece and a lesson to start with
//! - [`suggest`](mod@suggest): the nearest known name
//!
//! Inside: [`form`] says which keys a file takes, `walk` checks a document against that, `view` reads what is sound in it, and
//! `tokens` reads lines of notes.

pub mod bindings;
pub mod climb;
pub mod demo;
pub mod drill;
mod drone;
pub mod fault;
pub mod file;
pub mod form;
pub mod lesson;
pub mod piece;
pub mod room;
pub mod schema;
mod source;
pub mod suggest;
mod tokens;
mod view;
mod walk;

pub use drill::{DrillFile, read_drill};
pub use fault::{Fault, Faults};
pub use file::{Book, load, load_beside, read_file};
pub use lesson::{ItemFile, LessonFile, read_lesson};
pub use piece::{PieceFile, read_piece};
pub use room::{read_room, soundfont_fault};
pub use suggest::suggest;
