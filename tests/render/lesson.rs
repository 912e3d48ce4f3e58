//! A class hour on the engine: each plan queued behind the one before it and started on its frame.

use super::{RATE, clips, demo, march, pack, resident, room};
use assert_no_alloc::{assert_no_alloc, violation_count};
use engine::journal::Recipe;
use engine::{LaidSound, Observer, Score};
use sequencer::climb::{Advance, ClimbSettings, RecheckSettings};
use sequencer::cursor::{LOOK_AHEAD_SECONDS, LaidBar};
use sequencer::{Cue, Motion, Plan, TurnKind, compile};
use std::sync::Arc;
use units::{FrameSpan, SampleRate};

/// Where each plan's first bar began and its last ended, in the order they came, each plan by its address. Notes them without allocating.
struct Ends {
    plans: Vec<(*const Plan, u64, u64)>,
}

impl Ends {
    fn new() -> Self {
        Self { plans: Vec::with_capacity(64) }
    }
}

impl Observer for Ends {
    fn bar(&mut self, score: &Score, bar: &LaidBar) {
        match self.plans.last_mut().filter(|(plan, ..)| std::ptr::eq(*plan, &raw const score.plan)) {
            Some((_, _, end)) => *end = bar.end.0,
            None => self.plans.push((&raw const score.plan, bar.start.0, bar.end.0)),
        }
    }

    fn sound(&mut self, _: &LaidBar, _: &LaidSound) {}
}

fn look_ahead(rate: SampleRate) -> u64 {
    rate.span(LOOK_AHEAD_SECONDS).0
}

fn scores(plans: Vec<Plan>) -> Vec<Arc<Score>> {
    plans.into_iter().map(|plan| Arc::new(Score::new(plan, &room(), pack(), RATE))).collect()
}

/// Some ninety minutes of everything a lesson may hold.
fn ninety_minutes() -> Vec<Arc<Score>> {
    let room = room();
    let march = march();
    let by_itself = ClimbSettings { stages: Advance::ByItself, repeats: 2, ..ClimbSettings::default() };
    let horns = room.find("Horns").unwrap();
    let mut plans = Vec::new();
    for _ in 0..6 {
        let mut add = |plan: Plan| plans.push(plan);
        add(compile::hold(&room, &room.drone, Some(3.0)).unwrap());
        add(compile::landmarks(&room, horns).unwrap());
        add(demo(0).compile(&room).unwrap());
        add(demo(0).roll(&room, horns).unwrap());
        add(compile::climb(&room, &march, &march.whole(), &by_itself).unwrap());
        add(compile::recheck(&room, &march, &march.whole(), &RecheckSettings::default()).unwrap());
    }
    scores(plans)
}

#[test]
fn ninety_minutes_of_items_follow_one_another_on_their_frames() {
    let all = ninety_minutes();
    let (mut controls, mut renderer) = engine::pair(RATE);
    controls.clips(clips());
    controls.load(Arc::clone(&all[0]), None, Recipe::default());
    controls.queue(Some((Arc::clone(&all[1]), Recipe::default())), None);
    controls.cue(Cue::Go);
    let mut ends = Ends::new();
    let (mut queued, mut caught, mut settled) = (1, 0, None);
    loop {
        let before = violation_count();
        // half a second between looks, as on a machine that is late
        assert_no_alloc(|| {
            for _ in 0..375 {
                renderer.next_block(&mut ends, None);
            }
        });
        caught += violation_count() - before;
        let snapshot = controls.poll();
        controls.take_entries();
        let in_force = controls.score_of(&snapshot).unwrap();
        let place = all.iter().position(|score| Arc::ptr_eq(score, in_force)).unwrap();
        if place == queued && queued + 1 < all.len() {
            queued += 1;
            controls.queue(Some((Arc::clone(&all[queued]), Recipe::default())), None);
        }
        if settled.is_none() && place == 6 {
            settled = Some(resident());
        }
        assert_ne!(snapshot.motion(), Some(Motion::Waiting), "{}", all[place].plan.title);
        if place + 1 == all.len() && snapshot.motion() == Some(Motion::Done) {
            break;
        }
    }
    let minutes = renderer.now().0 as f64 / 48_000.0 / 60.0;
    println!("{minutes:.1} minutes, {caught} allocations, memory grew by {} KiB", resident().saturating_sub(settled.unwrap()));
    assert!(minutes > 90.0, "{minutes} minutes");
    assert_eq!(caught, 0);

    assert_eq!(ends.plans.len(), all.len());
    for ((plan, ..), score) in ends.plans.iter().zip(&all) {
        assert!(std::ptr::eq(*plan, &raw const score.plan), "{} came out of its turn", score.plan.title);
    }
    for pair in ends.plans.windows(2) {
        assert_eq!(pair[1].1 - pair[0].2, look_ahead(RATE));
    }
}

#[test]
fn an_item_whose_minutes_are_up_ends_with_its_round() {
    let room = room();
    let mut drill = demo(0).drill;
    drill.rounds = 40;
    let all = scores(vec![compile::drill(&room, &drill).unwrap(), compile::hold(&room, &room.drone, Some(0.05)).unwrap()]);
    let (mut controls, mut renderer) = engine::pair(RATE);
    controls.clips(clips());
    controls.load(Arc::clone(&all[0]), None, Recipe::default());
    controls.cue(Cue::Go);
    controls.queue(Some((Arc::clone(&all[1]), Recipe::default())), Some(FrameSpan(60 * 48_000)));
    let mut ends = Ends::new();
    for _ in 0..100 * 750 {
        renderer.next_block(&mut ends, None);
        controls.poll();
    }
    let plan = &all[0].plan;
    let round: u64 =
        plan.bars.iter().filter(|bar| (bar.station, bar.round) == (0, 1)).map(|bar| plan.tempo.frames(bar.length, RATE).0).sum();
    let (_, _, end) = &ends.plans[0];
    assert!((60 * 48_000..60 * 48_000 + round + 48_000).contains(end), "ended at {end}, a round lasts {round}");
    assert_eq!(ends.plans[1].1, end + look_ahead(RATE));
    assert!(!controls.poll().drone, "the held drone ends with its item");
    assert_eq!(controls.poll().motion(), Some(Motion::Done));
}

#[test]
fn a_plan_that_waits_is_not_passed_by() {
    let room = room();
    let all = scores(vec![compile::talk(&room, "Collect practice sheets").unwrap(), compile::hold(&room, &room.drone, None).unwrap()]);
    let (mut controls, mut renderer) = engine::pair(RATE);
    controls.load(Arc::clone(&all[0]), None, Recipe::default());
    controls.cue(Cue::Go);
    controls.queue(Some((Arc::clone(&all[1]), Recipe::default())), Some(FrameSpan(48_000)));
    let mut run = |seconds: usize, controls: &mut engine::Controls| {
        for _ in 0..seconds * 750 {
            renderer.next_block(&mut (), None);
        }
        controls.poll()
    };
    assert_eq!(run(5, &mut controls).motion(), Some(Motion::Waiting));
    controls.cue(Cue::Go);
    let snapshot = run(5, &mut controls);
    assert_eq!((snapshot.motion(), snapshot.drone), (Some(Motion::Running), true));
    assert_eq!(all[1].plan.bars[0].turn, TurnKind::Hold);
    controls.cue(Cue::Hush);
    let snapshot = run(1, &mut controls);
    assert_eq!((snapshot.motion(), snapshot.drone), (Some(Motion::Held), false));
    controls.cue(Cue::Go);
    assert!(run(2, &mut controls).drone, "the item's drone comes back with go");
}
