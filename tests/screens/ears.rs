//! What the microphone heard, on the screen: large verdicts, an adaptive drill that goes by them, the open ear.

use super::rig::{LOOKS, Rig, SIZES, letters};
use listen::section::entries::{Entries, Word};
use pitch::Written;
use precentor::app::action::Action;
use precentor::app::state::{Hearing, Input, Over, SeatHeard, Seated, SeatedOn, SectionHeard, Sounding};
use precentor::hearing::Judged;
use records::Verdict;
use sequencer::{SectionIndex, TurnKind};
use std::num::NonZeroI8;
use units::{Cents, Decibels, Hertz};

fn note(name: &str) -> Written {
    name.parse().unwrap()
}

/// An adaptive drill for the horns of a room of eight, on files of its own.
fn adaptive() -> (tempfile::TempDir, Rig) {
    let folder = tempfile::tempdir().unwrap();
    let room = "version = 1\nname = \"Gull Lane School, period 3\"\n[[section]]\nname = \"Horns\"\ninstrument = \"horn in F\"\nseats = 8\n\
                comfortable = \"C4..C5\"\nlandmarks = [\"G4\", \"C4\"]\n[[section]]\nname = \"Tubas\"\ninstrument = \"tuba\"\nseats = 2\n";
    let drill = "version = 1\ntitle = \"Until it is there\"\ntempo = 120\nrounds = 3\ngroups = [[\"Horns\"], [\"Tubas\"]]\n\
                 adaptive = { enough = 75, landmark_below = 40 }\n[line]\nHorns = { written = \"G4:4\" }\nTubas = { written = \"F2:4\" }\n\
                 [[turn]]\nmodel = {}\n[[turn]]\necho = {}\n[[turn]]\nbreath = {}\n";
    std::fs::write(folder.path().join("room.toml"), room).unwrap();
    std::fs::write(
        folder.path().join("lesson.toml"),
        "version = 1\ntitle = \"Tuesday\"\nroom = \"room.toml\"\n[[item]]\ndrill = { file = \"drill.toml\" }\n",
    )
    .unwrap();
    std::fs::write(folder.path().join("drill.toml"), drill).unwrap();
    let mut rig = Rig::file(&folder.path().join("lesson.toml"));
    rig.apply(Action::Hearing(Hearing::On("mic".to_owned())));
    (folder, rig)
}

/// So many of the eight horns on the note asked for, the others on C4.
fn horns(on: u8) -> Action {
    came(on, None)
}

/// The same, and how they came in.
fn came(on: u8, entries: Option<Entries>) -> Action {
    let share = f64::from(on) / 8.0;
    let seated = |written: &str, share: f64| SeatedOn { written: note(written), share, bounds: (share - 0.1, share + 0.1), leads: share };
    let notes = vec![seated("C4", 1.0 - share), seated("G4", share)];
    let seated = Some(Seated { notes, tuning: Cents(-3.0), elsewhere: 0.0 });
    Action::SectionEchoed(Box::new(SectionHeard { section: SectionIndex(0), target: note("G4"), heads: 8, last: true, seated, entries }))
}

fn in_turn(rig: &mut Rig, turn: TurnKind) {
    rig.until(turn.word(), |state| state.turn() == Some(turn));
}

#[test]
fn an_adaptive_drill_goes_by_what_is_heard() {
    let (_folder, mut rig) = adaptive();
    rig.keys("SPACE");
    in_turn(&mut rig, TurnKind::Echo);
    // two of eight: the landmark comes before the next round
    rig.apply(horns(2));
    let screen = rig.text(100, 30);
    assert!(screen.contains("about 2 of 8 on G4") && screen.contains("6 on C4") && screen.contains("The landmark first."), "{screen}");
    in_turn(&mut rig, TurnKind::Landmark);
    let screen = rig.text(100, 30);
    assert!(screen.contains("LANDMARK") && screen.contains("the landmark sounds"), "{screen}");
    in_turn(&mut rig, TurnKind::Model);
    assert_eq!(rig.state.bar().map(|bar| (bar.station, bar.round)), Some((0, 1)));
    in_turn(&mut rig, TurnKind::Echo);
    // between the two: the round again
    rig.apply(horns(4));
    in_turn(&mut rig, TurnKind::Model);
    assert_eq!(rig.state.bar().map(|bar| (bar.station, bar.round)), Some((0, 2)));
    rig.press(super::rig::key("b"));
    in_turn(&mut rig, TurnKind::Echo);
    rig.apply(horns(6));
    rig.until("the next group", |state| state.bar().is_some_and(|bar| bar.station == 1));
}

