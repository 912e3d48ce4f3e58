//! From what the tract made to a clip: trimmed, lifted clear of held chords, levelled, with soft ends.

use super::tract::RATE;
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_PI_2, TAU};
use std::ops::Range;

const HZ: f64 = RATE as f64;
/// The drone's register is left to the drone.
const HIGH_PASS_HZ: f64 = 190.0;
/// The lift of the consonants, and where it begins.
const PRESENCE_DB: f64 = 6.0;
const PRESENCE_HZ: f64 = 1_500.0;
/// The level while speaking, in dB under full scale (rms), as the recorded packs have it.
const LEVEL_DB: f64 = -18.0;
/// No sample is over this: bringing the clip to another rate adds up to 0.5 dB.
const PEAK: f64 = 0.82;
/// What is softer than this at the ends is cut off.
const EDGE_DB: f64 = -34.0;

/// The clip cut out of `sound`, and where it lay there.
pub fn finish(sound: &[f64]) -> (Vec<f32>, Range<usize>) {
    let lifted = shelve(&high_pass(sound));
    // the head is judged as it will be heard, or soft f and th are lost; the tail as it was, or breath is kept
    let first = edges(&lifted).start.saturating_sub(samples(5.0));
    let last = (edges(sound).end + samples(12.0)).min(sound.len());
    let kept = first.min(last)..last;
    let mut clip = even(lifted.get(kept.clone()).unwrap_or_default());
    level(&mut clip);
    limit(&mut clip);
    fade(&mut clip, samples(3.0), samples(10.0));
    (clip.into_iter().map(|sample| sample as f32).collect(), kept)
}

/// Milliseconds in samples.
pub const fn samples(ms: f64) -> usize {
    (HZ * ms / 1000.0) as usize
}

fn from_db(db: f64) -> f64 {
    10_f64.powf(db / 20.0)
}

/// Running rms over `ms`, centred.
fn envelope(sound: &[f64], ms: f64) -> Vec<f64> {
    let half = samples(ms).max(2) / 2;
    let mut total = Vec::with_capacity(sound.len() + 1);
    total.push(0.0);
    for sample in sound {
        total.push(total.last().copied().unwrap_or(0.0) + sample * sample);
    }
    let at = |n: usize| total.get(n.min(sound.len())).copied().unwrap_or(0.0);
    (0..sound.len()).map(|n| ((at(n + half) - at(n.saturating_sub(half))).max(0.0) / (2 * half) as f64).sqrt()).collect()
}

fn edges(sound: &[f64]) -> Range<usize> {
    let levels = envelope(sound, 5.0);
    let least = levels.iter().copied().fold(0.0, f64::max) * from_db(EDGE_DB);
    let loud = |level: &f64| *level > least;
    let first = levels.iter().position(loud).unwrap_or(0);
    first..levels.iter().rposition(loud).map_or(0, |last| last + 1)
}

/// A section of second order: `b` over `a`, `a0` being one.
fn filter(sound: &[f64], b: [f64; 3], [a1, a2]: [f64; 2]) -> Vec<f64> {
    let [b0, b1, b2] = b;
    let (mut x1, mut x2, mut y1, mut y2) = (0.0, 0.0, 0.0, 0.0);
    let mut step = |x: f64| {
        let y = b0 * x + b1 * x1 + b2 * x2 - a1 * y1 - a2 * y2;
        (x2, x1, y2, y1) = (x1, x, y1, y);
        y
    };
    sound.iter().map(|sample| step(*sample)).collect()
}

/// Butterworth high-pass. This and the shelf are the forms of Bristow-Johnson's "Cookbook formulae for audio EQ biquad
/// filter coefficients".
fn high_pass(sound: &[f64]) -> Vec<f64> {
    let w = TAU * HIGH_PASS_HZ / HZ;
    let (c, alpha) = (w.cos(), w.sin() * FRAC_1_SQRT_2);
    let a0 = 1.0 + alpha;
    let side = (1.0 + c) / 2.0 / a0;
    filter(sound, [side, -2.0 * side, side], [-2.0 * c / a0, (1.0 - alpha) / a0])
}

/// High shelf of slope one.
fn shelve(sound: &[f64]) -> Vec<f64> {
    let gain = from_db(PRESENCE_DB / 2.0);
    let w = TAU * PRESENCE_HZ / HZ;
    let (c, q) = (w.cos(), 2.0 * gain.sqrt() * w.sin() * FRAC_1_SQRT_2);
    let (up, down) = (gain + 1.0, gain - 1.0);
    let a0 = up - down * c + q;
    let b = [gain * (up + down * c + q), -2.0 * gain * (down + up * c), gain * (up + down * c - q)];
    filter(sound, b.map(|b| b / a0), [2.0 * (down - up * c) / a0, (up - down * c - q) / a0])
}

/// Halves the range of levels, so that soft consonants survive under held chords.
fn even(sound: &[f64]) -> Vec<f64> {
    let levels = envelope(sound, 15.0);
    let loudest = levels.iter().copied().fold(1e-9, f64::max);
    sound.iter().zip(&levels).map(|(sample, level)| sample * (level / loudest + 1e-3).powf(-0.5).min(6.0)).collect()
}

/// To the speaking level where the clip is within 20 dB of its loudest.
fn level(sound: &mut [f64]) {
    let levels = envelope(sound, 20.0);
    let least = levels.iter().copied().fold(0.0, f64::max) * 0.1;
    let spoken = || sound.iter().zip(&levels).filter(|(_, level)| **level > least).map(|(sample, _)| sample * sample);
    let power = spoken().sum::<f64>() / spoken().count().max(1) as f64;
    let gain = from_db(LEVEL_DB) / power.sqrt().max(1e-9);
    sound.iter_mut().for_each(|sample| *sample *= gain);
}

/// Ducks spikes for two milliseconds around, so that they do not hold the whole word down.
fn limit(sound: &mut [f64]) {
    let reach = samples(2.0);
    let wanted: Vec<f64> = sound.iter().map(|sample| (PEAK / sample.abs().max(1e-9)).min(1.0)).collect();
    for (n, sample) in sound.iter_mut().enumerate() {
        let near = n.saturating_sub(reach)..(n + reach + 1).min(wanted.len());
        // each spike's own gain, less and less with the distance to it
        let gain = near.filter_map(|at| {
            let away = at.abs_diff(n) as f64 / (reach + 1) as f64;
            wanted.get(at).map(|wanted| wanted + (1.0 - wanted) * away)
        });
        *sample *= gain.fold(1.0, f64::min);
    }
}

fn fade(sound: &mut [f64], rise: usize, fall: usize) {
    let (rise, fall) = (rise.min(sound.len() / 4).max(1), fall.min(sound.len() / 4).max(1));
    for (n, sample) in sound.iter_mut().take(rise).enumerate() {
        *sample *= n as f64 / rise as f64;
    }
    for (n, sample) in sound.iter_mut().rev().take(fall).enumerate() {
        *sample *= (n as f64 / fall as f64 * FRAC_PI_2).sin().powi(2);
    }
}
