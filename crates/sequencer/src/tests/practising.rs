//! Climbs and rechecks, compiled and stepped.

use super::room;
use super::stepping::{RATE, run};
use crate::climb::{Advance, ClimbSettings, Pass, RecheckSettings};
use crate::plan::{Bar, Plan, Sound};
use crate::{Cue, Meter, Motion, Passage, Piece, PieceBar, TurnKind, compile};
use proptest::prelude::*;
use units::{Beats, Tempo};

fn tempo(bpm: f64) -> Tempo {
    Tempo::new(bpm).unwrap()
}

/// Sixteen bars of 4/4 at 152.
fn march() -> Piece {
    Piece::bare("Lantern March".to_owned(), tempo(152.0), Meter::COMMON, 16)
}

/// A pick-up of one beat, three bars of 4/4, two of 3/4 and one of 6/8 at another tempo.
fn mixed() -> Piece {
    let mut piece = march();
    piece.bars.truncate(7);
    for (index, bar) in piece.bars.iter_mut().enumerate() {
        bar.number = index.to_string();
    }
    piece.bars[0] = PieceBar { opens_at: Beats::whole(3), length: Beats::whole(1), ..piece.bars[0].clone() };
    for bar in &mut piece.bars[4..6] {
        (bar.meter, bar.length) = ("3/4".parse().unwrap(), Beats::whole(3));
    }
    let last = &mut piece.bars[6];
    (last.meter, last.length, last.tempo) = ("6/8".parse().unwrap(), Beats::whole(2), Some(tempo(100.0)));
    piece
}

fn climb(piece: &Piece, settings: &ClimbSettings) -> Plan {
    compile::climb(&room(), piece, &piece.whole(), settings).unwrap()
}

/// A climb that never waits.
fn by_itself() -> ClimbSettings {
    ClimbSettings { stages: Advance::ByItself, ..ClimbSettings::default() }
}

fn words<'p>(plan: &'p Plan, bar: &Bar) -> Vec<(Beats, Vec<&'static str>)> {
    let spoken = |sound: &'p crate::plan::PlannedSound| match &sound.sound {
        Sound::Words(phrase) => Some((sound.beat, phrase.words().to_vec())),
        Sound::Between(word) => Some((sound.beat, vec![*word])),
        _ => None,
    };
    plan.sounds_of(bar).iter().filter_map(spoken).collect()
}

fn clicks(plan: &Plan, bar: &Bar) -> Vec<Beats> {
    plan.sounds_of(bar).iter().filter(|sound| matches!(sound.sound, Sound::Click { .. })).map(|sound| sound.beat).collect()
}

#[test]
fn a_climb_takes_its_passes_stage_by_stage_and_names_each_aloud() {
    let plan = climb(&march(), &ClimbSettings::default());
    let labels: Vec<_> = plan.stations.iter().map(|station| station.label.as_str()).collect();
    assert_eq!(labels.len(), 5);
    assert_eq!((labels[0], labels[4]), ("stage 1 of 5, at 76", "stage 5 of 5, at 152"));
    let mut passes: Vec<(u16, Pass)> = Vec::new();
    for bar in &plan.bars {
        if let TurnKind::Pass(pass) = bar.turn
            && passes.last() != Some(&(bar.station, pass))
        {
            passes.push((bar.station, pass));
        }
    }
    use Pass::{Air, Clap, Count, Play};
    let later = (1..5).flat_map(|stage| [(stage, Air), (stage, Play)]);
    assert_eq!(passes, [(0, Count), (0, Clap), (0, Air), (0, Play)].into_iter().chain(later).collect::<Vec<_>>());
    let calls: Vec<_> = plan.bars.iter().filter(|bar| bar.turn == TurnKind::Call).flat_map(|bar| words(&plan, bar)).collect();
    assert_eq!(calls[0].1, ["count", "seventy", "six"]);
    assert_eq!(calls[4].1, ["air", "ninety", "five"]);
    assert_eq!(calls[11].1, ["play", "one", "fifty", "two"]);
    // sixteen bars of every pass, each under its number on the page
    let pass = plan.bars.iter().filter(|bar| bar.station == 3 && bar.turn == TurnKind::Pass(Play));
    assert_eq!(
        pass.map(|bar| plan.page_number(bar).unwrap().to_owned()).collect::<Vec<_>>(),
        (1..=16).map(|n| n.to_string()).collect::<Vec<_>>()
    );
}

