//! A model tone: one instrument, one pitch, from one frame to another.

use crate::{Bus, Timbre};
use units::{FrameInstant, Gain, Hertz};

/// One tone of a model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// What it sounds like.
    pub timbre: Timbre,
    /// Its sounding pitch, held to within a hundredth of a cent on average.
    pub frequency: Hertz,
    /// The first frame of its attack.
    pub start: FrameInstant,
    /// The first frame on which it is silent; its release lies before.
    pub end: FrameInstant,
    /// Loudness: 1 is a comfortable mezzo forte, equally loud for every timbre; softer tones are also darker.
    pub level: Gain,
    /// Where it goes, normally its section's bus.
    pub bus: Bus,
}
