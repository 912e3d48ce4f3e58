//! The stages of a climb.

use crate::climb::{ClimbError, ClimbRule, StepRange};
use proptest::prelude::*;
use units::Tempo;

fn tempo(bpm: f64) -> Tempo {
    Tempo::new(bpm).unwrap()
}

fn stages(goal: f64) -> Vec<f64> {
    ClimbRule::to(tempo(goal)).stages().unwrap().into_iter().map(Tempo::bpm).collect()
}

/// Common practice, no source.
#[test]
fn goals_of_common_marches_climb_as_they_are_climbed() {
    assert_eq!(stages(152.0), [76.0, 95.0, 114.0, 133.0, 152.0]);
    assert_eq!(stages(132.0)[0], 72.0);
    assert_eq!(stages(164.0)[0], 82.0);
    assert_eq!(stages(60.0), [60.0]);
    assert_eq!(stages(72.0), [72.0]);
    assert_eq!(stages(80.0), [72.0, 80.0]);
}

#[test]
fn every_goal_takes_steps_of_the_usual_size_where_arithmetic_allows() {
    for goal in 40..=240_u32 {
        let stages = stages(f64::from(goal));
        let steps: Vec<f64> = stages.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let way = stages[stages.len() - 1] - stages[0];
        for step in &steps {
            let possible =
                (1..=10).any(|count| (16.0..=24.0).contains(&(way / f64::from(count)).floor()) && way / f64::from(count) <= 24.0);
            assert!(*step <= 24.0 && (*step >= 16.0 || !possible), "{goal}: {stages:?}");
        }
        let (least, most) = (steps.iter().copied().fold(f64::MAX, f64::min), steps.iter().copied().fold(0.0, f64::max));
        assert!(steps.is_empty() || most - least <= 1.0, "{goal}: {steps:?} are as even as whole numbers allow");
    }
}

#[test]
fn what_cannot_be_climbed_says_why() {
    let rule = ClimbRule { start: Some(tempo(120.0)), ..ClimbRule::to(tempo(100.0)) };
    assert!(matches!(rule.stages(), Err(ClimbError::StartsAboveGoal { .. })));
    for text in ["", "16", "24..16", "0..8", "a..b", "16..", "..24", "-1..4", "16...24"] {
        assert!(text.parse::<StepRange>().is_err(), "{text}");
    }
    assert_eq!("16..24".parse::<StepRange>().unwrap(), StepRange::default());
}

proptest! {
    #[test]
    fn a_climb_rises_strictly_and_keeps_its_bounds(
        goal in 40_000..=240_000_u32,
        floor in 30_u16..=240,
        start in proptest::option::of(30_000..=240_000_u32),
        least in 1_u16..60,
        extra in 0_u16..60,
    ) {
        let goal = tempo(f64::from(goal) / 1000.0);
        let start = start.map(|start| tempo(f64::from(start) / 1000.0)).filter(|start| *start <= goal);
        let floor = tempo(f64::from(floor));
        let rule = ClimbRule { goal, start, floor, steps: StepRange::new(least, least + extra).unwrap() };
        let stages = rule.stages().unwrap();
        prop_assert_eq!(*stages.last().unwrap(), goal);
        prop_assert!(stages.windows(2).all(|pair| pair[0] < pair[1]));
        let most = u32::from(least + extra) * 1000;
        prop_assert!(stages.windows(2).all(|pair| pair[1].thousandths() - pair[0].thousandths() <= most));
        match start {
            Some(start) => prop_assert_eq!(stages[0], start),
            None => prop_assert!(stages[0] >= floor || stages[0] == goal),
        }
    }
}
