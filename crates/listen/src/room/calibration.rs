//! Delay, ratio of the clocks and way, all at once, from a sweep that was sent and heard. For set-up: it allocates.

use super::between::Between;
use super::clock::Clock;
use super::sweep::{APART, LENGTH};
use super::tape::Tape;
use super::{AHEAD, CannotCalibrate, LEAD};
use crate::cancel::quotient;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use units::Decibels;

/// What a sweep told.
pub(super) struct Told {
    pub(super) clock: Clock,
    pub(super) way: Vec<f32>,
    /// How much of the second rise is foretold by the first.
    pub(super) taken: Decibels,
}

/// The largest tap must stand this far above the mean.
const STANDS_OUT: f32 = 20.0;
/// Share of the largest tap at which the first sound arrives.
const FIRST: f32 = 0.35;
/// How often the ratio is made better.
const TIMES: usize = 4;

/// Reads both tapes for a sweep that began at frame `from` of `sent`, both at the slower rate; `heard_rate` in Hz.
pub(super) fn calibrate(
    sent: &Tape,
    heard: &Tape,
    between: &Between,
    from: f64,
    heard_rate: f64,
    nominal: f64,
) -> Result<Told, CannotCalibrate> {
    let frames = |seconds: f64| (seconds * heard_rate) as usize;
    let length = frames(LENGTH);
    if from < sent.start() as f64 || (sent.end() as f64) < from + (length - frames(0.1)) as f64 * nominal {
        return Err(CannotCalibrate::NotSent);
    }
    // everything that may hold it, and nothing that may hold one sent before: it arrives when it was sent or some time later
    let earliest = heard.end() - ((sent.end() as f64 - from) / nominal + AHEAD * heard_rate) as i64;
    let first = earliest.max(heard.start()).max(0);
    let all = (heard.end() - first).max(0) as usize;
    let ear: Vec<f32> = (first..heard.end()).map(|n| heard.at(n)).map(|x| if x.is_finite() { x } else { 0.0 }).collect();
    if ear.iter().all(|x| *x == 0.0) {
        return Err(CannotCalibrate::Silent);
    }
    let read =
        |clock: &Clock, from: i64, count: usize| -> Vec<f32> { (from..).take(count).map(|n| between.read(sent, clock.place(n))).collect() };
    let apart = frames(APART);
    // of the first rise alone: the two of them leave gaps between their spectral lines
    let mut reference = read(&Clock::new(nominal, from), 0, apart);
    reference.resize(all, 0.0);
    let rough = quotient(&[(&reference, &ear)]).ok_or(CannotCalibrate::NotSent)?;
    let (direct, peak) = first_peak(&rough[..all]);
    let mean = rough[..all].iter().map(|x| x.abs()).sum::<f32>() / all as f32;
    if peak < STANDS_OUT * mean {
        return Err(CannotCalibrate::NotHeard);
    }
    if direct + length - frames(0.3) > all {
        return Err(CannotCalibrate::NotHeardOut);
    }
    // a little before it, so that the way begins before the first sound
    let start = first + direct as i64 - LEAD as i64;
    let ear: Vec<f32> =
        (start..(start + length as i64).min(heard.end())).map(|n| heard.at(n)).map(|x| if x.is_finite() { x } else { 0.0 }).collect();
    let (mut ratio, mut taken) = (0.0, 0.0);
    for _ in 0..TIMES {
        let clock = Clock::told(nominal, start, from, ratio);
        let reference = read(&clock, start, ear.len());
        let (late, left) = second_from_first(&reference, &ear, apart).ok_or(CannotCalibrate::NotSent)?;
        (ratio, taken) = (ratio - late / apart as f64, left);
    }
    let clock = Clock::told(nominal, start, from, ratio);
    let reference = read(&clock, start, ear.len());
    let mut way =
        quotient(&[(&reference[..apart], &ear[..apart]), (&reference[apart..], &ear[apart..])]).ok_or(CannotCalibrate::NotSent)?;
    quieten(&mut way);
    Ok(Told { clock, way, taken: Decibels(taken) })
}

/// Taps whose noise is looked at together.
const TOGETHER: usize = 64;

/// Holds taps back where they are mostly noise, which is as strong everywhere as where the room is silent.
fn quieten(way: &mut [f32]) {
    let power = |taps: &[f32]| taps.iter().map(|x| x * x).sum::<f32>() / taps.len() as f32;
    let mut all: Vec<f32> = way.chunks(16 * TOGETHER).map(power).collect();
    all.sort_by(f32::total_cmp);
    let noise = all[all.len() / 5];
    for taps in way.chunks_mut(TOGETHER) {
        let kept = (1.0 - noise / power(taps).max(1e-30)).max(0.0);
        taps.iter_mut().for_each(|x| *x *= kept);
    }
}

/// Where the first sound arrives, and how strong the strongest is.
pub(super) fn first_peak(way: &[f32]) -> (usize, f32) {
    let peak = way.iter().fold(0.0_f32, |most, x| most.max(x.abs()));
    let first = way.iter().position(|x| x.abs() >= FIRST * peak).unwrap_or(0);
    // on to the top of it
    let top = (first..way.len().min(first + 12)).max_by(|a, b| way[*a].abs().total_cmp(&way[*b].abs())).unwrap_or(first);
    (top, peak)
}

/// How much later in frames the second rise came than the first foretells, and by how many dB what is left of it is weaker.
fn second_from_first(sent: &[f32], heard: &[f32], apart: usize) -> Option<(f64, f64)> {
    let way = quotient(&[(&sent[..apart], &heard[..apart])])?;
    let (sent, heard) = (&sent[apart..], &heard[apart..]);
    let size = (way.len().min(apart) + heard.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, back) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let spectrum = |sound: &[f32]| {
        let mut time = forward.make_input_vec();
        time.iter_mut().zip(sound).for_each(|(to, x)| *to = f64::from(*x));
        let mut bins = forward.make_output_vec();
        forward.process(&mut time, &mut bins).ok().map(|()| bins)
    };
    let (way, sent, ear) = (spectrum(&way[..apart])?, spectrum(sent)?, spectrum(heard)?);
    let foretold: Vec<Complex<f64>> = way.iter().zip(&sent).map(|(w, x)| w * x).collect();
    let mut cross: Vec<Complex<f64>> = ear.iter().zip(&foretold).map(|(y, f)| y * f.conj()).collect();
    let mut time = back.make_output_vec();
    let last = cross.len() - 1;
    (cross[0].im, cross[last].im) = (0.0, 0.0);
    back.process(&mut cross.clone(), &mut time).ok()?;
    let top = (0..size).max_by(|a, b| time[*a].total_cmp(&time[*b]))?;
    let whole = if top > size / 2 { top as f64 - size as f64 } else { top as f64 };
    // the rest from the phases
    let turn = std::f64::consts::TAU / size as f64;
    let (mut slope, mut weight, mut left, mut all) = (0.0, 0.0, 0.0, 0.0);
    for (bin, (c, (y, f))) in cross.iter().zip(ear.iter().zip(&foretold)).enumerate() {
        let w = turn * bin as f64;
        let by = Complex::from_polar(1.0, -w * whole);
        slope -= w * (c * by.conj()).im;
        weight += w * w * f.norm_sqr();
        left += (y - f * by).norm_sqr();
        all += y.norm_sqr();
    }
    Some((whole + slope / weight.max(1e-30), 10.0 * (all / left.max(1e-30)).log10()))
}
