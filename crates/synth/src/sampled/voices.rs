//! All the sampled tones at once, and the bank they read.

use super::voice::SampledVoice;
use super::{SampleBank, SoundIndex};
use crate::Tone;
use crate::care::{HUSH_SECONDS, STEAL_SECONDS};
use crate::mixer::Mixer;
use std::sync::Arc;
use units::SampleRate;

/// Tones that sing at once.
const VOICES: usize = 48;
/// Places for stolen ones to fade in.
const FADING: usize = 16;

/// A fixed number of sampled voices, the bank they read, and the one before it while its last tones fade.
pub(crate) struct SampledVoices {
    voices: Box<[Option<SampledVoice>]>,
    /// Tones of the bank before this one, fading.
    leaving: Box<[Option<SampledVoice>]>,
    bank: Option<Arc<SampleBank>>,
    before: Option<Arc<SampleBank>>,
    rate: SampleRate,
    lost: u64,
}

impl SampledVoices {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let places = || vec![None; VOICES + FADING].into_boxed_slice();
        Self { voices: places(), leaving: places(), bank: None, before: None, rate, lost: 0 }
    }

    /// Whether a bank that was taken away is still being read.
    pub(crate) fn exchanging(&self) -> bool {
        self.before.is_some()
    }

    /// Reads `bank` from now on; what sings from the bank before fades. Not while [`Self::exchanging`]: then nothing changes.
    pub(crate) fn exchange(&mut self, bank: Option<&Arc<SampleBank>>, next: u64) {
        let same = match (&self.bank, bank) {
            (Some(old), Some(new)) => Arc::ptr_eq(old, new),
            (old, new) => old.is_none() && new.is_none(),
        };
        if same || self.exchanging() {
            return;
        }
        self.before = std::mem::replace(&mut self.bank, bank.map(Arc::clone));
        std::mem::swap(&mut self.voices, &mut self.leaving);
        hush(&mut self.leaving, next, self.rate);
    }

    /// The bank that no tone reads any more, to be sent home.
    pub(crate) fn worn_out(&mut self) -> Option<Arc<SampleBank>> {
        if self.leaving.iter().any(Option::is_some) { None } else { self.before.take() }
    }

    /// Starts a tone; a tone too many silences the quietest and then oldest.
    pub(crate) fn start(&mut self, tone: &Tone<SoundIndex>) {
        let Some(voice) = self.bank.as_ref().and_then(|bank| SampledVoice::new(tone, bank, self.rate)) else { return };
        if self.voices.iter().flatten().filter(|voice| voice.fade.is_none()).count() >= VOICES {
            let singing = self.voices.iter_mut().flatten().filter(|voice| voice.fade.is_none());
            if let Some(victim) = singing.min_by(|a, b| a.loudness.total_cmp(&b.loudness).then(a.start.cmp(&b.start))) {
                victim.fade.ask(STEAL_SECONDS * self.rate.hz() as f32);
            }
        }
        match self.voices.iter_mut().find(|place| place.is_none()) {
            Some(place) => *place = Some(voice),
            None => self.lost += 1,
        }
    }

    pub(crate) fn release(&mut self, at: u64) {
        for voice in self.voices.iter_mut().flatten() {
            voice.release_from(at, self.rate);
        }
    }

    pub(crate) fn hush(&mut self, next: u64) {
        hush(&mut self.voices, next, self.rate);
    }

    pub(crate) fn render(&mut self, start: u64, mixer: &mut Mixer) {
        let sets = [(&mut self.voices, &self.bank), (&mut self.leaving, &self.before)];
        for (voices, bank) in sets {
            let Some(bank) = bank else { continue };
            for place in voices.iter_mut() {
                let Some(voice) = place else { continue };
                let Some(bus) = mixer.bus(voice.bus) else { continue };
                if !voice.render(start, bank, self.rate, bus) {
                    *place = None;
                }
            }
        }
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.sounding() == 0
    }

    /// Tones that found no place, not even by stealing.
    pub(crate) fn lost(&self) -> u64 {
        self.lost
    }

    /// How many tones sound or fade now.
    pub(crate) fn sounding(&self) -> usize {
        self.voices.iter().chain(&self.leaving).flatten().count()
    }
}

fn hush(voices: &mut [Option<SampledVoice>], next: u64, rate: SampleRate) {
    let length = HUSH_SECONDS * rate.hz() as f32;
    for place in voices {
        if place.as_mut().is_some_and(|voice| !voice.hush(next, length)) {
            *place = None;
        }
    }
}
