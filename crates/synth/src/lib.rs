//! Sound: everything a room hears, rendered block by block.
//!
//! - [`band`]: all that can sound at once, and the one call that renders a block
//! - [`bus`]: where a sound goes, and the stems of a render
//! - [`timbre`]: the instruments a tone can imitate
//! - [`tone`]: a model tone
//! - [`sampled`]: recorded sounds a tone can take instead
//! - [`drone`]: a held chord whose coincident partials never beat
//! - [`clip`]: recorded words
//! - [`click`]: the beat made audible
//! - [`drum`]: strokes without a pitch
//! - [`breath`]: the inhale before an entry
//! - [`probe`]: a known sound to measure the room with
//! - [`care`]: the levels and slopes nothing may exceed
//! - [`cpu`]: which instructions the heavy loops use
//!
//! Inside: `bank` and `voice` sing the tones, `wave` and `noise` make their waveforms, `curve` and `fade` shape every gain, `mixer` with
//! `ducking` and `limiter` make the output, `loudness` measures it.

pub mod band;
pub mod breath;
pub mod bus;
pub mod care;
pub mod click;
pub mod clip;
pub mod cpu;
pub mod drone;
pub mod drum;
pub mod probe;
pub mod sampled;
pub mod timbre;
pub mod tone;

mod bank;
mod curve;
mod ducking;
mod fade;
mod limiter;
mod loudness;
mod mixer;
mod noise;
mod places;
mod voice;
mod wave;

#[cfg(test)]
mod tests;

pub use band::Band;
pub use breath::Breath;
pub use bus::{BUS_COUNT, Bus, MAX_SECTIONS, Stems};
pub use click::ClickKind;
pub use clip::{Clip, ClipBank};
pub use cpu::Arithmetic;
pub use drone::{DroneChord, DroneTone};
pub use drum::Drum;
pub use probe::Probe;
pub use sampled::{SampleBank, SampledSound, SoundIndex};
pub use timbre::Timbre;
pub use tone::{Slide, Tone};

/// Frames in one render call: every call makes exactly one block.
pub const BLOCK: usize = 64;

/// One block of one channel.
type Block = [f32; BLOCK];

/// A block of nothing.
static SILENCE: Block = [0.0; BLOCK];
