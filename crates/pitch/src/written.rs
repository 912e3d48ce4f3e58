//! What is read and what sounds are two kinds of pitch. Only an [`Instrument`](crate::Instrument) turns one into the other:
//!
//! ```compile_fail
//! let read: pitch::Written = "C4".parse().unwrap();
//! let sounds: pitch::Concert = read;
//! ```

use crate::{Interval, Pitch, PitchError};
use std::fmt;
use std::str::FromStr;

macro_rules! kind_of_pitch {
    ($(#[$meaning:meta])* $name:ident) => {
        $(#[$meaning])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub struct $name(Pitch);

        impl $name {
            /// Takes `pitch` as this kind of pitch.
            #[must_use]
            pub const fn new(pitch: Pitch) -> Self {
                Self(pitch)
            }

            /// The pitch itself.
            #[must_use]
            pub const fn pitch(self) -> Pitch {
                self.0
            }

            /// Semitones on the MIDI scale, where C4 is 60; see [`Pitch::semitone`].
            #[must_use]
            pub const fn semitone(self) -> i32 {
                self.0.semitone()
            }

            /// This pitch moved by whole octaves, up or (negative) down.
            #[must_use]
            pub fn moved_octaves(self, octaves: i32) -> Self {
                Self(self.0.transposed(Interval::octaves(octaves)))
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl FromStr for $name {
            type Err = PitchError;
            fn from_str(text: &str) -> Result<Self, PitchError> {
                text.parse().map(Self)
            }
        }
    };
}

kind_of_pitch! {
    /// What stands on a player's page.
    Written
}
kind_of_pitch! {
    /// What sounds, named as a piano would play it.
    Concert
}
