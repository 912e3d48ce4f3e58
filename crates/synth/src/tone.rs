//! A model tone: one instrument, one pitch, from one frame to another.

use crate::{Bus, Timbre};
use units::{FrameInstant, FrameSpan, Gain, Hertz};

/// One tone of a model: of a built-in timbre, or with another `T` of a sound from elsewhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone<T = Timbre> {
    /// What it sounds like.
    pub timbre: T,
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
    /// How it comes to its pitch; struck tones, sampled ones and those without start on it.
    pub slide: Option<Slide>,
}

/// A slide into a tone's pitch, as when a player slurs to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slide {
    /// The pitch it begins at.
    pub from: Hertz,
    /// How long it takes, rounded up to whole blocks.
    pub length: FrameSpan,
}
