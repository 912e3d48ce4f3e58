//! A room in which our own sound is heard: two streams in, what was sent and what the microphone gives, each with its own clock; out
//! comes what others play in it.
//!
//! Delay and ratio of the clocks are found by itself from any of our own sound, best from the [`sweep`]; then what was sent is read in
//! the microphone's time and taken out of it. Before a player may enter, [`Clearing::freeze`] holds everything still, or an exact
//! unison would be learnt away.

mod between;
mod calibration;
mod clock;
mod finder;
mod sweep;
mod tape;

pub use sweep::sweep;

use crate::cancel::{Canceller, Clearness, ENOUGH};
use between::Between;
use clock::Clock;
use finder::Finder;
use tape::Tape;
use thiserror::Error;
use units::{Decibels, FrameInstant, FrameSpan, SampleRate};

/// Frames of the way before the first sound.
const LEAD: usize = 120;
/// Seconds by which what is heard may be ahead of what was sent: blocks arrive in any order.
const AHEAD: f64 = 0.25;
/// How far from a delay that was known it is looked for first, in seconds: sound that drops out shifts it by less, and this is less than
/// half a beat of most drills.
const NEAR: f64 = 0.2;
/// Seconds for which nothing may be sent before what is heard is taken as it is.
const WAITS: f64 = 0.5;
/// The most that may get lost at once, in seconds: after more, everything is found anew.
const MOST_LOST: f64 = 4.0;

/// Whether what is heard has been matched with what was sent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Meeting {
    /// Nothing of ours was recognised yet.
    Unknown,
    /// It was.
    Found {
        /// Seconds from when a frame was the newest sent to when it was heard.
        delay: f64,
        /// How much faster than by its name the engine's clock goes than the microphone's, in parts per million.
        ratio_ppm: f64,
        /// The standard deviation of `ratio_ppm`.
        doubt: f64,
    },
}

/// A stretch of cleared sound, at [`Clearing::rate`].
#[derive(Clone, Copy, Debug)]
pub struct Cleared<'a> {
    /// The number of its first frame since the beginning, in frames of [`Clearing::rate`].
    pub first: FrameInstant,
    /// The engine's frame that is heard at its first frame, once that is known.
    pub at: Option<FrameInstant>,
    /// Engine frames from one frame to the next.
    pub stride: f64,
    /// The sound; silence where the microphone's frames were lost.
    pub sound: &'a [f32],
}

/// Why a sweep told nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum CannotCalibrate {
    /// Its frames are not among those sent in the last seconds.
    #[error("the sweep was not sent, or more than ten seconds ago; play it again")]
    NotSent,
    /// The microphone gave only zeros.
    #[error("the microphone gives only silence; see that it is switched on and that this program may use it")]
    Silent,
    /// It was not recognised in what was heard.
    #[error("the sweep was not heard; turn the loudspeaker up or bring the microphone nearer")]
    NotHeard,
    /// Its end has not been heard yet.
    #[error("the sweep has not been heard to its end; wait a second more")]
    NotHeardOut,
}

/// Takes our own sound out of the microphone's. Allocates when built and when it is calibrated, and never else.
///
/// ```
/// use listen::room::{Clearing, Meeting, sweep};
/// use units::{Decibels, FrameInstant, SampleRate};
/// let rate = SampleRate::DEFAULT;
/// let mut clearing = Clearing::new(rate, rate);
/// let mut sent = sweep(rate, Decibels(-20.0));
/// sent.resize(sent.len() + 24_000, 0.0);
/// // a room that gives it back half as loud, 100 ms later
/// let heard: Vec<f32> = (0..sent.len()).map(|n| n.checked_sub(4800).map_or(0.0, |n| 0.5 * sent[n])).collect();
/// for (n, (sent, heard)) in sent.chunks(480).zip(heard.chunks(480)).enumerate() {
///     clearing.sent(FrameInstant(480 * n as u64), sent);
///     clearing.heard(heard, |_| ());
/// }
/// clearing.calibrate(FrameInstant(0))?;
/// let Meeting::Found { delay, .. } = clearing.meeting() else { panic!("it was heard") };
/// assert!((delay - 0.1).abs() < 0.001);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Clearing {
    /// The engine's and the microphone's, by their names.
    names: (SampleRate, SampleRate),
    rate: SampleRate,
    sent: Tape,
    heard: Tape,
    between: Between,
    finder: Finder,
    canceller: Canceller,
    clock: Option<Clock>,
    /// The next engine frame, once one was sent.
    due: Option<u64>,
    /// The first frame heard that has not been cleared.
    next: i64,
    /// The way that a sweep told; empty before.
    way: Vec<f32>,
    /// Which tap of the way is the first sound, and which the strongest.
    direct: f64,
    strongest: f64,
    delay: f64,
    /// The delay it is looked for near, and the ratio that a sweep told, while the devices are the same.
    near: Option<f64>,
    ratio: Option<f64>,
    /// Whether its place goes by a sweep.
    placed: bool,
    frozen: bool,
    reference: Vec<f32>,
    block: Vec<f32>,
    out: Vec<f32>,
}

