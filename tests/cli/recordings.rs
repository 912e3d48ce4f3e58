//! `hear` on every kind of recording: right where the file is fine, clear words where it is not, and never a panic.

use hound::{SampleFormat, WavSpec, WavWriter};
use serde_json::Value;
use std::io::{Seek, SeekFrom, Write};
use std::process::Command;
use std::time::Instant;

use super::{Desk, Run, flac};

/// Half a second of nearly nothing, two seconds of a horn's C4 with eight harmonics, and nearly nothing again.
fn tone(rate: u32) -> Vec<f32> {
    let frames = |seconds: f64| (seconds * f64::from(rate)) as usize;
    let mut noise = 1_u32;
    let mut tone = vec![0.0_f64; frames(3.0)];
    for (n, sample) in tone.iter_mut().enumerate() {
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        *sample = 1e-4 * (f64::from(noise >> 16) / 32_768.0 - 1.0);
        let at = n as f64 / f64::from(rate) - 0.5;
        if (0.0..2.0).contains(&at) {
            let rise = (at / 0.02).min(1.0) * ((2.0 - at) / 0.05).min(1.0);
            let harmonics = (1..=8).map(f64::from).filter(|k| 261.625_565 * k < f64::from(rate) / 2.0);
            *sample += 0.1 * rise * harmonics.map(|k| (std::f64::consts::TAU * 261.625_565 * k * at).sin() / k).sum::<f64>();
        }
    }
    tone.into_iter().map(|sample| sample as f32).collect()
}

fn wav(desk: &Desk, name: &str, sound: &[f32], rate: u32, bits: u16, format: SampleFormat, channels: u16) {
    let spec = WavSpec { channels, sample_rate: rate, bits_per_sample: bits, sample_format: format };
    let mut writer = WavWriter::create(desk.path(name), spec).unwrap();
    for sample in sound {
        // in the last channel alone
        for channel in 0..channels {
            let sample = if channel + 1 == channels { *sample } else { 0.0 };
            match format {
                SampleFormat::Float => writer.write_sample(sample).unwrap(),
                SampleFormat::Int => {
                    writer.write_sample((f64::from(sample) * ((1_u64 << (bits - 1)) - 1) as f64).round() as i32).unwrap();
                }
            }
        }
    }
    writer.finalize().unwrap();
}

const HORN: [&str; 2] = ["--instrument", "horn_f"];

fn hear(desk: &Desk, name: &str) -> (Run, Value) {
    let run = desk.run(&[&["hear", name, "--json"], &HORN[..]].concat());
    let output = serde_json::from_str(&run.out).unwrap_or_default();
    (run, output)
}

/// That just that one note is heard in the file, without a word of trouble.
fn right(desk: &Desk, name: &str) {
    let (run, output) = hear(desk, name);
    assert!(run.code == 0 && run.err.is_empty(), "{name}: {}", run.err);
    super::schemas::pleases("hear", &output);
    let notes = output["notes"].as_array().unwrap();
    assert_eq!(notes.len(), 1, "{name}: {output}");
    assert_eq!((&notes[0]["sounding"], &notes[0]["written"], &notes[0]["partial"]), (&"C4".into(), &"G4".into(), &6.into()), "{name}");
    let number = |key: &str| notes[0][key].as_f64().unwrap();
    assert!(number("cents").abs() < 1.0 && (number("start_s") - 0.5).abs() < 0.03, "{name}: {output}");
    let trouble = ["cut_off", "silent", "cancelled"].iter().any(|key| output[key] != false) || output["no_numbers"] != 0;
    assert!(!trouble && (output["length_s"].as_f64().unwrap() - 3.0).abs() < 1e-3, "{name}: {output}");
}

#[test]
fn every_kind_of_file_is_heard_right() {
    let desk = Desk::new();
    for rate in [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000] {
        wav(&desk, "rate.wav", &tone(rate), rate, 16, SampleFormat::Int, 1);
        right(&desk, "rate.wav");
        desk.write("rate.flac", flac::file(&tone(rate), 16, rate, 1, |_| false));
        right(&desk, "rate.flac");
    }
    let sound = tone(48_000);
    for (bits, format) in [8, 24, 32].map(|bits| (bits, SampleFormat::Int)).into_iter().chain([(32, SampleFormat::Float)]) {
        wav(&desk, "bits.wav", &sound, 48_000, bits, format, 1);
        right(&desk, "bits.wav");
    }
    for bits in [8, 24] {
        desk.write("bits.flac", flac::file(&sound, bits, 48_000, 1, |_| false));
        right(&desk, "bits.flac");
    }
    for channels in [2, 6, 8] {
        wav(&desk, "channels.wav", &sound, 48_000, 16, SampleFormat::Int, channels);
        right(&desk, "channels.wav");
        desk.write("channels.flac", flac::file(&sound, 16, 48_000, channels as u8, |channel| channel > 0));
        right(&desk, "channels.flac");
    }
    // as loud as programs leave it that count in whole numbers, and far too soft
    for scale in [32_768.0, 1e-3] {
        let scaled: Vec<f32> = sound.iter().map(|sample| sample * scale).collect();
        wav(&desk, "scaled.wav", &scaled, 48_000, 32, SampleFormat::Float, 1);
        right(&desk, "scaled.wav");
    }
}