#[test]
fn every_bar_of_every_pass_of_a_climb_is_on_its_exact_frame() {
    let plan = climb(&march(), &by_itself());
    let (run, cursor) = run(&plan, &[(0, Cue::Go)], 40 * 60 * 48_000);
    assert_eq!(cursor.motion(), Motion::Done);
    assert_eq!(run.bars.len(), plan.bars.len());
    // from each stage's first bar on, counted apart from the cursor: whole bars of four beats, to the nearest frame
    let mut line: u128 = u128::from(run.bars[0].start.0);
    for (stage, bpm) in [76_u128, 95, 114, 133, 152].into_iter().enumerate() {
        let bars: Vec<_> = run.bars.iter().filter(|bar| usize::from(plan.bars[bar.index as usize].station) == stage).collect();
        for (count, bar) in bars.iter().enumerate() {
            let nearest = |beats: u128| line + (2 * beats * 60 * 48_000 + bpm) / (2 * bpm);
            assert_eq!(u128::from(bar.start.0), nearest(4 * count as u128), "stage {stage}, bar {count}");
            assert_eq!(u128::from(bar.end.0), nearest(4 * (count as u128 + 1)));
        }
        line += (2 * (4 * bars.len() as u128) * 60 * 48_000 + bpm) / (2 * bpm);
    }
}

#[test]
fn the_stages_wait_for_the_director_and_one_cue_decides() {
    let plan = climb(&march(), &ClimbSettings::default());
    let first_ask = plan.bars.iter().position(|bar| bar.turn == TurnKind::Ask).unwrap() as u32;
    assert_eq!(plan.talks[0], "76 done: go on to 95, again, or back a stage");
    let standing = |cues: &[Cue]| {
        let mut cursor = crate::Cursor::new(&plan, RATE);
        let mut at = units::FrameInstant::ZERO;
        let mut first = None;
        for cue in [Cue::Go].iter().chain(cues) {
            cursor.cue(&plan, *cue, at);
            first = None;
            loop {
                at = units::FrameInstant(at.0 + 64);
                while let Some(step) = cursor.step(&plan, at) {
                    if let crate::cursor::Step::Bar(bar) = step {
                        first = first.or(Some(bar.index));
                    }
                }
                if matches!(cursor.motion(), Motion::Waiting | Motion::Done) {
                    break;
                }
            }
        }
        (cursor.position(at).bar, plan.bars[first.unwrap() as usize].station)
    };
    assert_eq!(standing(&[]).0, first_ask);
    assert_eq!(standing(&[Cue::Go]).1, 1, "on");
    assert_eq!(standing(&[Cue::Next]).1, 1, "on");
    assert_eq!(standing(&[Cue::Again]).1, 0, "the stage again");
    assert_eq!(standing(&[Cue::Go, Cue::Back]).1, 0, "back one stage");
    assert_eq!(standing(&[Cue::Go, Cue::Again]), (standing(&[Cue::Go]).0, 1));
    // at the end of the last stage: once more, or a stage back
    let to_the_end = [Cue::Go; 4];
    assert_eq!(standing(&[&to_the_end[..], &[Cue::Again]].concat()).1, 4);
    assert_eq!(standing(&[&to_the_end[..], &[Cue::Back]].concat()).1, 3);
}

#[test]
fn lips_rest_in_silence_between_the_stages() {
    let plan = climb(&march(), &ClimbSettings { rest: 2, ..ClimbSettings::default() });
    for stage in 0..5 {
        let rests: Vec<_> = plan.bars.iter().filter(|bar| bar.station == stage && bar.turn == TurnKind::Rest).collect();
        assert_eq!(rests.len(), 2);
        assert!(rests.iter().all(|bar| plan.sounds_of(bar).is_empty() && bar.after_stage));
    }
}

