//! Waveforms from 64-bit phase: the whole range of a `u64` is one turn, so a pitch never drifts.
//!
//! Loops over lanes index arrays of the very length they count to: what the compiler turns into vector code, with nothing left to check.
#![allow(clippy::needless_range_loop)]

use crate::{BLOCK, Block};
use units::{Hertz, SampleRate};

/// The most harmonics a wave can have.
pub(crate) const HARMONICS: usize = 24;
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

/// The sine of a phase whose `u32` range is one turn; error under 1e-7.
fn sine(phase: u32) -> f32 {
    let turn = phase as i32;
    // fold the outer quarters inwards: sin(half turn - x) = sin(x)
    let outer = (turn ^ (turn << 1)) >> 31;
    let folded = (turn & !outer) | (i32::MIN.wrapping_sub(turn) & outer);
    let x = folded as f32 * (1.0 / 2_147_483_648.0);
    let y = x * x;
    x * (((0.077_220_106 * y - 0.598_045_2) * y + 2.550_031_4) * y - 5.167_707) * y + x * std::f32::consts::PI
}

/// The phase of each lane as a `u32` turn, exact at the first.
fn lanes(phase: u64, step: u64) -> [u32; LANES] {
    let (base, step) = ((phase >> 32) as u32, (step.wrapping_add(1 << 31) >> 32) as u32);
    let mut phases = [0; LANES];
    for lane in 0..LANES {
        phases[lane] = base.wrapping_add(step.wrapping_mul(lane as u32));
    }
    phases
}

/// Adds the sine at `phase`, moving by `step` a frame, times `from` to `to` along the block.
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

/// One or two sums of harmonics at the same pitch: strengths of the first, second ... harmonic.
pub(crate) fn harmonics<const N: usize>(phase: u64, step: u64, strengths: [&[f32]; N], out: [&mut Block; N]) {
    let mut out = out.map(|block| block.as_chunks_mut::<LANES>().0.iter_mut());
    for chunk in 0..BLOCK / LANES {
        let phases = lanes(phase.wrapping_add(step.wrapping_mul((chunk * LANES) as u64)), step);
        let mut sines = [0.0_f32; LANES];
        let mut cosines = [0.0_f32; LANES];
        for lane in 0..LANES {
            sines[lane] = sine(phases[lane]);
            cosines[lane] = 2.0 * sine(phases[lane].wrapping_add(1 << 30));
        }
        for (strengths, out) in strengths.iter().zip(&mut out) {
            if let Some(out) = out.next() {
                *out = clenshaw(strengths, &sines, &cosines);
            }
        }
    }
}

/// The sum over k of strength k times the sine of k times the phase, by Clenshaw's recurrence on doubled cosines.
fn clenshaw(strengths: &[f32], sines: &[f32; LANES], cosines: &[f32; LANES]) -> [f32; LANES] {
    let mut newer = [0.0_f32; LANES];
    let mut older = [0.0_f32; LANES];
    for strength in strengths.iter().rev() {
        for lane in 0..LANES {
            // in this order only one product and one sum wait for the step before
            let next = (strength - older[lane]) + cosines[lane] * newer[lane];
            older[lane] = newer[lane];
            newer[lane] = next;
        }
    }
    for lane in 0..LANES {
        newer[lane] *= sines[lane];
    }
    newer
}