#[test]
fn the_director_s_word_comes_before_what_is_heard() {
    let (_folder, mut rig) = adaptive();
    rig.keys("SPACE");
    in_turn(&mut rig, TurnKind::Echo);
    rig.press(super::rig::key("PGUP"));
    rig.apply(horns(8));
    rig.run(4.0);
    assert_eq!(rig.state.bar().map(|bar| (bar.station, bar.round)), Some((0, 0)), "again was asked, so the round comes again");
}

#[test]
fn a_verdict_is_large_until_the_next_echo_in_every_size_and_look() {
    let (_folder, mut rig) = adaptive();
    rig.keys("SPACE");
    in_turn(&mut rig, TurnKind::Echo);
    rig.apply(horns(6));
    for (width, height) in SIZES {
        for look in LOOKS {
            let screen = letters(&rig.buffer(width, height, look));
            assert!(screen.contains("6 OF 8 [:]"), "{width}x{height}\n{screen}");
            assert!(screen.contains("hush"), "{width}x{height}\n{screen}");
        }
    }
    let low = Judged {
        verdict: Verdict::Partials(NonZeroI8::new(-2).unwrap()),
        heard: Some(note("C4")),
        cents: Some(Cents(3.0)),
        entry_ms: Some(80.0),
        confidence: 0.9,
    };
    rig.apply(Action::Echoed(SeatHeard { seat: 4, target: note("G4"), judged: low, last: true }));
    let screen = rig.text(80, 24);
    assert!(screen.contains("2 LOW [v]") && screen.contains("seat 4") && screen.contains("asked: G4"), "{screen}");
    in_turn(&mut rig, TurnKind::Model);
    in_turn(&mut rig, TurnKind::Echo);
    assert!(!rig.text(80, 24).contains("[v]"));
}

#[test]
fn the_open_ear_shows_what_a_child_plays() {
    let mut rig = Rig::demo();
    rig.keys("y");
    assert!(matches!(rig.state.over, Some(Over::OpenEar(_))));
    assert!(rig.text(80, 24).contains("It waits for a note that lasts."));
    // on to the horns
    while !rig.text(80, 24).contains("Horns (") {
        rig.press(super::rig::key("DOWN"));
        rig.run(0.5);
    }
    rig.apply(low_c());
    for (width, height) in SIZES {
        for look in LOOKS {
            let screen = letters(&rig.buffer(width, height, look));
            for words in ["G4 (sounds C4, partial 6), 11 cents low", "low  ..:...:.O.|", "> 6  G4", "4  C4"] {
                assert!(screen.contains(words), "{words}, {width}x{height}\n{screen}");
            }
        }
    }
    assert!(!rig.text(80, 24).contains("beats a second"), "no drone, no beats");
    // concert C4 held, eleven cents over what is played: 261.63 - 260 Hz
    rig.state.desk.root = "C4".parse().unwrap();
    rig.apply(Action::Do(precentor::inputs::Command::DroneToggle));
    rig.run(0.5);
    assert!(rig.text(80, 24).contains("1.6 beats a second: lower than the drone's"), "{}", rig.text(80, 24));
    rig.apply(input(-31, -18, true));
    let screen = rig.text(80, 24);
    assert!(!screen.contains("beats a second") && screen.contains("the microphone hears the drone itself"), "{screen}");
    rig.keys("TAB");
    assert!(rig.state.over.is_none());
    assert_eq!(rig.state.hearing, Hearing::Off, "the microphone was opened for this alone");
}

#[test]
fn in_lines_a_note_that_trembles_is_told_once_and_anew_when_it_has_moved() {
    let mut rig = Rig::demo();
    rig.keys("y");
    let mut speaker = precentor::view::plain::Speaker::default();
    speaker.news(&rig.state);
    let Action::Sounds(Some(low)) = low_c() else { unreachable!() };
    let mut told = |written: &str, cents: f64, level: f64| {
        rig.apply(Action::Sounds(Some(Sounding { written: note(written), cents: Cents(cents), level: Decibels(level), ..low })));
        speaker.news(&rig.state).join("\n")
    };
    assert!(told("G4", -11.0, -30.0).contains("11 cents low"));
    for (cents, level) in [(-8.0, -31.0), (-14.0, -29.0), (-3.0, -35.0), (-20.0, -30.0)] {
        assert_eq!(told("G4", cents, level), "", "{cents}");
    }
    // slowly away counts from what was told
    assert!(told("G4", -22.0, -30.0).contains("22 cents low"));
    assert_eq!(told("G4", -13.0, -30.0), "");
    assert!(told("C4", -21.0, -30.0).contains("C4"));
}

