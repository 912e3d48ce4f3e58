//! Hearing: what a player or a section plays, from blocks of sound. Pure functions and small state machines; no device, no input, no
//! output, and nothing is allocated once a listener is built.
//!
//! - [`player`]: one player: frames, notes, verdicts
//! - [`place`](mod@place): a pitch beside the note asked for: partial, octave, twelfth, off the series
//! - [`beating`](mod@beating): how often a played tone beats against a drone
//! - [`section`]: a section: shares over the notes of a series, its tuning, how it comes in
//! - [`cancel`]: our own sound taken out of what the microphone hears
//! - [`room`]: the same with two streams that have two clocks: delay, ratio and way found by itself
//! - [`decimate`]: from any device rate to about 24 kHz

pub mod beating;
pub mod cancel;
pub mod decimate;
mod entry;
mod floor;
mod follow;
mod gate;
mod memory;
mod notes;
mod periods;
pub mod place;
pub mod player;
mod prior;
pub mod room;
pub mod section;
mod settled;
mod spectrum;
#[cfg(test)]
mod tests;
mod track;

pub use beating::{Beating, beating};
pub use place::{Named, Place, Placed};
pub use player::{CannotListen, Frame, Heard, Note, Player, Tone, Verdict};
pub use section::{Section, Series, Shares};
