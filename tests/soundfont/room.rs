//! A room that sings from a SoundFont: on its frames, at its pitches, the same however it is asked for, and never silent without it.

use super::writer::FontWriter;
use assert_no_alloc::{assert_no_alloc, violation_count};
use engine::{Bounce, Score, pair};
use precentor::workshop::{Choice, DrillText, Files, Made, RoomText, Workshop};
use sequencer::Cue;
use std::path::Path;
use std::sync::Arc;
use synth::ClipBank;
use tempfile::TempDir;
use units::SampleRate;

const RATE: SampleRate = SampleRate::DEFAULT;
const ROOM: &str = r#"version = 1
name = "Room 12"
soundfont = "own.sf2"

[[section]]
name = "Flutes"
instrument = "flute"
seats = 3
preset = { number = 56 }
"#;
/// Two bars of one note, long enough to be measured.
const DRILL: &str = r#"version = 1
title = "One note"
tempo = 60
meter = "4/4"
groups = [["all"]]
click = false
call = false

[line]
all = { concert = "Bb4:8" }

[[turn]]
model = {}
"#;

/// A folder with the font in it, and the room beside it.
fn folder(text: &str, font: bool) -> (TempDir, RoomText) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("room.toml");
    std::fs::write(&path, text).unwrap();
    if font {
        std::fs::write(folder.path().join("own.sf2"), FontWriter::flat_a().bytes()).unwrap();
    }
    let room = RoomText::load(&path).unwrap();
    (folder, room)
}

fn make(workshop: &Workshop, room: &RoomText) -> Made {
    let drill = DrillText::new("drill.toml", DRILL.to_owned());
    workshop.make(&Choice::Drill, room, &Files::drill(drill)).unwrap()
}

fn render(score: &Arc<Score>) -> Vec<f32> {
    let mut frames = Vec::new();
    let mut bounce = Bounce::new(RATE, Arc::new(ClipBank::default()));
    let played: Result<(), ()> = bounce.play(score, &mut (), None, |block, _| {
        frames.extend(block.iter().map(|[left, _]| *left));
        Ok(())
    });
    played.unwrap();
    frames
}

/// The deviation of a sine near `hz`, in cents, from how its phase moves between two windows a second apart.
fn cents(samples: &[f32], hz: f64) -> f64 {
    let phase = |from: usize| {
        let (mut re, mut im) = (0.0, 0.0);
        for (n, sample) in samples[from..from + 24_000].iter().enumerate() {
            let window = 0.5 - 0.5 * (std::f64::consts::TAU * n as f64 / 24_000.0).cos();
            let angle = std::f64::consts::TAU * (hz * (from + n) as f64 / 48_000.0).fract();
            re += f64::from(*sample) * window * angle.cos();
            im -= f64::from(*sample) * window * angle.sin();
        }
        im.atan2(re) / std::f64::consts::TAU
    };
    let turns = phase(48_000 + 24_000) - phase(24_000);
    1200.0 * (1.0 + (turns - turns.round()) / hz).log2()
}

#[test]
fn a_section_sings_from_the_font_on_its_frame_and_at_its_pitch() {
    let (_folder, room) = folder(ROOM, true);
    let made = make(&Workshop::new(RATE), &room);
    assert!(made.passed_over.is_none() && made.score.samples().is_some());
    let frames = render(&made.score);
    // the first tone begins on the first frame that the console's go is heard at: the same one for the built-in sound
    let (_other, plain) = folder(&ROOM.replace("preset = { number = 56 }", ""), true);
    let built_in = render(&make(&Workshop::new(RATE), &plain).score);
    let first = |frames: &[f32]| frames.iter().position(|sample| *sample != 0.0).unwrap();
    assert!(first(&frames).abs_diff(first(&built_in)) < 48, "{} and {}", first(&frames), first(&built_in));
    assert_ne!(frames, built_in);
    // concert B flat 4 in equal temperament over 440 Hz
    let hz = 440.0 * 2_f64.powf(1.0 / 12.0);
    let off = cents(&frames[first(&frames)..], hz);
    assert!(off.abs() < 0.02, "{off} cents");
}

