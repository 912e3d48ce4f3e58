//! A held chord whose just tones share one phase clock, so that their coincident partials never beat.

use units::{Cents, Gain, Hertz};

/// How many tones a drone can hold.
pub const DRONE_TONES: usize = 8;

/// One tone of a drone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DroneTone {
    /// Its frequency as a fraction of the root's: `(3, 2)` is the pure fifth. A zero in either place silences the tone.
    pub ratio: (u32, u32),
    /// How far it is moved from that fraction; zero keeps it just.
    pub detune: Cents,
    /// Loudness beside the other tones; 1 is the usual level of a root.
    pub level: Gain,
}

/// A chord to hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DroneChord {
    /// The sounding frequency of the ratio `(1, 1)`.
    pub root: Hertz,
    /// The tones that sound.
    pub tones: [Option<DroneTone>; DRONE_TONES],
}
