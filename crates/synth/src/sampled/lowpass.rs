//! The low-pass filter of a sampled tone: two poles, in the trapezoidal form, at a corner that stays.

use crate::Block;
use units::SampleRate;

/// A filter and its state.
#[derive(Clone, Copy, Debug)]
pub(super) struct LowPass {
    tangent: f32,
    damping: f32,
    first: f32,
    second: f32,
}

impl LowPass {
    pub(super) fn new(corner: f32, damping: f32, rate: SampleRate) -> Self {
        Self { tangent: crate::noise::tangent(corner, rate), damping, first: 0.0, second: 0.0 }
    }

    pub(super) fn apply(&mut self, block: &mut Block) {
        let a = 1.0 / (1.0 + self.tangent * (self.tangent + self.damping));
        for sample in block {
            let band = a * (self.first + self.tangent * (*sample - self.second));
            let low = self.second + self.tangent * band;
            self.first = 2.0 * band - self.first;
            self.second = 2.0 * low - self.second;
            *sample = low;
        }
    }
}

/// What a filter leaves of an amplitude at `hz`.
pub(super) fn response(hz: f32, corner: f32, damping: f32) -> f32 {
    let share = hz / corner;
    let square = share * share;
    1.0 / ((1.0 - square) * (1.0 - square) + square * damping * damping).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::BLOCK;

    #[test]
    fn the_filter_does_what_its_response_says() {
        let rate = SampleRate::DEFAULT;
        for hz in [200.0_f32, 1_000.0, 3_000.0] {
            let mut filter = LowPass::new(1_000.0, 1.0, rate);
            let mut top = 0.0_f32;
            for block in 0..200 {
                let mut samples: Block =
                    std::array::from_fn(|n| (std::f32::consts::TAU * hz * (block * BLOCK + n) as f32 / 48_000.0).sin());
                filter.apply(&mut samples);
                if block > 100 {
                    top = samples.iter().fold(top, |top, sample| top.max(sample.abs()));
                }
            }
            let wanted = response(hz, 1_000.0, 1.0);
            assert!((top / wanted - 1.0).abs() < 0.03, "{hz} Hz: {top}, not {wanted}");
        }
    }
}
