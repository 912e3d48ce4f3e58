//! Render.

use super::{Desk, samples};
use serde_json::Value;
use std::collections::HashMap;

/// Stems by their file name.
fn stems(desk: &Desk, folder: &str) -> HashMap<String, Vec<f32>> {
    let names = std::fs::read_dir(desk.path(folder)).unwrap().map(|entry| entry.unwrap().path());
    names.map(|path| (path.file_name().unwrap().to_string_lossy().into_owned(), samples(&path).0)).collect()
}

#[test]
fn a_drill_is_rendered_with_its_list_and_its_stems() {
    let desk = Desk::new();
    let told = desk.done(&["render", "drill.toml", "-o", "out.wav", "--cues", "out.json", "--stems", "stems"]);
    assert_eq!(told.lines().count(), 1);
    assert!(
        told.starts_with("wrote out.wav: One note each in Cedar Lane, first hour, 0 min ")
            && told.contains("; out.json; 3 stems in stems; "),
        "{told}"
    );
    assert_eq!(desk.made(), ["out.json", "out.wav", "stems"]);

    let (mix, channels, rate) = samples(&desk.path("out.wav"));
    let list: Value = serde_json::from_slice(&desk.read("out.json")).unwrap();
    assert_eq!((channels, rate), (2, 48_000));
    assert_eq!((list["rate"].as_u64(), list["tempo"].as_f64(), list["meter"].as_str()), (Some(48_000), Some(120.0), Some("4/4")));
    assert_eq!(list["frames"].as_u64(), Some(mix.len() as u64 / 2));

    let lines = list["cues"].as_array().unwrap();
    let of = |kind: &'static str| lines.iter().filter(move |line| line["kind"] == kind);
    let turns: Vec<_> = of("turn").map(|line| line["turn"].as_str().unwrap()).collect();
    assert_eq!(turns, ["count", "model", "echo", "count", "model", "echo"]);
    let words: Vec<_> = of("word").map(|line| line["word"].as_str().unwrap()).collect();
    assert_eq!(words, ["one", "two", "three", "four", "one", "two", "three", "four"]);
    let first = of("tone").next().unwrap();
    assert_eq!((first["section"].as_str(), first["written"].as_str(), first["concert"].as_str()), (Some("Flutes"), Some("F5"), Some("F5")));
    // four beats at 120 are 96,000 frames: the model starts one bar after the count
    let count = of("turn").next().unwrap()["at"].as_u64().unwrap();
    assert_eq!(first["at"].as_u64(), Some(count + 96_000));
}

/// What holds of stems: each is what its bus gives before panning, so a bus in the middle has the root of a half of it on either side, a
/// section anywhere has its power shared between the sides, and both only where the limiter rests, as it does at these levels.
#[test]
fn stems_make_the_mix() {
    let desk = Desk::new();
    desk.done(&["render", "drill.toml", "-o", "out.wav", "--stems", "stems"]);
    let (mix, ..) = samples(&desk.path("out.wav"));
    let stems = stems(&desk, "stems");
    let mut names: Vec<_> = stems.keys().cloned().collect();
    names.sort();
    assert_eq!(names, ["flutes.wav", "horns.wav", "voice.wav"], "there is no click, no breath and no drone");
    assert!(stems.values().all(|stem| stem.len() * 2 == mix.len()), "all are as long as the mix");
    let [flutes, horns, voice] = ["flutes.wav", "horns.wav", "voice.wav"].map(|name| &stems[name]);
    let (mut spoken, mut played) = (0, 0);
    for (frame, sides) in mix.chunks(2).enumerate() {
        let [flute, horn, word] = [flutes[frame], horns[frame], voice[frame]];
        let (left, right) = (f64::from(sides[0]), f64::from(sides[1]));
        if flute == 0.0 && horn == 0.0 && word != 0.0 {
            let half = f64::from(word) * 0.5_f64.sqrt();
            assert!((left - half).abs() < 1e-6 && (right - half).abs() < 1e-6, "frame {frame}: {left} {right} {half}");
            spoken += 1;
        }
        if word == 0.0 && (flute == 0.0) != (horn == 0.0) {
            let power = f64::from(flute).powi(2) + f64::from(horn).powi(2);
            assert!((left.powi(2) + right.powi(2) - power).abs() < 1e-6, "frame {frame}");
            played += 1;
        }
    }
    assert!(spoken > 48_000 && played > 96_000, "{spoken} {played}");
}

#[test]
fn twice_is_the_same_to_the_last_bit() {
    let desk = Desk::new();
    for name in ["a", "b"] {
        desk.done(&["render", "drill.toml", "-o", &format!("{name}.wav"), "--cues", &format!("{name}.json"), "--drone", "Bb3"]);
    }
    assert!(desk.read("a.wav") == desk.read("b.wav"));
    assert!(desk.read("a.json") == desk.read("b.json"));
}

