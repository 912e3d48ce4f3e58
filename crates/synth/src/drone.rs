//! A held chord whose just tones share one phase clock, so that their coincident partials never beat.

mod blend;

use crate::care::HUSH_SECONDS;
use crate::cpu::Arithmetic;
use crate::curve::s_curve;
use crate::fade::Fade;
use crate::loudness::KWeight;
use crate::timbre::equal_loudness;
use crate::wave::{Sung, audible_harmonics, increment, sing};
use crate::{BLOCK, Block, SILENCE};
use blend::{Partials, make_up};
use units::{Cents, Gain, Hertz, SampleRate};

/// How many tones a drone can hold.
pub const DRONE_TONES: usize = 8;

/// One tone of a drone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DroneTone {
    /// Its frequency as a fraction of the root's: `(3, 2)` is the pure fifth. A zero in either place silences the tone.
    pub ratio: (u32, u32),
    /// How far it is moved from that fraction; zero keeps it just.
    pub detune: Cents,
    /// Loudness beside the other tones; 1 is the usual level of a root.
    pub level: Gain,
}

/// A chord to hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DroneChord {
    /// The sounding frequency of the ratio `(1, 1)`.
    pub root: Hertz,
    /// The tones that sound.
    pub tones: [Option<DroneTone>; DRONE_TONES],
}

/// Seconds of a swell in or out, or of a crossfade.
const SWELL: f32 = 1.2;
/// Chords that can sound at once while one gives way to another.
const LAYERS: usize = 6;
/// Harmonics of a drone tone.
const PARTIALS: usize = 14;

/// One tone made ready to sound.
#[derive(Clone, Copy)]
struct ReadyTone {
    step: u64,
    strengths: [f32; PARTIALS],
    count: usize,
}

/// How far each layer has swelled.
type Shares = [f32; LAYERS];

/// One chord on its way in, held, or on its way out.
#[derive(Clone, Copy)]
struct Layer {
    chord: DroneChord,
    tones: [Option<ReadyTone>; DRONE_TONES],
    partials: Partials,
    /// How far the swell is, in frames; at its full length the chord is held.
    swell: f32,
    leaving: bool,
    fade: Fade,
}

/// Holds a chord.
///
/// Phases follow from the frame number alone: all just tones of a chord step by whole multiples of one increment, the root's divided by
/// the common denominator, so their coincident partials keep one phase for ever.
pub(crate) struct Drone {
    layers: [Option<Layer>; LAYERS],
    /// The power each two layers have in common, and each by itself.
    common: [[f32; LAYERS]; LAYERS],
    /// The chord to hold; a layer is found for it at the next block, or as soon as one is free.
    wanted: Option<DroneChord>,
    rate: SampleRate,
}

impl Drone {
    pub(crate) fn new(rate: SampleRate) -> Self {
        Self { layers: [None; LAYERS], common: [[0.0; LAYERS]; LAYERS], wanted: None, rate }
    }

    pub(crate) fn hold(&mut self, chord: Option<DroneChord>) {
        self.wanted = chord;
    }

    pub(crate) fn hush(&mut self) {
        self.wanted = None;
        for layer in self.layers.iter_mut().flatten() {
            layer.fade.ask(HUSH_SECONDS * self.rate.hz() as f32);
        }
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.wanted.is_none() && self.layers.iter().all(Option::is_none)
    }

    /// Adds the block at `start`.
    pub(crate) fn render(&mut self, start: u64, arithmetic: Arithmetic, out: &mut Block) {
        self.arrange();
        let length = SWELL * self.rate.hz() as f32;
        let (from, to) = (self.shares(0.0, length), self.shares(BLOCK as f32, length));
        let made_up = (make_up(from, &self.common), make_up(to, &self.common));
        for place in &mut self.layers {
            let Some(layer) = place else { continue };
            if !layer.render(start, length, made_up, arithmetic, out) {
                *place = None;
            }
        }
    }

    /// How far each layer will have swelled `frames` from now.
    fn shares(&self, frames: f32, length: f32) -> Shares {
        self.layers.each_ref().map(|layer| layer.as_ref().map_or(0.0, |layer| s_curve(layer.swelled(frames) / length)))
    }

    /// Sends away every chord but the wanted one, and gives that a layer.
    fn arrange(&mut self) {
        let mut held = false;
        for layer in self.layers.iter_mut().flatten() {
            let wanted = layer.fade.is_none() && Some(layer.chord) == self.wanted;
            layer.leaving = !wanted;
            held |= wanted;
        }
        if let (false, Some(chord)) = (held, self.wanted)
            && let Some(free) = self.layers.iter().position(Option::is_none)
        {
            self.place(free, Layer::new(chord, self.rate));
        }
    }

    /// Gives `layer` the place numbered `free`, and finds out what it has in common with the others.
    fn place(&mut self, free: usize, layer: Layer) {
        for (number, (row, other)) in self.common.iter_mut().zip(&self.layers).enumerate() {
            let common = match other {
                _ if number == free => layer.partials.with(&layer.partials),
                Some(other) => layer.partials.with(&other.partials),
                None => 0.0,
            };
            if let Some(place) = row.get_mut(free) {
                *place = common;
            }
        }
        let column: Shares = self.common.map(|row| row.get(free).copied().unwrap_or(0.0));
        if let (Some(row), Some(place)) = (self.common.get_mut(free), self.layers.get_mut(free)) {
            *row = column;
            *place = Some(layer);
        }
    }
}

