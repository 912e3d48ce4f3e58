use super::{concert, middle_note, room};
use crate::cursor::{LaidBar, Step};
use crate::{Cue, Cursor, Division, Drill, Group, Meter, Motion, Plan, Turn, TurnKind, compile};
use proptest::prelude::*;
use units::{Beats, FrameInstant, FrameSpan, SampleRate, Tempo};

pub(super) const RATE: SampleRate = SampleRate::DEFAULT;
const BLOCK: u64 = 64;

/// What a run laid: its bars, and the bar lines it stopped at.
#[derive(Default)]
pub(super) struct Run {
    pub(super) bars: Vec<LaidBar>,
    pub(super) stops: Vec<FrameInstant>,
}

/// Steps `plan` block by block up to `until`, giving each cue at its frame.
pub(super) fn run(plan: &Plan, cues: &[(u64, Cue)], until: u64) -> (Run, Cursor) {
    let mut cursor = Cursor::new(plan, RATE);
    let mut run = Run::default();
    let mut cues = cues.iter().peekable();
    let mut now = 0;
    while now < until {
        while let Some((_, cue)) = cues.next_if(|(at, _)| *at <= now) {
            cursor.cue(plan, *cue, FrameInstant(now));
        }
        while let Some(step) = cursor.step(plan, FrameInstant(now)) {
            match step {
                Step::Bar(bar) => run.bars.push(bar),
                Step::Stop { at } => run.stops.push(at),
            }
        }
        now += BLOCK;
    }
    (run, cursor)
}

fn endless(tempo: f64) -> Plan {
    let mut drill = middle_note();
    drill.tempo = Tempo::new(tempo).unwrap();
    drill.rounds = 500;
    compile::drill(&room(), &drill).unwrap()
}

fn turns(plan: &Plan, run: &Run) -> Vec<(TurnKind, u16, u16)> {
    run.bars.iter().filter_map(|bar| plan.bar(bar.index)).map(|bar| (bar.turn, bar.station, bar.round)).collect()
}

#[test]
fn an_hour_at_any_tempo_has_every_beat_on_the_nearest_frame() {
    for tempo in [72.0, 76.0, 152.0, 163.7] {
        let plan = endless(tempo);
        let hour = 3600 * u64::from(RATE.hz());
        let (run, _) = run(&plan, &[(0, Cue::Go)], hour);
        assert!(run.bars.len() as f64 > 3500.0 * tempo / 60.0 / 4.0);
        let first = run.bars[0].start.0;
        for (count, bar) in run.bars.iter().enumerate() {
            for beat in 0..4 {
                // exact: frames = beats * 60 * rate / bpm, in tenths of a beat per minute
                let beats = (4 * count + beat) as u128;
                let tenths = (tempo * 10.0).round() as u128;
                let (upper, lower) = (beats * 600 * u128::from(RATE.hz()), tenths);
                let nearest = (2 * upper + lower) / (2 * lower);
                assert_eq!(u128::from(bar.frame_of(Beats::whole(beat as i64)).0 - first), nearest, "{tempo}, beat {beats}");
            }
        }
    }
}

#[test]
fn the_first_beat_leaves_time_for_the_first_word() {
    let plan = endless(72.0);
    let (run, cursor) = run(&plan, &[(6400, Cue::Go)], 48_000);
    assert_eq!(run.bars[0].start, FrameInstant(6400) + cursor.look_ahead());
    assert_eq!(cursor.look_ahead(), FrameSpan(14_400));
}

#[test]
fn a_quicker_tempo_starts_on_a_bar_line_and_leaves_no_gap() {
    let plan = endless(72.0);
    let (run, _) = run(&plan, &[(0, Cue::Go), (48_000, Cue::Quicker)], 20 * 48_000);
    let changed = run.bars.iter().position(|bar| bar.clock.tempo.bpm() == 76.0).unwrap();
    assert_eq!(changed, 1, "decided a look-ahead before the second bar line");
    for pair in run.bars.windows(2) {
        assert_eq!(pair[0].end, pair[1].start);
    }
    assert_eq!(run.bars[1].end.0 - run.bars[1].start.0, (4.0 * 60.0 * 48_000.0 / 76.0_f64).round() as u64);
}

