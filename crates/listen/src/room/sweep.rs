//! The sweep by which the way from loudspeaker to microphone is learnt at set-up.

use units::{Decibels, SampleRate};

/// From where to where it goes, in Hz, if the rate allows.
const FROM: f64 = 60.0;
const UPTO: f64 = 11_000.0;
/// Seconds of one rise, of the silence after it, of the silence at the end, and of coming in and going out.
const RISE: f64 = 1.5;
const PAUSE: f64 = 0.6;
const END: f64 = 1.0;
const SOFT: f64 = 0.05;

/// A sweep that rises twice, with a pause between, and silence as long as a room sounds: 4.6 s in all. Twice, because the distance of the
/// two as they are heard tells the ratio of the clocks. `level` is that of its peaks against full scale; it comes in and goes out softly.
#[must_use]
pub fn sweep(rate: SampleRate, level: Decibels) -> Vec<f32> {
    let upto = UPTO.min(0.45 * f64::from(rate.hz()));
    let amplitude = f64::from(level.gain().amplitude());
    let octaves = (upto / FROM).log2();
    let sample = |n: usize| {
        let t = n as f64 / f64::from(rate.hz());
        let phase = std::f64::consts::TAU * FROM * RISE / octaves / std::f64::consts::LN_2 * ((octaves * t / RISE).exp2() - 1.0);
        let edge = (t.min(RISE - t) / SOFT).clamp(0.0, 1.0);
        (amplitude * (0.5 - 0.5 * (std::f64::consts::PI * edge).cos()) * phase.sin()) as f32
    };
    let frames = |seconds: f64| rate.span(seconds).0 as usize;
    let rise: Vec<f32> = (0..frames(RISE)).map(sample).collect();
    let mut sound = rise.clone();
    sound.resize(frames(RISE + PAUSE), 0.0);
    sound.extend(rise);
    sound.resize(sound.len() + frames(END), 0.0);
    sound
}

/// Seconds from one rise to the next, and of all.
pub(super) const APART: f64 = RISE + PAUSE;
pub(super) const LENGTH: f64 = 2.0 * RISE + PAUSE + END;
