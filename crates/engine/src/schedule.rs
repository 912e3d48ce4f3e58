//! Sounds that are laid out but have not started: a list of fixed capacity, in starting order.

use synth::{Breath, Bus, ClickKind, Drum, SoundIndex, Tone};
use units::{FrameInstant, Gain};

/// A sound that will start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Upcoming {
    /// A model tone.
    Tone(Tone),
    /// A model tone of a recorded sound.
    Sampled(Tone<SoundIndex>),
    /// A drum's stroke.
    Stroke {
        /// Which drum.
        drum: Drum,
        /// How loud.
        level: Gain,
        /// Where it goes.
        bus: Bus,
    },
    /// A spoken clip, cut short so as to end at `cut`.
    Say {
        /// Which clip.
        clip: u16,
        /// Where it must be over.
        cut: Option<FrameInstant>,
    },
    /// A tick.
    Click(ClickKind),
    /// An inhale.
    Breath(Breath),
    /// All model tones end here.
    Release,
    /// The plan's drone begins.
    Hold,
}

/// Room for this many sounds: more than two of the fullest bars.
pub const CAPACITY: usize = 4096;

/// What is laid out, latest first, so that the next one is taken from the end.
#[derive(Debug)]
pub struct Schedule {
    sounds: Vec<(FrameInstant, u32, Upcoming)>,
    laid: u32,
    lost: u64,
}

impl Schedule {
    /// An empty schedule. Allocates its whole room: control thread only.
    #[must_use]
    pub fn new() -> Self {
        Self { sounds: Vec::with_capacity(CAPACITY), laid: 0, lost: 0 }
    }

    /// Adds a sound starting at `at`. A full schedule counts it as lost.
    pub fn push(&mut self, at: FrameInstant, sound: Upcoming) {
        if self.sounds.len() == self.sounds.capacity() {
            self.lost += 1;
            return;
        }
        self.laid = self.laid.wrapping_add(1);
        self.sounds.push((at, self.laid, sound));
    }

    /// Puts what was added in order. Call once after a bar is laid.
    pub fn settle(&mut self) {
        self.sounds.sort_unstable_by_key(|(at, laid, _)| std::cmp::Reverse((*at, *laid)));
    }

    /// The next sound that starts before `end`.
    pub fn take_before(&mut self, end: FrameInstant) -> Option<(FrameInstant, Upcoming)> {
        match self.sounds.last() {
            Some((at, _, sound)) if *at < end => {
                let due = (*at, *sound);
                self.sounds.pop();
                Some(due)
            }
            _ => None,
        }
    }

    /// The next tone that starts before `end`, out of its turn: a tone may be handed on early, for its start is in it.
    pub fn take_tone_before(&mut self, end: FrameInstant) -> Option<Tone> {
        let place = self.sounds.iter().rposition(|(at, _, sound)| *at >= end || matches!(sound, Upcoming::Tone(_)))?;
        match self.sounds.get(place) {
            Some((at, _, Upcoming::Tone(tone))) if *at < end => {
                let tone = *tone;
                self.sounds.remove(place);
                Some(tone)
            }
            _ => None,
        }
    }

    /// The clip of the next word that starts before `end`, which stays where it is.
    #[must_use]
    pub fn word_before(&self, end: FrameInstant) -> Option<u16> {
        self.sounds.iter().rev().take_while(|(at, _, _)| *at < end).find_map(|(_, _, sound)| match sound {
            Upcoming::Say { clip, .. } => Some(*clip),
            _ => None,
        })
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.sounds.clear();
    }

    /// How many sounds did not fit; zero unless a plan is denser than the schedule was made for.
    #[must_use]
    pub fn lost(&self) -> u64 {
        self.lost
    }
}

impl Default for Schedule {
    fn default() -> Self {
        Self::new()
    }
}
