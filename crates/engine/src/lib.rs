//! The sound of a class: a renderer on the audio side, its controls on the other.
//!
//! # The audio-thread contract
//! [`Renderer::fill`] runs in the device's callback. In it there is no allocation, no free, no lock, no system call, no file, no log, no panic
//! and no unbounded loop. What crosses is listed in [`command`]. The same renderer serves the device, a silent clock and files: the same
//! plan with the same cues at the same frames gives the same samples, whatever the size of the buffers.
//!
//! - [`score`]: a plan made ready to sound
//! - [`renderer`] and [`controls`]: the two sides, made as a pair by [`pair`]
//! - [`command`], [`snapshot`]: what crosses
//! - [`sent`]: what was given out, to be compared with what is heard
//! - [`schedule`], [`observer`]: sounds laid out, and watching them
//! - [`journal`]: every cue and fault of a run with its frame, to be rendered again
//! - [`probing`]: measuring with a known sound
//! - [`recording`]: a recorded class from a file
//! - [`bounce`], [`listing`]: rendering without a device, and the list of every sound
//! - [`speech`]: the voice's recorded words
//! - [`soundfont`]: recorded sounds of instruments

pub mod bounce;
pub mod command;
pub mod controls;
pub mod journal;
pub mod listing;
pub mod observer;
pub mod probing;
pub mod recording;
pub mod renderer;
pub mod schedule;
pub mod score;
pub mod sent;
pub mod snapshot;
pub mod soundfont;
pub mod speech;

pub use bounce::Bounce;
pub use command::{Command, Dial};
pub use controls::{Controls, pair};
pub use observer::{LaidSound, Observer};
pub use probing::Probing;
pub use renderer::Renderer;
pub use score::{RoomSounds, Score, SectionVoice, drone_chord};
pub use snapshot::Snapshot;
