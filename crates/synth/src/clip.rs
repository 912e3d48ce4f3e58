//! Recorded words and their player.

use crate::care::{STEAL_SECONDS, VOICE_RMS};
use crate::curve::{multiply_fall, multiply_rise};
use crate::loudness::loudest;
use crate::places::{Placed, Places};
use crate::{BLOCK, Block};
use std::sync::Arc;
use units::{FrameSpan, SampleRate};

/// A recorded word, mono, at the rate of the [`crate::Band`] that plays it.
#[derive(Clone, Debug, PartialEq)]
pub struct Clip {
    samples: Box<[f32]>,
    attack: FrameSpan,
    /// Weighted power of its loudest stretch.
    power: f64,
}

/// Seconds of a word by which its loudness is judged: a stressed syllable.
const SYLLABLE: f64 = 0.200;
/// How far a word is brought up or down at most, as an amplitude factor: 18 dB.
const MOST_CHANGE: f32 = 7.943_282;
/// No sample of a levelled word is larger.
const LARGEST: f32 = 0.89;

impl Clip {
    /// A word as it was recorded, full scale at 1. `attack` is from its first sample to the moment a listener takes for its beat.
    /// Measures its loudness: not for the audio thread.
    #[must_use]
    pub fn new(samples: Box<[f32]>, attack: FrameSpan, rate: SampleRate) -> Self {
        let power = loudest(&samples, SYLLABLE, rate);
        Self { samples, attack, power }
    }

    /// The word at the usual loudness of words, [`crate::care::VOICE_RMS`], by ITU-R BS.1770-5; softer where its peaks forbid it.
    #[must_use]
    pub fn levelled(mut self) -> Self {
        let peak = self.samples.iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
        if self.power > 0.0 && peak > 0.0 {
            let gain = (VOICE_RMS / self.power.sqrt() as f32).clamp(1.0 / MOST_CHANGE, MOST_CHANGE).min(LARGEST / peak);
            self.samples.iter_mut().for_each(|sample| *sample *= gain);
            self.power *= f64::from(gain) * f64::from(gain);
        }
        self
    }

    /// The samples, full scale at 1.
    #[must_use]
    pub fn samples(&self) -> &[f32] {
        &self.samples
    }

    /// From the first sample to the moment a listener takes for its beat.
    #[must_use]
    pub const fn attack(&self) -> FrameSpan {
        self.attack
    }

    /// The weighted power of its loudest syllable: the mean square behind the K weighting of ITU-R BS.1770-5.
    #[must_use]
    pub const fn power(&self) -> f64 {
        self.power
    }
}

/// Every word that can be said, by number.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ClipBank(Vec<Arc<Clip>>);

impl ClipBank {
    /// A bank whose clips are numbered from zero in the given order.
    #[must_use]
    pub fn new(clips: Vec<Clip>) -> Self {
        Self(clips.into_iter().map(Arc::new).collect())
    }

    /// The same bank with more clips after its own, which are shared.
    #[must_use]
    pub fn with(&self, more: Vec<Clip>) -> Self {
        Self(self.0.iter().cloned().chain(more.into_iter().map(Arc::new)).collect())
    }

    /// The clip with this number.
    #[must_use]
    pub fn get(&self, number: u16) -> Option<&Clip> {
        self.0.get(usize::from(number)).map(|clip| &**clip)
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
/// Seconds before a word from which the other sounds make room for it.
const AHEAD: f64 = 0.040;

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

    /// How long before a word the other sounds make room for it.
    pub(crate) fn notice(&self) -> FrameSpan {
        self.rate.span(AHEAD)
    }

    /// Adds the block at `start`; the weighted power of the softest word that sounds in it or soon after.
    pub(crate) fn render(&mut self, start: u64, bank: &ClipBank, out: &mut Block) -> Option<f64> {
        let mut softest: Option<f64> = None;
        let rate = self.rate;
        let soon = start + BLOCK as u64 + self.notice().0;
        self.players.render(start, |placed| {
            if placed.start < soon
                && let Some(clip) = bank.get(placed.sound.clip)
            {
                softest = Some(softest.map_or(clip.power, |softest| softest.min(clip.power)));
            }
            placed.render(start, bank, rate, out)
        });
        softest
    }
}

impl Placed<Spoken> {
    /// Adds the block at `start`; whether there is more to come.
    fn render(&mut self, start: u64, bank: &ClipBank, rate: SampleRate, out: &mut Block) -> bool {
        let Some(samples) = bank.get(self.sound.clip).map(Clip::samples) else { return false };
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