#[test]
fn the_first_count_is_divided_and_later_ones_are_not() {
    let settings = ClimbSettings { first_stage: vec![Pass::Count, Pass::Count], later_stages: vec![Pass::Count], ..by_itself() };
    let plan = climb(&march(), &settings);
    let spoken: Vec<_> = plan
        .bars
        .iter()
        .filter(|bar| bar.turn == TurnKind::Pass(Pass::Count))
        .step_by(16)
        .map(|bar| words(&plan, bar).into_iter().flat_map(|(_, words)| words).collect::<Vec<_>>().join(" "))
        .collect();
    assert_eq!(spoken[0], "one and two and three and four and");
    assert!(spoken[1..].iter().all(|words| words == "one two three four"), "{spoken:?}");
}

#[test]
fn pick_ups_and_changing_meters_are_counted_with_the_right_words() {
    let plan = climb(&mixed(), &by_itself());
    let counted = |bar: &Bar| words(&plan, bar).into_iter().flat_map(|(_, words)| words).collect::<Vec<_>>().join(" ");
    let first: Vec<_> = plan.bars.iter().filter(|bar| bar.station == 0 && bar.round == 0).collect();
    let off: Vec<_> = first.iter().filter(|bar| bar.turn == TurnKind::Count).map(|bar| counted(bar)).collect();
    assert_eq!(off, ["one two three four", "one two three"]);
    let pass: Vec<_> = first.iter().filter(|bar| bar.turn == TurnKind::Pass(Pass::Count)).map(|bar| counted(bar)).collect();
    assert_eq!(
        pass,
        [
            "four and",
            "one and two and three and four and",
            "one and two and three and four and",
            "one and two and three and four and",
            "one and two and three and",
            "one and two and three and",
            "one la li two la li",
        ]
    );
    // the beat of the pick-up is no downbeat, and the inhale ends where it enters
    let air: Vec<_> = plan.bars.iter().filter(|bar| bar.station == 0 && plan.bars[plan.round_top(0) as usize].station == 0).collect();
    let pickup = air.iter().find(|bar| bar.turn == TurnKind::Pass(Pass::Air)).unwrap();
    assert!(plan.sounds_of(pickup).iter().all(|sound| !matches!(sound.sound, Sound::Click { downbeat: true })));
    let breath = plan.bars.iter().find(|bar| bar.turn == TurnKind::Breath && bar.length == Beats::whole(3)).unwrap();
    let inhale = plan.sounds_of(breath).iter().find(|sound| matches!(sound.sound, Sound::Breath { .. })).unwrap();
    assert_eq!((inhale.beat, inhale.sound), (Beats::whole(1), Sound::Breath { length: Beats::whole(2) }));
}

#[test]
fn every_part_of_a_passage_climbs_to_its_own_goal() {
    let plan = climb(&mixed(), &by_itself());
    let (run, _) = run(&plan, &[(0, Cue::Go)], 20 * 60 * 48_000);
    let at = |stage: u16, number: &str| {
        let bar = run.bars.iter().find(|laid| {
            let bar = &plan.bars[laid.index as usize];
            bar.station == stage && matches!(bar.turn, TurnKind::Pass(_)) && plan.page_number(bar) == Some(number)
        });
        bar.unwrap().clock.tempo.bpm()
    };
    assert_eq!([0, 1, 2, 3, 4].map(|stage| at(stage, "5")), [76.0, 95.0, 114.0, 133.0, 152.0]);
    assert_eq!([0, 1, 2, 3, 4].map(|stage| at(stage, "6")), [72.0, 79.0, 86.0, 93.0, 100.0]);
}

#[test]
fn a_fading_click_comes_back_on_the_exact_beat_after_sixteen_silent_bars() {
    let mut piece = march();
    let bars = (1..=28).map(|number: u16| PieceBar::whole(number.to_string(), Meter::COMMON));
    piece.bars = bars.collect();
    piece.bars[0].tempo = Some(tempo(100.0));
    let settings = ClimbSettings {
        start: Some(tempo(100.0)),
        first_stage: vec![Pass::Play],
        repeats: 2,
        click: "every:4 half:4 downbeat:4 silent:16".parse().unwrap(),
        ..by_itself()
    };
    let mut long = piece.clone();
    long.bars.push(PieceBar::whole("29".to_owned(), Meter::COMMON));
    let plan = climb(&long, &settings);
    let (run, _) = run(&plan, &[(0, Cue::Go)], 10 * 60 * 48_000);
    let pass: Vec<_> = run.bars.iter().filter(|laid| plan.bars[laid.index as usize].turn == TurnKind::Pass(Pass::Play)).take(29).collect();
    let ticked = |bar: usize| clicks(&plan, &plan.bars[pass[bar].index as usize]).len();
    assert_eq!((ticked(0), ticked(4), ticked(8)), (4, 2, 1));
    assert!((12..28).all(|bar| ticked(bar) == 0));
    assert_eq!(ticked(28), 4);
    // 28 bars of four beats at 100, of 28,800 frames each
    assert_eq!(pass[28].frame_of(Beats::ZERO).0 - pass[0].start.0, 28 * 4 * 28_800);
}

