//! Sums of harmonics whose strengths and pitch move evenly along a block: by Clenshaw's recurrence on doubled cosines, once for every
//! processor and once for AVX2.
#![allow(clippy::needless_range_loop)]

use super::{HARMONICS, TURN, fold, sine_of};
use crate::cpu::Arithmetic;
use crate::{BLOCK, Block};

/// One block of one voice.
#[derive(Clone, Copy)]
pub(crate) struct Sung<'a> {
    /// Its phase at the block's first frame.
    pub(crate) phase: u64,
    /// What the phase moves by from that frame to the next.
    pub(crate) step: u64,
    /// What the step grows by from frame to frame; two's complement, so that it may shrink.
    pub(crate) bend: u64,
    /// Strengths of the first, second ... harmonic at the first frame.
    pub(crate) strengths: &'a [f32],
    /// What each strength grows by from frame to frame.
    pub(crate) slopes: &'a [f32],
    /// Noise to go with it, how much at the first frame, and what that grows by from frame to frame.
    pub(crate) breath: (&'a Block, f32, f32),
}

/// Frames of one AVX2 register, and as many again for a phase to be computed anew.
const LANES: usize = 8;
/// The sum of the numbers under each lane's: how often the bend has been added by then.
const BENDS: [u32; LANES] = [0, 0, 1, 3, 6, 10, 15, 21];

impl Sung<'_> {
    /// The block's phases, eight at a time: the first of eight with the whole precision, then the high half of its steps.
    #[inline(always)]
    fn eights(&self) -> [Eight; BLOCK / LANES] {
        let mut eights = [Eight::default(); BLOCK / LANES];
        let (mut phase, mut step) = (self.phase, self.step);
        for eight in &mut eights {
            *eight = Eight { phase: (phase >> 32) as u32, step: high(step), bend: high(self.bend) };
            phase = phase.wrapping_add(step.wrapping_mul(LANES as u64)).wrapping_add(self.bend.wrapping_mul(28));
            step = step.wrapping_add(self.bend.wrapping_mul(LANES as u64));
        }
        eights
    }

    #[inline(always)]
    fn harmonics(&self) -> impl DoubleEndedIterator<Item = (f32, f32)> + use<'_> {
        self.strengths.iter().zip(self.slopes).take(HARMONICS).map(|(strength, slope)| (*strength, *slope))
    }
}

/// Where eight frames' phases start and how they move, as `u32` turns.
#[derive(Clone, Copy, Default)]
struct Eight {
    phase: u32,
    step: u32,
    bend: u32,
}

/// The high half, rounded.
#[inline(always)]
fn high(value: u64) -> u32 {
    (value.wrapping_add(1 << 31) >> 32) as u32
}

/// Adds the block times `gain` to `out`.
pub(crate) fn sing(arithmetic: Arithmetic, sung: Sung<'_>, gain: &Block, out: &mut Block) {
    #[cfg(target_arch = "x86_64")]
    if arithmetic.avx2() {
        #[allow(unsafe_code)]
        // SAFETY: the processor has both features.
        unsafe {
            avx2::sing(sung, gain, out);
        }
        return;
    }
    plain(sung, gain, out);
}

