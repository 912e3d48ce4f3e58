//! Ears: the ceiling holds whatever sounds at once.

use super::{RATE, clips, drill, room, run, start};
use engine::{Bounce, Dial};
use pitch::Temperament;
use sequencer::{Drone, Registers, StackTone};
use units::Gain;

/// The true peak by eightfold oversampling with a windowed sinc: 64 taps either side, Blackman window.
fn true_peak(frames: &[[f32; 2]]) -> f64 {
    const REACH: isize = 64;
    let mut peak = 0.0_f64;
    for channel in 0..2 {
        let samples: Vec<f64> = frames.iter().map(|frame| f64::from(frame[channel])).collect();
        for phase in 0..8 {
            let shift = f64::from(phase) / 8.0;
            let taps: Vec<f64> = (-REACH..REACH)
                .map(|tap| {
                    let x = tap as f64 - shift;
                    let sinc = if x == 0.0 { 1.0 } else { (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x) };
                    let turn = std::f64::consts::TAU * (x + REACH as f64) / (2.0 * REACH as f64);
                    sinc * (0.42 - 0.5 * turn.cos() + 0.08 * (2.0 * turn).cos())
                })
                .collect();
            for window in samples.windows(taps.len()) {
                let value: f64 = window.iter().zip(&taps).map(|(sample, tap)| sample * tap).sum();
                peak = peak.max(value.abs());
            }
        }
    }
    20.0 * peak.log10()
}

/// The true peak as the `ebur128` crate reads it (ITU-R BS.1770, oversampled four times).
fn read_by_a_library(frames: &[[f32; 2]]) -> f64 {
    let mut meter = ebur128::EbuR128::new(2, RATE.hz(), ebur128::Mode::TRUE_PEAK).unwrap();
    meter.add_frames_f32(frames.as_flattened()).unwrap();
    20.0 * (0..2).map(|channel| meter.true_peak(channel).unwrap()).fold(0.0, f64::max).log10()
}

/// Writes the sound for `tests/peaks.sh`, which lets other programs read it.
fn keep(path: &std::path::Path, frames: &[[f32; 2]]) {
    let spec = hound::WavSpec { channels: 2, sample_rate: RATE.hz(), bits_per_sample: 32, sample_format: hound::SampleFormat::Float };
    let mut file = hound::WavWriter::create(path, spec).unwrap();
    frames.as_flattened().iter().for_each(|sample| file.write_sample(*sample).unwrap());
    file.finalize().unwrap();
}

#[test]
fn true_peak_stays_under_minus_one_with_everything_at_full_level() {
    let text = "version = 1\ntitle = \"Loud\"\ntempo = 120\nrounds = 3\ncall = true\n[line]\nall = { concert = \"F4:1 G4:1 F4:1 G4:1\" }\n\
                [[turn]]\nmodel = {}\n[[turn]]\nbreath = { bars = 1, beats = 3 }\n";
    let mut bounce = Bounce::new(RATE, clips());
    let room = room();
    let free = |note: &str| StackTone::Free(note.parse().unwrap());
    let stack =
        vec![StackTone::LowerOctave, StackTone::Root, StackTone::Fifth, StackTone::Octave, free("D4"), free("F5"), free("Bb5"), free("D5")];
    let drone = Drone { root: "Bb3".parse().unwrap(), stack, temperament: Temperament::Just, registers: Registers::Stack };
    for dial in Dial::all() {
        bounce.controls.set_level(dial, Gain::new(4.0));
    }
    bounce.controls.drone(Some((&drone, &room)));
    start(&mut bounce, &drill(text));
    let out = run(&mut bounce, 8 * 750, &mut ());
    if let Some(path) = std::env::var_os("PEAKS_WAV") {
        keep(std::path::Path::new(&path), &out);
    }
    let peak = true_peak(&out);
    assert!(peak > -6.0, "it is loud: {peak} dBTP");
    assert!(peak <= -1.0, "true peak {peak} dBTP");
    let read = read_by_a_library(&out);
    assert!((read - peak).abs() < 0.5, "{read} and {peak} dBTP are readings of the same sound");
    assert!(read <= -1.0, "true peak {read} dBTP by ebur128");
}

#[test]
fn the_start_level_is_modest() {
    let mut bounce = Bounce::new(RATE, clips());
    let room = room();
    bounce.controls.drone(Some((&room.drone, &room)));
    let out = run(&mut bounce, 4 * 750, &mut ());
    let last = &out[out.len() - 48_000..];
    let rms = (last.iter().map(|frame| f64::from(frame[0]).powi(2)).sum::<f64>() / last.len() as f64).sqrt();
    let level = 20.0 * rms.log10();
    assert!((-40.0..-18.0).contains(&level), "the drone starts at {level} dBFS");
    // a soft start: the first tenth of a second is far under where it ends up
    let early = out[..4_800].iter().fold(0.0_f32, |peak, frame| peak.max(frame[0].abs()));
    assert!(f64::from(early) < 0.5 * rms, "early {early}, held {rms}");
}
