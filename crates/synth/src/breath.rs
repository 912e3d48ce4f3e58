//! The inhale before an entry.

use units::FrameInstant;

/// An inhale that swells over its beats and stops as the entry comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Breath {
    /// Where the inhale begins.
    pub start: FrameInstant,
    /// The first frame on which it is silent: the entry.
    pub end: FrameInstant,
}
