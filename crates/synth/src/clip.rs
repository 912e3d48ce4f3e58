//! Recorded words and their player.

use units::FrameSpan;

/// A recorded word, mono, at the rate of the [`crate::Band`] that plays it.
#[derive(Clone, Debug, PartialEq)]
pub struct Clip {
    /// The samples, full scale at 1.
    pub samples: Box<[f32]>,
    /// From the first sample to the moment a listener takes for its beat.
    pub attack: FrameSpan,
}

/// Every word that can be said, by number.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ClipBank(Vec<Clip>);

impl ClipBank {
    /// A bank whose clips are numbered from zero in the given order.
    #[must_use]
    pub const fn new(clips: Vec<Clip>) -> Self {
        Self(clips)
    }

    /// The clip with this number.
    #[must_use]
    pub fn get(&self, number: u16) -> Option<&Clip> {
        self.0.get(usize::from(number))
    }

    /// How many clips there are.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there are none.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}