fn plain(sung: Sung<'_>, gain: &Block, out: &mut Block) {
    /// Frames worked on at once: few enough for the recurrence to stay in registers.
    const GROUP: usize = 16;
    let mut phases = [0; BLOCK];
    for (phases, eight) in phases.as_chunks_mut::<LANES>().0.iter_mut().zip(sung.eights()) {
        for lane in 0..LANES {
            phases[lane] =
                eight.phase.wrapping_add(eight.step.wrapping_mul(lane as u32)).wrapping_add(eight.bend.wrapping_mul(BENDS[lane]));
        }
    }
    let mut sines = [0.0_f32; BLOCK];
    let mut cosines = [0.0_f32; BLOCK];
    for frame in 0..BLOCK {
        let (folded, outer) = fold(phases[frame]);
        let x = folded as f32 * TURN;
        sines[frame] = sine_of(x);
        cosines[frame] = f32::from_bits(doubled_cosine_of(x).to_bits() ^ (outer as u32 & 1 << 31));
    }
    let mut wave = [0.0_f32; BLOCK];
    for (group, (wave, cosines)) in wave.as_chunks_mut::<GROUP>().0.iter_mut().zip(cosines.as_chunks::<GROUP>().0).enumerate() {
        let mut newer = [0.0_f32; GROUP];
        let mut older = [0.0_f32; GROUP];
        for (strength, slope) in sung.harmonics().rev() {
            let first = strength + slope * (group * GROUP) as f32;
            for lane in 0..GROUP {
                // in this order only one product and one sum wait for the step before
                let next = (first + slope * lane as f32 - older[lane]) + cosines[lane] * newer[lane];
                older[lane] = newer[lane];
                newer[lane] = next;
            }
        }
        *wave = newer;
    }
    let (noise, amount, slope) = sung.breath;
    for frame in 0..BLOCK {
        out[frame] += (wave[frame] * sines[frame] + noise[frame] * (amount + slope * frame as f32)) * gain[frame];
    }
}

/// Twice the cosine of pi x, less 2, over x squared: coefficients of x^6, x^4, x^2 and 1, fitted for the least error.
const DOUBLED_COSINE: [f32; 4] = [0.440_161_2, -2.664_187_7, 8.116_903, -9.869_591];

/// Twice the cosine of pi `x`, for `x` from -1/2 to 1/2; error under 3e-7.
#[inline(always)]
fn doubled_cosine_of(x: f32) -> f32 {
    let y = x * x;
    (((DOUBLED_COSINE[0] * y + DOUBLED_COSINE[1]) * y + DOUBLED_COSINE[2]) * y + DOUBLED_COSINE[3]) * y + 2.0
}

/// The same with AVX2: four registers of eight frames at once, so that each waits for the others and not for itself.
#[cfg(target_arch = "x86_64")]
mod avx2 {
    use super::{BENDS, DOUBLED_COSINE, Eight, LANES, Sung};
    use crate::Block;
    use crate::wave::{SINE, TURN};
    use std::arch::x86_64::*;

    const REGISTERS: usize = 4;

    #[target_feature(enable = "avx2,fma")]
    pub(super) fn sing(sung: Sung<'_>, gain: &Block, out: &mut Block) {
        let lanes = _mm256_setr_ps(0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0);
        let eights = sung.eights();
        let (noise, amount, slope) = sung.breath;
        let mut breath = _mm256_fmadd_ps(_mm256_set1_ps(slope), lanes, _mm256_set1_ps(amount));
        let breath_hop = _mm256_set1_ps(slope * LANES as f32);
        let noises = noise.as_chunks::<LANES>().0.as_chunks::<REGISTERS>().0;
        let gains = gain.as_chunks::<LANES>().0.as_chunks::<REGISTERS>().0;
        let outs = out.as_chunks_mut::<LANES>().0.as_chunks_mut::<REGISTERS>().0;
        let groups = eights.as_chunks::<REGISTERS>().0.iter().zip(noises).zip(gains).zip(outs);
        for (group, (((eights, noises), gains), outs)) in groups.enumerate() {
            let mut sines = [_mm256_setzero_ps(); REGISTERS];
            let mut cosines = [_mm256_setzero_ps(); REGISTERS];
            for register in 0..REGISTERS {
                (sines[register], cosines[register]) = turn(phases(eights[register]));
            }
            let mut newer = [_mm256_setzero_ps(); REGISTERS];
            let mut older = [_mm256_setzero_ps(); REGISTERS];
            let first = (group * REGISTERS * LANES) as f32;
            for (strength, slope) in sung.harmonics().rev() {
                let hop = _mm256_set1_ps(slope * LANES as f32);
                let mut strengths = _mm256_fmadd_ps(_mm256_set1_ps(slope), lanes, _mm256_set1_ps(slope.mul_add(first, strength)));
                for register in 0..REGISTERS {
                    let rest = _mm256_sub_ps(strengths, older[register]);
                    older[register] = newer[register];
                    newer[register] = _mm256_fmadd_ps(cosines[register], newer[register], rest);
                    strengths = _mm256_add_ps(strengths, hop);
                }
            }
            for register in 0..REGISTERS {
                let wave = _mm256_fmadd_ps(newer[register], sines[register], _mm256_mul_ps(pack(noises[register]), breath));
                breath = _mm256_add_ps(breath, breath_hop);
                outs[register] = unpack(_mm256_fmadd_ps(wave, pack(gains[register]), pack(outs[register])));
            }
        }
    }