#[test]
fn a_tempo_does_not_change_under_a_held_note() {
    let mut drill = middle_note();
    drill.everyone = Some(concert(&[("F4", 8)]));
    drill.own.clear();
    drill.groups = vec![crate::Group::Everyone];
    let plan = compile::drill(&room(), &drill).unwrap();
    // the second bar of the model is tied to the first
    assert_eq!(plan.bars.iter().map(|bar| bar.tied_over).take(4).collect::<Vec<_>>(), [false, false, true, false]);
    let bar = 160_000;
    let (run, _) = run(&plan, &[(0, Cue::Go), (14_400 + bar + 48_000, Cue::Slower)], 20 * 48_000);
    assert_eq!(run.bars.iter().map(|bar| bar.clock.tempo.bpm()).take(4).collect::<Vec<_>>(), [72.0, 72.0, 72.0, 68.0]);
}

#[test]
fn hold_stands_at_the_bar_line_and_go_takes_the_round_from_its_top() {
    let plan = endless(72.0);
    let bar = 160_000;
    // held in the third bar of the second round, gone on two seconds after that
    let held = 14_400 + 7 * bar + 48_000;
    let (run, _) = run(&plan, &[(0, Cue::Go), (held, Cue::Hold), (held + 4 * bar, Cue::Go)], held + 8 * bar);
    assert_eq!(run.stops[0], FrameInstant(14_400 + 8 * bar));
    assert_eq!(run.bars.len(), 8 + 4, "no bar while held, then the round again");
    let resumed = &run.bars[8];
    assert_eq!((resumed.index, resumed.jumped), (5, true));
    let given = (held + 4 * bar).div_ceil(BLOCK) * BLOCK;
    assert_eq!(resumed.start, FrameInstant(given + 14_400));
}

#[test]
fn again_next_and_back_take_hold_at_the_bar_line() {
    let mut drill = middle_note();
    drill.rounds = 2;
    let plan = compile::drill(&room(), &drill).unwrap();
    let bar = 160_000;
    let middle_of = |count: u64| 14_400 + count * bar + 64_000;
    use TurnKind::{Breath, Count, Model};
    let (again, _) = run(&plan, &[(0, Cue::Go), (middle_of(1), Cue::Again)], middle_of(3));
    assert_eq!(turns(&plan, &again), [(Count, 0, 0), (Model, 0, 0), (Count, 0, 0), (Model, 0, 0)]);
    assert!(again.bars[2].jumped && !again.bars[3].jumped);
    let (next, _) = run(&plan, &[(0, Cue::Go), (middle_of(1), Cue::Next)], middle_of(3));
    assert_eq!(turns(&plan, &next), [(Count, 0, 0), (Model, 0, 0), (Count, 1, 0), (Model, 1, 0)]);
    let (twice, _) = run(&plan, &[(0, Cue::Go), (middle_of(1), Cue::Next), (middle_of(1) + 64, Cue::Next)], middle_of(2));
    assert_eq!(turns(&plan, &twice)[2], (Count, 2, 0), "two cues move two groups");
    let (back, _) = run(&plan, &[(0, Cue::Go), (middle_of(0), Cue::Next), (middle_of(2), Cue::Back)], middle_of(4));
    assert_eq!(turns(&plan, &back), [(Count, 0, 0), (Count, 1, 0), (Model, 1, 0), (Count, 0, 0), (Model, 0, 0)]);
    let late = 14_400 + 2 * bar - 6_400;
    let (late, _) = run(&plan, &[(0, Cue::Go), (late, Cue::Next)], middle_of(3));
    assert_eq!(
        turns(&plan, &late),
        [(Count, 0, 0), (Model, 0, 0), (Breath, 0, 0), (Count, 1, 0)],
        "too late for this bar line: the next one"
    );
}

/// The middle note in an adaptive drill: the horns alone, then everyone.
fn adaptive() -> Plan {
    let adaptive = Some(crate::Adaptive { enough: 80, landmark_below: 50 });
    let groups = vec![Group::Sections(vec!["Horns".to_owned()]), Group::Everyone];
    compile::drill(&room(), &Drill { adaptive, groups, ..middle_note() }).unwrap()
}

