//! Whatever instructions the processor has, the sound is the same.

use super::*;
use crate::Arithmetic;

/// Two seconds of everything at once, slides among it, released and hushed at the end.
fn perform(arithmetic: Arithmetic) -> Vec<[f32; 2]> {
    let mut stage = Stage::with_clips(vec![(0..20_000).map(|i| (i as f32 * 0.05).sin() * 0.3).collect()]);
    stage.band = Band::with_arithmetic(SampleRate::DEFAULT, arithmetic);
    stage.run(0.01);
    tutti(&mut stage, 0.1);
    slide(&mut stage, 220.0, 440.0, 0.1);
    slide(&mut stage, 900.0, 200.0, 0.3);
    stage.run(1.5);
    stage.band.release_tones(FrameInstant(stage.now + 100));
    stage.band.hush();
    stage.run(0.5);
    stage.out
}

fn slide(stage: &mut Stage, from: f64, to: f64, seconds: f64) {
    let start = FrameInstant(stage.now + 33);
    stage.band.tone(Tone {
        timbre: Timbre::AltoSax,
        frequency: hertz(to),
        start,
        end: start + SampleRate::DEFAULT.span(2.0),
        level: Gain::new(0.5),
        bus: Bus::Section(0),
        slide: Some(crate::Slide { from: hertz(from), length: SampleRate::DEFAULT.span(seconds) }),
    });
}

#[test]
fn the_plain_path_gives_the_same_sound() {
    if Arithmetic::best() == Arithmetic::plain() {
        return; // this processor has one path only: there is nothing to compare
    }
    let (best, plain) = (perform(Arithmetic::best()), perform(Arithmetic::plain()));
    let worst = best.as_flattened().iter().zip(plain.as_flattened()).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
    let peak = best.as_flattened().iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
    let decibels = 20.0 * (worst / peak).log10();
    assert!(peak > 0.1, "there is sound to compare");
    assert!(decibels < -110.0, "{decibels} dB");
    assert!(worst > 0.0, "two paths were compared, not one twice");
}

#[test]
fn a_slide_arrives_on_its_pitch_without_a_step() {
    let mut stage = Stage::new();
    slide(&mut stage, 220.0, 330.0, 0.2);
    stage.run(1.9);
    let held = &stage.stem[RATE as usize / 2..];
    let partial = super::measure::follow(held, f64::from(RATE), 330.0, 0.2);
    assert!(partial.cents.abs() < 0.05, "{} cents off", partial.cents);
    let early = super::measure::follow(&stage.stem[3_000..5_000], f64::from(RATE), 240.0, 0.02);
    assert!(early.amplitudes[0] > 0.01, "it passes through the pitches between");
    let steepest = |samples: &[f32]| samples.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f32::max);
    assert!(steepest(&stage.stem[..RATE as usize / 2]) < 1.3 * steepest(held), "no step on the way");
}
