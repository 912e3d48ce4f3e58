//! The shapes of gains: an S-curve with a level start and end, laid along a block.

use crate::{BLOCK, Block};

/// Zero up to 0, one from 1 on, between them a rise whose slope and curvature start and end at nothing; steepest in the middle: 1.875.
#[inline(always)]
pub(crate) fn s_curve(x: f32) -> f32 {
    let x = x.clamp(0.0, 1.0);
    x * x * x * (x * (x * 6.0 - 15.0) + 10.0)
}

/// Multiplies `gain` by a rise that began `elapsed` frames before the block (negative: after its start) and lasts `length` frames.
pub(crate) fn multiply_rise(gain: &mut Block, elapsed: i64, length: f32) {
    if elapsed as f32 >= length {
        return;
    }
    if elapsed <= -(BLOCK as i64) {
        gain.fill(0.0);
        return;
    }
    let scale = 1.0 / length.max(1.0);
    let first = elapsed as f32;
    for (frame, gain) in gain.iter_mut().enumerate() {
        *gain *= s_curve((first + frame as f32) * scale);
    }
}

/// Multiplies `gain` by a fall that began `elapsed` frames before the block and reaches exact silence `length` frames after its start.
pub(crate) fn multiply_fall(gain: &mut Block, elapsed: i64, length: f32) {
    if elapsed <= -(BLOCK as i64) {
        return;
    }
    let length = length.max(1.0);
    if elapsed as f32 >= length {
        gain.fill(0.0);
        return;
    }
    let scale = 1.0 / length;
    let left = length - elapsed as f32;
    for (frame, gain) in gain.iter_mut().enumerate() {
        *gain *= s_curve((left - frame as f32) * scale);
    }
}

/// A level that moves evenly to its latest setting.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ramp {
    value: f32,
    target: f32,
    step: f32,
}

impl Ramp {
    pub(crate) fn at(value: f32) -> Self {
        Self { value, target: value, step: 0.0 }
    }

    /// Heads for `target`, there after `length` frames.
    pub(crate) fn head_for(&mut self, target: f32, length: f32) {
        if target != self.target {
            self.target = target;
            self.step = (target - self.value) / length.max(1.0);
        }
    }

    /// Where it is or is heading.
    pub(crate) fn target(&self) -> f32 {
        self.target
    }

    /// The level, if it stays as it is over the next block.
    pub(crate) fn steady(&self) -> Option<f32> {
        (self.value == self.target).then_some(self.value)
    }

    /// Lets a block pass in which nothing is to be levelled.
    pub(crate) fn skip(&mut self) {
        if self.value != self.target {
            self.fill(&mut [0.0; BLOCK]);
        }
    }

    /// The level along the next block.
    pub(crate) fn fill(&mut self, out: &mut Block) {
        if self.value == self.target {
            out.fill(self.value);
            return;
        }
        let (low, high) = if self.step < 0.0 { (self.target, f32::INFINITY) } else { (f32::NEG_INFINITY, self.target) };
        for (frame, out) in out.iter_mut().enumerate() {
            *out = (self.value + self.step * (frame + 1) as f32).clamp(low, high);
        }
        self.value = (self.value + self.step * BLOCK as f32).clamp(low, high);
    }
}
