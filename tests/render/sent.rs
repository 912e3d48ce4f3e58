//! What the engine says it gave out, and the known sound it measures with.

use super::{LONG, RATE, clips, drill, room, run, start};
use engine::journal::{Deed, Recipe};
use engine::{Bounce, Probing};
use sequencer::Cue;
use synth::{BLOCK, Probe, care};
use units::{FrameInstant, FrameSpan};

/// The frames handed over, each with its number.
fn sent(bounce: &mut Bounce) -> Vec<(u64, f32)> {
    let mut all = Vec::new();
    bounce.controls.sent(|at, samples| all.extend(samples.iter().enumerate().map(|(n, sample)| (at.0 + n as u64, *sample))));
    all
}

fn sweep() -> Probe {
    Probe::new("sweep", &listen::room::sweep(RATE, listen::room::SWEEP_LEVEL))
}

fn mean(frames: &[[f32; 2]]) -> Vec<f32> {
    frames.iter().map(|[left, right]| 0.5 * (left + right)).collect()
}

#[test]
fn what_was_sent_is_what_came_out_frame_by_frame() {
    let mut bounce = Bounce::new(RATE, clips());
    bounce.controls.want_sent(true);
    start(&mut bounce, &drill(LONG));
    let out = mean(&run(&mut bounce, 2000, &mut ()));
    let sent = sent(&mut bounce);
    assert_eq!(sent.len(), out.len());
    for (n, ((at, sample), out)) in sent.iter().zip(&out).enumerate() {
        assert_eq!((*at, *sample), (n as u64, *out));
    }
    assert!(out.iter().any(|sample| *sample != 0.0));
    assert_eq!(bounce.controls.sent_dropped(), FrameSpan::ZERO);
}

#[test]
fn what_nobody_reads_or_wants_is_missing_and_the_frames_show_it() {
    let mut bounce = Bounce::new(RATE, clips());
    run(&mut bounce, 100, &mut ());
    assert_eq!(sent(&mut bounce), [], "nobody asked");
    bounce.controls.want_sent(true);
    run(&mut bounce, 4000, &mut ());
    let dropped = bounce.controls.sent_dropped().0;
    let kept = sent(&mut bounce);
    assert_eq!(dropped + kept.len() as u64, 4000 * BLOCK as u64);
    // four seconds in whole blocks
    assert_eq!(kept.len(), 192_000);
    assert!(kept.windows(2).all(|pair| pair[0].0 + 1 == pair[1].0), "in one piece until there was no more room");
    run(&mut bounce, 10, &mut ());
    let after = sent(&mut bounce);
    assert_eq!(after.len(), 10 * BLOCK);
    assert_eq!(after[0].0 - kept[kept.len() - 1].0 - 1, dropped, "the jump is what was dropped");
    bounce.controls.want_sent(false);
    run(&mut bounce, 10, &mut ());
    assert_eq!(sent(&mut bounce), []);
}

#[test]
fn a_sweep_sounds_on_its_frame_softly_and_no_louder_than_a_tone() {
    let mut bounce = Bounce::silent(RATE);
    bounce.controls.want_sent(true);
    run(&mut bounce, 10, &mut ());
    let sweep = sweep();
    let length = sweep.samples().len() as u64;
    bounce.controls.probe(sweep.clone());
    assert_eq!(bounce.controls.probing(), Some(Probing::Asked));
    run(&mut bounce, 1, &mut ());
    assert_eq!(bounce.controls.probing(), Some(Probing::Sounding { start: FrameInstant(640) }));
    run(&mut bounce, 2000, &mut ());
    let mut sent = sent(&mut bounce);
    run(&mut bounce, 1500, &mut ());
    assert_eq!(bounce.controls.probing(), Some(Probing::Over { start: FrameInstant(640) }));
    assert!(bounce.is_silent());
    sent.extend(self::sent(&mut bounce));
    let gain = care::START_LEVEL * std::f32::consts::FRAC_1_SQRT_2;
    let (rise, end) = (RATE.span(0.15).0, length);
    for (at, sample) in &sent {
        let Some(n) = at.checked_sub(640).filter(|n| *n < end) else {
            assert_eq!(*sample, 0.0, "frame {at}");
            continue;
        };
        let whole = sweep.samples()[n as usize] * gain;
        if (rise..end - RATE.span(0.02).0).contains(&n) {
            assert!((sample - whole).abs() < 1e-6, "frame {at}: {sample} for {whole}");
        } else {
            assert!(sample.abs() <= whole.abs() + 1e-6, "frame {at}");
        }
    }
    let peak = |from: usize, to: usize| sent[640 + from..640 + to].iter().fold(0.0_f32, |peak, (_, sample)| peak.max(sample.abs()));
    assert!(peak(0, 480) < 0.01 * peak(48_000, 96_000), "it begins out of nothing");
    // a sine of this peak is 20 dB under full scale before the master level, as a tone is
    let weighted = f64::from(peak(48_000, 96_000)) / f64::from(gain) / std::f64::consts::SQRT_2;
    assert!((weighted - f64::from(care::TONE_RMS)).abs() < 1e-3, "{weighted}");
    let entries = bounce.controls.take_entries();
    let probe = entries.iter().find(|entry| matches!(&entry.deed, Deed::Probe { kind } if kind == "sweep")).unwrap();
    assert_eq!(probe.frame, 640);
}