#[test]
fn other_rates_and_formats() {
    let desk = Desk::new();
    desk.done(&["render", "drill.toml", "-o", "a.wav", "--rate", "44100"]);
    let (mix, _, rate) = samples(&desk.path("a.wav"));
    assert_eq!(rate, 44_100);
    assert!(mix.iter().any(|sample| sample.abs() > 0.01));
    desk.done(&["render", "drill.toml", "-o", "float.wav"]);
    let (float, ..) = samples(&desk.path("float.wav"));
    for (format, bits) in [("pcm24", 24), ("pcm16", 16)] {
        let name = format!("{format}.wav");
        desk.done(&["render", "drill.toml", "-o", &name, "--format", format]);
        let mut reader = hound::WavReader::open(desk.path(&name)).unwrap();
        assert_eq!((reader.spec().bits_per_sample, reader.spec().sample_format), (bits, hound::SampleFormat::Int));
        let full = f64::from((1_i32 << (bits - 1)) - 1);
        for (whole, sample) in reader.samples::<i32>().zip(&float) {
            assert!((f64::from(whole.unwrap()) - f64::from(*sample) * full).abs() <= 0.5 + 1e-3);
        }
    }
}

#[test]
fn rounds_rolls_landmarks_and_turns() {
    let desk = Desk::new();
    let tones = |args: &[&str]| -> Vec<(String, String)> {
        desk.done(&[&["render"], args, &["-o", "x.wav", "--cues", "x.json", "--force"]].concat());
        let list: Value = serde_json::from_slice(&desk.read("x.json")).unwrap();
        let lines = list["cues"].as_array().unwrap().iter().filter(|line| line["kind"] == "tone");
        let field = |line: &Value, name: &str| line[name].as_str().unwrap().to_owned();
        lines.map(|line| (field(line, "group"), field(line, "written"))).collect()
    };
    let pair = |group: &str, written: &str| (group.to_owned(), written.to_owned());
    assert_eq!(tones(&["drill.toml", "--rounds", "3"]).len(), 6);
    assert_eq!(tones(&["drill.toml", "--roll", "horns"]), [pair("Horns, seat 1", "C4"), pair("Horns, seat 2", "C4")]);
    assert_eq!(tones(&["drill.toml", "--landmarks", "Horns"]), [pair("Horns: G4", "G4"), pair("Horns: C4", "C4")]);
    assert_eq!(tones(&["room.toml", "--landmarks", "Horns"]).len(), 2);
    assert_eq!(tones(&["drill.toml", "--in-turn"]), [pair("Flutes", "F5"), pair("Horns", "C4")]);
    assert_eq!(tones(&["room.toml", "--in-turn=G4"]), [pair("Flutes", "G5"), pair("Horns", "D4")]);
}

#[test]
fn a_room_alone_holds_its_drone_then_goes_through_the_sections() {
    let desk = Desk::new();
    desk.done(&["render", "room.toml", "-o", "out.wav", "--cues", "out.json", "--drone", "F4", "--stems", "stems"]);
    let list: Value = serde_json::from_slice(&desk.read("out.json")).unwrap();
    let first = list["cues"].as_array().unwrap().iter().map(|line| line["at"].as_u64().unwrap()).min().unwrap();
    assert!(first > 30 * 48_000);
    let stems = stems(&desk, "stems");
    let drone = &stems["drone.wav"];
    let sounds = |seconds: usize| drone[seconds * 48_000..][..4800].iter().any(|sample| *sample != 0.0);
    assert!(sounds(1) && sounds(29) && !sounds(34));
    assert!(stems.contains_key("flutes.wav") && stems.contains_key("horns.wav"));
}

#[test]
fn a_plan_that_ends_in_talk_comes_to_an_end() {
    let desk = Desk::new();
    desk.write("talk.toml", format!("{DRILL_WITHOUT_ECHO}[[turn]]\ntalk = {{ note = \"How was it?\" }}\n"));
    desk.done(&["render", "talk.toml", "-o", "out.wav", "--cues", "out.json"]);
    let list: Value = serde_json::from_slice(&desk.read("out.json")).unwrap();
    assert_eq!(list["cues"].as_array().unwrap().iter().filter(|line| line["kind"] == "tone").count(), 2);
}

const DRILL_WITHOUT_ECHO: &str = r#"version = 1
title = "Talk after each"
tempo = 120
groups = [["Flutes"], ["Horns"]]
[line]
all = { concert = "F4:4" }
[[turn]]
model = {}
"#;

#[test]
fn built_in_drills_go_by_name() {
    let desk = Desk::new();
    for name in ["demo", "demo:two-notes"] {
        let told = desk.done(&["render", name, "-o", "out.wav", "--rounds", "1", "--force"]);
        assert!(told.contains("Alder Street School"), "{told}");
    }
}