    #[target_feature(enable = "avx2,fma")]
    fn phases(eight: Eight) -> __m256i {
        let bends = BENDS.map(|bends| bends as i32);
        let bends = _mm256_setr_epi32(bends[0], bends[1], bends[2], bends[3], bends[4], bends[5], bends[6], bends[7]);
        let steps = _mm256_mullo_epi32(_mm256_set1_epi32(eight.step as i32), _mm256_setr_epi32(0, 1, 2, 3, 4, 5, 6, 7));
        let bent = _mm256_mullo_epi32(_mm256_set1_epi32(eight.bend as i32), bends);
        _mm256_add_epi32(_mm256_set1_epi32(eight.phase as i32), _mm256_add_epi32(steps, bent))
    }

    /// The sine, and twice the cosine, of turns.
    #[target_feature(enable = "avx2,fma")]
    fn turn(turn: __m256i) -> (__m256, __m256) {
        let outer = _mm256_xor_si256(turn, _mm256_slli_epi32::<1>(turn));
        let flipped = _mm256_sub_epi32(_mm256_set1_epi32(i32::MIN), turn);
        let folded = _mm256_blendv_epi8(turn, flipped, _mm256_srai_epi32::<31>(outer));
        let x = _mm256_mul_ps(_mm256_cvtepi32_ps(folded), _mm256_set1_ps(TURN));
        let y = _mm256_mul_ps(x, x);
        let polynomial = |coefficients: [f32; 4]| {
            let [a, b, c, d] = coefficients.map(|x| _mm256_set1_ps(x));
            _mm256_fmadd_ps(_mm256_fmadd_ps(_mm256_fmadd_ps(a, y, b), y, c), y, d)
        };
        let pi = _mm256_set1_ps(std::f32::consts::PI);
        let sine = _mm256_fmadd_ps(_mm256_mul_ps(x, y), polynomial(SINE), _mm256_mul_ps(x, pi));
        let inner = _mm256_fmadd_ps(polynomial(DOUBLED_COSINE), y, _mm256_set1_ps(2.0));
        // in the outer half of the turn the cosine is negative
        let sign = _mm256_and_ps(_mm256_castsi256_ps(outer), _mm256_set1_ps(-0.0));
        (sine, _mm256_xor_ps(inner, sign))
    }

    #[target_feature(enable = "avx2,fma")]
    fn pack(x: [f32; LANES]) -> __m256 {
        _mm256_setr_ps(x[0], x[1], x[2], x[3], x[4], x[5], x[6], x[7])
    }

    #[target_feature(enable = "avx2,fma")]
    fn unpack(x: __m256) -> [f32; LANES] {
        let (low, high) = (_mm256_castps256_ps128(x), _mm256_extractf128_ps::<1>(x));
        let lane = |four: __m128| {
            [
                _mm_cvtss_f32(four),
                _mm_cvtss_f32(_mm_shuffle_ps::<1>(four, four)),
                _mm_cvtss_f32(_mm_shuffle_ps::<2>(four, four)),
                _mm_cvtss_f32(_mm_shuffle_ps::<3>(four, four)),
            ]
        };
        let ([a, b, c, d], [e, f, g, h]) = (lane(low), lane(high));
        [a, b, c, d, e, f, g, h]
    }
}
