//! Our own sound taken out of the microphone's, so that a player can be heard under it.
//!
//! What is sent is known; what of it arrives goes through loudspeaker and room. A partitioned filter in the frequency domain learns that
//! way by a Kalman step for every bin (state and noise taken as diagonal), best from a sweep: a drone excites the way at its own lines
//! only. While somebody plays the filter must be frozen, or it would learn to take an exact unison away.

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::fmt;
use std::sync::Arc;
use units::{Decibels, SampleRate};

/// The longest way that is learnt, in seconds.
const REACH: f64 = 0.6;
/// Seconds of one block: what comes out is so much later than what goes in.
const BLOCK: f64 = 0.0107;
/// How much of the way stays from block to block; the rest may have changed.
const STAYS: f32 = 0.99995;
/// How fast the noise is followed, and how fast the levels that are told.
const NOISE_KEPT: f32 = 0.9;
const LEVEL_KEPT: f64 = 0.95;
/// Less than this taken away while nobody plays says that room or clocks do not allow it.
pub const ENOUGH: Decibels = Decibels(20.0);

/// How well our own sound is taken out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Clearness {
    /// Nothing of ours was heard yet: no telling.
    Unknown,
    /// By so many dB, enough to hear a player under it.
    Clear(Decibels),
    /// By so many dB, which is less than [`ENOUGH`]: the room changes, the loudspeaker distorts, or two devices keep different time.
    Poor(Decibels),
}

/// Takes a known sound out of a microphone's. Allocates when built and never after.
pub struct Canceller {
    block: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
    scratch: Vec<Complex<f32>>,
    time: Vec<f32>,
    bins: Vec<Complex<f32>>,
    /// Spectra of what was sent, one a partition, newest at `newest`.
    sent: Vec<Complex<f32>>,
    way: Vec<Complex<f32>>,
    doubt: Vec<f32>,
    noise: Vec<f32>,
    newest: usize,
    parts: usize,
    straightened: usize,
    last_sent: Vec<f32>,
    now_sent: Vec<f32>,
    heard: Vec<f32>,
    fill: usize,
    out: Vec<f32>,
    frozen: bool,
    before: f64,
    after: f64,
}

impl fmt::Debug for Canceller {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Canceller").field("block", &self.block).field("parts", &self.parts).field("frozen", &self.frozen).finish_non_exhaustive()
    }
}

