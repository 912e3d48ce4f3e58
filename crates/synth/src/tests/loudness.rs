//! Loudness, against the `ebur128` crate, an implementation of EBU R 128 and ITU-R BS.1770 that shares nothing with ours.

use super::*;
use crate::care::{TONE_RMS, VOICE_RMS};
use crate::loudness::{KFilter, OFFSET_DECIBELS, loudest};
use ebur128::{EbuR128, Mode};

/// The loudness of all of `channels`, ungated, in LUFS.
pub(super) fn lufs(channels: &[&[f32]], rate: u32) -> f64 {
    let window = (1_000 * channels[0].len() / rate as usize) as u32;
    let mut meter = EbuR128::new(channels.len() as u32, rate, Mode::M).unwrap();
    meter.set_max_window(window).unwrap();
    meter.add_frames_planar_f32(channels).unwrap();
    meter.loudness_window(window).unwrap()
}

fn in_lufs(power: f64) -> f64 {
    OFFSET_DECIBELS + 10.0 * power.log10()
}

fn sine(hz: f64, rate: u32, seconds: usize) -> Vec<f32> {
    (0..seconds * rate as usize).map(|i| (0.1 * (std::f64::consts::TAU * hz * i as f64 / f64::from(rate)).sin()) as f32).collect()
}

#[test]
fn ours_reads_what_the_reference_reads() {
    for rate in [8_000, 44_100, 48_000, 96_000, 192_000] {
        for hz in [40.0, 100.0, 997.0, 3_000.0] {
            let left = sine(hz, rate, 2);
            let right: Vec<f32> = left.iter().map(|sample| 0.5 * sample).collect();
            let expected = lufs(&[&left, &right], rate);
            let rate = SampleRate::new(rate).unwrap();
            let mut filter = KFilter::<2>::new(rate);
            let (left, right) = (left.as_chunks::<BLOCK>().0, right.as_chunks::<BLOCK>().0);
            let mean = left.iter().zip(right).map(|(left, right)| filter.block([left, right])).sum::<f64>() / left.len() as f64;
            assert!((in_lufs(mean) - expected).abs() < 0.05, "{hz} Hz at {rate:?}: {} for {expected} LUFS", in_lufs(mean));
            let weight = crate::loudness::KWeight::new(rate).power(hz, rate);
            assert!((in_lufs(0.005 * 1.25 * weight) - expected).abs() < 0.05, "{hz} Hz at {rate:?}: by its response");
        }
    }
}

#[test]
fn a_kilohertz_of_full_scale_reads_minus_three() {
    // ITU-R BS.1770-5 annex 1: a 0 dBFS 997 Hz sine in one channel reads -3.01 LKFS
    let sine: Vec<f32> = sine(997.0, RATE, 1).iter().map(|sample| 10.0 * sample).collect();
    let found = in_lufs(loudest(&sine, 0.4, SampleRate::DEFAULT));
    assert!((found + 3.01).abs() < 0.02, "{found}");
}

#[test]
fn timbres_are_equally_loud() {
    for timbre in Timbre::ALL.into_iter().take(19) {
        for hz in [58.27, 116.541, 233.082, 466.164, 932.328] {
            let mut stage = Stage::new();
            stage.tone(timbre, hz, 0, 2.0, 1.0, 0);
            stage.run(1.5);
            let level = lufs(&[&stage.stem[24_000..67_200]], RATE) - in_lufs(f64::from(TONE_RMS).powi(2));
            // what settles after the attack takes up to 1.5 dB
            assert!((-2.0..0.5).contains(&level), "{timbre:?} at {hz} Hz is {level:.1} LU off");
        }
    }
}

#[test]
fn words_come_to_one_loudness() {
    for (level, hz) in [(0.4, 200.0), (3.0, 700.0), (2.0, 2_500.0)] {
        let samples: Vec<f32> = sine(hz, RATE, 1).iter().map(|sample| level * sample).collect();
        let clip = Clip::new(samples.into_boxed_slice(), FrameSpan::ZERO, SampleRate::DEFAULT).levelled();
        let off = lufs(&[clip.samples()], RATE) - in_lufs(f64::from(VOICE_RMS).powi(2));
        assert!(off.abs() < 0.1, "{hz} Hz: {off} LU");
        assert!((clip.power().sqrt() / f64::from(VOICE_RMS) - 1.0).abs() < 1e-4);
    }
}

