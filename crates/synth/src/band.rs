//! Everything that can sound at once, and the one call that renders a block of it.

use crate::{BLOCK, Breath, Bus, ClickKind, ClipBank, DroneChord, Stems, Tone};
use units::{FrameInstant, FrameSpan, Gain, SampleRate};

/// Voices, drone, words, clicks, breath, mixer and limiter.
///
/// [`Band::new`] allocates all that will ever be needed, on the control side. Every other call is for the audio thread: none allocates,
/// frees, locks, waits or panics. The same calls at the same frames give the same samples, bit for bit.
///
/// Each [`Band::render`] makes one block and must start where the last one ended. Sounds are asked for before the render whose block
/// they start in; one that should have started earlier starts at that block's first frame.
pub struct Band {
    rate: SampleRate,
}

impl Band {
    /// A silent band at `rate`, its master at [`crate::care::START_LEVEL`] and every bus at unity.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        Self { rate }
    }

    /// How much later than asked a sound leaves [`Band::render`]: the limiter's look-ahead.
    #[must_use]
    pub fn latency(&self) -> FrameSpan {
        self.rate.span(0.0015)
    }

    /// Starts a tone. With every voice in use, the quietest and then oldest fades away within 5 ms to make room.
    pub fn tone(&mut self, tone: Tone) {
        let _ = tone;
    }

    /// Sounds a click whose first frame is `at`.
    pub fn click(&mut self, kind: ClickKind, at: FrameInstant, level: Gain) {
        let _ = (kind, at, level);
    }

    /// Sounds an inhale.
    pub fn breath(&mut self, breath: Breath, level: Gain) {
        let _ = (breath, level);
    }

    /// Plays the clip numbered `clip` in the bank given to [`Band::render`], its first sample on `start`. With `cut`, it fades over the
    /// 20 ms before and is silent from there on. Everything but words and clicks is 12 dB softer meanwhile.
    pub fn say(&mut self, clip: u16, start: FrameInstant, cut: Option<FrameInstant>) {
        let _ = (clip, start, cut);
    }

    /// Fades every tone that began before `at` to silence within 30 ms of it. The drone stays.
    pub fn release_tones(&mut self, at: FrameInstant) {
        let _ = at;
    }

    /// Holds `chord` instead of what the drone holds now: a slow crossfade, or a slow swell from or to silence (about 1.2 s).
    pub fn set_drone(&mut self, chord: Option<DroneChord>) {
        let _ = chord;
    }

    /// Moves the level of `bus` to `gain` over 20 ms; the latest call counts.
    pub fn set_level(&mut self, bus: Bus, gain: Gain) {
        let _ = (bus, gain);
    }

    /// Moves the level of everything to `gain` over 20 ms; the latest call counts.
    pub fn set_master(&mut self, gain: Gain) {
        let _ = gain;
    }

    /// Fades all that was asked for so far to exact silence within 40 ms of the next block's start, limiter included. Levels stay.
    /// What is asked for afterwards sounds as usual.
    pub fn hush(&mut self) {}

    /// Whether nothing sounds, nothing is waiting to sound, and nothing is left in the limiter.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        true
    }

    /// Renders the block that starts at `start`. `clips` are the words that [`Band::say`] numbers; `stems`, if given, receives every
    /// bus by itself.
    pub fn render(&mut self, start: FrameInstant, clips: &ClipBank, out: &mut [[f32; 2]; BLOCK], stems: Option<&mut Stems>) {
        let _ = (start, clips, stems);
        *out = [[0.0; 2]; BLOCK];
    }

    /// The largest sample magnitude of the last rendered block.
    #[must_use]
    pub fn peak(&self) -> f32 {
        0.0
    }

    /// How many samples so far were not finite numbers and were replaced by silence.
    #[must_use]
    pub fn non_finite(&self) -> u64 {
        0
    }
}
