//! The audio thread neither allocates nor frees, over every kind of plan and every cue.

use super::{RATE, clips, drill, every_kind, room};
use assert_no_alloc::{AllocDisabler, assert_no_alloc, violation_count};
use engine::journal::{Deed, Recipe};
use engine::{Dial, Renderer};
use sequencer::Cue;
use synth::{Bus, Probe};
use units::Gain;

#[global_allocator]
static GUARD: AllocDisabler = AllocDisabler;

/// Fills one callback under the guard; counts what it catches.
fn guarded(renderer: &mut Renderer, out: &mut [f32]) -> u32 {
    let before = violation_count();
    assert_no_alloc(|| renderer.fill(out, 2));
    violation_count() - before
}

#[test]
fn nothing_is_allocated_or_freed_over_every_plan_and_cue() {
    let room = room();
    let (mut controls, mut renderer) = engine::pair(RATE);
    controls.clips(clips());
    controls.want_sent(true);
    let sweep = Probe::new("sweep", &listen::room::sweep(RATE, listen::room::SWEEP_LEVEL));
    let remarks = [&["on_it"][..], &["octave", "too_low"]].map(|words| sequencer::words::remark(words.iter().copied()).unwrap());
    let mut probed = 0;
    let mut out = vec![0.0; 2 * 512];
    let mut caught = 0;
    let mut callbacks = 0;
    for (index, score) in every_kind().into_iter().enumerate() {
        controls.load(score.clone(), None, Recipe::default());
        controls.drone(Some((&room.drone, &room)));
        controls.cue(Cue::Go);
        for (round, cue) in Cue::ALL.into_iter().cycle().take(30).enumerate() {
            for _ in 0..23 {
                caught += guarded(&mut renderer, &mut out);
                callbacks += 1;
            }
            controls.cue(cue);
            controls.say(remarks[round % remarks.len()]);
            if cue == Cue::Hush {
                controls.cue(Cue::Go);
            }
            match (index + round) % 8 {
                6 => {
                    controls.hush();
                    for _ in 0..12 {
                        caught += guarded(&mut renderer, &mut out);
                    }
                    controls.probe(sweep.clone());
                    for _ in 0..if round % 3 == 0 { 450 } else { 20 } {
                        caught += guarded(&mut renderer, &mut out);
                    }
                    controls.poll();
                    probed += usize::from(!matches!(controls.probing(), Some(engine::Probing::Refused)));
                    controls.cue(Cue::Go);
                }
                0 => controls.amend(score.clone(), Recipe::default()),
                1 => controls.halt("test"),
                2 => controls.drone(None),
                3 => controls.set_level(Dial::Bus(Bus::Voice), Gain::new(0.03 * round as f32)),
                4 => controls.clips(clips()),
                5 => controls.queue(Some((drill(super::LONG), Recipe::default())), (round % 2 == 0).then_some(units::FrameSpan(48_000))),
                _ => controls.load(drill(super::LONG), None, Recipe::default()),
            }
            // not on every round: what is worn out must be able to wait
            if round % 4 == 0 {
                controls.poll();
                // nor here: what was sent must be able to find no room
                if round % 12 == 0 {
                    controls.sent(|_, _| {});
                }
            }
        }
    }
    assert_eq!(caught, 0, "in {callbacks} callbacks");
    assert!(callbacks > 5_000 && probed > 20, "{callbacks} callbacks, {probed} sweeps");
    assert!(controls.sent_dropped().0 > 0, "the lane was never full");
}

#[test]
fn nothing_is_allocated_by_a_remark() {
    let (mut controls, mut renderer) = engine::pair(RATE);
    controls.clips(clips());
    controls.load(drill(super::remarks::RESTS), None, Recipe::default());
    controls.cue(Cue::Go);
    let mut out = vec![0.0; 2 * 512];
    let (mut caught, mut said) = (0, 0);
    for callback in 0..2_600 {
        if callback % 40 == 0 {
            controls.say(sequencer::words::remark(["octave", "too_low"]).unwrap());
        }
        caught += guarded(&mut renderer, &mut out);
        controls.poll();
        said += controls.take_entries().iter().filter(|entry| matches!(entry.deed, Deed::Say { .. })).count();
    }
    assert_eq!(caught, 0);
    assert!(said >= 2, "{said} of {} were said", 2_600 / 40);
}

#[test]
fn the_guard_catches_an_allocation_made_on_purpose() {
    let before = violation_count();
    let kept = assert_no_alloc(|| std::hint::black_box(vec![1_u8; 64]));
    assert!(violation_count() > before);
    drop(kept);
}