#[test]
fn what_is_no_recording_is_told_with_its_file_and_its_mend() {
    let desk = Desk::new();
    wav(&desk, "fine.wav", &tone(48_000), 48_000, 16, SampleFormat::Int, 1);
    let fine = desk.read("fine.wav");
    wav(&desk, "slow.wav", &[0.1; 400], 4_000, 16, SampleFormat::Int, 1);
    std::fs::create_dir(desk.path("folder.wav")).unwrap();
    let mut laws = fine.clone();
    laws[20] = 7;
    let cases: [(&str, Option<&[u8]>, &str); 11] = [
        ("empty.wav", Some(b""), "empty.wav is empty: there is no sound in it; record it again"),
        ("one.wav", Some(b"R"), "one.wav is no WAV or FLAC file; save the recording as one of these"),
        ("talk.txt", Some(b"version = 1"), "talk.txt is no WAV or FLAC file"),
        ("picture.wav", Some(b"\x89PNG\r\n\x1a\n0000000000000000"), "picture.wav is no WAV or FLAC file"),
        ("head.wav", Some(&fine[..30]), "head.wav cannot be understood"),
        ("bare.wav", Some(&fine[..44]), "bare.wav is empty: there is no sound in it"),
        ("head.flac", Some(b"fLaC\x80\x00\x00\x22"), "head.flac cannot be understood"),
        ("laws.wav", Some(&laws), "save the recording once more, as 16-bit or 24-bit WAV"),
        ("gone.wav", None, "gone.wav cannot be read"),
        ("folder.wav", None, "name a WAV or FLAC file that is there"),
        ("slow.wav", None, "slow.wav has 4000 frames a second; save it with 8000 to 384000, 48000 for example"),
    ];
    for (name, bytes, told) in cases {
        if let Some(bytes) = bytes {
            desk.write(name, bytes);
        }
        let words = desk.refused(&[&["hear", name], &HORN[..]].concat());
        assert!(words.contains(told) && words.contains(name) && words.lines().count() == 1, "{name}: {words}");
    }
}

#[test]
fn what_is_hurt_is_heard_as_far_as_it_goes_and_told() {
    let desk = Desk::new();
    let sound = tone(48_000);
    wav(&desk, "fine.wav", &sound, 48_000, 16, SampleFormat::Int, 1);
    let fine = desk.read("fine.wav");
    let told = |name: &str, words: &str, flag: &str, value: Value, notes: usize| {
        let (run, output) = hear(&desk, name);
        assert_eq!(run.code, 0, "{name}: {}", run.err);
        super::schemas::pleases("hear", &output);
        assert!(run.err.contains(name) && run.err.contains(words) && run.err.lines().count() == 1, "{name}: {}", run.err);
        assert_eq!((&output[flag], output["notes"].as_array().unwrap().len()), (&value, notes), "{name}: {output}");
        assert!(notes == 0 || output["notes"][0]["written"] == "G4", "{name}: {output}");
    };
    desk.write("cut.wav", &fine[..fine.len() / 2]);
    told("cut.wav", "is shorter than it says it is", "cut_off", true.into(), 1);
    let whole = flac::file(&sound, 16, 48_000, 1, |_| false);
    desk.write("cut.flac", &whole[..whole.len() / 2]);
    told("cut.flac", "is shorter than it says it is", "cut_off", true.into(), 1);
    let mut odd = sound.clone();
    odd[50_000..50_010].fill(f32::NAN);
    odd[60_000] = f32::NEG_INFINITY;
    wav(&desk, "odd.wav", &odd, 48_000, 32, SampleFormat::Float, 1);
    told("odd.wav", "has 11 samples that are no numbers", "no_numbers", 11.into(), 1);
    wav(&desk, "zeros.wav", &[0.0; 96_000], 48_000, 16, SampleFormat::Int, 2);
    told("zeros.wav", "see that the right microphone was chosen, allowed and not muted", "silent", true.into(), 0);
    // an unfinished head, as a recorder leaves it that lost its power, is no trouble at all
    let mut unfinished = fine.clone();
    unfinished[4..8].fill(0);
    unfinished[40..44].fill(0);
    desk.write("unfinished.wav", unfinished);
    right(&desk, "unfinished.wav");
    // two channels, one upside down
    let spec = WavSpec { channels: 2, sample_rate: 48_000, bits_per_sample: 16, sample_format: SampleFormat::Int };
    let mut against = WavWriter::create(desk.path("against.wav"), spec).unwrap();
    for sample in &sound {
        let whole = (sample * 32_767.0) as i16;
        against.write_sample(whole).unwrap();
        against.write_sample(-whole).unwrap();
    }
    against.finalize().unwrap();
    told("against.wav", "has channels that cancel each other when they are mixed; save one of them alone", "cancelled", true.into(), 0);
}

