//! Hearing: what a player or a section plays, from blocks of sound. Pure functions and small state machines; no device, no input, no
//! output, and nothing is allocated once a listener is built.
//!
//! - [`player`]: one player: frames, notes, verdicts
//! - [`place`](mod@place): a pitch beside the note asked for: partial, octave, twelfth, off the series
//! - [`section`]: a section: shares over the notes of a series, its tuning, how it comes in
//! - [`cancel`]: our own sound taken out of what the microphone hears
//! - [`decimate`]: from any device rate to about 24 kHz

pub mod cancel;
pub mod decimate;
mod entry;
mod floor;
mod follow;
mod memory;
mod notes;
mod periods;
pub mod place;
pub mod player;
pub mod section;
mod spectrum;
#[cfg(test)]
mod tests;
mod track;

pub use place::{Named, Place, Placed};
pub use player::{CannotListen, Frame, Heard, Note, Player, Tone, Verdict};
pub use section::{Section, Series, Shares};
