//! The director's cues in sound: silence at once, the rest at the bar line, nothing torn.

use super::{RATE, clips, demo, drill, largest_step, room, run, score, start};
use engine::journal::{Deed, Recipe};
use engine::{Bounce, Dial};
use sequencer::{Cue, Motion};
use synth::{BLOCK, Bus, Stems};

const SECOND: usize = 48_000 / BLOCK;

/// Everyone at once over a full drone, with voice, clicks and breath.
const FULL: &str = "version = 1\ntitle = \"Full\"\ntempo = 96\nrounds = 50\n[line]\nall = { concert = \"F4:2 G4:2\" }\n\
                    [[turn]]\nmodel = {}\n[[turn]]\nbreath = { bars = 1, beats = 2 }\n";

fn full_band() -> Bounce {
    let mut bounce = Bounce::new(RATE, clips());
    let room = room();
    bounce.controls.drone(Some((&room.drone, &room)));
    start(&mut bounce, &drill(FULL));
    bounce
}

#[test]
fn hush_is_silent_within_fifty_milliseconds_from_any_moment() {
    for blocks in [SECOND / 2, SECOND, SECOND + 7, 2 * SECOND, 3 * SECOND + 100, 4 * SECOND + 333, 6 * SECOND] {
        let mut bounce = full_band();
        let before = run(&mut bounce, blocks, &mut ());
        let loud = before[before.len() - 4_800..].iter().flatten().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
        // at the least a drone that makes room for a word
        assert!(loud > 0.005, "only {loud} sounded before block {blocks}");
        bounce.controls.hush();
        let after = run(&mut bounce, SECOND, &mut ());
        let last = after.iter().rposition(|frame| *frame != [0.0, 0.0]).map_or(0, |last| last + 1);
        // `after` starts a look-ahead of the limiter early, so this is what a listener waits
        assert!(last <= 2_400, "{last} frames until silence, hushed after {blocks} blocks");
        let seam = [&before[before.len() - 960..], &after[..4_800]].concat();
        assert!(largest_step(&seam) <= 1.25 * largest_step(&before), "no click: {} after {}", largest_step(&seam), largest_step(&before));
        assert_eq!(bounce.controls.poll().motion(), Some(Motion::Held));
    }
}

#[test]
fn a_hold_ends_an_inhale_with_the_bar() {
    let text = "version = 1\ntitle = \"Long breath\"\ntempo = 72\nclick = false\n[line]\nall = { concert = \"F4:4\" }\n\
                [[turn]]\nbreath = { bars = 2, beats = 7 }\n[[turn]]\nmodel = {}\n";
    let mut bounce = Bounce::new(RATE, clips());
    start(&mut bounce, &drill(text));
    run(&mut bounce, 2 * SECOND, &mut ());
    bounce.controls.cue(Cue::Hold);
    // the bar line is at 174,400 frames; the release takes at most 30 ms
    let rest = run(&mut bounce, 4 * SECOND, &mut ());
    let line = 174_400 - 2 * SECOND * BLOCK;
    assert!(rest[line - 4_800..line].iter().any(|frame| frame[0] != 0.0));
    assert!(rest[line + 1_600..].iter().all(|frame| *frame == [0.0, 0.0]));
    assert_eq!(bounce.controls.poll().motion(), Some(Motion::Held));
}

#[test]
fn a_go_that_waits_behind_a_hush_does_not_sound() {
    let mut bounce = Bounce::new(RATE, clips());
    bounce.controls.load(drill(FULL), None, Recipe::default());
    run(&mut bounce, 4, &mut ());
    bounce.controls.cue(Cue::Go);
    bounce.controls.hush();
    let out = run(&mut bounce, 2 * SECOND, &mut ());
    assert!(out.iter().all(|frame| *frame == [0.0, 0.0]));
    bounce.controls.cue(Cue::Go);
    let out = run(&mut bounce, 2 * SECOND, &mut ());
    assert!(out.iter().any(|frame| frame[0].abs() > 0.01), "a go given after the hush does");
}

#[test]
fn no_cue_load_or_edit_tears_the_sound() {
    let mut undisturbed = full_band();
    let steady = largest_step(&run(&mut undisturbed, 20 * SECOND, &mut ()));
    let mut bounce = full_band();
    let room = room();
    let mut drone = room.drone.clone();
    let edited = drill(&FULL.replace("F4:2 G4:2", "G4:2 F4:2"));
    let other = score(demo(1).compile(&room).unwrap());
    let mut out = run(&mut bounce, 2 * SECOND, &mut ());
    for (count, direct) in (0..24).zip([0, 1, 2, 3, 4, 5, 6, 7].into_iter().cycle()) {
        match direct {
            0 => bounce.controls.cue(Cue::Again),
            1 => bounce.controls.amend(edited.clone(), Recipe::default()),
            2 => {
                drone.root = if count % 3 == 0 { "F3" } else { "Eb3" }.parse().unwrap();
                bounce.controls.drone(Some((&drone, &room)));
            }
            3 => bounce.controls.set_level(Dial::Bus(Bus::Drone), units::Gain::new(0.1 * (count % 9) as f32)),
            4 => {
                bounce.controls.load(other.clone(), None, Recipe::default());
                bounce.controls.cue(Cue::Go);
            }
            5 => bounce.controls.cue(Cue::Hold),
            6 => bounce.controls.drone(None),
            _ => {
                bounce.controls.load(drill(FULL), None, Recipe::default());
                bounce.controls.cue(Cue::Go);
            }
        }
        out.extend(run(&mut bounce, SECOND + 37 * count, &mut ()));
    }
    let step = largest_step(&out);
    assert!(step <= 1.25 * steady, "largest step {step}, undisturbed {steady}");
}

