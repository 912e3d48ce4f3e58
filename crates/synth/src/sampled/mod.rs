//! Recorded sounds as model voices: what is read from a SoundFont, made ready to be sung on exact frames at exact pitches.
//!
//! - [`Wave`]: one recorded sample
//! - [`Region`]: where and how a sound uses it
//! - [`SampledSound`]: one sound of a SoundFont
//! - [`SampleBank`]: the sounds a room uses
//!
//! Inside: `kernel` reads between the samples, `lowpass` dulls, `voice` sings one tone and `voices` all of them.

mod kernel;
mod lowpass;
mod voice;
mod voices;

pub(crate) use voices::SampledVoices;

use crate::timbre::equal_loudness;
use kernel::{HALF, Kernels, TAPS};
use std::ops::{Range, RangeInclusive};
use std::sync::Arc;
use units::{Hertz, SampleRate};

/// How many harmonics of a sample are measured, to make sounds equally loud.
pub const PARTIALS: usize = 24;
/// Samples that sound together in one tone; a sound that layers more loses those furthest down its list.
pub const LAYERS: usize = 4;
/// The key that is played for a tone of level 1, as a velocity: mezzo forte, common practice, no source.
const MEZZO_FORTE: f32 = 80.0;

/// One recorded sample, padded so that it can be read between any two of its frames.
#[derive(Clone, Debug, PartialEq)]
pub struct Wave {
    /// `HALF - 1` frames of silence, the sample, and what a reading goes on into: the loop again, or silence.
    padded: Box<[f32]>,
    /// Frames before the end of reading.
    end: u32,
    /// Frames to go back when `end` is reached; nothing if the sample just ends.
    back: Option<u32>,
    /// Amplitudes of its harmonics, the sample's full scale being 1.
    partials: [f32; PARTIALS],
}

impl Wave {
    /// A wave of `samples`, full scale at 1. With `looped`, its frames are repeated without end; a loop that is empty or reaches beyond the
    /// samples counts as none. `partials` are the measured amplitudes of its harmonics.
    #[must_use]
    pub fn new(samples: &[f32], looped: Option<Range<usize>>, partials: [f32; PARTIALS]) -> Self {
        let looped = looped.filter(|range| range.start < range.end && range.end <= samples.len());
        let head = std::iter::repeat_n(0.0, HALF - 1);
        let tail = TAPS + 1;
        let (padded, end, back): (Box<[f32]>, usize, _) = match looped {
            Some(range) => {
                // reading turns back half a kernel after the loop's end, where all it sees is the loop again
                let round = samples.get(range.clone()).unwrap_or_default().iter().cycle();
                let whole = samples.iter().take(range.end).chain(round.take(HALF + tail)).copied();
                (head.chain(whole).collect(), range.end + HALF, Some(range.len() as u32))
            }
            None => (head.chain(samples.iter().copied()).chain(std::iter::repeat_n(0.0, tail)).collect(), samples.len(), None),
        };
        Self { padded, end: end as u32, back, partials }
    }

    /// Bytes of sample memory.
    #[must_use]
    pub fn bytes(&self) -> usize {
        std::mem::size_of_val(&*self.padded)
    }
}

/// The course of a tone's level, in seconds; decay and release are the times a fall of 100 dB takes, as SoundFonts have it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Envelope {
    /// Silence before this layer begins.
    pub delay: f32,
    /// The rise.
    pub attack: f32,
    /// At full level.
    pub hold: f32,
    /// The fall towards `sustain`.
    pub decay: f32,
    /// The level it falls to, 1 being full.
    pub sustain: f32,
    /// The fall at the tone's end.
    pub release: f32,
}

/// How a sound uses a wave: for which keys and velocities, at which pitch and level.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// The sample.
    pub wave: Arc<Wave>,
    /// Keys by number, 69 for A4, it is meant for.
    pub keys: RangeInclusive<u8>,
    /// Velocities, up to 127, it is meant for.
    pub velocities: RangeInclusive<u8>,
    /// The pitch, in hertz, of the tone that is sung when the wave is read at `rate`.
    pub own_hz: f64,
    /// How many frames of it are read in a second then.
    pub rate: f64,
    /// How far the first of the wave's partials lies from the tone's pitch: 1, or less for what is shifted up by octaves.
    pub ratio: f32,
    /// Its level among the layers of the sound.
    pub gain: f32,
    /// The course of its level.
    pub envelope: Envelope,
    /// Corner in hertz and damping (1/Q) of its low-pass filter.
    pub low_pass: Option<(f32, f32)>,
}

/// One sound of a SoundFont.
#[derive(Clone, Debug, PartialEq)]
pub struct SampledSound {
    /// What its maker calls it.
    pub name: String,
    regions: Box<[Region]>,
}

/// A sound's place in its bank.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct SoundIndex(pub u16);

/// The sounds a room uses, made ready. Allocates: control side only.
#[derive(Clone, Debug)]
pub struct SampleBank {
    sounds: Box<[SampledSound]>,
    kernels: Kernels,
}

impl SampledSound {
    /// A sound of `regions`; nothing if there are none, or one that can never be read: a pitch or rate that is not a number above zero.
    #[must_use]
    pub fn new(name: String, regions: Vec<Region>) -> Option<Self> {
        let readable = |region: &Region| [region.own_hz, region.rate].iter().all(|number| number.is_normal() && *number > 0.0);
        (!regions.is_empty() && regions.iter().all(readable)).then(|| Self { name, regions: regions.into_boxed_slice() })
    }

