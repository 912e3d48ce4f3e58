//! Pure theory: what is written, what sounds, and the instruments between the two. No input, no output, no sound.
//!
//! - [`spelled`]: steps, alterations, pitch classes and pitches as they are spelled
//! - [`interval`]: spelled transposition
//! - [`written`]: the two kinds of pitch, written and concert, that only an instrument converts
//! - [`range`]: from a lowest to a highest written pitch
//! - [`key`]: key signatures, and spelling within them
//! - [`instrument`]: the instrument table
//! - [`partials`]: the harmonic series
//! - [`fingering`]: valves, slide positions and the partial they stand on
//! - `overblown`: where a woodwind's notes are overblown
//! - [`tuning`]: from a concert pitch to hertz
//! - [`mod@fit`]: a concert line moved by octaves into a range

pub mod fingering;
pub mod fit;
pub mod instrument;
pub mod interval;
pub mod key;
mod overblown;
pub mod partials;
pub mod range;
pub mod spelled;
pub mod tuning;
pub mod written;

pub use fingering::{Fingering, HornSide};
pub use fit::{Fit, FittedLine, NoFit, fit, fit_line};
pub use instrument::{Clef, Family, Instrument, UnknownInstrument};
pub use interval::Interval;
pub use key::{Key, KeyError, Mode};
pub use range::{RangeError, WrittenRange};
pub use spelled::{Alteration, Pitch, PitchClass, PitchError, Step};
pub use tuning::{Reference, ReferenceError, Temperament, Tuning, UnknownTemperament};
pub use written::{Concert, Written};