#[test]
fn the_landmark_is_passed_by_unless_it_is_asked_for_and_leads_into_the_next_round() {
    let plan = adaptive();
    let bar = 160_000_u64;
    let middle_of = |count: u64| 14_400 + count * bar + 64_000;
    use TurnKind::{Breath, Call, Count, Echo, Landmark, Model};
    let round = |number| [(Count, 0, number), (Model, 0, number), (Breath, 0, number), (Echo, 0, number), (Breath, 0, number)];
    let (plain, _) = run(&plan, &[(0, Cue::Go)], middle_of(10));
    assert_eq!(turns(&plan, &plain), [&round(0)[..], &round(1), &[(Count, 0, 2)]].concat());
    // in the bar after the echo
    let (back, _) = run(&plan, &[(0, Cue::Go), (middle_of(4), Cue::Landmark)], middle_of(8));
    assert_eq!(turns(&plan, &back), [&round(0)[..], &[(Call, 0, 1), (Landmark, 0, 1)], &round(1)[..2]].concat());
    assert!(back.bars[5].jumped && !back.bars[7].jumped);
    // halted in the landmark, the round itself is come back to
    let (_, cursor) = run(&plan, &[(0, Cue::Go), (middle_of(4), Cue::Landmark), (middle_of(6), Cue::Hush)], middle_of(7));
    let stands = plan.bar(cursor.position(FrameInstant(middle_of(7))).bar).unwrap();
    assert_eq!((stands.turn, stands.round), (Count, 1));
    // behind the last round, and for everyone together, there is no landmark to come back to: the round again
    let last = plan.stations[0].rounds[3];
    let mut cursor = Cursor::new(&plan, RATE);
    cursor.stand_at(&plan, last, Tempo::new(72.0).unwrap());
    cursor.cue(&plan, Cue::Go, FrameInstant::ZERO);
    assert!(matches!(cursor.step(&plan, FrameInstant::ZERO), Some(Step::Bar(laid)) if laid.index == last));
    cursor.cue(&plan, Cue::Landmark, FrameInstant(20_000));
    let Some(Step::Bar(again)) = cursor.step(&plan, FrameInstant(14_400 + bar)) else { panic!("a bar is due") };
    assert_eq!(again.index, last);
    assert_eq!(plan.stations[1].landmarks, [0; 0]);
}

#[test]
fn the_landmark_is_the_section_s_own_nearest_to_its_note() {
    let plan = adaptive();
    let top = plan.stations[0].landmarks[1];
    let tones = |bar: u32| {
        let of = |planned: &crate::plan::PlannedSound| match planned.sound {
            crate::plan::Sound::Tone { pitch, length, .. } => Some((pitch.written.to_string(), length)),
            _ => None,
        };
        plan.sounds_of(plan.bar(bar).unwrap()).iter().filter_map(of).collect::<Vec<_>>()
    };
    assert_eq!(tones(top), []);
    assert_eq!(tones(top + 1), [("G4".to_owned(), Beats::whole(4))], "the note asked for is a landmark of the horns");
}

#[test]
fn an_impatient_second_go_does_not_pass_by_the_group_that_is_being_called() {
    let mut drill = middle_note();
    drill.call = true;
    let plan = compile::drill(&room(), &drill).unwrap();
    let (run, _) = run(&plan, &[(0, Cue::Go), (48_000, Cue::Go)], 14_400 + 2 * 160_000);
    assert_eq!(turns(&plan, &run), [(TurnKind::Call, 0, 0), (TurnKind::Count, 0, 0), (TurnKind::Model, 0, 0)]);
}

