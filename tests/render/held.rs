//! A held drone as the class would hear it, and what one of its partials does. Shares nothing with the code that makes the sound.

use super::{RATE, room};
use engine::drone_chord;
use pitch::{Concert, Temperament};
use sequencer::{Drone, StackTone};
use std::f64::consts::TAU;
use synth::{BLOCK, Band, ClipBank, DroneChord};
use units::FrameInstant;

/// The chord that a drone of `stack` over `root` sounds in the demo room.
pub(crate) fn chord(root: Concert, stack: Vec<StackTone>, temperament: Temperament) -> DroneChord {
    drone_chord(&Drone { root, stack, temperament, registers: Default::default() }, &room())
}

/// The left channel of `seconds` of `chord`, once it has swelled, on a band whose clock starts at frame `from`; and the frame its first
/// sample was asked for on.
pub(crate) fn held(chord: DroneChord, from: u64, seconds: f64) -> (u64, Vec<f32>) {
    let mut band = Band::new(RATE);
    band.set_drone(Some(chord));
    let clips = ClipBank::default();
    let swell = RATE.span(1.3).0.next_multiple_of(BLOCK as u64);
    let latency = band.latency().0;
    let count = RATE.span(seconds).0;
    let mut out = Vec::with_capacity(count as usize);
    for start in (from..from + swell + count).step_by(BLOCK) {
        let mut block = [[0.0; 2]; BLOCK];
        band.render(FrameInstant(start), &clips, &mut block, None);
        if start >= from + swell {
            out.extend(block.map(|frame| frame[0]));
        }
    }
    (from + swell - latency, out)
}

/// The complex amplitude of what `sound` holds near `hz`, through windows of `window` seconds begun every `hop` seconds. The window is
/// sin^8: what lies 5 / `window` Hz away does not get through, and what lies further falls by 54 dB per octave.
pub(crate) fn near(sound: &[f32], hz: f64, window: f64, hop: f64) -> Vec<(f64, f64)> {
    let rate = f64::from(RATE.hz());
    let mixed: Vec<(f64, f64)> = sound
        .iter()
        .enumerate()
        .map(|(index, sample)| {
            let (sine, cosine) = (TAU * (hz * index as f64 / rate).fract()).sin_cos();
            (f64::from(*sample) * cosine, -f64::from(*sample) * sine)
        })
        .collect();
    let size = (window * rate) as usize;
    let weights: Vec<f64> = (0..size).map(|index| (std::f64::consts::PI * (index as f64 + 0.5) / size as f64).sin().powi(8)).collect();
    let scale = 2.0 / weights.iter().sum::<f64>();
    let through = |part: &[(f64, f64)]| {
        let (re, im) =
            part.iter().zip(&weights).fold((0.0, 0.0), |(re, im), (sample, weight)| (re + sample.0 * weight, im + sample.1 * weight));
        (re * scale, im * scale)
    };
    mixed.windows(size).step_by((hop * rate) as usize).map(through).collect()
}

/// How fast and how far an envelope swells and fades.
#[derive(Debug)]
pub(crate) struct Beat {
    /// Times a second.
    pub(crate) hz: f64,
    /// From its softest to its loudest, in decibels.
    pub(crate) decibels: f64,
}

/// The beat of what `sound` holds near `hz`, up to 25 a second. Two steady partials beat as a sine of their difference in the square of
/// the envelope: that sine is fitted by least squares, its rate found without being told what to expect.
pub(crate) fn beat(sound: &[f32], hz: f64) -> Beat {
    const HOP: f64 = 0.0125;
    // wide enough for both partials, narrow enough to keep the rest out, which lies 100 Hz away and more
    let squares: Vec<f64> = near(sound, hz, 0.05, HOP).iter().map(|(re, im)| re * re + im * im).collect();
    let (low, high) = squares.iter().fold((f64::MAX, 0.0_f64), |(low, high), square| (low.min(*square), high.max(*square)));
    let seconds = squares.len() as f64 * HOP;
    let step = 0.1 / seconds;
    let coarse = (5..(25.0 / step) as usize).map(|index| index as f64 * step);
    let mut best = coarse.map(|rate| (explained(&squares, rate * HOP), rate)).fold((0.0, 0.0), |a, b| if b.0 > a.0 { b } else { a }).1;
    let mut reach = step;
    while reach > 1e-6 * best {
        let around = (-5..=5).map(|index| best + f64::from(index) * reach / 5.0);
        best = around.map(|rate| (explained(&squares, rate * HOP), rate)).fold((0.0, best), |a, b| if b.0 > a.0 { b } else { a }).1;
        reach /= 4.0;
    }
    Beat { hz: best, decibels: 10.0 * (high / low).log10() }
}

/// How much of the movement of `values` a sine of `rate` turns a value explains, by least squares on a constant, a cosine and a sine.
fn explained(values: &[f64], rate: f64) -> f64 {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let (turn_im, turn_re) = (TAU * rate).sin_cos();
    let (mut re, mut im) = (1.0, 0.0);
    let mut sums = [0.0; 7];
    for value in values {
        let value = value - mean;
        for (sum, part) in sums.iter_mut().zip([re, im, re * re, im * im, re * im, value * re, value * im]) {
            *sum += part;
        }
        (re, im) = (re * turn_re - im * turn_im, re * turn_im + im * turn_re);
    }
    let [c, s, cc, ss, cs, vc, vs] = sums;
    // the constant is fitted too: what of the cosine and sine is constant does not count
    let (cc, ss, cs) = (cc - c * c / count, ss - s * s / count, cs - c * s / count);
    let determinant = cc * ss - cs * cs;
    if determinant <= 1e-9 * cc * ss { 0.0 } else { (vc * vc * ss - 2.0 * vc * vs * cs + vs * vs * cc) / determinant }
}

#[test]
fn a_beat_put_in_is_found() {
    let rate = f64::from(RATE.hz());
    for (hz, by, seconds) in [(350.0, 0.0673, 45.0), (880.0, 0.59, 8.0), (1048.0, 20.7, 4.0)] {
        let sine = |hz: f64, index: i32| (TAU * (hz * f64::from(index) / rate).fract()).sin();
        let sound: Vec<f32> =
            (0..(seconds * rate) as i32).map(|index| (0.1 * sine(hz, index) + 0.05 * sine(hz + by, index)) as f32).collect();
        let beat = beat(&sound, hz + by / 2.0);
        assert!((beat.hz / by - 1.0).abs() < 1e-3, "{beat:?} for {by}");
    }
}
