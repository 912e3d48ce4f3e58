//! The levels and slopes nothing may exceed.
//!
//! A tone at level 1 has a weighted rms of [`TONE_RMS`] (-20 dBFS); with the master at [`START_LEVEL`] one section's tone then lies near
//! -26 dBFS and a tutti of six sections near -18 dBFS. What that is in the room depends on the amplifier: measure it there.

/// True peak of the output, linear: -1 dBFS. The limiter aims 0.5 dB lower.
pub const TRUE_PEAK_CEILING: f32 = 0.891_250_94;

/// The master level until it is set: -6 dB.
pub const START_LEVEL: f32 = 0.5;

/// Weighted rms of a tone at level 1, before the master level: the K weighting of ITU-R BS.1770-5. Panned into two channels that is
/// -20.7 LUFS.
pub const TONE_RMS: f32 = 0.1;

/// Largest sample of a [`crate::Probe`], before the master level: a sine of it is as strong as a tone at level 1.
pub const PROBE_PEAK: f32 = 0.141_421_36;

/// Weighted rms of the loudest syllable of a word, before the master level: 3 LU over a tone.
pub const VOICE_RMS: f32 = 0.141_253_75;

/// The most any gain ahead of the limiter changes in a second: the S-curve of a stolen voice, 5 ms long, at its middle. Attacks of
/// tones, releases, cuts, hush, level changes and the drone's swell are all slower. Two things are quicker because they belong to the
/// recording and not to an event: the 1 ms attack of a click or a drum, and the 2 ms in which a word's first and last samples are eased.
pub const GAIN_SLOPE_PER_SECOND: f32 = 1.875 / STEAL_SECONDS;

/// The most any gain ahead of the limiter changes from one frame to the next at 48 kHz, see [`GAIN_SLOPE_PER_SECOND`].
pub const DECLARED_STEP: f32 = GAIN_SLOPE_PER_SECOND / 48_000.0;

/// The most the limiter's gain changes from one frame to the next at 48 kHz. It is steeper than [`DECLARED_STEP`] because it has only
/// its look-ahead of 1.5 ms to bring a sudden peak down.
pub const LIMITER_STEP: f32 = 0.04;

/// How long a stolen voice fades.
pub(crate) const STEAL_SECONDS: f32 = 0.005;
/// How long tones fade when the model is cut short: 28 ms, so that rounding stays within 30.
pub(crate) const RELEASE_SECONDS: f32 = 0.028;
/// How long everything fades at a hush; the limiter's look-ahead comes on top.
pub(crate) const HUSH_SECONDS: f32 = 0.030;
/// How long a level takes to reach a new setting.
pub(crate) const LEVEL_SECONDS: f32 = 0.020;