#[test]
fn a_lost_device_keeps_the_round_and_go_takes_it_up() {
    let mut bounce = full_band();
    run(&mut bounce, 12 * SECOND, &mut ());
    let before = bounce.controls.poll().position.unwrap();
    bounce.controls.halt("the cable was pulled");
    run(&mut bounce, SECOND, &mut ());
    let held = bounce.controls.poll().position.unwrap();
    assert_eq!(held.motion, Motion::Held);
    let plan = drill(FULL);
    assert_eq!(held.bar, plan.plan.round_top(before.bar));
    assert!(held.bar > 0);
    bounce.controls.cue(Cue::Go);
    run(&mut bounce, SECOND, &mut ());
    let gone_on = bounce.controls.poll().position.unwrap();
    assert_eq!((gone_on.motion, gone_on.bar), (Motion::Running, held.bar));
    assert!(bounce.controls.poll().drone, "the drone stays");
}

#[test]
fn an_edit_is_heard_at_a_bar_line_and_the_pulse_goes_on() {
    let mut bounce = full_band();
    let room = room();
    let mut lister = engine::listing::Lister::new(&room);
    let mut out = Vec::new();
    let mut step = |bounce: &mut Bounce, blocks: usize| {
        for _ in 0..blocks {
            bounce.block(&mut lister, None, |frames| out.extend_from_slice(frames));
        }
    };
    step(&mut bounce, 6 * SECOND);
    bounce.controls.amend(drill(&FULL.replace("F4:2 G4:2", "Eb4:4")), Recipe::default());
    step(&mut bounce, 10 * SECOND);
    let listing = lister.finish(&drill(FULL), RATE, 0);
    let bars: Vec<_> = listing.cues.iter().filter(|line| line.kind == "click").map(|line| line.at).collect();
    let beat = 48_000.0 * 60.0 / 96.0;
    for (index, at) in bars.iter().enumerate() {
        assert_eq!(*at, 14_400 + (index as f64 * beat).round() as u64, "the pulse is whole");
    }
    let concert: Vec<_> =
        listing.cues.iter().filter(|line| line.section.as_deref() == Some("Flutes")).filter_map(|line| line.concert.clone()).collect();
    assert!(concert.iter().any(|note| note.starts_with('F')) && concert.last().unwrap().starts_with("Eb"), "{concert:?}");
}

#[test]
fn the_journal_names_every_cue_with_the_frame_it_took_hold_at() {
    let mut bounce = full_band();
    run(&mut bounce, SECOND, &mut ());
    bounce.controls.cue(Cue::Louder);
    bounce.controls.cue(Cue::Next);
    run(&mut bounce, 5, &mut ());
    bounce.controls.hush();
    run(&mut bounce, 5, &mut ());
    bounce.controls.poll();
    let entries = bounce.controls.take_entries();
    let deeds: Vec<_> = entries.iter().map(|entry| (entry.frame, &entry.deed)).collect();
    let frame = (SECOND * BLOCK) as u64;
    assert!(matches!(deeds[0], (0, Deed::Voice)), "{deeds:?}");
    assert!(deeds.iter().any(|(at, deed)| *at == frame && matches!(deed, Deed::Cue { cue } if cue == "next")));
    assert!(deeds.iter().any(|(at, deed)| *at == frame && matches!(deed, Deed::Level { dial, .. } if dial == "master")));
    assert!(deeds.iter().any(|(at, deed)| *at == frame + 5 * BLOCK as u64 && matches!(deed, Deed::Cue { cue } if cue == "hush")));
}

#[test]
fn a_reader_that_sleeps_does_not_disturb_the_sound() {
    let play = |awake: bool| {
        let (mut controls, mut renderer) = engine::pair(RATE);
        controls.clips(clips());
        controls.load(drill(FULL), None, Recipe::default());
        controls.cue(Cue::Go);
        let mut out = vec![0.0; 2 * 480_000];
        for chunk in out.chunks_mut(2 * 480) {
            renderer.fill(chunk, 2);
            if awake {
                controls.poll();
            } else {
                // a level moved again and again fills the report queue
                for step in 0..10 {
                    controls.set_level(Dial::Bus(Bus::Section(23)), units::Gain::new(0.5 + 0.01 * step as f32));
                }
            }
        }
        out
    };
    assert!(play(true) == play(false));
}

#[test]
fn a_tone_that_has_not_begun_when_the_device_is_lost_never_does() {
    let score = drill(FULL);
    let room = room();
    let mut lister = engine::listing::Lister::new(&room);
    let mut bounce = Bounce::new(RATE, clips());
    start(&mut bounce, &score);
    run(&mut bounce, SECOND, &mut lister);
    let first = lister.finish(&score, RATE, 0).cues.iter().filter(|line| line.kind == "tone").map(|tone| tone.at).min().unwrap();
    for blocks_before in 0..20 {
        let mut bounce = Bounce::new(RATE, clips());
        start(&mut bounce, &score);
        run(&mut bounce, first as usize / BLOCK - blocks_before, &mut ());
        bounce.controls.halt("the cable was pulled");
        let mut stems = Stems::new();
        for _ in 0..SECOND / 4 {
            bounce.block(&mut (), Some(&mut stems), |_| {});
            for section in 0..16 {
                let stem = stems.get(Bus::Section(section));
                assert!(stem.iter().all(|sample| *sample == 0.0), "section {section}, {blocks_before} blocks before its tone");
            }
        }
    }
}