#[test]
fn a_hold_thought_better_of_changes_nothing_and_one_after_next_keeps_the_next() {
    let mut drill = middle_note();
    drill.rounds = 2;
    let plan = compile::drill(&room(), &drill).unwrap();
    let inside = 14_400 + 160_000 + 64_000;
    use TurnKind::{Breath, Count, Model};
    let (on, _) = run(&plan, &[(0, Cue::Go), (inside, Cue::Hold), (inside + 6_400, Cue::Go)], inside + 160_000);
    assert_eq!(turns(&plan, &on), [(Count, 0, 0), (Model, 0, 0), (Breath, 0, 0)]);
    let (held, cursor) = run(&plan, &[(0, Cue::Go), (inside, Cue::Next), (inside + 6_400, Cue::Hold)], inside + 320_000);
    assert_eq!((held.bars.len(), cursor.motion()), (2, Motion::Held));
    assert_eq!(cursor.position(FrameInstant(inside + 320_000)).bar, 10, "the next group's top");
    // in the last moments, when the hold is already decided
    let closing = 14_400 + 2 * 160_000 - 6_400;
    let cues = [(0, Cue::Go), (inside, Cue::Hold), (closing, Cue::Next), (closing + 64, Cue::Next)];
    let (moved, _) = run(&plan, &cues, inside + 320_000);
    assert_eq!(turns(&plan, &moved)[2], (Count, 2, 0), "two cues move two groups");
    let cues = [(0, Cue::Go), (inside, Cue::Hold), (closing, Cue::Go), (closing + 64, Cue::Hold)];
    let (_, cursor) = run(&plan, &cues, inside + 320_000);
    assert_eq!(cursor.motion(), Motion::Held);
}

#[test]
fn an_edit_that_takes_the_talk_away_keeps_the_count_in() {
    let mut drill = middle_note();
    drill.turns.insert(0, Turn::Talk { note: "Posture".to_owned() });
    let old = compile::drill(&room(), &drill).unwrap();
    drill.turns.remove(0);
    let new = compile::drill(&room(), &drill).unwrap();
    let mut cursor = Cursor::new(&old, RATE);
    cursor.cue(&old, Cue::Go, FrameInstant::ZERO);
    assert_eq!(cursor.motion(), Motion::Waiting);
    cursor.transfer(&old, &new);
    cursor.cue(&new, Cue::Go, FrameInstant(64));
    let Some(Step::Bar(first)) = cursor.step(&new, FrameInstant(64)) else { panic!("a bar is due") };
    assert_eq!(new.bars[first.index as usize].turn, TurnKind::Count);
}

#[test]
fn rounds_added_in_the_last_bar_are_played() {
    let mut drill = middle_note();
    drill.groups.truncate(1);
    drill.rounds = 1;
    let old = compile::drill(&room(), &drill).unwrap();
    drill.rounds = 3;
    let new = compile::drill(&room(), &drill).unwrap();
    let mut cursor = Cursor::new(&old, RATE);
    cursor.cue(&old, Cue::Go, FrameInstant::ZERO);
    let (mut plan, mut laid) = (&old, Vec::new());
    for now in (0..60 * 48_000).step_by(BLOCK as usize).map(FrameInstant) {
        if now.0 > 14_400 + 4 * 160_000 + 6_400 && std::ptr::eq(plan, &old) && cursor.at_a_seam(now) {
            cursor.transfer(&old, &new);
            plan = &new;
        }
        while let Some(step) = cursor.step(plan, now) {
            if let Step::Bar(bar) = step {
                laid.push(bar.index);
            }
        }
    }
    assert_eq!(laid, (0..15).collect::<Vec<_>>());
}

#[test]
fn a_tempo_does_not_change_under_a_breath() {
    let mut drill = middle_note();
    drill.turns = vec![Turn::Breath { bars: 2, beats: 7, division: Division::Beat }, Turn::Model];
    let plan = compile::drill(&room(), &drill).unwrap();
    assert_eq!(plan.bars.iter().map(|bar| bar.tied_over).take(3).collect::<Vec<_>>(), [false, true, false]);
}

#[test]
fn hush_while_a_last_talk_is_left_stands_on_a_bar_that_exists() {
    let mut drill = middle_note();
    drill.rounds = 1;
    drill.groups.truncate(1);
    drill.turns.push(Turn::Talk { note: "Well done".to_owned() });
    let plan = compile::drill(&room(), &drill).unwrap();
    let closing = 14_400 + 5 * 160_000 - 6_400;
    let (_, cursor) = run(&plan, &[(0, Cue::Go), (closing, Cue::Go), (closing + 64, Cue::Hush)], closing + 48_000);
    assert_eq!(cursor.motion(), Motion::Held);
    assert_eq!(cursor.position(FrameInstant(closing + 48_000)).bar, 0);
}

