//! Recorded words and their player.

use crate::care::STEAL_SECONDS;
use crate::curve::{multiply_fall, multiply_rise};
use crate::places::{Placed, Places};
use crate::{BLOCK, Block};
use units::{FrameSpan, SampleRate};

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

/// Words that can sound at once.
const PLAYERS: usize = 8;
/// Places for words that give way to newer ones.
const FADING: usize = 4;
/// Seconds of the fades at a clip's own ends, and before a cut.
const SAFETY: f32 = 0.002;
const CUT: f32 = 0.020;

/// One clip being played.
#[derive(Clone, Copy)]
struct Spoken {
    clip: u16,
    cut: Option<u64>,
}

/// Plays words.
pub(crate) struct ClipPlayers {
    players: Places<Spoken, { PLAYERS + FADING }>,
    rate: SampleRate,
}

impl ClipPlayers {
    pub(crate) fn new(rate: SampleRate) -> Self {
        Self { players: Places::new(), rate }
    }

    /// Starts a clip; a word too many silences the oldest.
    pub(crate) fn start(&mut self, clip: u16, start: u64, cut: Option<u64>) {
        if self.players.iter_mut().filter(|placed| placed.fade.is_none()).count() >= PLAYERS {
            let oldest = self.players.iter_mut().filter(|placed| placed.fade.is_none()).min_by_key(|placed| placed.start);
            if let Some(oldest) = oldest {
                oldest.fade.ask(STEAL_SECONDS * self.rate.hz() as f32);
            }
        }
        self.players.start(start, Spoken { clip, cut });
    }

    pub(crate) fn hush(&mut self, next: u64) {
        self.players.hush(next, self.rate);
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.players.is_silent()
    }

    /// Adds the block at `start`; whether a word sounds in it.
    pub(crate) fn render(&mut self, start: u64, bank: &ClipBank, out: &mut Block) -> bool {
        let mut speaking = false;
        let rate = self.rate;
        self.players.render(start, |placed| {
            speaking |= placed.start < start + BLOCK as u64;
            placed.render(start, bank, rate, out)
        });
        speaking
    }
}

impl Placed<Spoken> {
    /// Adds the block at `start`; whether there is more to come.
    fn render(&mut self, start: u64, bank: &ClipBank, rate: SampleRate, out: &mut Block) -> bool {
        let Some(samples) = bank.get(self.sound.clip).map(|clip| &clip.samples) else { return false };
        let age = start.wrapping_sub(self.start) as i64;
        let hz = rate.hz() as f32;
        let safety = (SAFETY * hz).floor();
        let mut gain = [1.0; BLOCK];
        multiply_rise(&mut gain, age, safety);
        multiply_fall(&mut gain, age - samples.len() as i64 + safety as i64, safety);
        if let Some(cut) = self.sound.cut {
            let length = (CUT * hz).floor();
            multiply_fall(&mut gain, start.wrapping_sub(cut) as i64 + length as i64, length);
        }
        let faded = self.fade.apply(start, &mut gain);
        // the clip's first sample may lie inside this block
        let wait = (-age).clamp(0, BLOCK as i64) as usize;
        let here = samples.get(age.max(0) as usize..).unwrap_or_default();
        for ((out, gain), sample) in out.iter_mut().zip(&gain).skip(wait).zip(here) {
            *out += sample * gain;
        }
        let next = start + BLOCK as u64;
        let over = age + BLOCK as i64 >= samples.len() as i64 || self.sound.cut.is_some_and(|cut| next >= cut);
        !(over || faded)
    }
}
