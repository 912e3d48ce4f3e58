//! All the sampled tones at once, and the bank they read.

use super::voice::SampledVoice;
use super::{SampleBank, SoundIndex};
use crate::Tone;
use crate::bank::{Bank, Singer};
use crate::mixer::Mixer;
use std::sync::Arc;
use units::SampleRate;

/// Tones that sing at once.
const VOICES: usize = 48;
/// Places for stolen ones to fade in.
const FADING: usize = 16;

/// Sampled voices, the bank they read, and the one before it while its last tones fade.
pub(crate) struct SampledVoices {
    voices: Bank<SampledVoice>,
    /// Tones of the bank before this one, fading.
    leaving: Bank<SampledVoice>,
    bank: Option<Arc<SampleBank>>,
    before: Option<Arc<SampleBank>>,
    rate: SampleRate,
}

impl SampledVoices {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let voices = || Bank::new(VOICES, FADING, rate);
        Self { voices: voices(), leaving: voices(), bank: None, before: None, rate }
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
        self.leaving.hush(next);
    }

    /// The bank that no tone reads any more, to be sent home.
    pub(crate) fn worn_out(&mut self) -> Option<Arc<SampleBank>> {
        if self.leaving.is_silent() { self.before.take() } else { None }
    }

    /// Starts a tone; a tone too many silences the quietest and then oldest.
    pub(crate) fn start(&mut self, tone: &Tone<SoundIndex>) {
        let voice = self.bank.as_ref().and_then(|bank| SampledVoice::new(tone, bank, self.rate));
        if let Some(voice) = voice {
            self.voices.start(voice);
        }
    }

    pub(crate) fn release(&mut self, at: u64) {
        self.voices.release(at);
    }

    pub(crate) fn hush(&mut self, next: u64) {
        self.voices.hush(next);
    }

    pub(crate) fn render(&mut self, start: u64, mixer: &mut Mixer) {
        let rate = self.rate;
        for (voices, bank) in [(&mut self.voices, &self.bank), (&mut self.leaving, &self.before)] {
            let Some(bank) = bank else { continue };
            voices.render(|voice| {
                let bus = voice.life().bus;
                mixer.bus(bus).is_none_or(|bus| voice.render(start, bank, rate, bus))
            });
        }
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.voices.is_silent() && self.leaving.is_silent()
    }

    /// Tones that found no place, not even by stealing.
    pub(crate) fn lost(&self) -> u64 {
        self.voices.lost() + self.leaving.lost()
    }

    /// How many tones sound or fade now.
    pub(crate) fn sounding(&self) -> usize {
        self.voices.sounding() + self.leaving.sounding()
    }
}