#[test]
fn the_last_group_ends_the_drill_and_go_starts_it_anew() {
    let mut drill = middle_note();
    drill.rounds = 1;
    let plan = compile::drill(&room(), &drill).unwrap();
    let length = 14_400 + 15 * 160_000;
    let (run, cursor) = run(&plan, &[(0, Cue::Go), (length + 48_000, Cue::Go)], length + 250_000);
    assert_eq!(run.stops, [FrameInstant(length)]);
    assert_eq!(run.bars.len(), 15 + 2);
    assert_eq!(run.bars[15].index, 0);
    assert_eq!(cursor.motion(), Motion::Running);
}

#[test]
fn talk_waits_for_the_director() {
    let mut drill = middle_note();
    drill.rounds = 1;
    drill.turns.insert(1, Turn::Talk { note: "Who breathed?".to_owned() });
    let plan = compile::drill(&room(), &drill).unwrap();
    let (waiting, cursor) = run(&plan, &[(0, Cue::Go)], 60 * 48_000);
    assert_eq!((waiting.bars.len(), cursor.motion()), (1, Motion::Waiting));
    assert_eq!(cursor.position(FrameInstant(60 * 48_000)).bar, 1);
    let (gone_on, _) = run(&plan, &[(0, Cue::Go), (30 * 48_000, Cue::Go)], 35 * 48_000);
    assert_eq!(plan.bars[gone_on.bars[1].index as usize].turn, TurnKind::Model);
}

#[test]
fn a_talk_at_the_very_end_is_left_for_good() {
    let mut drill = middle_note();
    drill.rounds = 1;
    drill.groups.truncate(1);
    drill.turns.push(Turn::Talk { note: "Instruments down".to_owned() });
    let plan = compile::drill(&room(), &drill).unwrap();
    let (run, cursor) = run(&plan, &[(0, Cue::Go), (60 * 48_000, Cue::Go)], 70 * 48_000);
    assert_eq!((run.bars.len(), cursor.motion()), (5, Motion::Done));
}

#[test]
fn hush_stands_at_once_and_keeps_the_round() {
    let plan = endless(72.0);
    let inside = 14_400 + 6 * 160_000 + 1_000;
    let (run, cursor) = run(&plan, &[(0, Cue::Go), (inside, Cue::Hush)], inside + 48_000);
    assert_eq!(cursor.motion(), Motion::Held);
    assert_eq!(cursor.position(FrameInstant(inside + 48_000)).bar, 5);
    assert_eq!(run.bars.len(), 7);
}

#[test]
fn an_edited_plan_is_taken_up_at_the_bar_line_without_a_gap() {
    let old = endless(72.0);
    let mut drill = middle_note();
    drill.rounds = 500;
    drill.everyone = Some(concert(&[("Eb4", 4)]));
    drill.tempo = Tempo::new(80.0).unwrap();
    let new = compile::drill(&room(), &drill).unwrap();
    let mut cursor = Cursor::new(&old, RATE);
    cursor.cue(&old, Cue::Go, FrameInstant::ZERO);
    let mut laid: Vec<LaidBar> = Vec::new();
    let mut plan = &old;
    for now in (0..30 * 48_000).step_by(BLOCK as usize).map(FrameInstant) {
        if now.0 > 7 * 48_000 && std::ptr::eq(plan, &old) && cursor.at_a_seam(now) {
            cursor.transfer(&old, &new);
            plan = &new;
        }
        while let Some(Step::Bar(bar)) = cursor.step(plan, now) {
            laid.push(bar);
        }
    }
    assert!(laid.windows(2).all(|pair| pair[0].end == pair[1].start));
    assert_eq!(laid.iter().map(|bar| bar.index).collect::<Vec<_>>(), (0..laid.len() as u32).collect::<Vec<_>>());
    assert_eq!(laid.last().unwrap().clock.tempo.bpm(), 80.0);
}

fn any_cue() -> impl Strategy<Value = Cue> {
    prop::sample::select(Cue::ALL.to_vec())
}

