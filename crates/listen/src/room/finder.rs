//! How long our own sound takes to the microphone, found from any of it.

use super::between::Between;
use super::clock::Clock;
use super::tape::Tape;
use super::{AHEAD, NEAR};
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// The longest delay, in seconds.
const LONGEST: f64 = 1.7;
/// For how many windows it is looked for near a delay that was known, and nowhere else.
const NEAR_FIRST: usize = 6;
/// Seconds heard at once.
const WINDOW: f64 = 0.7;
/// Windows after which it begins anew.
const PATIENCE: usize = 24;
/// Bins weaker than this share of the strongest count less.
const WEAK: f32 = 0.01;
/// The peak must stand this far above all others, and above the mean of all.
const ABOVE_OTHERS: f32 = 1.5;
const ABOVE_MEAN: f32 = 8.0;
/// Seconds around the peak that belong to it: the first reflections.
const AROUND: f64 = 0.04;

/// Gathers the cross-spectrum of what is heard with what was sent, and tells the delay when one stands out. Allocates when built and
/// never after.
pub(super) struct Finder {
    window: usize,
    lags: usize,
    around: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
    scratch: Vec<Complex<f32>>,
    time: Vec<f32>,
    bins: Vec<Complex<f32>>,
    heard: Vec<Complex<f32>>,
    gathered: Vec<Complex<f32>>,
    begun: bool,
    count: usize,
    /// Where the line from heard to sent lies if the delay is the longest.
    longest: Clock,
    next: i64,
}

impl fmt::Debug for Finder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Finder").field("count", &self.count).finish_non_exhaustive()
    }
}

impl Finder {
    pub(super) fn new(heard_rate: f64, nominal: f64) -> Self {
        let window = ((heard_rate * WINDOW) as usize).next_power_of_two();
        let lags = (heard_rate * (LONGEST + AHEAD)) as usize;
        let size = (window + lags).next_power_of_two();
        let mut planner = RealFftPlanner::new();
        let (forward, back) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
        let none = Complex::new(0.0, 0.0);
        Self {
            window,
            lags,
            around: (heard_rate * AROUND) as usize,
            scratch: vec![none; forward.get_scratch_len().max(back.get_scratch_len())],
            time: vec![0.0; size],
            bins: vec![none; size / 2 + 1],
            heard: vec![none; size / 2 + 1],
            gathered: vec![none; size / 2 + 1],
            begun: false,
            count: 0,
            longest: Clock::new(nominal, 0.0),
            next: 0,
            forward,
            back,
        }
    }

    /// Begins anew.
    pub(super) const fn clear(&mut self) {
        self.begun = false;
    }

    /// Listens on, if enough has come since; tells where frames heard belong among those sent, once that stands out.
    /// Where it is `near` a delay in seconds, only what is [`NEAR`] it counts at first: notes that are repeated look alike a beat later.
    pub(super) fn find(&mut self, sent: &Tape, heard: &Tape, between: &Between, near: Option<f64>) -> Option<Clock> {
        if !self.begun || self.count == PATIENCE {
            (self.begun, self.count) = (true, 0);
            self.gathered.fill(Complex::new(0.0, 0.0));
            let step = self.longest.step();
            let newest = sent.end() as f64 - heard.end() as f64 * step;
            self.longest = Clock::new(step, newest - LONGEST * self.lags as f64 / (LONGEST + AHEAD) * step);
            // of what was heard before nothing may count: it may have come otherwise
            self.next = heard.end() + self.window as i64;
        }
        if heard.end() < self.next {
            return None;
        }
        self.next = heard.end() + self.window as i64 / 2;
        let first = heard.end() - self.window as i64;
        self.time.fill(0.0);
        for (to, n) in self.time[..self.window].iter_mut().zip(first..) {
            let x = heard.at(n);
            *to = if x.is_finite() { x } else { 0.0 };
        }
        self.forward();
        std::mem::swap(&mut self.bins, &mut self.heard);
        for (to, n) in self.time.iter_mut().zip(first..) {
            *to = between.read(sent, self.longest.place(n));
        }
        self.forward();
        for ((to, sent), heard) in self.gathered.iter_mut().zip(&self.bins).zip(&self.heard) {
            *to += sent * heard.conj();
        }
        self.count += 1;
        let within = match near {
            Some(near) if self.count <= NEAR_FIRST => {
                let lag = |delay: f64| (((LONGEST - delay) / (LONGEST + AHEAD)).clamp(0.0, 1.0) * self.lags as f64) as usize;
                lag(near + NEAR)..lag(near - NEAR)
            }
            _ => 0..self.lags,
        };
        self.peak(within)
    }

    /// Of the lags `within`.
    fn peak(&mut self, within: Range<usize>) -> Option<Clock> {
        let most = self.gathered.iter().map(|x| x.norm_sqr()).fold(0.0, f32::max).sqrt();
        if most < 1e-12 || !most.is_finite() {
            return None;
        }
        for (to, x) in self.bins.iter_mut().zip(&self.gathered) {
            *to = x / (x.norm() + WEAK * most);
        }
        let last = self.bins.len() - 1;
        (self.bins[0].im, self.bins[last].im) = (0.0, 0.0);
        if self.back.process_with_scratch(&mut self.bins, &mut self.time, &mut self.scratch).is_err() {
            unreachable!("the buffers are the plan's own");
        }
        let first = within.start;
        let strength = &mut self.time[within];
        if strength.is_empty() {
            return None;
        }
        strength.iter_mut().for_each(|x| *x = x.abs());
        let top = strength.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(at, _)| at);
        let mean = strength.iter().sum::<f32>() / strength.len() as f32;
        let near = top.saturating_sub(self.around)..(top + self.around).min(strength.len());
        let others = strength[..near.start].iter().chain(&strength[near.end..]).fold(0.0_f32, |most, x| most.max(*x));
        let peak = strength[top];
        if peak < ABOVE_OTHERS * others || peak < ABOVE_MEAN * mean || top == 0 || top + 1 == strength.len() {
            return None;
        }
        let (a, c) = (strength[top - 1], strength[top + 1]);
        let shift = f64::from(0.5 * (a - c) / (a - 2.0 * peak + c).min(-1e-12)).clamp(-0.5, 0.5);
        let step = self.longest.step();
        Some(Clock::new(step, self.longest.place(0) + ((first + top) as f64 + shift) * step))
    }

    fn forward(&mut self) {
        if self.forward.process_with_scratch(&mut self.time, &mut self.bins, &mut self.scratch).is_err() {
            unreachable!("the buffers are the plan's own");
        }
    }
}