#[test]
fn a_recheck_goes_half_air_percussion_and_twice_at_full_tempo() {
    let march = march();
    let plan = compile::recheck(&room(), &march, &march.whole(), &RecheckSettings::default()).unwrap();
    let labels: Vec<_> = plan.stations.iter().map(|station| station.label.as_str()).collect();
    assert_eq!(labels, ["play at 76", "air at 152", "percussion at 152", "play at 152", "play at 152"]);
    assert_eq!(plan.stations[2].sections.len(), 1);
    let mut distrusted = room();
    distrusted.sections.iter_mut().for_each(|section| section.trusted = false);
    let plan = compile::recheck(&distrusted, &march, &march.whole(), &RecheckSettings::default()).unwrap();
    assert_eq!(plan.stations.len(), 4);
    assert!(plan.notices[0].text.contains("trusted = true"), "{:?}", plan.notices);
    let only = RecheckSettings { steps: vec!["full percussion".parse().unwrap()], ..RecheckSettings::default() };
    let error = compile::recheck(&distrusted, &march, &march.whole(), &only).unwrap_err().to_string();
    assert!(error.ends_with("write trusted = true for one in the room file"), "{error}");
}

#[test]
fn a_step_of_a_recheck_is_dropped_or_repeated_with_a_cue() {
    let march = march();
    let plan = compile::recheck(&room(), &march, &march.whole(), &RecheckSettings::default()).unwrap();
    let stations = |cue: Cue| {
        let (run, _) = run(&plan, &[(0, Cue::Go), (20 * 48_000, cue)], 120 * 48_000);
        let mut stations: Vec<u16> = run.bars.iter().map(|bar| plan.bars[bar.index as usize].station).collect();
        let again = run.bars.windows(2).any(|pair| pair[1].index < pair[0].index);
        stations.dedup();
        (stations[1], again)
    };
    assert_eq!(stations(Cue::Next), (1, false));
    assert_eq!(stations(Cue::Again), (1, true));
    let (before, _) = run(&plan, &[(0, Cue::Go), (20 * 48_000, Cue::Next)], 40 * 48_000);
    assert!(before.bars.iter().filter(|bar| plan.bars[bar.index as usize].station == 0).count() < 10, "dropped in its middle");
}

#[test]
fn a_tempo_that_was_nudged_or_edited_holds_for_the_stage_it_is_in() {
    let (plan, edited) = (climb(&march(), &by_itself()), climb(&march(), &ClimbSettings { start: Some(tempo(80.0)), ..by_itself() }));
    assert_eq!((plan.tempo, edited.tempo), (tempo(76.0), tempo(80.0)));
    // nudged before the start: the first stage begins so, the second at its own tempo
    let (slower, _) = run(&plan, &[(0, Cue::Slower), (64, Cue::Go)], 40 * 60 * 48_000);
    let at = |stage: u16| {
        let first = slower.bars.iter().find(|bar| plan.bars[bar.index as usize].station == stage);
        first.unwrap().clock.tempo.bpm()
    };
    assert_eq!((at(0), at(1)), (72.0, 95.0));
    // an edited start is nothing to a stage further up
    let third = plan.stations[2].first_bar;
    let mut cursor = crate::Cursor::new(&plan, RATE);
    cursor.stand_at(&plan, third, tempo(152.0));
    assert_eq!(cursor.tempo(), tempo(114.0), "a stage has a tempo of its own");
    let here = edited.tempo_in_force(edited.stations[2].first_bar).unwrap();
    cursor.transfer(&plan, &edited);
    assert_eq!(cursor.tempo(), here);
    cursor.cue(&edited, Cue::Go, units::FrameInstant::ZERO);
    let Some(crate::cursor::Step::Bar(first)) = cursor.step(&edited, units::FrameInstant::ZERO) else { panic!("it starts") };
    assert_eq!(first.clock.tempo, here);
    let mut cursor = crate::Cursor::new(&plan, RATE);
    cursor.stand_at(&plan, third, tempo(114.0));
    cursor.cue(&plan, Cue::Go, units::FrameInstant::ZERO);
    while cursor.step(&plan, units::FrameInstant(48_000)).is_some() {}
    let titled = Plan { title: "Another".to_owned(), tempo: tempo(80.0), ..plan.clone() };
    cursor.transfer(&plan, &titled);
    assert_eq!(cursor.tempo(), tempo(114.0), "what was edited elsewhere changes nothing here");
}

