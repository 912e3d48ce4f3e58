//! Noise that is the same each time: hashes of numbers, and loops of coloured noise made once.

use crate::{BLOCK, Block, SILENCE};
use units::SampleRate;

/// Frames in a loop of noise, a power of two: two thirds of a second at 48 kHz.
const LOOP: usize = 1 << 15;
/// Centres of the colours in hertz.
const CENTRES: [f32; 3] = [700.0, 2_000.0, 5_000.0];
/// Centres of their spectra by amplitude, from 100 Hz to 8 kHz: of the band-pass response at 48 kHz, which falls slowly.
const CENTROIDS: [f32; CENTRES.len()] = [2_620.0, 3_594.0, 4_748.0];

/// Well-mixed bits of `number` (the finaliser of splitmix64).
#[inline(always)]
pub(crate) fn hash(number: u64) -> u64 {
    let mut z = number.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// A number from -1 to 1 that looks like chance but follows from `number`.
#[inline(always)]
pub(crate) fn chance(number: u64) -> f32 {
    (hash(number) >> 40) as f32 * (2.0 / 16_777_216.0) - 1.0
}

/// A state-variable filter in the trapezoidal form, stable while its tuning moves.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Filter {
    first: f32,
    second: f32,
}

impl Filter {
    /// The band-passed signal around a centre given as `tan(pi * centre / rate)`; `damping` is 1/Q, and the peak gain is 1.
    pub(crate) fn band(&mut self, input: f32, tangent: f32, damping: f32) -> f32 {
        let a = 1.0 / (1.0 + tangent * (tangent + damping));
        let band = a * (self.first + tangent * (input - self.second));
        let low = self.second + tangent * band;
        self.first = 2.0 * band - self.first;
        self.second = 2.0 * low - self.second;
        band * damping
    }
}

/// `tan(pi * centre / rate)`, the centre kept well under half the rate.
pub(crate) fn tangent(centre: f32, rate: SampleRate) -> f32 {
    let share = (centre / rate.hz() as f32).min(0.4);
    (std::f32::consts::PI * share).tan()
}

/// Loops of coloured noise, rms 1.
pub(crate) struct NoiseLoops {
    colours: [Box<[f32]>; CENTRES.len()],
}

impl NoiseLoops {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let colours = std::array::from_fn(|colour| {
            let centre = CENTRES[colour];
            let white = |frame: usize| chance((colour * LOOP + frame % LOOP) as u64);
            let tangent = tangent(centre, rate);
            let mut filter = Filter::default();
            // once around to settle, so that the end meets the start
            for frame in 0..LOOP {
                filter.band(white(frame), tangent, 1.4);
            }
            let mut samples: Vec<f32> = (0..LOOP).map(|frame| filter.band(white(frame), tangent, 1.4)).collect();
            let power: f32 = samples.iter().map(|x| x * x).sum::<f32>() / LOOP as f32;
            samples.iter_mut().for_each(|x| *x /= power.sqrt());
            // the start once more, so that a block can be read across the end
            samples.extend_from_within(..BLOCK);
            samples.into_boxed_slice()
        });
        Self { colours }
    }

    /// The colour whose centre by amplitude is nearest to `centre` hertz.
    pub(crate) fn colour_for(centre: f32) -> u8 {
        let off = |colour: &usize| CENTROIDS.get(*colour).map_or(f32::MAX, |centroid| (centroid - centre).abs());
        (0..CENTROIDS.len()).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or_default() as u8
    }

    /// A block of noise of a colour, from frame `position` of the loop on.
    pub(crate) fn block(&self, colour: u8, position: u64) -> &Block {
        let samples = self.colours.get(usize::from(colour));
        let here = samples.and_then(|samples| samples.get(position as usize % LOOP..)).and_then(|rest| rest.first_chunk::<BLOCK>());
        here.unwrap_or(&SILENCE)
    }
}