impl Layer {
    fn new(chord: DroneChord, rate: SampleRate) -> Self {
        let denominator = common_denominator(&chord).unwrap_or(0);
        // the family's clock: one step of it is the root's step over the common denominator
        let family = if denominator == 0 { 0 } else { increment(chord.root.hz() / denominator as f64, rate) };
        let mut tones = chord.tones.map(|tone| {
            let tone = tone.filter(|tone| tone.ratio.0 > 0 && tone.ratio.1 > 0)?;
            let just = chord.root.hz() * f64::from(tone.ratio.0) / f64::from(tone.ratio.1);
            let frequency = Hertz::new(just).ok()?.moved(tone.detune);
            let step = match denominator.checked_div(u64::from(tone.ratio.1)) {
                Some(share) if share > 0 && tone.detune == Cents(0.0) => family.wrapping_mul(u64::from(tone.ratio.0) * share),
                _ => increment(frequency.hz(), rate),
            };
            ReadyTone::new(frequency, step, tone.level, rate)
        });
        let weight = KWeight::new(rate);
        let mut partials = Partials::NONE;
        for tone in tones.iter().flatten() {
            for (strength, k) in tone.strengths.iter().take(tone.count).zip(1_u64..) {
                let step = tone.step.wrapping_mul(k);
                let hz = step as f64 / 2_f64.powi(64) * f64::from(rate.hz());
                partials.add(step, strength * weight.power(hz, rate).sqrt() as f32);
            }
        }
        let scale = partials.settle();
        tones.iter_mut().flatten().flat_map(|tone| &mut tone.strengths).for_each(|strength| *strength *= scale);
        Self { chord, tones, partials, swell: 0.0, leaving: false, fade: Fade::default() }
    }

    /// How far the swell will be `frames` from now, in frames.
    fn swelled(&self, frames: f32) -> f32 {
        if self.leaving { self.swell - frames } else { self.swell + frames }
    }

    /// Adds the block at `start`; whether there is more to come. `made_up` is the factor for all layers at the block's start and end.
    fn render(&mut self, start: u64, length: f32, made_up: (f32, f32), arithmetic: Arithmetic, out: &mut Block) -> bool {
        let mut gain: Block = std::array::from_fn(|frame| made_up.0 + (made_up.1 - made_up.0) * (frame as f32 / BLOCK as f32));
        let arriving = self.swell < length;
        if self.leaving || arriving {
            for (frame, gain) in gain.iter_mut().enumerate() {
                *gain *= s_curve(self.swelled(frame as f32) / length);
            }
            self.swell = self.swelled(BLOCK as f32).clamp(0.0, length);
        }
        let faded = self.fade.apply(start, &mut gain);
        for tone in self.tones.iter().flatten() {
            let strengths = tone.strengths.get(..tone.count).unwrap_or_default();
            let (phase, step) = (tone.step.wrapping_mul(start), tone.step);
            sing(arithmetic, Sung { phase, step, bend: 0, strengths, slopes: &[0.0; PARTIALS], breath: (&SILENCE, 0.0, 0.0) }, &gain, out);
        }
        !(faded || self.leaving && self.swell <= 0.0)
    }
}

impl ReadyTone {
    /// A warm spectrum, falling gently up to 1.2 kHz and steeply from there, wherever the tone lies.
    fn new(frequency: Hertz, step: u64, level: Gain, rate: SampleRate) -> Option<Self> {
        let count = audible_harmonics(frequency, rate).min(PARTIALS);
        let hz = |k: usize| frequency.hz() as f32 * (k + 1) as f32;
        let mut strengths = [0.0; PARTIALS];
        for (k, strength) in strengths.iter_mut().enumerate().take(count) {
            let bend = hz(k) / 1200.0;
            *strength = 1.0 / ((k + 1) as f32 * (1.0 + bend * bend));
        }
        let scale = level.amplitude() * equal_loudness(strengths.iter().enumerate().map(|(k, s)| (hz(k), *s)), rate);
        strengths.iter_mut().for_each(|strength| *strength *= scale);
        (count > 0 && scale > 0.0).then_some(Self { step, strengths, count })
    }
}

/// The least common multiple of the denominators of a chord's just tones, unless it is so large that the family's clock would be coarse.
fn common_denominator(chord: &DroneChord) -> Option<u64> {
    let just = chord.tones.iter().flatten().filter(|tone| tone.detune == Cents(0.0) && tone.ratio.1 > 0);
    just.map(|tone| u64::from(tone.ratio.1)).try_fold(1_u64, |multiple, denominator| {
        let common = multiple.checked_mul(denominator / greatest_common_divisor(multiple, denominator))?;
        (common <= 1 << 20).then_some(common)
    })
}

fn greatest_common_divisor(mut a: u64, mut b: u64) -> u64 {
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a
}
