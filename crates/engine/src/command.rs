//! What crosses between the control side and the audio side: three lanes in, two queues out.
//!
//! - Levels are latest-value cells: an older value may vanish.
//! - Commands are ordered: a bounded queue whose sender keeps what does not fit and tries again.
//! - Hush is an atomic, read first in every block, so silence never waits in a queue.
//!
//! Out come reports (what was applied at which frame; counted when there is no room) and worn-out scores, clips and recorded sounds, to be freed where
//! freeing is allowed.

use sequencer::Cue;
use sequencer::words::Phrase;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};
use synth::{BUS_COUNT, Bus, ClipBank, DroneChord, Probe, SampleBank};
use units::{FrameInstant, FrameSpan, Gain, Tempo};

use crate::Score;

/// How many commands may wait; over that the sender keeps them.
pub const COMMANDS: usize = 256;
/// How many reports may wait; over that they are counted as dropped.
pub const REPORTS: usize = 4096;

/// An ordered command.
#[derive(Clone, Debug)]
#[allow(clippy::large_enum_variant, reason = "a chord travels by value: a box would have to be freed on the audio side")]
pub enum Command {
    /// A new plan, standing at its top, or at `place`.
    Load {
        /// The plan.
        score: Arc<Score>,
        /// The bar to stand at and the tempo to take, when coming back to a plan.
        place: Option<(u32, Tempo)>,
    },
    /// The same plan after an edit: taken up at the next bar line without stopping.
    Amend(Arc<Score>),
    /// What starts by itself when the plan in force is through, in place of what was queued before.
    Queue {
        /// The plan; nothing takes back what was queued.
        score: Option<Arc<Score>>,
        /// How long from now the plan in force may begin new rounds; nothing lets it run its course.
        within: Option<FrameSpan>,
    },
    /// A word from the director.
    Cue(Cue),
    /// Another drone, or none.
    Drone(Option<DroneChord>),
    /// The voice's clips.
    Clips(Arc<ClipBank>),
    /// A known sound to measure with; not while anything else sounds or a plan runs, and ended by whatever comes next.
    Probe(Probe),
    /// Some words in the rest that is under way, in the voice of the plan in force; refused unless they are over well before its bar line.
    Say(Phrase),
    /// The device is gone: keep the place and stand.
    Halt,
}

/// A command and its number, counted from 1 by the sender.
#[derive(Clone, Debug)]
pub struct Numbered {
    /// Its number.
    pub number: u32,
    /// What to do.
    pub command: Command,
}

/// What the audio side did, and when.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Report {
    /// The command with this number took hold.
    Applied {
        /// Which command.
        number: u32,
        /// When.
        at: FrameInstant,
    },
    /// The command with this number was given before a hush and overtaken by it.
    Overtaken {
        /// Which command.
        number: u32,
        /// When.
        at: FrameInstant,
    },
    /// The command with this number was refused.
    Refused {
        /// Which command.
        number: u32,
    },
    /// What the probe command with this number began is over.
    Probed {
        /// Which command.
        number: u32,
        /// Whether it sounded to its end.
        whole: bool,
    },
    /// Hush took hold.
    Hushed {
        /// When.
        at: FrameInstant,
    },
    /// A level changed.
    Level {
        /// Which dial.
        dial: Dial,
        /// Its new value.
        gain: Gain,
        /// When.
        at: FrameInstant,
    },
}

/// Something worn out, on its way home to be freed.
#[derive(Debug)]
#[allow(dead_code, reason = "carried only to be dropped on the other side")]
pub enum WornOut {
    /// A plan.
    Score(Arc<Score>),
    /// A set of clips.
    Clips(Arc<ClipBank>),
    /// Recorded sounds.
    Samples(Arc<SampleBank>),
    /// A probe.
    Probe(Probe),
}

/// A level the director sets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Dial {
    /// Everything.
    Master,
    /// One section's model, or one role.
    Bus(Bus),
}

impl Dial {
    /// Every dial.
    pub fn all() -> impl Iterator<Item = Self> {
        std::iter::once(Self::Master).chain(Bus::all().map(Self::Bus))
    }

    const fn index(self) -> usize {
        match self {
            Self::Master => BUS_COUNT,
            Self::Bus(bus) => bus.index(),
        }
    }
}

/// The latest-value cells: one gain per dial.
#[derive(Debug)]
pub struct Levels {
    cells: [AtomicU32; BUS_COUNT + 1],
}

impl Levels {
    pub(crate) fn new() -> Self {
        let levels = Self { cells: std::array::from_fn(|_| AtomicU32::new(1.0_f32.to_bits())) };
        levels.set(Dial::Master, Gain::new(synth::care::START_LEVEL));
        levels
    }

    /// Any thread.
    pub fn set(&self, dial: Dial, gain: Gain) {
        if let Some(cell) = self.cells.get(dial.index()) {
            cell.store(gain.amplitude().to_bits(), Ordering::Relaxed);
        }
    }

    /// Any thread.
    #[must_use]
    pub fn get(&self, dial: Dial) -> Gain {
        self.cells.get(dial.index()).map_or(Gain::UNITY, |cell| Gain::new(f32::from_bits(cell.load(Ordering::Relaxed))))
    }
}

/// The hush lane: how often hush was asked for, and the last command given before it.
#[derive(Debug, Default)]
pub struct HushLane(AtomicU64);

impl HushLane {
    /// Asks for silence; every cue numbered up to `last_command` is overtaken. Control side only.
    pub(crate) fn ask(&self, last_command: u32) {
        let count = (self.0.load(Ordering::Relaxed) >> 32).wrapping_add(1);
        self.0.store(count << 32 | u64::from(last_command), Ordering::Release);
    }

    /// The raw state, to be compared with the one before, and the last command it overtakes. Audio side.
    pub(crate) fn read(&self) -> (u64, u32) {
        let state = self.0.load(Ordering::Acquire);
        (state, state as u32)
    }
}