impl Clearing {
    /// For an engine that renders at `engine` and a microphone that gives `microphone`, both by their names.
    #[must_use]
    pub fn new(engine: SampleRate, microphone: SampleRate) -> Self {
        let (sent, heard) = (Tape::new(engine), Tape::new(microphone));
        let nominal = sent.decimator().rate() / heard.decimator().rate();
        let rate = SampleRate::new(heard.decimator().rate().round() as u32).unwrap_or(SampleRate::DEFAULT);
        let canceller = Canceller::new(rate);
        let block = canceller.block();
        Self {
            names: (engine, microphone),
            rate,
            between: Between::new(nominal),
            finder: Finder::new(heard.decimator().rate(), nominal),
            canceller,
            clock: None,
            due: None,
            next: 0,
            way: Vec::new(),
            direct: LEAD as f64,
            strongest: LEAD as f64,
            delay: 0.0,
            near: None,
            ratio: None,
            placed: false,
            frozen: false,
            reference: vec![0.0; block],
            block: vec![0.0; block],
            out: vec![0.0; block],
            sent,
            heard,
        }
    }

    /// Another for the same two devices, that finds anew which frame heard belongs to which sent, as after sound was dropped on its way: it
    /// looks near the delay of this one first, with the way and the ratio of the clocks that a sweep told this one.
    #[must_use]
    pub fn again(&self) -> Self {
        let mut other = Self::new(self.names.0, self.names.1);
        other.near = self.clock.map(|_| self.delay);
        (other.ratio, other.placed) = (self.ratio, self.placed);
        other.take(self.way.clone());
        other
    }

    /// Takes a way that a sweep told, if one did.
    fn take(&mut self, mut way: Vec<f32>) {
        if way.is_empty() {
            return;
        }
        way.truncate(self.canceller.reach().min(way.len() / 2));
        self.canceller.set_way(&way);
        self.direct = calibration::first_peak(&way).0 as f64;
        let loudest = way.iter().enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        self.strongest = loudest.map_or(self.direct, |(tap, _)| tap as f64);
        self.way = way;
    }

    /// Frames per second of what comes out: about 24,000, of the microphone's clock.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Takes what the engine rendered from its frame `at` on, in one channel. A jump forward counts as silence; a jump back as an
    /// engine begun anew, whose delay has to be found again.
    pub fn sent(&mut self, at: FrameInstant, block: &[f32]) {
        let far = (f64::from(self.rate.hz()) * MOST_LOST) as u64 * self.sent.decimator().factor() as u64;
        match self.due {
            Some(due) if at.0 >= due && at.0 - due <= far => self.sent.skip(at.0 - due),
            Some(_) => {
                self.sent.restart(at.0);
                self.find_again();
            }
            None => self.sent.restart(at.0),
        }
        block.iter().for_each(|x| self.sent.push(*x));
        self.due = Some(at.0 + block.len() as u64);
    }

