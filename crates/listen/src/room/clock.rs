//! Which frame sent belongs to which frame heard, followed while the two clocks drift apart.

/// Variances the place and the ratio may have before anything is known: a frame, and 100 parts per million.
const UNKNOWN: (f64, f64) = (1.0, 1e-8);
/// And after a sweep has told them.
const TOLD: (f64, f64) = (1e-4, 1e-13);
/// What is added to them in a frame: clocks wander by about 0.02 parts per million in a second, and blocks are read to 0.003 frames.
const WANDER: (f64, f64) = (4e-10, 2e-20);
/// How much worse than its noise a reading is taken: what is left of our own sound stays alike for long.
const ALIKE: f64 = 3.0;
/// The variance of the best reading, in frames squared.
const FINEST: f64 = 1e-6;
/// Clocks further apart than this are not those of sound devices.
const FURTHEST: f64 = 300e-6;

/// A straight line from frames heard to frames sent, both at the slower rate, with a Kalman filter over its place and slope.
#[derive(Clone, Copy, Debug)]
pub(super) struct Clock {
    anchor: i64,
    place: f64,
    nominal: f64,
    ratio: f64,
    doubt: [f64; 3],
}

impl Clock {
    /// Frame heard 0 belongs to frame sent `offset`; `nominal` frames are sent in the time in which one is heard.
    pub(super) const fn new(nominal: f64, offset: f64) -> Self {
        Self { anchor: 0, place: offset, nominal, ratio: 0.0, doubt: [UNKNOWN.0, 0.0, UNKNOWN.1] }
    }

    /// The same with a ratio that a sweep has told.
    pub(super) const fn told(nominal: f64, anchor: i64, place: f64, ratio: f64) -> Self {
        Self { anchor, place, nominal, ratio, doubt: [TOLD.0, 0.0, TOLD.1] }
    }

    /// The same found again by any sound, to about a frame, with the ratio that a sweep told before.
    pub(super) const fn again(nominal: f64, anchor: i64, place: f64, ratio: f64) -> Self {
        Self { anchor, place, nominal, ratio, doubt: [UNKNOWN.0, 0.0, TOLD.1] }
    }

    /// Frames sent in a frame heard.
    pub(super) const fn step(&self) -> f64 {
        self.nominal * (1.0 + self.ratio)
    }

    /// How much faster than by its name frames are sent than heard, as a share.
    pub(super) const fn ratio(&self) -> f64 {
        self.ratio
    }

    /// The deviation of [`Self::ratio`].
    pub(super) fn doubt(&self) -> f64 {
        self.doubt[2].sqrt()
    }

    /// The place of frame heard `number` among those sent.
    pub(super) fn place(&self, number: i64) -> f64 {
        self.place + (number - self.anchor) as f64 * self.step()
    }

    /// Learns from the block of `frames` from frame heard `number` on that it lay `late` frames (of those heard) further on than told,
    /// with that `variance`.
    pub(super) fn learn(&mut self, number: i64, frames: usize, late: f64, variance: f64) {
        let time = (number - self.anchor).max(0) as f64;
        (self.place, self.anchor) = (self.place(number), number);
        let [p, c, r] = self.doubt;
        let (p, c, r) = (p + time * (2.0 * c + time * r) + time * WANDER.0, c + time * r, r + time * WANDER.1);
        let seen = p + ALIKE * variance.max(FINEST) / (frames as f64 / 256.0);
        let (place, ratio) = (p / seen, c / seen);
        self.place += self.nominal * place * late;
        self.ratio = (self.ratio + ratio * late).clamp(-FURTHEST, FURTHEST);
        self.doubt = [p * (1.0 - place), c * (1.0 - place), (r - ratio * c).max(0.0)];
    }
}
