//! The last fade to silence that any sound can be given at any moment.

use crate::curve::multiply_fall;
use crate::{BLOCK, Block};

/// A fade to exact silence. Of several, the first to begin counts; one that has begun stays.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Fade {
    /// Length of a fade that begins with the next block.
    asked: Option<f32>,
    /// First frame and length of a fade.
    set: Option<(u64, f32)>,
}

impl Fade {
    /// Fades from the next block's first frame on.
    pub(crate) fn ask(&mut self, length: f32) {
        self.asked = self.asked.or(Some(length));
    }

    /// Fades from frame `start` on.
    pub(crate) fn from(&mut self, start: u64, length: f32) {
        if self.set.is_none_or(|(first, _)| start < first) {
            self.set = Some((start, length));
        }
    }

    pub(crate) fn is_none(&self) -> bool {
        self.asked.is_none() && self.set.is_none()
    }

    /// Lays the fade over the block at `start`; whether the sound is over by its end.
    pub(crate) fn apply(&mut self, start: u64, gain: &mut Block) -> bool {
        if let Some(length) = self.asked.take() {
            self.from(start, length);
        }
        let Some((first, length)) = self.set else { return false };
        let elapsed = start.wrapping_sub(first) as i64;
        multiply_fall(gain, elapsed, length);
        (elapsed + BLOCK as i64) as f32 >= length
    }
}