#[test]
fn in_lines_it_is_told_at_once_that_the_microphone_hears_the_drone_itself() {
    let mut rig = Rig::demo();
    rig.keys("y");
    rig.apply(Action::Do(precentor::inputs::Command::DroneToggle));
    rig.run(0.5);
    let mut speaker = precentor::view::plain::Speaker::default();
    let Action::Sounds(Some(low)) = low_c() else { unreachable!() };
    rig.apply(Action::Sounds(Some(low)));
    speaker.news(&rig.state);
    rig.apply(input(-31, -18, true));
    rig.apply(Action::Sounds(Some(Sounding { level: Decibels(-31.0), ..low })));
    let lines = speaker.news(&rig.state).join("\n");
    assert!(lines.contains("the microphone hears the drone itself"), "{lines}");
}

fn input(mean: i32, peak: i32, under_a_drone: bool) -> Action {
    Action::Input(Input { mean: Some(mean), peak: Some(peak), clips: peak > -1, under_a_drone })
}

/// Somebody who plays concert C4 eleven cents low.
fn low_c() -> Action {
    Action::Sounds(Some(Sounding {
        written: note("G4"),
        concert: "C4".parse().unwrap(),
        frequency: Hertz::new(260.0).unwrap(),
        cents: Cents(-11.0),
        partial: Some(6),
        level: Decibels(-30.0),
    }))
}

#[test]
fn the_drone_s_screen_tells_how_somebody_near_it_beats_and_what_the_microphone_gives() {
    let (_folder, mut rig) = adaptive();
    assert!(rig.state.at_the_desk.is_none());
    rig.keys("o");
    rig.apply(input(-31, -18, false));
    assert_eq!(rig.state.at_the_desk.map(|heard| heard.section), Some(SectionIndex(0)), "the horns are shown");
    rig.apply(low_c());
    assert!(!rig.text(80, 24).contains("beats a second"), "no drone, no beats");
    // concert C4 held, eleven cents over what is played: 261.63 - 260 Hz
    rig.state.desk.root = "C4".parse().unwrap();
    rig.apply(Action::Do(precentor::inputs::Command::DroneToggle));
    rig.run(0.5);
    rig.apply(input(-31, -18, false));
    rig.state.told = None;
    for (width, height) in SIZES {
        for look in LOOKS {
            let screen = letters(&rig.buffer(width, height, look));
            for words in ["mic ====...|.. -31 dBFS", "1.6 beats a second: lower than"] {
                assert!(screen.contains(words), "{words}, {width}x{height}\n{screen}");
            }
        }
    }
    assert!(rig.text(80, 24).contains("Horns: G4 (sounds C4"), "{}", rig.text(80, 24));
    // a drone that stays in what is heard would be taken for the player
    rig.apply(input(-8, 0, true));
    let screen = rig.text(80, 24);
    assert!(!screen.contains("beats a second") && screen.contains("the microphone hears the drone"), "{screen}");
    assert!(screen.contains("mic ========.| -8 dBFS CLIPS"), "{screen}");
    rig.keys("TAB");
    assert!(rig.state.at_the_desk.is_none() && rig.state.over.is_none());
    rig.apply(low_c());
    assert!(rig.state.at_the_desk.is_none(), "heard too late, and shown nowhere");
}

#[test]
fn the_drone_s_screen_hears_nobody_until_the_microphone_is_opened_there() {
    let mut rig = Rig::demo();
    rig.keys("o");
    assert!(rig.state.at_the_desk.is_none() && !rig.text(80, 24).contains("mic "));
    rig.press(super::rig::key("m"));
    assert!(rig.state.at_the_desk.is_some());
    rig.press(super::rig::key("m"));
    assert!(rig.state.at_the_desk.is_none());
}

#[test]
fn the_open_ear_shows_what_the_microphone_gives() {
    let mut rig = Rig::demo();
    rig.keys("y");
    rig.apply(Action::Hearing(Hearing::On("mic".to_owned())));
    rig.apply(input(-31, -18, false));
    assert!(rig.text(80, 24).contains("mic ====...|.. -31 dBFS"), "{}", rig.text(80, 24));
    let screen = rig.text(100, 30);
    assert!(screen.contains("mic ==============.......|........ -31 dBFS"), "{screen}");
    rig.apply(Action::Hearing(Hearing::Lost("unplugged".to_owned())));
    assert!(!rig.text(80, 24).contains("dBFS"));
}

