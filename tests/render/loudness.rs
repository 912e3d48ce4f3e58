//! Loudness by an independent meter (the `ebur128` crate, EBU R 128 and ITU-R BS.1770): it does not jump between turns, and the voice stays
//! over the rest. The tolerances are ours.

use super::{RATE, Rendering, clips, drill, room, run, start};
use ebur128::{EbuR128, Mode};
use engine::{Bounce, Dial};
use sequencer::{Drone, Mix, Registers, Role, StackTone};
use std::ops::Range;
use synth::{Bus, Stems};
use units::{Decibels, Gain};

/// Model turns, of one section or of all, are this near each other at most.
const TURN_TOLERANCE_LU: f64 = 3.0;
/// While a word sounds it is at least this much louder than all the rest, over the 0.4 s the meter needs: more than most words last.
const VOICE_OVER_REST_LU: f64 = 12.0;

/// The loudest momentary loudness (400 ms) the meter shows over `frames`, in LUFS.
fn momentary(frames: &[[f32; 2]]) -> f64 {
    let mut meter = EbuR128::new(2, RATE.hz(), Mode::M).unwrap();
    let mut most = f64::NEG_INFINITY;
    for (step, block) in frames.chunks(RATE.hz() as usize / 20).enumerate() {
        meter.add_frames_f32(block.as_flattened()).unwrap();
        if step >= 7 {
            most = most.max(meter.loudness_momentary().unwrap());
        }
    }
    most
}

/// The short-term loudness (3 s) at the end of `frames`, in LUFS.
fn short_term(frames: &[[f32; 2]]) -> f64 {
    let mut meter = EbuR128::new(2, RATE.hz(), Mode::S).unwrap();
    meter.add_frames_f32(frames.as_flattened()).unwrap();
    meter.loudness_shortterm().unwrap()
}

#[test]
fn model_turns_of_one_section_and_of_all_are_equally_loud() {
    let text = "version = 1\ntitle = \"Even\"\ntempo = 60\nrounds = 1\n\
                groups = [[\"Flutes\"], [\"Clarinets\"], [\"Trumpets\"], [\"Horns\"], [\"Trombones\"], [\"Tubas\"], [\"Flutes\", \"Tubas\"], [\"all\"]]\n\
                [line]\nall = { concert = \"Bb4:4\" }\n[[turn]]\nmodel = {}\n[[turn]]\necho = {}\n";
    let rendering = Rendering::of(&drill(text));
    let loudness: Vec<(String, f64)> = rendering
        .lines("turn")
        .filter(|line| line.turn == "model")
        .map(|line| {
            // past the attack: three seconds of the held note
            let from = line.at as usize + RATE.hz() as usize / 2;
            (line.group.clone(), short_term(&rendering.out[from..from + 3 * RATE.hz() as usize]))
        })
        .collect();
    assert_eq!(loudness.len(), 8, "{loudness:?}");
    let most = loudness.iter().map(|(_, lufs)| *lufs).fold(f64::NEG_INFINITY, f64::max);
    let least = loudness.iter().map(|(_, lufs)| *lufs).fold(f64::INFINITY, f64::min);
    println!("{most} to {least} LUFS: {loudness:?}");
    assert!(least > -50.0, "{loudness:?}");
    assert!(most - least <= TURN_TOLERANCE_LU, "{} LU apart: {loudness:?}", most - least);
}

