//! What the director presses, types or sends, turned into commands by one table.
//!
//! - [`key`]: a key, whatever terminal it came through
//! - [`signal`]: what arrives from any source, with its name
//! - [`arrivals`]: the one channel through which every source reaches the console
//! - [`midi`]: MIDI pedals and switches
//! - [`command`]: everything the director can ask for
//! - [`table`]: which keys, pedals and words ask for what, and where; hints, help, the command list and the manual are made from it
//! - [`bindings`]: what the teacher bound, and what everything does therefore
//! - [`guard`]: a bouncing pedal counts once

pub mod arrivals;
pub mod bindings;
pub mod command;
pub mod guard;
pub mod key;
pub mod midi;
pub mod signal;
pub mod table;

pub use arrivals::{Arrival, Arrived, Inlet, Typed, Typing};
pub use bindings::{Bindings, Deed};
pub use command::{Command, Verdict, Way};
pub use guard::Guard;
pub use key::Key;
pub use signal::{Press, Signal};
pub use table::{Entry, Group, Place, TABLE};