    /// Its regions.
    #[must_use]
    pub fn regions(&self) -> &[Region] {
        &self.regions
    }

    /// The numbers of the regions that sound together for a tone: those of its key and velocity, or else of the nearest.
    fn layers(&self, frequency: Hertz, level: f32) -> [Option<u16>; LAYERS] {
        let key = (69.0 + 12.0 * (frequency.hz() / 440.0).log2()).round().clamp(0.0, 127.0) as u8;
        // a synthesiser's amplitude goes by the square of the velocity
        let velocity = (MEZZO_FORTE * level.max(0.0).sqrt()).round().clamp(1.0, 127.0) as u8;
        let distance = |region: &Region| (apart(&region.keys, key), apart(&region.velocities, velocity));
        let nearest = self.regions.iter().map(distance).min().unwrap_or_default();
        let mut layers = [None; LAYERS];
        let fitting = self.regions.iter().enumerate().filter(|(_, region)| distance(region) == nearest);
        for (layer, (number, _)) in layers.iter_mut().zip(fitting) {
            *layer = Some(number as u16);
        }
        layers
    }

    /// The factor that gives its layers together the loudness of a built-in timbre at the same level.
    fn loudness(&self, layers: [Option<u16>; LAYERS], frequency: Hertz, rate: SampleRate) -> f32 {
        let hz = frequency.hz() as f32;
        let heard = 0.5 * rate.hz() as f32;
        let partials = layers.iter().flatten().filter_map(|number| self.regions.get(usize::from(*number))).flat_map(|region| {
            region.wave.partials.iter().enumerate().map(move |(k, amplitude)| {
                let at = hz * region.ratio * (k + 1) as f32;
                (at, amplitude * region.gain * region.low_pass.map_or(1.0, |(corner, damping)| lowpass::response(at, corner, damping)))
            })
        });
        equal_loudness(partials.filter(move |(hz, _)| *hz < heard), rate)
    }
}

/// How far a number lies outside a range.
fn apart(range: &RangeInclusive<u8>, number: u8) -> u8 {
    range.start().saturating_sub(number).max(number.saturating_sub(*range.end()))
}

impl SampleBank {
    /// A bank whose sounds are numbered from zero in the given order.
    #[must_use]
    pub fn new(sounds: Vec<SampledSound>) -> Self {
        Self { sounds: sounds.into_boxed_slice(), kernels: Kernels::new() }
    }

    /// Bytes of sample memory, each wave once.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let mut waves: Vec<&Arc<Wave>> = Vec::new();
        for region in self.sounds.iter().flat_map(SampledSound::regions) {
            if !waves.iter().any(|wave| Arc::ptr_eq(wave, &region.wave)) {
                waves.push(&region.wave);
            }
        }
        waves.iter().map(|wave| wave.bytes()).sum()
    }

    /// The sound with this number.
    #[must_use]
    pub fn get(&self, sound: SoundIndex) -> Option<&SampledSound> {
        self.sounds.get(usize::from(sound.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn region(keys: RangeInclusive<u8>, velocities: RangeInclusive<u8>) -> Region {
        let envelope = Envelope { delay: 0.0, attack: 0.0, hold: 0.0, decay: 0.0, sustain: 1.0, release: 0.0 };
        let wave = Arc::new(Wave::new(&[0.0; 8], None, [0.0; PARTIALS]));
        Region { wave, keys, velocities, own_hz: 440.0, rate: 44_100.0, ratio: 1.0, gain: 1.0, envelope, low_pass: None }
    }

    #[test]
    fn a_tone_takes_the_layers_of_its_key_and_velocity_or_else_the_nearest() {
        let regions = vec![region(60..=64, 0..=79), region(60..=64, 80..=127), region(60..=64, 80..=127), region(67..=70, 0..=127)];
        let sound = SampledSound::new("x".to_owned(), regions).unwrap();
        let layers = |hz: f64, level: f32| sound.layers(Hertz::new(hz).unwrap(), level).into_iter().flatten().collect::<Vec<_>>();
        assert_eq!(layers(261.63, 0.5), [0], "middle C, soft");
        assert_eq!(layers(261.63, 1.0), [1, 2]);
        assert_eq!(layers(440.0, 0.1), [3]);
        assert_eq!(layers(50.0, 1.0), [1, 2], "below all keys");
        assert_eq!(layers(349.23, 1.0), [1, 2], "F4: nearer to E4 than to G4");
    }

    #[test]
    fn a_loop_that_cannot_be_is_none() {
        let wave = |range| Wave::new(&[0.1; 8], Some(range), [0.0; PARTIALS]).back;
        assert_eq!(wave(2..6), Some(4));
        assert_eq!(wave(6..6), None);
        assert_eq!(wave(2..9), None);
    }

    #[test]
    fn what_can_never_be_read_is_no_sound() {
        assert!(SampledSound::new(String::new(), Vec::new()).is_none());
        for rate in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(SampledSound::new(String::new(), vec![Region { rate, ..region(0..=127, 0..=127) }]).is_none(), "{rate}");
        }
    }
}