#[test]
fn what_cannot_be_climbed_is_told() {
    let march = march();
    let error = |settings: &ClimbSettings, passage: &Passage| compile::climb(&room(), &march, passage, settings).unwrap_err().to_string();
    let high = ClimbSettings { start: Some(tempo(160.0)), ..by_itself() };
    assert_eq!(error(&high, &march.whole()), "a climb cannot start at 160, above its goal of 152; start at or under the goal");
    let nowhere = Passage { name: "coda".to_owned(), bars: 20..24 };
    assert_eq!(error(&by_itself(), &nowhere), "\"coda\" has no bars; say which, such as from = 17 and to = 32");
}

fn any_piece() -> impl Strategy<Value = Piece> {
    let bar = (prop_oneof![Just("4/4"), Just("3/4"), Just("6/8"), Just("2/2")], proptest::option::weighted(0.2, 30_u32..=240));
    (proptest::collection::vec(bar, 1..12), 40_u32..=240, 0_i64..2).prop_map(|(bars, goal, pickup)| {
        let mut piece = Piece::bare("Any".to_owned(), tempo(f64::from(goal)), Meter::COMMON, 1);
        piece.bars = bars
            .iter()
            .enumerate()
            .map(|(index, (meter, tempo))| {
                let mut bar = PieceBar::whole((index + 1).to_string(), meter.parse().unwrap());
                bar.tempo = tempo.map(|bpm| Tempo::new(f64::from(bpm)).unwrap());
                bar
            })
            .collect();
        let first = &mut piece.bars[0];
        first.tempo = Some(tempo(f64::from(goal)));
        first.opens_at = Beats::whole(pickup);
        first.length = first.meter.bar() - first.opens_at;
        piece
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_climb_lays_every_bar_once_without_a_gap(piece in any_piece(), repeats in 1_u16..3, count_off in 1_u16..3, rest in 1_u16..3) {
        let settings = ClimbSettings { repeats, count_off, rest, ..by_itself() };
        let plan = climb(&piece, &settings);
        let (run, cursor) = run(&plan, &[(0, Cue::Go)], 60 * 60 * 48_000);
        prop_assert_eq!(cursor.motion(), Motion::Done);
        prop_assert_eq!(run.bars.iter().map(|bar| bar.index).collect::<Vec<_>>(), (0..plan.bars.len() as u32).collect::<Vec<_>>());
        for pair in run.bars.windows(2) {
            prop_assert_eq!(pair[0].end, pair[1].start);
        }
        for laid in &run.bars {
            let bar = &plan.bars[laid.index as usize];
            // each sound lies within its bar, and each bar is as long as its beats at its tempo, to the nearest frame on either side
            prop_assert!(plan.sounds_of(bar).iter().all(|sound| sound.beat >= Beats::ZERO && sound.beat < bar.length));
            let exact = bar.length.as_f64() * 60.0 * 48_000.0 / laid.clock.tempo.bpm();
            prop_assert!(((laid.end.0 - laid.start.0) as f64 - exact).abs() <= 1.0);
        }
        let last = run.bars.iter().rev().find(|laid| matches!(plan.bars[laid.index as usize].turn, TurnKind::Pass(_))).unwrap();
        prop_assert_eq!(last.clock.tempo, piece.tempo_at(piece.bars.len() - 1), "the last stage is at concert tempo");
    }
}
