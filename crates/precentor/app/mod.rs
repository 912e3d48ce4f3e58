//! The console: one state, one action type, an update without input or output, and a session that does what the update asks for.
//!
//! - [`state`]: all that is on the screen
//! - [`action`], [`effect`]: what comes in, what is to be done
//! - [`update`](mod@update): from a state and an action to effects
//! - [`shelf`]: rooms and drills to choose from
//! - [`session`]: engine, device, files and journal
//! - [`lead`](mod@lead): the console from start to end

pub mod action;
mod device_link;
pub mod effect;
pub mod lead;
mod plain;
mod screen;
pub mod session;
pub mod shelf;
pub mod state;
pub mod update;

pub use action::Action;
pub use effect::Effect;
pub use lead::{LeadOptions, lead};
pub use session::Session;
pub use state::State;
pub use update::update;
