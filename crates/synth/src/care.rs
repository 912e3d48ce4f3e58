//! The levels and slopes nothing may exceed.
//!
//! A tone at level 1 has a weighted rms of [`TONE_RMS`]; with the master at [`START_LEVEL`] one section's tone then lies near
//! -26 dBFS and a tutti of six near -18 dBFS.

/// True peak of the output, linear: -1 dBFS. The limiter aims 0.3 dB lower.
pub const TRUE_PEAK_CEILING: f32 = 0.891_250_94;

/// The master level until it is set: -6 dB.
pub const START_LEVEL: f32 = 0.5;

/// Weighted rms of a tone at level 1, before the master level.
pub const TONE_RMS: f32 = 0.1;
