//! Watching the layout: every bar and sound as it gets its frames. Offline only; live, nobody watches.

use sequencer::SectionIndex;
use sequencer::cursor::LaidBar;
use sequencer::plan::PartPitch;
use synth::ClickKind;
use units::{Beats, FrameInstant};

use crate::Score;

/// A sound with its frames. `at` is the frame of the beat it belongs to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LaidSound {
    /// A spoken word.
    Word {
        /// Where its perceptual attack falls.
        at: FrameInstant,
        /// Where it is over.
        end: FrameInstant,
        /// The beat of the phrase it belongs to, from the bar line.
        beat: Beats,
        /// Its id.
        word: &'static str,
        /// Its first sample.
        start: FrameInstant,
        /// Whether it is cut short to make room for the next.
        cut: bool,
    },
    /// A model tone.
    Tone {
        /// Where it starts.
        at: FrameInstant,
        /// Where it is silent again.
        end: FrameInstant,
        /// From the bar line.
        beat: Beats,
        /// Whose.
        section: SectionIndex,
        /// What is read and what sounds.
        pitch: PartPitch,
    },
    /// A tick.
    Click {
        /// When.
        at: FrameInstant,
        /// From the bar line.
        beat: Beats,
        /// Which beat it marks, or a part of one.
        kind: ClickKind,
    },
    /// An inhale.
    Breath {
        /// Where it starts.
        at: FrameInstant,
        /// Where the playing starts.
        end: FrameInstant,
        /// From the bar line.
        beat: Beats,
    },
}

/// Told of everything that is laid out.
pub trait Observer {
    /// A bar got its frames.
    fn bar(&mut self, _score: &Score, _bar: &LaidBar) {}
    /// A sound of the last bar got its frames.
    fn sound(&mut self, _bar: &LaidBar, _sound: &LaidSound) {}
}

impl Observer for () {}
