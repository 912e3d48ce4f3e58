//! Quantities as types, so that frames are not beats and hertz are not cents.
//!
//! - [`frames`]: an instant, a span and a signed difference on the sample clock
//! - [`rate`]: frames per second
//! - [`beats`]: exact musical time
//! - [`tempo`]: beats per minute, and the one map from beats to frames
//! - [`frequency`]: hertz, cents and MIDI note numbers
//! - [`level`]: decibels and linear gain

pub mod beats;
pub mod frames;
pub mod frequency;
pub mod level;
pub mod rate;
pub mod tempo;

pub use beats::Beats;
pub use frames::{FrameInstant, FrameOffset, FrameSpan};
pub use frequency::{Cents, Hertz, MidiNumber};
pub use level::{Decibels, Gain};
pub use rate::SampleRate;
pub use tempo::{BeatClock, Tempo};