impl Canceller {
    /// For sound at `rate`; best at what [`crate::decimate::Decimator`] gives.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let block = ((f64::from(rate.hz()) * BLOCK) as usize).next_power_of_two();
        let parts = (f64::from(rate.hz()) * REACH / block as f64).ceil() as usize;
        let mut planner = RealFftPlanner::new();
        let (forward, back) = (planner.plan_fft_forward(2 * block), planner.plan_fft_inverse(2 * block));
        let scratch = forward.get_scratch_len().max(back.get_scratch_len());
        let none = Complex::new(0.0, 0.0);
        let all = parts * (block + 1);
        // a room's energy falls by 60 dB in about its reach
        let doubt = (0..all).map(|n| 10.0_f32.powf(-4.0 * (n / (block + 1)) as f32 / parts as f32)).collect();
        Self {
            block,
            scratch: vec![none; scratch],
            time: vec![0.0; 2 * block],
            bins: vec![none; block + 1],
            sent: vec![none; all],
            way: vec![none; all],
            doubt,
            noise: vec![1e-6; block + 1],
            newest: 0,
            parts,
            straightened: 0,
            last_sent: vec![0.0; block],
            now_sent: vec![0.0; block],
            heard: vec![0.0; block],
            fill: 0,
            out: vec![0.0; block],
            frozen: false,
            before: 0.0,
            after: 0.0,
            forward,
            back,
        }
    }

    /// How many frames what comes out is later than what goes in.
    #[must_use]
    pub const fn delay(&self) -> usize {
        self.block
    }

    /// Stops learning, from when a player may enter, or goes on.
    pub const fn freeze(&mut self, frozen: bool) {
        self.frozen = frozen;
    }

    /// How well it does. While somebody plays it must be frozen, and then this stays what it was.
    #[must_use]
    pub fn clearness(&self) -> Clearness {
        if self.before < 1e-10 {
            return Clearness::Unknown;
        }
        let taken = Decibels(10.0 * (self.before / self.after.max(1e-20)).log10());
        if taken < ENOUGH { Clearness::Poor(taken) } else { Clearness::Clear(taken) }
    }

    /// Takes what was sent and what was heard at the same frame; gives what was heard without ours, [`Self::delay`] frames ago.
    pub fn step(&mut self, sent: f32, heard: f32) -> f32 {
        let fit = |x: f32| if x.is_finite() { x.clamp(-8.0, 8.0) } else { 0.0 };
        let out = self.out[self.fill];
        self.now_sent[self.fill] = fit(sent);
        self.heard[self.fill] = fit(heard);
        self.fill += 1;
        if self.fill == self.block {
            self.fill = 0;
            self.turn();
        }
        out
    }

    /// One block.
    fn turn(&mut self) {
        let width = self.block + 1;
        self.newest = (self.newest + self.parts - 1) % self.parts;
        self.time[..self.block].copy_from_slice(&self.last_sent);
        self.time[self.block..].copy_from_slice(&self.now_sent);
        self.last_sent.copy_from_slice(&self.now_sent);
        self.forward();
        self.sent[self.newest * width..][..width].copy_from_slice(&self.bins);
        self.bins.fill(Complex::new(0.0, 0.0));
        for part in 0..self.parts {
            let sent = &self.sent[(self.newest + part) % self.parts * width..][..width];
            for ((to, x), w) in self.bins.iter_mut().zip(sent).zip(&self.way[part * width..]) {
                *to += x * w;
            }
        }
        self.backward();
        for (n, out) in self.out.iter_mut().enumerate() {
            *out = self.heard[n] - self.time[self.block + n];
        }
        if !self.frozen {
            self.tell_levels();
            self.learn();
        }
    }

    fn tell_levels(&mut self) {
        let power = |list: &[f32]| list.iter().map(|x| f64::from(x * x)).sum::<f64>() / list.len() as f64;
        if power(&self.now_sent) < 1e-10 {
            return;
        }
        self.before += (1.0 - LEVEL_KEPT) * (power(&self.heard) - self.before);
        self.after += (1.0 - LEVEL_KEPT) * (power(&self.out) - self.after);
    }

    fn learn(&mut self) {
        let width = self.block + 1;
        self.time[..self.block].fill(0.0);
        self.time[self.block..].copy_from_slice(&self.out);
        self.forward();
        for (noise, error) in self.noise.iter_mut().zip(&self.bins) {
            *noise += (1.0 - NOISE_KEPT) * (error.norm_sqr() - *noise);
        }
        for bin in 0..width {
            let mut seen = 2.0 * self.noise[bin] + 1e-9;
            for part in 0..self.parts {
                seen += self.sent[(self.newest + part) % self.parts * width + bin].norm_sqr() * self.doubt[part * width + bin];
            }
            let error = self.bins[bin] / seen;
            for part in 0..self.parts {
                let sent = self.sent[(self.newest + part) % self.parts * width + bin];
                let (way, doubt) = (&mut self.way[part * width + bin], &mut self.doubt[part * width + bin]);
                *way += sent.conj() * error * *doubt;
                *doubt *= 1.0 - 0.5 * (*doubt * sent.norm_sqr() / seen).min(1.0);
                *doubt = STAYS * STAYS * *doubt + (1.0 - STAYS * STAYS) * way.norm_sqr();
            }
        }
        // one partition a block is cut back to what a block can hold: two transforms instead of two for each
        for _ in 0..STRAIGHTENED {
            self.straightened = (self.straightened + 1) % self.parts;
            let at = self.straightened * width;
            self.bins.copy_from_slice(&self.way[at..at + width]);
            self.backward();
            self.time[self.block..].fill(0.0);
            self.forward();
            self.way[at..at + width].copy_from_slice(&self.bins);
        }
    }

    fn forward(&mut self) {
        if self.forward.process_with_scratch(&mut self.time, &mut self.bins, &mut self.scratch).is_err() {
            unreachable!("the buffers are the plan's own");
        }
    }

    /// Back to time; the mean and the highest bin are real by nature.
    fn backward(&mut self) {
        self.bins[0].im = 0.0;
        self.bins[self.block].im = 0.0;
        if self.back.process_with_scratch(&mut self.bins, &mut self.time, &mut self.scratch).is_err() {
            unreachable!("the buffers are the plan's own");
        }
        let scale = 1.0 / self.time.len() as f32;
        self.time.iter_mut().for_each(|x| *x *= scale);
    }
}

/// Partitions cut back in a block.
const STRAIGHTENED: usize = 8;
