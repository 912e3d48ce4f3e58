//! Everything that can sound at once, and the one call that renders a block of it.

use crate::bank::{Bank, Singer};
use crate::breath::Breaths;
use crate::click::Clicks;
use crate::clip::ClipPlayers;
use crate::cpu::{Arithmetic, FlushToZero};
use crate::drone::Drone;
use crate::drum::Drums;
use crate::limiter::Limiter;
use crate::mixer::Mixer;
use crate::noise::NoiseLoops;
use crate::probe::ProbePlayer;
use crate::sampled::{SampleBank, SampledVoices, SoundIndex};
use crate::voice::Voice;
use crate::{BLOCK, Breath, Bus, ClickKind, ClipBank, DroneChord, Drum, Probe, Stems, Tone};
use std::sync::Arc;
use units::{FrameInstant, FrameSpan, Gain, SampleRate};

/// Tones that sing at once.
const VOICES: usize = 96;
/// Places for stolen tones to fade in.
const FADING: usize = 32;
/// Frames from here on count as this one, so that no distance between frames overflows: three million years at 48 kHz.
const FAR: u64 = 1 << 62;

fn frame(at: FrameInstant) -> u64 {
    at.0.min(FAR)
}

/// Voices, drums, drone, words, clicks, breath, mixer and limiter.
///
/// [`Band::new`] allocates all that will ever be needed, on the control side. Every other call is for the audio thread: none allocates,
/// frees, locks, waits or panics. The same calls at the same frames give the same samples, bit for bit.
///
/// Each [`Band::render`] makes one block and must start where the last one ended. Sounds are asked for before the render whose block
/// they start in; one that should have started earlier starts at that block's first frame.
pub struct Band {
    voices: Bank<Voice>,
    sampled: SampledVoices,
    drums: Drums,
    drone: Drone,
    clips: ClipPlayers,
    /// A clip that is to be said soon.
    expected: Option<u16>,
    clicks: Clicks,
    breaths: Breaths,
    probe: ProbePlayer,
    noise: NoiseLoops,
    mixer: Mixer,
    limiter: Limiter,
    /// The first frame of the next block.
    next: u64,
    peak: f32,
    arithmetic: Arithmetic,
    rate: SampleRate,
}

