//! Where a sound goes: one bus per section, and one each for drone, words, clicks and breath.

use crate::BLOCK;

/// How many sections a room can have.
pub const MAX_SECTIONS: usize = 24;
/// How many buses there are.
pub const BUS_COUNT: usize = MAX_SECTIONS + 4;

/// A channel of the mixer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Bus {
    /// A section's model tones; numbers from [`MAX_SECTIONS`] on share the last section's bus.
    Section(u8),
    /// The held chord.
    Drone,
    /// Spoken words.
    Voice,
    /// The beat.
    Click,
    /// The inhale.
    Breath,
}

impl Bus {
    /// The place of this bus among all, below [`BUS_COUNT`].
    #[must_use]
    pub const fn index(self) -> usize {
        match self {
            Self::Section(number) if (number as usize) < MAX_SECTIONS => number as usize,
            Self::Section(_) => MAX_SECTIONS - 1,
            Self::Drone => MAX_SECTIONS,
            Self::Voice => MAX_SECTIONS + 1,
            Self::Click => MAX_SECTIONS + 2,
            Self::Breath => MAX_SECTIONS + 3,
        }
    }

    /// Every bus, in the order of [`Bus::index`].
    pub fn all() -> impl Iterator<Item = Self> {
        (0..MAX_SECTIONS as u8).map(Self::Section).chain([Self::Drone, Self::Voice, Self::Click, Self::Breath])
    }
}

/// One block of every bus by itself: mono, after its level, ducking and the master level, before panning and the limiter.
///
/// Stems come out on the frame they were asked for; the mix comes out [`crate::Band::latency`] later.
#[derive(Clone, Debug)]
pub struct Stems {
    pub(crate) buses: Box<[[f32; BLOCK]; BUS_COUNT]>,
}

impl Stems {
    /// Silent stems.
    #[must_use]
    pub fn new() -> Self {
        Self { buses: Box::new([[0.0; BLOCK]; BUS_COUNT]) }
    }

    /// The last rendered block of `bus`.
    #[must_use]
    pub fn get(&self, bus: Bus) -> &[f32; BLOCK] {
        &self.buses[bus.index()]
    }
}

impl Default for Stems {
    fn default() -> Self {
        Self::new()
    }
}