/// A second of a voice-like buzz at the loudness of words.
fn word() -> Vec<f32> {
    let buzz: Vec<f32> = (0..48_000)
        .map(|i| (1..=20).map(|k| (std::f64::consts::TAU * 130.0 * f64::from(k) * f64::from(i) / 48_000.0).sin() as f32 * 0.02).sum())
        .collect();
    Clip::new(buzz.into_boxed_slice(), FrameSpan::ZERO, SampleRate::DEFAULT).levelled().samples().to_vec()
}

/// How far a drone and sections of model tones at this level lie under the word, and how far they are ducked, both in LU.
fn under_a_word(drone: bool, sections: u8, level: f32) -> (f64, f64) {
    let play = |word: bool| {
        let mut stage = Stage::with_clips(vec![self::word()]);
        if drone {
            let full = [(1, 2, 0.0), (1, 1, 0.0), (3, 2, 0.0), (2, 1, 0.0), (5, 2, 0.0), (3, 1, 0.0), (4, 1, 0.0), (5, 1, 0.0)];
            let mut chord = chord(116.54, &full);
            chord.tones.iter_mut().flatten().for_each(|tone| tone.level = Gain::new(level / 8_f32.sqrt()));
            stage.band.set_drone(Some(chord));
        }
        for section in 0..sections {
            stage.tone(Timbre::Horn, 233.08 * f64::from(section + 3) / 3.0, 0, 8.0, level, section);
        }
        stage.run(2.0);
        if word {
            stage.band.say(0, FrameInstant(stage.now), None);
        }
        // the others by themselves: everything but the voice's stem
        let mut others = Vec::new();
        for _ in 0..750 {
            stage.block();
            let sum: Vec<f32> =
                (0..BLOCK).map(|i| Bus::all().filter(|bus| *bus != Bus::Voice).map(|bus| stage.stems.get(bus)[i]).sum()).collect();
            others.extend(sum);
        }
        lufs(&[&others[9_600..45_000]], RATE)
    };
    let (ducked, open) = (play(true), play(false));
    (in_lufs(f64::from(VOICE_RMS).powi(2)) - ducked, open - ducked)
}

#[test]
fn a_word_lies_sixteen_units_over_whatever_sounds_and_no_more_is_taken_than_that() {
    for (drone, sections) in [(true, 0), (false, 1), (true, 3), (false, 6)] {
        let (under, duck) = under_a_word(drone, sections, 1.0);
        assert!((15.5..19.0).contains(&under), "drone {drone}, {sections} sections: {under:.1} LU under the word");
        assert!(duck >= 12.0, "drone {drone}, {sections} sections: ducked by {duck:.1} LU");
    }
    let (under, duck) = under_a_word(true, 0, 0.35);
    assert!(under >= 15.5 && (3.0..7.0).contains(&duck), "a soft drone: {under:.1} under, ducked by {duck:.1}");
    let (under, duck) = under_a_word(true, 0, 0.12);
    assert!(under >= 15.5 && duck.abs() < 0.1, "a very soft drone needs none: {under:.1} under, ducked by {duck:.1}");
}

#[test]
fn the_others_make_room_before_a_word_and_come_back_after_it() {
    let mut stage = Stage::with_clips(vec![word()]);
    stage.watched = Bus::Drone;
    stage.band.set_drone(Some(chord(440.0, &[(1, 1, 0.0)])));
    stage.run(2.0);
    stage.forget();
    stage.band.say(0, FrameInstant(stage.now + 4_800), None);
    stage.run(2.0);
    let rms = |from: usize| (stage.stem[from..from + 960].iter().map(|s| s * s).sum::<f32>() / 960.0).sqrt();
    assert!((rms(0) / rms(80_000) - 1.0).abs() < 0.02, "{} {}", rms(0), rms(80_000));
    assert!(rms(4_800) < 0.26 * rms(0), "ducked as the word begins: {}", rms(4_800) / rms(0));
    assert!(rms(4_800 + 48_000 + 4_800) < 0.26 * rms(0), "a tenth of a second after it, still");
    assert!((rms(4_800 + 48_000 + 9_600) / rms(0) - 1.0).abs() < 0.02);
}
