//! What is remembered of a class between runs: the lesson under way, so that a power cut costs a moment, and where each climb stands, so that the
//! next class goes on from there.
//!
//! - [`lesson`]: the lesson under way
//! - [`climbs`]: the stage each passage has reached in each room
//! - [`store`]: their files
//! - [`keeper`]: writes them from a thread of its own

pub mod climbs;
pub mod keeper;
pub mod lesson;
pub mod store;

#[cfg(test)]
mod tests;

pub use climbs::{ClimbStanding, ClimbStandings};
pub use keeper::Keeper;
pub use lesson::{ItemStanding, LessonStanding, Place, Resume, found_again};
pub use store::{Found, Store};
