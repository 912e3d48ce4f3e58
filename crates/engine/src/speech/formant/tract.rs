//! The source and the tract: a glottal pulse and noise through resonators in cascade, fricative noise through resonators
//! in parallel, after Klatt (1980).

use super::Speaker;
use super::tracks::{FRAME_MS, Frame, factor};
use std::f64::consts::{PI, TAU};

/// Samples per second of what is made.
pub const RATE: u32 = 24_000;
const HZ: f64 = RATE as f64;
const FRAME: usize = (HZ * FRAME_MS / 1000.0) as usize;
/// Milliseconds the tract rings on.
const RINGS_MS: f64 = 20.0;

/// The tract over `frames`, at a peak of one.
#[must_use]
pub fn sound(frames: &[Frame], speaker: &Speaker) -> Vec<f64> {
    let mut tract = Tract::new(speaker);
    let mut out = Vec::with_capacity((frames.len() + 10) * FRAME);
    for frame in frames {
        tract.shape(frame);
        out.extend((0..FRAME).map(|_| tract.sample(frame)));
    }
    out.extend((0..(RINGS_MS * HZ / 1000.0) as usize).map(|_| tract.ring(0.0)));
    let peak = out.iter().fold(1e-9_f64, |peak, sample| peak.max(sample.abs()));
    out.iter_mut().for_each(|sample| *sample /= peak);
    out
}

/// A two-pole resonance, unity at zero hertz.
#[derive(Clone, Copy, Default)]
struct Resonator {
    gain: f64,
    one: f64,
    two: f64,
    past: [f64; 2],
}

/// The coefficients of a pole or zero pair: gain, and the weights of one and two samples ago.
fn pair(hz: f64, width: f64) -> (f64, f64, f64) {
    let radius = (-PI * width / HZ).exp();
    let (one, two) = (2.0 * radius * (TAU * hz / HZ).cos(), -radius * radius);
    (1.0 - one - two, one, two)
}

impl Resonator {
    fn tune(&mut self, hz: f64, width: f64) {
        (self.gain, self.one, self.two) = pair(hz, width);
    }

    fn run(&mut self, input: f64) -> f64 {
        let [first, second] = self.past;
        let out = self.gain * input + self.one * first + self.two * second;
        self.past = [out, first];
        out
    }
}

/// A two-zero notch, unity at zero hertz.
#[derive(Clone, Copy, Default)]
struct Notch {
    gain: f64,
    one: f64,
    two: f64,
    past: [f64; 2],
}

impl Notch {
    fn tune(&mut self, hz: f64, width: f64) {
        let (gain, one, two) = pair(hz, width);
        (self.gain, self.one, self.two) = (1.0 / gain, -one / gain, -two / gain);
    }

    fn run(&mut self, input: f64) -> f64 {
        let [first, second] = self.past;
        self.past = [input, first];
        self.gain * input + self.one * first + self.two * second
    }
}

struct Tract<'a> {
    speaker: &'a Speaker,
    cascade: [Resonator; 6],
    parallel: [Resonator; 5],
    nose: Resonator,
    nose_zero: Notch,
    noise: Noise,
    /// Cycles of the voice and of its slow wander.
    cycle: f64,
    wander: f64,
    flow: f64,
    tilted: f64,
}

impl<'a> Tract<'a> {
    fn new(speaker: &'a Speaker) -> Self {
        Self {
            speaker,
            cascade: [Resonator::default(); 6],
            parallel: [Resonator::default(); 5],
            nose: Resonator::default(),
            nose_zero: Notch::default(),
            noise: Noise { state: 0x1234_5678, last: 0.0 },
            cycle: 0.0,
            wander: 0.0,
            flow: 0.0,
            tilted: 0.0,
        }
    }

    /// Sets every resonance for a frame.
    fn shape(&mut self, frame: &Frame) {
        let size = self.speaker.size;
        let high = [(3300.0 * size, 250.0), (3850.0 * size, 300.0), (4900.0 * size, 800.0)];
        let [first, second, third] = frame.formants;
        let [w1, w2, w3] = frame.widths.map(|width| width * size);
        // the lowest formant moves less with the size of the tract
        let low = [(first * size.powf(0.8), w1), (second * size, w2), (third * size, w3)];
        for (resonator, (hz, width)) in self.cascade.iter_mut().zip(low.into_iter().chain(high)) {
            resonator.tune(hz, width);
        }
        let [(fourth, _), (fifth, _), (sixth, _)] = high;
        let beside = [(second * size, 110.0), (third * size, 220.0), (fourth, 300.0), (fifth * 1.02, 350.0), (sixth * 1.25, 900.0)];
        for (resonator, (hz, width)) in self.parallel.iter_mut().zip(beside) {
            resonator.tune(hz, width);
        }
        self.nose.tune(270.0, 100.0);
        self.nose_zero.tune(270.0 + 230.0 * frame.nose, 100.0);
    }

    fn sample(&mut self, frame: &Frame) -> f64 {
        self.wander += 5.2 / HZ;
        let pitch = frame.pitch * (1.0 + 0.006 * (TAU * self.wander).sin());
        self.cycle = (self.cycle + pitch / HZ).fract();
        let open = self.cycle < self.speaker.open;
        // flow that opens slowly and shuts fast; the tract hears its slope
        let flow = if open {
            let along = self.cycle / self.speaker.open;
            6.75 * along * along * (1.0 - along)
        } else {
            0.0
        };
        let slope = (flow - self.flow) * HZ / (pitch * 12.0);
        self.flow = flow;
        self.tilted += 0.55 * (slope - self.tilted);
        let noise = self.noise.next();
        let gate = if open { 1.0 } else { 0.5 };
        let voice = frame.voice * (self.tilted + self.speaker.breath * noise * gate);
        let through = self.ring(voice + frame.breath * noise * 0.35);
        let gate = if frame.voice > 0.02 { gate } else { 1.0 };
        through + 1.1 * self.hiss(&frame.noise, noise * frame.hiss * gate * 0.5)
    }

    /// The whole tract in a row.
    fn ring(&mut self, input: f64) -> f64 {
        let nose = self.nose_zero.run(self.nose.run(input));
        self.cascade.iter_mut().rev().fold(nose, |sound, resonator| resonator.run(sound))
    }

    /// Noise through the resonances side by side, with alternating sign, and past them.
    fn hiss(&mut self, gains: &[f64; 6], noise: f64) -> f64 {
        let [side @ .., past] = gains;
        let mut sign = 1.0;
        let mut out = factor(*past) * noise * 0.18;
        for (resonator, gain) in self.parallel.iter_mut().zip(side) {
            let heard = if *gain > 0.0 { noise } else { 0.0 };
            out += sign * factor(*gain) * resonator.run(heard);
            sign = -sign;
        }
        out
    }
}

/// The same noise on every run.
struct Noise {
    state: u32,
    last: f64,
}

impl Noise {
    fn next(&mut self) -> f64 {
        // a linear congruential generator; constants of Numerical Recipes, from memory
        self.state = self.state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let white = f64::from(self.state >> 8) / f64::from(1_u32 << 23) - 1.0;
        let out = 0.9 * white + 0.1 * self.last;
        self.last = white;
        out
    }
}
