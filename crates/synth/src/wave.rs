//! Waveforms from 64-bit phase: the whole range of a `u64` is one turn, so a pitch never drifts.
//!
//! Loops over lanes index arrays of the very length they count to: what the compiler turns into vector code, with nothing left to check.
#![allow(clippy::needless_range_loop)]

mod sung;

pub(crate) use sung::{Sung, sing};

use crate::{BLOCK, Block};
use units::{Hertz, SampleRate};

/// The most harmonics a wave can have: a low reed or brass tone is still heard at its sixtieth.
pub(crate) const HARMONICS: usize = 64;
/// Harmonics stay under this share of the sample rate.
pub(crate) const BAND_LIMIT: f64 = 0.45;
/// Frames worked on at once: few enough for the recurrence to stay in registers.
const LANES: usize = 16;

/// The phase a tone moves by from frame to frame.
pub(crate) fn increment(frequency: f64, rate: SampleRate) -> u64 {
    let turns = frequency / f64::from(rate.hz());
    // a frequency above the rate has no phase increment under one turn; nothing asks for one, and the cast saturates
    (turns * 18_446_744_073_709_551_616.0) as u64
}

/// How many harmonics of `frequency` lie under the band limit, at most `HARMONICS`.
pub(crate) fn audible_harmonics(frequency: Hertz, rate: SampleRate) -> usize {
    let count = BAND_LIMIT * f64::from(rate.hz()) / frequency.hz();
    (count as usize).min(HARMONICS)
}

/// From a `u32` turn folded to its inner half, to a number from -1/2 to 1/2.
const TURN: f32 = 1.0 / 2_147_483_648.0;
/// The sine of pi x without its first term, over x cubed: coefficients of x^6, x^4, x^2 and 1, fitted for the least error.
const SINE: [f32; 4] = [0.077_220_106, -0.598_045_2, 2.550_031_4, -5.167_707];

/// A `u32` turn with its outer quarters folded inwards, which keeps the sine: sin(half turn - x) = sin(x). Then all ones where it was
/// folded, else zero.
#[inline(always)]
fn fold(phase: u32) -> (i32, i32) {
    let turn = phase as i32;
    let outer = (turn ^ (turn << 1)) >> 31;
    ((turn & !outer) | (i32::MIN.wrapping_sub(turn) & outer), outer)
}

/// The sine of pi `x`, for `x` from -1/2 to 1/2; error under 1e-7.
#[inline(always)]
fn sine_of(x: f32) -> f32 {
    let y = x * x;
    x * (((SINE[0] * y + SINE[1]) * y + SINE[2]) * y + SINE[3]) * y + x * std::f32::consts::PI
}

/// The sine of a phase whose `u32` range is one turn.
#[inline(always)]
fn sine(phase: u32) -> f32 {
    sine_of(fold(phase).0 as f32 * TURN)
}

/// The phase of each lane as a `u32` turn, exact at the first.
#[inline(always)]
fn lanes(phase: u64, step: u64) -> [u32; LANES] {
    let (base, step) = ((phase >> 32) as u32, (step.wrapping_add(1 << 31) >> 32) as u32);
    let mut phases = [0; LANES];
    for lane in 0..LANES {
        phases[lane] = base.wrapping_add(step.wrapping_mul(lane as u32));
    }
    phases
}

/// Adds the sine at `phase`, moving by `step` a frame, times `from` to `to` along the block.
#[inline(always)]
pub(crate) fn add_sine(out: &mut Block, phase: u64, step: u64, from: f32, to: f32) {
    let slope = (to - from) / BLOCK as f32;
    for (chunk, out) in out.as_chunks_mut::<LANES>().0.iter_mut().enumerate() {
        let first = chunk * LANES;
        let phases = lanes(phase.wrapping_add(step.wrapping_mul(first as u64)), step);
        let base = from + slope * first as f32;
        for lane in 0..LANES {
            out[lane] += sine(phases[lane]) * (base + slope * lane as f32);
        }
    }
}
