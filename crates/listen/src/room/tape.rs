//! The last seconds of a sound at the slower rate, each frame under its own number.

use crate::decimate::Decimator;
use units::SampleRate;

/// Seconds kept: a sweep, the silence after it, and the longest delay.
const KEPT: f64 = 10.0;

/// What is lower than this, in Hz, is no sound of ours.
const LOWEST: f64 = 15.0;

/// What stands for a frame that never came.
pub(super) const LOST: f32 = f32::NAN;

/// Frames by number; what is too old, or not there yet, reads as silence.
#[derive(Debug)]
pub(super) struct Tape {
    decimator: Decimator,
    frames: Vec<f32>,
    mask: i64,
    /// The number after the newest frame.
    end: i64,
    /// Frames that the decimator still mixes with lost ones.
    tainted: usize,
    /// What goes in and comes out of the filter that takes the mean away: no loudspeaker sends it, and fonts and microphones have one.
    before: f32,
    after: f32,
    keeps: f32,
}

impl Tape {
    pub(super) fn new(rate: SampleRate) -> Self {
        let decimator = Decimator::new(rate);
        let length = ((decimator.rate() * KEPT) as usize).next_power_of_two();
        let keeps = (-std::f64::consts::TAU * LOWEST / decimator.rate()).exp() as f32;
        Self { frames: vec![0.0; length], mask: length as i64 - 1, end: 0, tainted: 0, before: 0.0, after: 0.0, keeps, decimator }
    }

    pub(super) const fn decimator(&self) -> &Decimator {
        &self.decimator
    }

    pub(super) const fn end(&self) -> i64 {
        self.end
    }

    /// The first frame still kept.
    pub(super) const fn start(&self) -> i64 {
        self.end - self.frames.len() as i64
    }

    pub(super) fn push(&mut self, sample: f32) {
        if let Some(x) = self.decimator.push(sample) {
            let lost = self.tainted > 0;
            self.tainted = self.tainted.saturating_sub(1);
            self.after = x - self.before + self.keeps * self.after;
            self.before = x;
            self.put(if lost { LOST } else { self.after });
        }
    }

    /// Goes on by `count` device frames of silence.
    pub(super) fn skip(&mut self, count: u64) {
        (0..count).for_each(|_| self.push(0.0));
    }

    /// Goes on by `count` device frames that never came.
    pub(super) fn lose(&mut self, count: u64) {
        for _ in 0..count {
            if self.decimator.push(0.0).is_some() {
                self.put(LOST);
            }
        }
        self.tainted = 2 * self.decimator.delay().0 as usize / self.decimator.factor() + 1;
    }

    /// Forgets everything; the next device frame is number `frame`.
    pub(super) fn restart(&mut self, frame: u64) {
        self.frames.fill(0.0);
        let factor = self.decimator.factor() as u64;
        self.decimator.clear();
        self.end = (frame / factor) as i64;
        (self.tainted, self.before, self.after) = (0, 0.0, 0.0);
        self.skip(frame % factor);
    }

    pub(super) fn at(&self, number: i64) -> f32 {
        if number < self.end && number >= self.start() { self.frames[(number & self.mask) as usize] } else { 0.0 }
    }

    fn put(&mut self, x: f32) {
        self.frames[(self.end & self.mask) as usize] = x;
        self.end += 1;
    }
}