    /// Takes what the microphone gave; gives out what is left of it, in stretches, when all that was sent for it has come.
    pub fn heard(&mut self, block: &[f32], mut tell: impl FnMut(Cleared<'_>)) {
        block.iter().for_each(|x| self.heard.push(*x));
        self.clear(&mut tell);
    }

    /// So many frames of the microphone never came. They are given out as silence.
    pub fn lost(&mut self, frames: FrameSpan) {
        let most = (self.heard.decimator().rate() * MOST_LOST) as u64 * self.heard.decimator().factor() as u64;
        self.heard.lose(frames.0.min(most));
        if frames.0 > most {
            self.find_again();
        }
    }

    /// Stops all learning, from when a player may enter, or goes on.
    pub const fn freeze(&mut self, frozen: bool) {
        self.frozen = frozen;
        self.canceller.freeze(frozen);
    }

    /// Whether what is heard has been matched with what was sent.
    #[must_use]
    pub fn meeting(&self) -> Meeting {
        self.clock.map_or(Meeting::Unknown, |clock| Meeting::Found {
            delay: self.delay,
            ratio_ppm: 1e6 * clock.ratio(),
            doubt: 1e6 * clock.doubt(),
        })
    }

    /// Whether a sweep told which frame heard belongs to which sent, or told it of the one this came from by [`Self::again`] and it was then met
    /// near by. Else the place is a guess from whatever sounded, and may be far off.
    #[must_use]
    pub const fn is_placed(&self) -> bool {
        self.clock.is_some() && self.placed
    }

    /// How well our own sound is taken out.
    #[must_use]
    pub fn clearness(&self) -> Clearness {
        if self.clock.is_some() { self.canceller.clearness() } else { Clearness::Unknown }
    }

    /// The engine's frame that is heard at frame `cleared` of what was given out, once that is known.
    #[must_use]
    pub fn engine_frame(&self, cleared: FrameInstant) -> Option<FrameInstant> {
        let place = self.clock?.place(cleared.0 as i64 - self.direct.round() as i64);
        let factor = self.sent.decimator().factor() as f64;
        let frame = (place + 1.0) * factor - 1.0 - self.sent.decimator().delay().0 as f64;
        Some(FrameInstant(frame.round().max(0.0) as u64))
    }

    /// Sets delay, ratio and way at once from a [`sweep`] that the engine played from its frame `from` on, when it has been sent and heard
    /// to its end: call it 1.7 s after the sweep's last frame was sent, or again when it says it was too early.
    /// It tells how much of the second rise the first foretold. For set-up: it allocates and takes some tenths of a second.
    ///
    /// # Errors
    /// [`CannotCalibrate`], and then nothing has changed.
    pub fn calibrate(&mut self, from: FrameInstant) -> Result<Clearness, CannotCalibrate> {
        let decimator = self.sent.decimator();
        let factor = decimator.factor() as f64;
        let from = (from.0 + decimator.delay().0 + 1) as f64 / factor - 1.0;
        let (rate, nominal) = (self.heard.decimator().rate(), decimator.rate() / self.heard.decimator().rate());
        let told = calibration::calibrate(&self.sent, &self.heard, &self.between, from, rate, nominal)?;
        self.ratio = Some(told.clock.ratio());
        self.take(told.way);
        self.placed = true;
        self.meet(told.clock);
        Ok(if told.taken < ENOUGH { Clearness::Poor(told.taken) } else { Clearness::Clear(told.taken) })
    }

    /// Finds anew which frame heard belongs to which sent, as after a device was opened again or stopped for a while: it may be another device,
    /// with another clock and another way to the ear, so what a sweep told of when counts no more.
    pub fn find_again(&mut self) {
        (self.clock, self.near, self.ratio, self.placed) = (None, None, None, false);
        self.finder.clear();
    }

    /// The same after the loudspeaker ran dry or its buffer grew: the devices are the same, so it looks near the delay there was first, with
    /// the way and the ratio of the clocks that a sweep told.
    pub fn find_again_near(&mut self) {
        self.near = self.clock.map(|_| self.delay).or(self.near);
        self.clock = None;
        self.finder.clear();
    }

    fn meet(&mut self, clock: Clock) {
        self.clock = Some(clock);
        let newest = self.heard.end();
        let arrived = clock.place(newest) - self.direct * clock.step();
        self.delay = (self.sent.end() as f64 - arrived) / self.sent.decimator().rate();
        self.prime();
    }

    /// Lets the canceller know what was sent before the next block.
    fn prime(&mut self) {
        let Some(clock) = self.clock else { return };
        let (block, reach) = (self.block.len() as i64, self.canceller.reach() as i64);
        for first in (self.next - reach - block..self.next).step_by(self.block.len()) {
            for (to, n) in self.reference.iter_mut().zip(first..) {
                *to = self.between.read(&self.sent, clock.place(n));
            }
            self.canceller.refer(&self.reference);
        }
    }

    fn clear(&mut self, tell: &mut impl FnMut(Cleared<'_>)) {
        if self.clock.is_none()
            && let Some(found) = self.finder.find(&self.sent, &self.heard, &self.between, self.near)
        {
            let (step, newest) = (found.step(), self.heard.end());
            // it is the strongest sound that was found; the way begins before it
            self.meet(match self.ratio {
                Some(ratio) => Clock::again(step, newest, found.place(newest) + self.strongest * step, ratio),
                None => Clock::new(step, found.place(0) + self.strongest * step),
            });
            self.placed &= self.near.is_some_and(|near| (self.delay - near).abs() < NEAR);
        }
        let block = self.block.len() as i64;
        // what is too old to be read any more
        if self.heard.start() > self.next {
            self.next = self.heard.start();
        }
        while self.heard.end() >= self.next + block {
            if let Some(clock) = self.clock {
                let needed = clock.place(self.next + block) + self.between.reach() as f64;
                let waits = self.heard.end() - self.next < (WAITS * self.heard.decimator().rate()) as i64;
                if needed > self.sent.end() as f64 && waits {
                    return;
                }
            }
            self.turn();
            let first = FrameInstant(self.next as u64);
            tell(Cleared { first, at: self.engine_frame(first), stride: self.stride(), sound: &self.out });
            self.next += block;
        }
    }

    fn stride(&self) -> f64 {
        let nominal = self.sent.decimator().rate() / self.heard.decimator().rate();
        self.clock.map_or(nominal, |clock| clock.step()) * self.sent.decimator().factor() as f64
    }

    /// One block into `out`.
    fn turn(&mut self) {
        let mut whole = true;
        for (to, n) in self.block.iter_mut().zip(self.next..) {
            let x = self.heard.at(n);
            whole &= x.is_finite();
            *to = if x.is_finite() { x } else { 0.0 };
        }
        let Some(clock) = self.clock else {
            self.out.copy_from_slice(&self.block);
            return;
        };
        for (to, n) in self.reference.iter_mut().zip(self.next..) {
            *to = self.between.read(&self.sent, clock.place(n));
        }
        self.canceller.freeze(self.frozen || !whole);
        self.out.copy_from_slice(self.canceller.turn_block(&self.reference, &self.block));
        if whole && !self.frozen {
            self.follow();
        }
        if !whole {
            for (out, n) in self.out.iter_mut().zip(self.next..) {
                if !self.heard.at(n).is_finite() {
                    *out = 0.0;
                }
            }
        }
    }

    /// Lets the clock learn from what is left: where it looks like the slope of what was foretold, that was too early or too late.
    fn follow(&mut self) {
        let (mut slope, mut weight, mut left) = (0.0, 0.0, 0.0);
        for n in 1..self.block.len() - 1 {
            let rise = f64::from(self.canceller.foretold(n + 1) - self.canceller.foretold(n - 1)) / 2.0;
            let error = f64::from(self.out[n]);
            slope += error * rise;
            weight += rise * rise;
            left += error * error;
        }
        if weight > 1e-10
            && let Some(clock) = &mut self.clock
        {
            clock.learn(self.next, self.block.len(), (slope / weight).clamp(-2.0, 2.0), left / weight);
        }
    }
}

/// The level a sweep has unless told otherwise: its peaks against full scale.
pub const SWEEP_LEVEL: Decibels = Decibels(-20.0);

#[cfg(test)]
mod tests;