#[test]
fn the_built_in_adaptive_drill_goes_by_what_is_heard() {
    let mut rig = Rig::demo();
    rig.keys("d DOWN DOWN DOWN DOWN ENTER");
    assert!(rig.text(80, 24).contains("m opens the microphone"), "{}", rig.text(80, 24));
    rig.apply(Action::Hearing(Hearing::On("mic".to_owned())));
    rig.keys("SPACE");
    in_turn(&mut rig, TurnKind::Echo);
    let all = SeatedOn { written: note("G4"), share: 0.9, bounds: (0.8, 1.0), leads: 1.0 };
    let seated = Some(Seated { notes: vec![all], tuning: Cents(0.0), elsewhere: 0.0 });
    let section = rig.state.shown_section();
    let heard = SectionHeard { section, target: note("G4"), heads: 5, last: true, seated, entries: None };
    rig.apply(Action::SectionEchoed(Box::new(heard)));
    rig.until("the next section", |state| state.bar().is_some_and(|bar| bar.station == 1));
    assert_eq!(rig.state.bar().map(|bar| bar.round), Some(0));
    assert_eq!(rig.state.station().map(|station| station.label.clone()), Some("Horns".to_owned()));
}

/// A roll of the horns with a silent rest after each echo.
fn roll_with_rests(say: bool) -> (tempfile::TempDir, Rig) {
    let folder = tempfile::tempdir().unwrap();
    let room = "version = 1\nname = \"Gull Lane School, period 3\"\n[[section]]\nname = \"Horns\"\ninstrument = \"horn in F\"\nseats = 3\n";
    let drill = format!(
        "version = 1\ntitle = \"One note each\"\ntempo = 72\nclick = false\nsay_verdicts = {say}\n[line]\nHorns = {{ written = \"G4:4\" }}\n\
         [[turn]]\nmodel = {{}}\n[[turn]]\necho = {{}}\n[[turn]]\nrest = {{}}\n"
    );
    let lesson =
        "version = 1\ntitle = \"Tuesday\"\nroom = \"room.toml\"\n[[item]]\nroll = { section = \"Horns\", drill = \"drill.toml\" }\n";
    for (name, text) in [("room.toml", room), ("drill.toml", &drill), ("lesson.toml", lesson)] {
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    let rig = Rig::file(&folder.path().join("lesson.toml"));
    (folder, rig)
}

/// What the microphone says of the seat that answered, heard shortly after its echo; the loudest sample of the rest.
fn loudest_after(rig: &mut Rig, verdict: Verdict) -> f32 {
    in_turn(rig, TurnKind::Echo);
    in_turn(rig, TurnKind::Rest);
    rig.run(0.4);
    rig.loudest();
    let judged = Judged { verdict, heard: Some(note("G4")), cents: Some(Cents(3.0)), entry_ms: None, confidence: 0.9 };
    let seat = rig.state.station().and_then(|station| station.seat).unwrap();
    rig.apply(Action::Echoed(SeatHeard { seat, target: note("G4"), judged, last: true }));
    rig.run(1.5);
    assert_eq!(rig.state.turn(), Some(TurnKind::Rest));
    rig.loudest()
}

#[test]
fn a_verdict_is_said_in_the_rest_only_if_it_was_asked_for() {
    let low = Verdict::Partials(NonZeroI8::new(-2).unwrap());
    let (_folder, mut rig) = roll_with_rests(false);
    rig.keys("SPACE");
    assert!(loudest_after(&mut rig, low) < 1e-4, "nobody asked");
    rig.keys("g");
    assert!(rig.state.says_verdicts() && rig.text(100, 30).contains("the voice says in the rest"), "{}", rig.text(100, 30));
    assert!(loudest_after(&mut rig, low) > 0.02);
    assert!(loudest_after(&mut rig, Verdict::Late) > 0.02);
}

#[test]
fn what_is_for_the_eye_alone_is_not_said() {
    let (_folder, mut rig) = roll_with_rests(true);
    rig.keys("SPACE");
    assert!(loudest_after(&mut rig, Verdict::OffTheSeries) < 1e-4);
}

#[test]
fn a_verdict_that_comes_while_the_seat_still_answers_waits_for_the_rest_and_for_the_last_note() {
    let (_folder, mut rig) = roll_with_rests(true);
    rig.keys("SPACE");
    let low = Judged { verdict: Verdict::Low, heard: Some(note("E4")), cents: None, entry_ms: None, confidence: 0.9 };
    let on_it = Judged { verdict: Verdict::OnIt, heard: Some(note("G4")), cents: Some(Cents(3.0)), entry_ms: None, confidence: 0.9 };
    // both notes told in its echo: the first that was off is said, in the rest
    in_turn(&mut rig, TurnKind::Echo);
    let seat = rig.state.station().and_then(|station| station.seat).unwrap();
    rig.apply(Action::Echoed(SeatHeard { seat, target: note("G4"), judged: low, last: false }));
    rig.apply(Action::Echoed(SeatHeard { seat, target: note("G4"), judged: on_it, last: true }));
    in_turn(&mut rig, TurnKind::Rest);
    rig.loudest();
    rig.run(1.5);
    assert!(rig.loudest() > 0.02);
    // of a first note alone nothing is said
    in_turn(&mut rig, TurnKind::Echo);
    in_turn(&mut rig, TurnKind::Rest);
    rig.run(0.4);
    rig.loudest();
    let seat = rig.state.station().and_then(|station| station.seat).unwrap();
    rig.apply(Action::Echoed(SeatHeard { seat, target: note("G4"), judged: on_it, last: false }));
    rig.run(1.5);
    assert!(rig.loudest() < 1e-4);
}

#[test]
fn a_drill_can_ask_for_verdicts_and_the_director_s_key_and_word_come_first() {
    let (_folder, mut rig) = roll_with_rests(true);
    rig.keys("SPACE");
    assert!(loudest_after(&mut rig, Verdict::OnIt) > 0.02);
    // what the director noted is not talked over
    in_turn(&mut rig, TurnKind::Echo);
    rig.press(super::rig::key("1"));
    assert_eq!(
        rig.state.ear.roll().map(|roll| roll.seats[1]),
        Some(Some(precentor::inputs::Verdict::OnIt)),
        "a lesson's roll is noted too"
    );
    assert!(loudest_after(&mut rig, Verdict::OnIt) < 1e-4);
    rig.press(super::rig::key("g"));
    assert!(loudest_after(&mut rig, Verdict::OnIt) < 1e-4);
}

#[test]
fn a_drill_without_a_rest_says_so_when_verdicts_are_asked_for() {
    let mut rig = Rig::demo();
    rig.keys("g");
    assert!(rig.text(100, 30).contains("this drill has none"), "{}", rig.text(100, 30));
}

#[test]
fn a_room_is_measured_only_with_a_microphone() {
    let mut rig = Rig::demo();
    rig.keys("u");
    assert!(rig.text(80, 24).contains("m opens it first"));
}

#[test]
fn sound_is_kept_only_if_asked_and_the_screen_says_so() {
    let (_folder, mut rig) = adaptive();
    assert!(!rig.text(80, 24).contains("RECORDING"));
    rig.state.recording = Some(14);
    for (width, height) in SIZES {
        for look in LOOKS {
            let screen = letters(&rig.buffer(width, height, look));
            assert!(screen.contains("RECORDING (o) 14 d"), "{width}x{height}\n{screen}");
        }
    }
    rig.apply(Action::Hearing(Hearing::Off));
    assert!(!rig.text(80, 24).contains("RECORDING"), "nothing is heard, so nothing is kept");
}

#[test]
fn how_a_section_came_in_is_told_in_a_word_with_its_doubt() {
    let (_folder, mut rig) = adaptive();
    rig.keys("SPACE");
    in_turn(&mut rig, TurnKind::Echo);
    let entries = Entries { mean_ms: 24.0, mean_doubt_ms: 13.0, spread_ms: 61.0, doubt_ms: 20.0, word: Word::Ragged };
    rig.apply(came(6, Some(entries)));
    let (told, _) = rig.state.told.clone().unwrap();
    assert!(told.contains("Ragged: 61 ms apart, give or take 20; 24 ms after the beat, give or take 13."), "{told}");
    // the sentence takes as many lines as it needs
    let screen = rig.text(100, 30);
    assert!(screen.contains("Ragged: 61 ms") && screen.contains("give or take 13."), "{screen}");
    // beside the large count it stays when the sentence is gone
    rig.state.told = None;
    let screen = rig.text(80, 24);
    assert!(screen.contains("6 OF 8") && screen.contains("Ragged"), "{screen}");
}