#[test]
fn a_section_that_is_not_to_be_heard_is_told_with_its_file() {
    let desk = Desk::new();
    wav(&desk, "zeros.wav", &[0.0; 96_000], 48_000, 16, SampleFormat::Int, 1);
    wav(&desk, "blink.wav", &tone(48_000)[30_000..30_100], 48_000, 16, SampleFormat::Int, 1);
    for name in ["zeros.wav", "blink.wav"] {
        let run = desk.run(&[&["hear", name, "--section", "8", "--candidates", "C4,G4,C5"], &HORN[..]].concat());
        assert_eq!((run.code, run.out.as_str()), (1, ""), "{name}");
        let told = format!("no section is to be heard in {name}; it takes 0.8 s of all playing one note together");
        assert!(run.err.contains(&told), "{}", run.err);
    }
}

/// An hour of digital silence with three seconds of tone near its end: a file with a hole, quick to make.
fn hour(desk: &Desk, name: &str, rate: u32) {
    let bytes = |frames: u64| 2 * frames;
    let all = bytes(3_600 * u64::from(rate));
    wav(desk, name, &[], rate, 16, SampleFormat::Int, 1);
    let mut file = std::fs::OpenOptions::new().write(true).open(desk.path(name)).unwrap();
    let head = file.metadata().unwrap().len();
    file.set_len(head + all).unwrap();
    let mut put = |at: u64, bytes: &[u8]| {
        file.seek(SeekFrom::Start(at)).unwrap();
        file.write_all(bytes).unwrap();
    };
    put(4, &((head + all - 8) as u32).to_le_bytes());
    put(head - 4, &(all as u32).to_le_bytes());
    let samples: Vec<u8> = tone(rate).iter().flat_map(|sample| ((sample * 32_767.0) as i16).to_le_bytes()).collect();
    put(head + bytes(3_590 * u64::from(rate)), &samples);
}

/// Runs `hear` with at most so many kilobytes of address space; how long it took.
fn bounded(desk: &Desk, kilobytes: u32, args: &[&str]) -> (Value, f64) {
    let mut shell = Command::new("sh");
    shell.args(["-c", &format!("ulimit -v {kilobytes}; exec \"$@\""), "sh", env!("CARGO_BIN_EXE_precentor")]).args(args);
    let start = Instant::now();
    let run = Run::of(&desk.here(shell).output().unwrap());
    assert_eq!(run.code, 0, "{}", run.err);
    (serde_json::from_str(&run.out).unwrap(), start.elapsed().as_secs_f64())
}

#[cfg(target_os = "linux")]
#[test]
fn an_hour_is_heard_in_little_memory_and_far_less_than_an_hour() {
    let desk = Desk::new();
    hour(&desk, "hour.wav", 8_000);
    // as numbers it would take 115 MB more than this
    let (output, took) = bounded(&desk, 110_000, &["hear", "hour.wav", "--instrument", "horn_f", "--json"]);
    let notes = output["notes"].as_array().unwrap();
    assert_eq!((notes.len(), &notes[0]["written"]), (1, &"G4".into()), "{output}");
    assert!((notes[0]["start_s"].as_f64().unwrap() - 3_590.5).abs() < 0.03, "{output}");
    println!("an hour of one player at 8 kHz: {:.0} times faster than real time", 3_600.0 / took);
    assert!(took < 360.0, "{took} s");
    let args = ["hear", "hour.wav", "--instrument", "horn_f", "--section", "8", "--candidates", "C4,G4,C5", "--json"];
    let (output, took) = bounded(&desk, 110_000, &args);
    assert_eq!(output["section"]["majority"], "G4", "{output}");
    println!("an hour of a section at 8 kHz: {:.0} times faster than real time", 3_600.0 / took);
}

/// How fast on sound that is all notes, at the rate of most recordings; and in how much memory, on four hours of the most a file may hold.
#[cfg(target_os = "linux")]
#[test]
#[ignore = "takes minutes"]
fn recordings_are_heard_faster_than_they_were_played() {
    let desk = Desk::new();
    for rate in [8_000, 48_000, 192_000] {
        let once = tone(rate);
        let sound: Vec<f32> = once.iter().cycle().take(once.len() * 40).copied().collect();
        wav(&desk, "long.wav", &sound, rate, 16, SampleFormat::Int, 1);
        let start = Instant::now();
        let (run, output) = hear(&desk, "long.wav");
        assert_eq!((run.code, output["notes"].as_array().unwrap().len()), (0, 40));
        println!("two minutes of notes at {rate} Hz: {:.0} times faster than real time", 120.0 / start.elapsed().as_secs_f64());
    }
    for rate in [48_000, 192_000] {
        hour(&desk, "hour.wav", rate);
        let (output, took) = bounded(&desk, 110_000, &["hear", "hour.wav", "--instrument", "horn_f", "--json"]);
        assert_eq!(output["notes"].as_array().unwrap().len(), 1);
        println!("an hour at {rate} Hz, in 110 MB: {:.0} times faster than real time", 3_600.0 / took);
    }
}
