//! All the voices there are, and who makes room when they are not enough.

use crate::Tone;
use crate::care::{HUSH_SECONDS, STEAL_SECONDS};
use crate::cpu::Arithmetic;
use crate::mixer::Mixer;
use crate::noise::NoiseLoops;
use crate::voice::Voice;
use units::SampleRate;

/// Voices that sing at once.
pub(crate) const VOICES: usize = 96;
/// Places for stolen voices to fade in.
const FADING: usize = 32;

/// A fixed number of voices.
pub(crate) struct VoiceBank {
    voices: Box<[Option<Voice>]>,
    rate: SampleRate,
    lost: u64,
    /// Kept, because many tones may start in one block and a voice is large: how many sing without a fade, and a place before which none is
    /// free.
    singing: usize,
    free: usize,
}

impl VoiceBank {
    pub(crate) fn new(rate: SampleRate) -> Self {
        Self { voices: vec![None; VOICES + FADING].into_boxed_slice(), rate, lost: 0, singing: 0, free: 0 }
    }

    /// Starts a tone; a tone too many silences the quietest and then oldest.
    pub(crate) fn start(&mut self, tone: &Tone) {
        let Some(voice) = Voice::new(tone, self.rate) else { return };
        if self.singing >= VOICES {
            self.steal();
        }
        let free = self.voices.iter_mut().enumerate().skip(self.free).find(|(_, place)| place.is_none());
        match free {
            Some((number, place)) => {
                *place = Some(voice);
                self.singing += 1;
                self.free = number + 1;
            }
            None => self.lost += 1,
        }
    }

    /// Counts again after voices have come to their end or begun to fade.
    fn recount(&mut self) {
        self.singing = self.voices.iter().flatten().filter(|voice| voice.fade.is_none()).count();
        self.free = self.voices.iter().position(Option::is_none).unwrap_or(self.voices.len());
    }

    fn steal(&mut self) {
        let length = STEAL_SECONDS * self.rate.hz() as f32;
        let singing = self.voices.iter_mut().flatten().filter(|voice| voice.fade.is_none());
        let victim = singing.min_by(|a, b| a.loudness.total_cmp(&b.loudness).then(a.start.cmp(&b.start)));
        if let Some(victim) = victim {
            victim.fade.ask(length);
            self.singing -= 1;
        }
    }

    pub(crate) fn release(&mut self, at: u64) {
        for voice in self.voices.iter_mut().flatten() {
            voice.release_from(at, self.rate);
        }
        self.recount();
    }

    /// Forgets what begins at `at` or later.
    pub(crate) fn drop_from(&mut self, at: u64) {
        for place in &mut self.voices {
            if place.as_ref().is_some_and(|voice| voice.start >= at) {
                *place = None;
            }
        }
        self.recount();
    }

    pub(crate) fn hush(&mut self, next: u64) {
        let length = HUSH_SECONDS * self.rate.hz() as f32;
        for place in &mut self.voices {
            if place.as_mut().is_some_and(|voice| !voice.hush(next, length)) {
                *place = None;
            }
        }
        self.recount();
    }

    pub(crate) fn render(&mut self, start: u64, arithmetic: Arithmetic, noise: &NoiseLoops, mixer: &mut Mixer) {
        let mut ended = false;
        for place in &mut self.voices {
            let Some(voice) = place else { continue };
            let Some(bus) = mixer.bus(voice.bus) else { continue };
            if !voice.render(start, arithmetic, noise, bus) {
                *place = None;
                ended = true;
            }
        }
        if ended {
            self.recount();
        }
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.voices.iter().all(Option::is_none)
    }

    /// Tones that found no place, not even by stealing.
    pub(crate) fn lost(&self) -> u64 {
        self.lost
    }

    /// How many tones sound or fade now.
    pub(crate) fn sounding(&self) -> usize {
        self.voices.iter().flatten().count()
    }
}
