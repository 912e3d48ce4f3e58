//! What the console is told: events as they happen, and the state of things now.

use std::fmt;
use std::time::{Duration, Instant};
use units::{FrameInstant, FrameSpan, SampleRate};

/// Something that happened to the sound. Printed, it is a sentence for the console that says how to mend what can be mended.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// Sound goes out.
    Playing {
        /// The device's name as the system gives it.
        device: String,
        /// The sound system it was reached through.
        host: String,
        /// Frames per second.
        rate: SampleRate,
        /// How many frames the device asks for at a time; it varies.
        frames_per_callback: u32,
    },
    /// The device stopped taking sound; the search for it is on.
    Lost {
        /// The device's name.
        device: String,
        /// What was seen.
        why: String,
    },
    /// Sound goes out again.
    Returned {
        /// The device's name, perhaps another one.
        device: String,
        /// How long after it was found lost the device took sound again.
        after: Duration,
    },
    /// The system sent the sound to another device by itself; the stream goes on.
    Moved,
    /// The device ran dry: so many frames were not there in time.
    Gap {
        /// How many.
        frames: FrameSpan,
        /// The engine's frame that came late.
        at: FrameInstant,
        /// The same length as time.
        lasted: Duration,
    },
    /// Gaps came so often that the device is now asked for larger buffers, in frames.
    BufferGrown {
        /// Before.
        from: u32,
        /// From now on.
        to: u32,
    },
    /// There is no device to play on. The search goes on by itself.
    NoDevice {
        /// Why not.
        why: String,
        /// What to do about it.
        mend: String,
    },
    /// The renderer panicked in the callback. From then on there is silence, and the plan stands.
    Panicked,
}

impl fmt::Display for Event {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Playing { device, host, rate, frames_per_callback } => {
                write!(f, "sound goes to {device} through {host} at {} Hz, {frames_per_callback} frames at a time", rate.hz())
            }
            Self::Lost { device, why } => write!(f, "lost {device}: {why}; looking for it, nothing to do unless it stays away"),
            Self::Returned { device, after } => write!(f, "sound is back on {device} after {:.1} s", after.as_secs_f64()),
            Self::Moved => write!(f, "the system moved the sound to another device; choose one by name to keep it there"),
            Self::Gap { lasted, .. } => write!(
                f,
                "the sound dropped out for {:.0} ms; close other programs if this goes on",
                (lasted.as_secs_f64() * 1000.0).max(1.0)
            ),
            Self::BufferGrown { from, to } => {
                write!(f, "the sound dropped out too often, so the device's buffer grows from {from} to {to} frames; nothing to do")
            }
            Self::NoDevice { why, mend } => write!(f, "no sound: {why}; {mend}"),
            Self::Panicked => write!(f, "the sound stopped for good: the renderer failed; leave and start again, the journal is kept"),
        }
    }
}

/// Whether sound goes out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sound {
    /// It does.
    Playing,
    /// Not now; a device is being looked for and the silent clock runs.
    #[default]
    Searching,
    /// No device is wanted; the silent clock runs.
    Off,
    /// The renderer panicked; nothing runs.
    Panicked,
}

/// The state of the output, as last seen by its watcher.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Status {
    /// Whether sound goes out.
    pub sound: Sound,
    /// The device that plays, or played last.
    pub device: Option<String>,
    /// The sound system it was reached through.
    pub host: Option<String>,
    /// Its id, as [`crate::devices`] lists it.
    pub id: Option<String>,
    /// How many frames the device asked for last.
    pub frames_per_callback: u32,
    /// How many frames the device is asked to take at a time.
    pub frames_asked: u32,
    /// When a device asked for sound for the first time.
    pub first_callback: Option<Instant>,
    /// Gaps since the start.
    pub gaps: u64,
    /// Frames that came late in all gaps.
    pub frames_missed: u64,
    /// How often the device was lost since the start.
    pub losses: u64,
    /// Why nothing plays, and the mend, while nothing does.
    pub trouble: Option<(String, String)>,
}
