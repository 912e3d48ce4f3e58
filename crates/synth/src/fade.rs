//! The last fade to silence that any sound can be given at any moment.

use crate::curve::multiply_fall;
use crate::{BLOCK, Block};

/// A fade to exact silence. A sound has at most one, and the first it was given stays.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) enum Fade {
    /// Sounding on.
    #[default]
    None,
    /// Fades from the next block's first frame on.
    Asked { length: f32 },
    /// Fades from frame `start` on.
    From { start: u64, length: f32 },
}

impl Fade {
    pub(crate) fn ask(&mut self, length: f32) {
        if *self == Self::None {
            *self = Self::Asked { length };
        }
    }

    pub(crate) fn from(&mut self, start: u64, length: f32) {
        if *self == Self::None {
            *self = Self::From { start, length };
        }
    }

    pub(crate) fn is_none(&self) -> bool {
        *self == Self::None
    }

    /// Lays the fade over the block at `start`; whether the sound is over by its end.
    pub(crate) fn apply(&mut self, start: u64, gain: &mut Block) -> bool {
        if let Self::Asked { length } = *self {
            *self = Self::From { start, length };
        }
        let Self::From { start: from, length } = *self else { return false };
        let elapsed = start.wrapping_sub(from) as i64;
        multiply_fall(gain, elapsed, length);
        (elapsed + BLOCK as i64) as f32 >= length
    }
}
