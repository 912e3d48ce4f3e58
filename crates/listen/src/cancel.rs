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
const STAYS: f32 = 0.999_999;
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
        f.debug_struct("Canceller")
            .field("block", &self.block)
            .field("parts", &self.parts)
            .field("frozen", &self.frozen)
            .finish_non_exhaustive()
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

    /// Learns the way at once from a sweep that was `sent` and `heard`, with silence after it as long as the room sounds. For set-up; it
    /// allocates.
    pub fn calibrate(&mut self, sent: &[f32], heard: &[f32]) {
        if let Some(way) = quotient(&[(sent, heard)]) {
            self.set_way(&way);
        }
    }

    /// Takes a way known from elsewhere, tap by tap.
    pub(crate) fn set_way(&mut self, taps: &[f32]) {
        let width = self.block + 1;
        for part in 0..self.parts {
            self.time.fill(0.0);
            for (to, x) in self.time[..self.block].iter_mut().zip(taps.iter().skip(part * self.block)) {
                *to = *x;
            }
            self.forward();
            self.way[part * width..][..width].copy_from_slice(&self.bins);
        }
        for (doubt, way) in self.doubt.iter_mut().zip(&self.way) {
            *doubt = CALIBRATED * way.norm_sqr();
        }
        (self.before, self.after) = (0.0, 0.0);
    }

    /// Frames of a block of [`Self::turn`].
    pub(crate) const fn block(&self) -> usize {
        self.block
    }

    /// The most frames that count, back from a block's end.
    pub(crate) const fn reach(&self) -> usize {
        self.parts * self.block
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

    /// One block of what was sent, of which nothing was heard: it only goes before the next ones.
    pub(crate) fn refer(&mut self, sent: &[f32]) {
        self.now_sent.copy_from_slice(sent);
        self.remember();
    }

    /// One block as [`Self::step`] takes it frame by frame; what is left of it.
    pub(crate) fn turn_block(&mut self, sent: &[f32], heard: &[f32]) -> &[f32] {
        self.now_sent.copy_from_slice(sent);
        self.heard.copy_from_slice(heard);
        self.turn();
        &self.out
    }

    /// What of ours was foretold in the last block.
    pub(crate) fn foretold(&self, n: usize) -> f32 {
        self.heard[n] - self.out[n]
    }

    fn remember(&mut self) {
        let width = self.block + 1;
        self.newest = (self.newest + self.parts - 1) % self.parts;
        self.time[..self.block].copy_from_slice(&self.last_sent);
        self.time[self.block..].copy_from_slice(&self.now_sent);
        self.last_sent.copy_from_slice(&self.now_sent);
        self.forward();
        self.sent[self.newest * width..][..width].copy_from_slice(&self.bins);
    }

    /// One block.
    fn turn(&mut self) {
        let width = self.block + 1;
        self.remember();
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

/// The way from what was sent to what was heard, tap by tap, from one or more pairs of them: the quotient of their spectra. None if
/// nothing was sent. It allocates.
pub(crate) fn quotient(pairs: &[(&[f32], &[f32])]) -> Option<Vec<f32>> {
    let length = pairs.iter().map(|(sent, heard)| sent.len().min(heard.len())).max().unwrap_or(0);
    let size = (2 * length.max(1)).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, back) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let spectrum = |sound: &[f32], length: usize| {
        let mut time = forward.make_input_vec();
        time.iter_mut().zip(&sound[..length]).for_each(|(to, x)| *to = if x.is_finite() { f64::from(x.clamp(-8.0, 8.0)) } else { 0.0 });
        let mut bins = forward.make_output_vec();
        forward.process(&mut time, &mut bins).ok().map(|()| bins)
    };
    let mut way = forward.make_output_vec();
    let mut power = vec![0.0; way.len()];
    for (sent, heard) in pairs {
        let length = sent.len().min(heard.len());
        let (sent, heard) = (spectrum(sent, length)?, spectrum(heard, length)?);
        for (((way, power), x), y) in way.iter_mut().zip(&mut power).zip(&sent).zip(&heard) {
            *way += y * x.conj();
            *power += x.norm_sqr();
        }
    }
    let most = power.iter().copied().fold(0.0, f64::max);
    if most <= 0.0 {
        return None;
    }
    way.iter_mut().zip(&power).for_each(|(way, power)| *way /= power + UNSENT * most);
    let mut time = back.make_output_vec();
    let last = way.len() - 1;
    way[0].im = 0.0;
    way[last].im = 0.0;
    back.process(&mut way, &mut time).ok()?;
    Some(time.into_iter().map(|x| (x / size as f64) as f32).collect())
}

/// Partitions cut back in a block.
const STRAIGHTENED: usize = 8;
/// What the sweep left unsent counts as this share of its strongest bin.
const UNSENT: f64 = 1e-6;
/// What stays to be doubted of a calibrated way.
const CALIBRATED: f32 = 1e-4;

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 24_000;

    /// Noise and half a second of silence, and what a loudspeaker and a room of two echoes make of it.
    fn sent_and_heard(frames: usize) -> (Vec<f32>, Vec<f32>) {
        let mut random = 7_u32;
        let mut noise = || {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (random >> 8) as f32 / 8_388_608.0 - 1.0
        };
        let sent: Vec<f32> = (0..frames).map(|n| if n + 12_000 < frames { 0.1 * noise() } else { 0.0 }).collect();
        let delayed = |n: usize, by: usize| n.checked_sub(by).map_or(0.0, |n| sent[n]);
        let heard = (0..frames).map(|n| 0.5 * delayed(n, 200) - 0.2 * delayed(n, 1500) + 0.05 * delayed(n, 9000)).collect();
        (sent, heard)
    }

    fn left(canceller: &mut Canceller, sent: &[f32], heard: &[f32]) -> f64 {
        let out: Vec<f32> = sent.iter().zip(heard).map(|(sent, heard)| canceller.step(*sent, *heard)).collect();
        let power = |list: &[f32]| list.iter().map(|x| f64::from(x * x)).sum::<f64>() / list.len() as f64;
        let tail = out.len() / 2;
        10.0 * (power(&heard[tail..]) / power(&out[tail..])).log10()
    }

    #[test]
    fn our_own_sound_is_learnt_and_a_frozen_filter_leaves_a_unison_alone() {
        let (sent, heard) = sent_and_heard(6 * RATE as usize);
        let mut canceller = Canceller::new(SampleRate::new(RATE).unwrap());
        assert_eq!(canceller.clearness(), Clearness::Unknown);
        assert!(left(&mut canceller, &sent, &heard) > 30.0);
        assert!(matches!(canceller.clearness(), Clearness::Clear(_)));
        canceller.freeze(true);
        // somebody plays exactly what we send: nothing of it may be lost
        let louder: Vec<f32> = heard.iter().zip(&sent).map(|(heard, sent)| heard + 0.3 * sent).collect();
        let out: Vec<f32> = sent.iter().zip(&louder).map(|(sent, heard)| canceller.step(*sent, *heard)).collect();
        let delay = canceller.delay();
        let ratio = out[RATE as usize..].iter().zip(&sent[RATE as usize - delay..]).map(|(out, sent)| f64::from(out * sent)).sum::<f64>()
            / sent[RATE as usize..].iter().map(|x| f64::from(x * x)).sum::<f64>();
        assert!((ratio / 0.3 - 1.0).abs() < 0.05, "{ratio}");
    }

    #[test]
    fn a_calibrated_way_is_clear_from_the_first_block() {
        let (sent, heard) = sent_and_heard(3 * RATE as usize);
        let mut canceller = Canceller::new(SampleRate::new(RATE).unwrap());
        canceller.calibrate(&sent, &heard);
        canceller.freeze(true);
        assert!(left(&mut canceller, &sent, &heard) > 20.0);
    }

    #[test]
    fn what_has_nothing_to_do_with_ours_is_told_as_poor_and_bad_frames_spoil_nothing() {
        let (sent, heard) = sent_and_heard(3 * RATE as usize);
        let mut canceller = Canceller::new(SampleRate::new(RATE).unwrap());
        for (n, sent) in sent.iter().enumerate() {
            canceller.step(*sent, heard[heard.len() - 1 - n]);
        }
        assert!(matches!(canceller.clearness(), Clearness::Poor(_)), "{:?}", canceller.clearness());
        for bad in [f32::NAN, f32::INFINITY, f32::MAX] {
            canceller.calibrate(&[bad; 100], &[bad; 100]);
            canceller.step(bad, bad);
        }
        assert!((0..2000).all(|_| canceller.step(0.0, 0.0).is_finite()));
        canceller.calibrate(&[], &[]);
    }
}