#[test]
fn the_same_samples_come_out_for_every_callback_size_and_nothing_is_allocated() {
    let (_folder, room) = folder(ROOM, true);
    let workshop = Workshop::new(RATE);
    let (made, again) = (make(&workshop, &room), make(&workshop, &room));
    let run = |sizes: &[usize]| {
        let (mut controls, mut renderer) = pair(RATE);
        let mut out = Vec::new();
        let before = violation_count();
        controls.load(Arc::clone(&made.score), None, made.recipe.clone());
        controls.cue(Cue::Go);
        for size in sizes.iter().cycle() {
            let mut buffer = vec![0.0; 2 * size];
            assert_no_alloc(|| renderer.fill(&mut buffer, 2));
            out.extend(buffer);
            if out.len() > 2 * 96_000 {
                break;
            }
        }
        assert_eq!(violation_count(), before);
        out.truncate(2 * 96_000);
        out
    };
    assert!(Arc::ptr_eq(made.score.samples().unwrap(), again.score.samples().unwrap()));
    let one = run(&[64]);
    assert!(one.iter().any(|sample| sample.abs() > 0.01));
    for sizes in [&[1_usize, 7, 500][..], &[2_048], &[63, 65]] {
        assert!(run(sizes) == one, "{sizes:?}");
    }
}

#[test]
fn another_font_on_the_run_comes_home_to_be_freed() {
    let (_folder, room) = folder(ROOM, true);
    let (first, second) = (Workshop::new(RATE), Workshop::new(RATE));
    let (one, two) = (make(&first, &room), make(&second, &room));
    let kept = Arc::clone(one.score.samples().unwrap());
    let (mut controls, mut renderer) = pair(RATE);
    let mut block = vec![0.0; 2 * 480];
    let before = violation_count();
    controls.load(one.score, None, one.recipe);
    controls.cue(Cue::Go);
    for _ in 0..100 {
        assert_no_alloc(|| renderer.fill(&mut block, 2));
    }
    drop((first, controls.poll()));
    controls.load(two.score, None, two.recipe);
    for _ in 0..100 {
        assert_no_alloc(|| renderer.fill(&mut block, 2));
        controls.poll();
    }
    assert_eq!(violation_count(), before);
    assert_eq!(Arc::strong_count(&kept), 1, "nobody holds the old samples any more");
}

#[test]
fn without_its_font_a_room_sounds_and_says_so() {
    let (_folder, room) = folder(ROOM, false);
    let made = make(&Workshop::new(RATE), &room);
    let told = made.passed_over.unwrap().to_string();
    assert!(told.contains("room.toml:3:14: the SoundFont ") && told.contains("cannot be read"), "{told}");
    assert!(made.recipe.soundfont.is_none());
    assert!(render(&made.score).iter().any(|sample| sample.abs() > 0.01));
}

#[test]
fn an_unknown_preset_is_told_at_its_place_with_the_nearest() {
    let (_folder, room) = folder(&ROOM.replace("number = 56", "bank = 2, number = 56"), true);
    let made = make(&Workshop::new(RATE), &room);
    let told = made.passed_over.unwrap().to_string();
    assert!(told.contains("room.toml:9:10: the SoundFont has no preset 56 of bank 2"), "{told}");
    assert!(told.contains("mend: the nearest it has: { bank = 0, number = 56 } (Bright Horn)"), "{told}");
    assert!(render(&made.score).iter().any(|sample| sample.abs() > 0.01));
}

#[test]
fn a_run_is_made_again_from_its_journal_only_with_the_same_font() {
    let (folder, room) = folder(ROOM, true);
    let workshop = Workshop::new(RATE);
    let made = make(&workshop, &room);
    let again = workshop.from_recipe(&made.recipe).unwrap();
    assert!(render(&again.score) == render(&made.score));
    let path = folder.path().join("own.sf2");
    std::fs::write(&path, FontWriter { root: (70, 0), ..FontWriter::flat_a() }.bytes()).unwrap();
    let fault = Workshop::new(RATE).from_recipe(&made.recipe).unwrap_err().to_string();
    assert!(fault.contains("is another file by now"), "{fault}");
    std::fs::remove_file(&path).unwrap();
    let fault = Workshop::new(RATE).from_recipe(&made.recipe).unwrap_err().to_string();
    assert!(fault.contains("cannot be read any more") && fault.contains(&*path.display().to_string()), "{fault}");
    assert!(Path::new(&made.recipe.soundfont.unwrap().path).is_absolute());
}

#[test]
fn a_preset_without_a_font_is_told() {
    let faults = book::read_room("room.toml", &ROOM.replace("soundfont = \"own.sf2\"\n", "")).unwrap_err().to_string();
    assert!(faults.contains("room.toml:8:10: the room names no SoundFont to take this preset from"), "{faults}");
}