/// The voice and all that gives way to it, side by side, of a class counted in over `drone` with `mix`.
fn voice_and_rest(drone: &Drone, mix: &Mix) -> [Vec<[f32; 2]>; 2] {
    let text = "version = 1\ntitle = \"Count\"\ntempo = 72\nrounds = 2\ncall = true\n[line]\nall = { concert = \"Bb4:4\" }\n\
                [[turn]]\ncount = {}\n[[turn]]\nmodel = {}\n";
    let (mut bounce, room) = (Bounce::new(RATE, clips()), room());
    bounce.controls.mix(mix, &room);
    bounce.controls.drone(Some((drone, &room)));
    // the drone has swelled before the first word
    run(&mut bounce, 2 * 750, &mut ());
    start(&mut bounce, &drill(text));
    let mut stems = Stems::new();
    let [mut voice, mut rest] = [Vec::new(), Vec::new()];
    for _ in 0..12 * 750 {
        bounce.block(&mut (), Some(&mut stems), |_| {});
        for frame in 0..synth::BLOCK {
            let sum: f32 = Bus::all().filter(|bus| !matches!(bus, Bus::Voice | Bus::Click)).map(|bus| stems.get(bus)[frame]).sum();
            voice.push([stems.get(Bus::Voice)[frame]; 2]);
            rest.push([sum; 2]);
        }
    }
    [voice, rest]
}

/// Where words sound: as much from the start of each as the meter takes in.
fn spoken(voice: &[[f32; 2]]) -> Vec<Range<usize>> {
    let gap = RATE.hz() as usize / 20;
    let mut words: Vec<Range<usize>> = Vec::new();
    for (at, _) in voice.iter().enumerate().filter(|(_, frame)| frame[0].abs() > 1e-4) {
        match words.last_mut() {
            Some(word) if at < word.end + gap => word.end = at + 1,
            _ => words.push(at..at + 1),
        }
    }
    let window = RATE.hz() as usize * 2 / 5;
    words.retain(|word| word.len() >= window * 3 / 4 && word.start + window <= voice.len());
    words.into_iter().map(|word| word.start..word.start + window).collect()
}

#[test]
fn the_voice_stays_over_the_fullest_drone_however_the_roles_are_turned() {
    let free = |note: &str| StackTone::Free(note.parse().unwrap());
    let stack = vec![StackTone::LowerOctave, StackTone::Root, StackTone::Fifth, StackTone::Octave, free("D4"), free("F5")];
    let drone = Drone { stack, registers: Registers::Room, ..room().drone };
    let against = Mix::default().with(Role::Voice, Decibels(-99.0)).with(Role::Drone, Decibels(99.0)).with(Role::Model, Decibels(99.0));
    for mix in [Mix::default(), Mix::default().with(Role::Voice, Decibels(99.0)), against] {
        let [voice, rest] = voice_and_rest(&drone, &mix);
        let words = spoken(&voice);
        assert!(words.len() >= 6, "{} words were long enough to measure", words.len());
        for word in words {
            let over = momentary(&voice[word.clone()]) - momentary(&rest[word.clone()]);
            println!("{:.2} s: {over:.1} LU", word.start as f64 / f64::from(RATE.hz()));
            assert!(over >= VOICE_OVER_REST_LU, "{over} LU over the rest at frame {} with {mix:?}", word.start);
        }
        // the drone itself is there where no word is
        assert!(momentary(&rest) > -45.0);
    }
}

#[test]
fn roles_and_sections_sound_at_the_levels_of_the_room() {
    let mut class = room();
    let drone = class.drone.clone();
    class.sections[2].level = Decibels(-4.0);
    class.mix = Mix::default().with(Role::Model, Decibels(-3.0)).with(Role::Drone, Decibels(-6.0));
    let mut bounce = Bounce::silent(RATE);
    let held = |bounce: &mut Bounce| {
        bounce.controls.drone(Some((&drone, &room())));
        let out = run(bounce, 5 * 750, &mut ());
        short_term(&out[out.len() - 3 * RATE.hz() as usize..])
    };
    let usual = held(&mut bounce);
    bounce.controls.mix(&class.mix, &class);
    let softer = held(&mut bounce);
    assert!((usual - softer - 6.0).abs() < 0.1, "{usual} then {softer} LUFS");
    let section = |number| bounce.controls.level(Dial::Bus(Bus::Section(number))).decibels().0;
    assert!((section(2) + 7.0).abs() < 1e-4 && (section(1) + 3.0).abs() < 1e-4);
    assert_eq!(bounce.controls.level(Dial::Bus(Bus::Voice)), Gain::UNITY);
}