#[test]
fn even_a_shout_of_a_probe_stays_at_its_level_and_under_the_ceiling() {
    let loud: Vec<f32> = (0..48_000).map(|n| if n % 100 == 7 { f32::NAN } else { 900.0 * (n as f32 * 0.1).sin() }).collect();
    let mut bounce = Bounce::silent(RATE);
    bounce.controls.set_level(engine::Dial::Master, units::Gain::UNITY);
    bounce.controls.probe(Probe::new("loud", &loud));
    let out = run(&mut bounce, 900, &mut ());
    let peak = out.as_flattened().iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
    assert!(peak > 0.09 && peak <= care::PROBE_PEAK && peak < care::TRUE_PEAK_CEILING, "{peak}");
}

#[test]
fn hush_ends_a_sweep_within_50_ms_from_any_frame_of_it() {
    for blocks in [1, 2, 7, 300, 1900] {
        let mut bounce = Bounce::silent(RATE);
        bounce.controls.probe(sweep());
        run(&mut bounce, blocks, &mut ());
        bounce.controls.hush();
        let after = run(&mut bounce, 300, &mut ());
        let last = after.iter().rposition(|frame| *frame != [0.0; 2]).map_or(0, |last| last + 1);
        assert!(last as u64 <= RATE.span(0.050).0, "{last} frames after {blocks} blocks");
        assert_eq!(bounce.controls.probing(), Some(Probing::CutShort));
        assert!(super::largest_step(&after) < 0.12, "no click");
    }
}

#[test]
fn a_sweep_given_before_a_hush_never_sounds() {
    let mut bounce = Bounce::silent(RATE);
    run(&mut bounce, 4, &mut ());
    bounce.controls.probe(sweep());
    bounce.controls.hush();
    let out = run(&mut bounce, 100, &mut ());
    assert!(out.iter().all(|frame| *frame == [0.0; 2]));
    assert_eq!(bounce.controls.probing(), Some(Probing::Refused));
    assert!(!bounce.controls.take_entries().iter().any(|entry| matches!(entry.deed, Deed::Probe { .. })));
}

#[test]
fn a_sweep_is_refused_while_anything_else_is_heard_and_gives_way_to_the_class() {
    let room = room();
    let mut bounce = Bounce::new(RATE, clips());
    // while a plan runs
    start(&mut bounce, &drill(LONG));
    run(&mut bounce, 400, &mut ());
    bounce.controls.probe(sweep());
    run(&mut bounce, 4, &mut ());
    assert_eq!(bounce.controls.probing(), Some(Probing::Refused));
    // while what it sounded dies away
    bounce.controls.hush();
    run(&mut bounce, 2, &mut ());
    bounce.controls.probe(sweep());
    run(&mut bounce, 4, &mut ());
    assert_eq!(bounce.controls.probing(), Some(Probing::Refused));
    // under a drone
    bounce.controls.drone(Some((&room.drone, &room)));
    run(&mut bounce, 100, &mut ());
    bounce.controls.probe(sweep());
    run(&mut bounce, 4, &mut ());
    assert_eq!(bounce.controls.probing(), Some(Probing::Refused));
    bounce.controls.hush();
    run(&mut bounce, 100, &mut ());
    // one at a time
    bounce.controls.probe(sweep());
    run(&mut bounce, 100, &mut ());
    bounce.controls.probe(sweep());
    run(&mut bounce, 4, &mut ());
    assert_eq!(bounce.controls.probing(), Some(Probing::Refused));
    // the class comes first
    bounce.controls.cue(Cue::Go);
    run(&mut bounce, 100, &mut ());
    bounce.controls.hush();
    run(&mut bounce, 100, &mut ());
    bounce.controls.probe(sweep());
    run(&mut bounce, 100, &mut ());
    bounce.controls.load(drill(LONG), None, Recipe::default());
    bounce.controls.cue(Cue::Go);
    run(&mut bounce, 100, &mut ());
    assert_eq!(bounce.controls.probing(), Some(Probing::CutShort));
    let probes = bounce.controls.take_entries().iter().filter(|entry| matches!(entry.deed, Deed::Probe { .. })).count();
    assert_eq!(probes, 2, "only those that sounded are in the journal");
}