fn any_drill() -> impl Strategy<Value = Drill> {
    // what every meter takes
    let division = prop::sample::select(vec![Division::Beat, Division::Three]);
    let turn = prop_oneof![
        (1_u16..3, any::<bool>(), division.clone()).prop_map(|(bars, first_round_only, division)| Turn::Count {
            bars,
            first_round_only,
            division
        }),
        Just(Turn::Model),
        Just(Turn::Echo),
        (1_u16..3).prop_map(|bars| Turn::Rest { bars }),
        Just(Turn::Talk { note: String::new() }),
        division.prop_map(|division| Turn::Breath { bars: 1, beats: 2, division }),
    ];
    let meter = prop::sample::select(vec!["2/4", "3/4", "4/4", "5/4", "6/8", "9/8", "6/8 in 6"]);
    (prop::collection::vec(turn, 1..7), meter, 1_u16..4, 30.0_f64..=240.0, any::<[bool; 2]>()).prop_map(
        |(turns, meter, rounds, bpm, [call, adaptive])| {
            let meter: Meter = meter.parse().unwrap();
            Drill {
                tempo: Tempo::new(bpm).unwrap(),
                meter,
                rounds,
                everyone: Some(concert(&[("F4", 1), ("G4", i64::from(meter.beats()) - 1)])),
                own: Vec::new(),
                turns: [vec![Turn::Count { bars: 1, first_round_only: true, division: Division::Beat }], turns].concat(),
                call,
                adaptive: adaptive.then_some(crate::Adaptive { enough: 80, landmark_below: 50 }),
                ..middle_note()
            }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever the director does: while the plan runs, bar follows bar without gap or overlap, each on the exact frame of its pulse;
    /// a bar starts only after it was decided, a look-ahead before its line; and stops fall on bar lines.
    #[test]
    fn any_cues_leave_the_pulse_whole(drill in any_drill(), cues in prop::collection::vec((0_u64..40 * 48_000, any_cue()), 0..24)) {
        let plan = compile::drill(&room(), &drill).unwrap();
        let mut cues = cues;
        cues.push((0, Cue::Go));
        cues.sort_by_key(|(at, _)| *at);
        let hushes: Vec<u64> = cues.iter().filter(|(_, cue)| *cue == Cue::Hush).map(|(at, _)| *at).collect();
        let (run, _) = run(&plan, &cues, 40 * 48_000);
        for bar in &run.bars {
            prop_assert!(plan.bar(bar.index).is_some());
            prop_assert_eq!(bar.start, bar.clock.frame_of(bar.origin));
            prop_assert_eq!(bar.end, bar.clock.frame_of(bar.origin + plan.meter.bar()));
            prop_assert!(plan.bar(bar.index).unwrap().turn != TurnKind::Talk);
        }
        for pair in run.bars.windows(2) {
            let hushed = hushes.iter().any(|at| (pair[0].start.0.saturating_sub(20_000)..=pair[1].start.0).contains(at));
            let stopped = run.stops.contains(&pair[0].end);
            if !hushed {
                let follows = if stopped { pair[1].start > pair[0].end } else { pair[1].start == pair[0].end };
                prop_assert!(follows, "{:?} after {:?}", pair[1], pair[0]);
            }
            if !pair[1].jumped {
                prop_assert_eq!(plan.following(pair[0].index), Some(pair[1].index));
            }
        }
        for stop in &run.stops {
            prop_assert!(run.bars.iter().any(|bar| bar.end == *stop || bar.start == *stop) || run.bars.is_empty());
        }
    }

    /// Changing the tempo on the run never moves a beat that was decided, and never makes one early.
    #[test]
    fn nudges_keep_the_beat_continuous(nudges in prop::collection::vec((0_u64..30 * 48_000, any::<bool>()), 0..20)) {
        let plan = endless(120.0);
        let mut cues: Vec<_> = nudges.iter().map(|(at, up)| (*at, if *up { Cue::Quicker } else { Cue::Slower })).collect();
        cues.push((0, Cue::Go));
        cues.sort_by_key(|(at, _)| *at);
        let (run, _) = run(&plan, &cues, 40 * 48_000);
        for pair in run.bars.windows(2) {
            prop_assert_eq!(pair[0].end, pair[1].start);
            prop_assert!(pair[1].end.0 > pair[1].start.0 + 48_000 * 60 * 4 / 241);
        }
    }
}
