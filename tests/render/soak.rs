//! Hours of a class that is led at random. A few minutes run with the other tests; six hours, in some two minutes, by
//! `PRECENTOR_SOAK_HOURS=6 cargo test --release --test tests render::soak -- --nocapture`; other whims by `PRECENTOR_SOAK_SEED=7`.

use super::timing::Beats;
use super::whims::Whims;
use super::{RATE, clips, drill, every_kind, frequency, resident, room};
use assert_no_alloc::{assert_no_alloc, violation_count};
use engine::Dial;
use engine::journal::Recipe;
use sequencer::{Cue, Drone, Registers, StackTone};
use synth::{BLOCK, Bus};
use units::Gain;

fn from_environment<T: std::str::FromStr>(name: &str, otherwise: T) -> T {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

#[test]
fn hours_of_whims_leave_no_trace() {
    let hours = from_environment("PRECENTOR_SOAK_HOURS", 0.05_f64);
    let seed = from_environment("PRECENTOR_SOAK_SEED", 20_261_125);
    let mut scores = every_kind();
    scores.push(drill(super::LONG));
    let mut class = Whims::new(seed, RATE, room(), scores, clips());
    let end = (hours * 3600.0 * f64::from(RATE.hz())) as u64;
    let (mut callbacks, mut caught, mut loudest) = (0_u64, 0, 0.0_f32);
    let mut settled = None;
    while class.renderer.now().0 < end {
        let (out, _) = class.callback(|renderer, out, channels| {
            let before = violation_count();
            assert_no_alloc(|| renderer.fill(out, channels));
            caught += violation_count() - before;
        });
        assert!(out.iter().all(|sample| sample.is_finite()), "a sample that is no number in callback {callbacks}");
        loudest = out.iter().fold(loudest, |most, sample| most.max(sample.abs()));
        callbacks += 1;
        if settled.is_none() && class.renderer.now().0 > end / 10 {
            settled = Some(resident());
        }
    }
    let grown = resident().saturating_sub(settled.unwrap_or_default());
    let counts = class.controls.poll().counts;
    println!(
        "{hours} h, seed {seed}: {callbacks} callbacks, {} whims, {caught} allocations, {counts:?}, loudest {loudest:.3}, memory grew by \
         {grown} KiB in the last nine tenths",
        class.obeyed
    );
    assert_eq!(caught, 0, "allocations in the callback");
    assert_eq!((counts.non_finite, counts.lost_sounds), (0, 0));
    assert!(loudest > 0.1 && loudest < 1.0, "the loudest sample is {loudest}");
    // other tests run in this program at the same time, unless it is run for hours
    assert!(hours < 1.0 || grown <= 64 * hours as u64, "memory grew by {grown} KiB");
    ends_in_time_and_in_tune(class, seed);
}

/// After all that: every sound of a drill on its frame, and a drone at its pitch.
fn ends_in_time_and_in_tune(mut class: Whims, seed: u64) {
    class.controls.hush();
    for dial in Dial::all() {
        class.controls.set_level(dial, Gain::new(0.5));
    }
    class.controls.load(drill(super::LONG), None, Recipe::default());
    class.controls.cue(Cue::Go);
    let mut beats = Beats::default();
    for _ in 0..30 * RATE.hz() as usize / BLOCK {
        class.renderer.next_block(&mut beats, None);
        class.controls.poll();
    }
    assert!(beats.bars > 12, "{} bars in half a minute with seed {seed}", beats.bars);
    beats.assert_exact(1320);

    class.controls.hush();
    let drone = Drone { root: "A3".parse().unwrap(), stack: vec![StackTone::Root], registers: Registers::Stack, ..room().drone };
    let room = sequencer::Room { drone: drone.clone(), ..room() };
    class.controls.drone(Some((&drone, &room)));
    let mut heard = Vec::new();
    let mut stems = synth::Stems::new();
    for block in 0..14 * RATE.hz() as usize / BLOCK {
        class.renderer.next_block(&mut (), Some(&mut stems));
        class.controls.poll();
        if block > 4 * RATE.hz() as usize / BLOCK {
            heard.extend_from_slice(stems.get(Bus::Drone));
        }
    }
    let cents = 1200.0 * (frequency(&heard, 220.0) / 220.0).log2();
    println!("at the end: {} sounds exact to the frame, the drone {cents:+.1e} cents off", beats.sounds.len());
    assert!(cents.abs() < 1e-4, "{cents} cents off with seed {seed}");
}