impl Band {
    /// A silent band at `rate`, its master at [`crate::care::START_LEVEL`] and every bus at unity.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        Self::with_arithmetic(rate, Arithmetic::best())
    }

    /// As [`Band::new`], with the instructions to use.
    #[must_use]
    pub fn with_arithmetic(rate: SampleRate, arithmetic: Arithmetic) -> Self {
        Self {
            voices: Bank::new(VOICES, FADING, rate),
            sampled: SampledVoices::new(rate),
            drums: Drums::new(rate),
            drone: Drone::new(rate),
            clips: ClipPlayers::new(rate),
            expected: None,
            clicks: Clicks::new(rate),
            breaths: Breaths::new(rate),
            probe: ProbePlayer::new(rate),
            noise: NoiseLoops::new(rate),
            mixer: Mixer::new(rate),
            limiter: Limiter::new(rate),
            next: 0,
            peak: 0.0,
            arithmetic,
            rate,
        }
    }

    /// How much later than asked a sound leaves [`Band::render`]: the limiter's look-ahead.
    #[must_use]
    pub fn latency(&self) -> FrameSpan {
        self.limiter.latency()
    }

    /// Starts a tone. With every voice in use, the quietest and then oldest fades away within 5 ms to make room.
    pub fn tone(&mut self, tone: Tone) {
        let tone = Tone { start: FrameInstant(frame(tone.start)), end: FrameInstant(frame(tone.end)), ..tone };
        if let Some(voice) = Voice::new(&tone, self.rate) {
            self.voices.start(voice);
        }
    }

    /// Starts a tone of a sound in the bank given to [`Band::set_samples`]; one the bank does not have is not heard. Of 48 at once, the
    /// quietest and then oldest makes room as above.
    pub fn sampled_tone(&mut self, tone: Tone<SoundIndex>) {
        self.sampled.start(&Tone { start: FrameInstant(frame(tone.start)), end: FrameInstant(frame(tone.end)), ..tone });
    }

    /// Takes sampled tones from `bank` from now on; those of another bank fade within 30 ms. Not while [`Band::exchanging_samples`]: then
    /// nothing changes.
    pub fn set_samples(&mut self, bank: Option<&Arc<SampleBank>>) {
        self.sampled.exchange(bank, self.next);
    }

    /// Whether a bank that was taken away still sounds, or waits to be taken home by [`Band::worn_out_samples`].
    #[must_use]
    pub fn exchanging_samples(&self) -> bool {
        self.sampled.exchanging()
    }

    /// A bank that nothing reads any more, to be freed where freeing is allowed.
    pub fn worn_out_samples(&mut self) -> Option<Arc<SampleBank>> {
        self.sampled.worn_out()
    }

    /// Sounds a click whose first frame is `at`.
    pub fn click(&mut self, kind: ClickKind, at: FrameInstant, level: Gain) {
        self.clicks.start(kind, frame(at), level);
    }

    /// Strikes `drum` on frame `at`.
    pub fn strike(&mut self, drum: Drum, at: FrameInstant, level: Gain, bus: Bus) {
        self.drums.start(drum, frame(at), level, bus);
    }

    /// Sounds an inhale.
    pub fn breath(&mut self, breath: Breath, level: Gain) {
        self.breaths.start(frame(breath.start), frame(breath.end), level);
    }

    /// Plays the clip numbered `clip` in the bank given to [`Band::render`], its first sample on `start`. With `cut`, it fades over the
    /// 20 ms before and is silent from there on. Everything but words and clicks makes room for it meanwhile: by as much as it needs to lie
    /// 16 LU under the word, beginning before it if it is asked for early or [expected](Self::expect_word).
    pub fn say(&mut self, clip: u16, start: FrameInstant, cut: Option<FrameInstant>) {
        self.clips.start(clip, frame(start), cut.map(frame));
    }

    /// Lets the other sounds make room in the next block already for the clip numbered `clip`, which is to be said soon: call it for every
    /// block from [`Self::word_notice`] before the word on.
    pub fn expect_word(&mut self, clip: u16) {
        self.expected = Some(clip);
    }

    /// How long before a word the other sounds begin to make room for it.
    #[must_use]
    pub fn word_notice(&self) -> FrameSpan {
        self.clips.notice()
    }

    /// Plays `probe` from the next block on, under the master level alone; gives it back while another is here.
    ///
    /// # Errors
    /// The probe itself.
    pub fn probe(&mut self, probe: Probe) -> Result<(), Probe> {
        self.probe.start(probe, self.next)
    }

    /// Fades the probe that sounds within 30 ms; all else goes on.
    pub fn end_probe(&mut self) {
        self.probe.hush(self.next);
    }

    /// A probe that is over, to be freed where freeing is allowed.
    pub fn worn_out_probe(&mut self) -> Option<Probe> {
        self.probe.worn_out()
    }

    /// Fades every tone, stroke and inhale that began before `at` to silence within 30 ms of it. The drone stays.
    pub fn release_tones(&mut self, at: FrameInstant) {
        let at = frame(at).max(self.next);
        self.voices.release(at);
        self.sampled.release(at);
        self.drums.release(at);
        self.breaths.release(at);
    }

    /// Forgets every tone that begins at `at` or later.
    pub fn drop_tones_from(&mut self, at: FrameInstant) {
        self.voices.drop_from(frame(at).max(self.next));
    }

    /// Holds `chord` instead of what the drone holds now: a slow crossfade, or a slow swell from or to silence (about 1.2 s).
    pub fn set_drone(&mut self, chord: Option<DroneChord>) {
        self.drone.hold(chord);
    }

    /// Moves the level of `bus` to `gain` over 20 ms; the latest call counts.
    pub fn set_level(&mut self, bus: Bus, gain: Gain) {
        self.mixer.set_level(bus, gain);
    }

    /// Moves the level of everything to `gain` over 20 ms; the latest call counts.
    pub fn set_master(&mut self, gain: Gain) {
        self.mixer.set_master(gain);
    }

    /// Fades all that was asked for so far to exact silence within 40 ms of the next block's start, limiter included. Levels stay.
    /// What is asked for afterwards sounds as usual.
    pub fn hush(&mut self) {
        self.voices.hush(self.next);
        self.sampled.hush(self.next);
        self.drums.hush(self.next);
        self.drone.hush();
        self.clips.hush(self.next);
        self.clicks.hush(self.next);
        self.breaths.hush(self.next);
        self.probe.hush(self.next);
    }

    /// Whether nothing sounds, nothing is waiting to sound, and nothing is left in the limiter.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.voices.is_silent()
            && self.sampled.is_silent()
            && self.drums.is_silent()
            && self.drone.is_silent()
            && self.clips.is_silent()
            && self.clicks.is_silent()
            && self.breaths.is_silent()
            && self.probe.is_silent()
            && self.limiter.is_silent()
    }

    /// Renders the block that starts at `start`. `clips` are the words that [`Band::say`] numbers; `stems`, if given, receives every
    /// bus by itself.
    pub fn render(&mut self, start: FrameInstant, clips: &ClipBank, out: &mut [[f32; 2]; BLOCK], stems: Option<&mut Stems>) {
        let _tiny_is_zero = FlushToZero::new();
        let start = frame(start);
        self.next = start.saturating_add(BLOCK as u64);
        self.voices.render(|voice| {
            let bus = voice.life().bus;
            self.mixer.bus(bus).is_none_or(|bus| voice.render(start, self.arithmetic, &self.noise, bus))
        });
        self.sampled.render(start, &mut self.mixer);
        self.drums.render(start, &mut self.mixer);
        if let (false, Some(bus)) = (self.drone.is_silent(), self.mixer.bus(Bus::Drone)) {
            self.drone.render(start, self.arithmetic, bus);
        }
        if let Some(clip) = self.expected.take().and_then(|clip| clips.get(clip)) {
            self.mixer.duck(start, clip.power());
        }
        if let (false, Some(bus)) = (self.clips.is_silent(), self.mixer.bus(Bus::Voice))
            && let Some(power) = self.clips.render(start, clips, bus)
        {
            self.mixer.duck(start, power);
        }
        if let (false, Some(bus)) = (self.clicks.is_silent(), self.mixer.bus(Bus::Click)) {
            self.clicks.render(start, bus);
        }
        if let (false, Some(bus)) = (self.breaths.is_silent(), self.mixer.bus(Bus::Breath)) {
            self.breaths.render(start, bus);
        }
        if !self.probe.is_silent() {
            self.probe.render(start, self.mixer.direct());
        }
        let (mut left, mut right) = ([0.0; BLOCK], [0.0; BLOCK]);
        self.mixer.mix(start, &mut left, &mut right, stems);
        self.limiter.process(self.arithmetic, &left, &right, out);
        self.peak = out.as_flattened().iter().fold(0.0, |peak, sample| peak.max(sample.abs()));
    }

    /// The largest sample magnitude of the last rendered block.
    #[must_use]
    pub fn peak(&self) -> f32 {
        self.peak
    }

    /// How many samples so far were not finite numbers and were replaced by silence.
    #[must_use]
    pub fn non_finite(&self) -> u64 {
        self.mixer.non_finite()
    }

    /// How many tones sound or fade now.
    #[must_use]
    pub fn sounding_tones(&self) -> usize {
        self.voices.sounding() + self.sampled.sounding()
    }

    /// How many tones so far found no voice, not even by silencing another: only with more than 32 such in 5 ms.
    #[must_use]
    pub fn lost_tones(&self) -> u64 {
        self.voices.lost() + self.sampled.lost()
    }
}
