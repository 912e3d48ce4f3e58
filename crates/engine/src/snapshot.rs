//! What the audio side shows of itself, newest first: the reader always sees a whole one and never makes the writer wait.

use sequencer::cursor::{Motion, Position};
use units::{FrameInstant, Gain, Tempo};

/// The state of the sound at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Snapshot {
    /// The next frame to be rendered.
    pub now: FrameInstant,
    /// Where the plan stands, if there is one.
    pub position: Option<Position>,
    /// The number of the `Load` or `Amend` whose plan is in force; zero before the first.
    pub score: u32,
    /// Whether a drone is held.
    pub drone: bool,
    /// The loudest sample of the last block, after the limiter.
    pub peak: f32,
    /// The master level in force.
    pub master: Gain,
    /// Whether the voice's clips have arrived.
    pub voice: bool,
    /// What should never happen, counted.
    pub counts: Counts,
}

/// What should never happen, counted since the start.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Samples that were not numbers and were made silent.
    pub non_finite: u64,
    /// Sounds that found no room in the schedule.
    pub lost_sounds: u64,
    /// Reports that found no room in their queue.
    pub dropped_reports: u64,
}

impl Snapshot {
    /// Nothing loaded, nothing sounding.
    #[must_use]
    pub const fn initial() -> Self {
        Self {
            now: FrameInstant::ZERO,
            position: None,
            score: 0,
            drone: false,
            peak: 0.0,
            master: Gain::SILENCE,
            voice: false,
            counts: Counts { non_finite: 0, lost_sounds: 0, dropped_reports: 0 },
        }
    }

    /// Whether the plan moves, if there is one.
    #[must_use]
    pub fn motion(&self) -> Option<Motion> {
        self.position.map(|position| position.motion)
    }

    /// The tempo in force, if there is a plan.
    #[must_use]
    pub fn tempo(&self) -> Option<Tempo> {
        self.position.map(|position| position.tempo)
    }
}
