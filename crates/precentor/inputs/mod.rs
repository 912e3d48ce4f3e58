//! What the director presses, types or sends, turned into commands by one table.
//!
//! - [`key`]: a key, whatever terminal it came through
//! - [`command`]: everything the director can ask for
//! - [`table`]: which keys and words ask for what, and where; hints, help, the command list and the manual are made from it
//! - [`guard`]: a bouncing pedal counts once

pub mod command;
pub mod guard;
pub mod key;
pub mod table;

pub use command::{Command, Verdict, Way};
pub use guard::Guard;
pub use key::Key;
pub use table::{Entry, Group, Place, TABLE};
