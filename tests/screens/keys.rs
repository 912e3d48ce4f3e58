//! Keys in, music out: sequences against the real engine.

use precentor::app::action::Action;
use precentor::app::state::{Base, Over, Sound, Standing};
use precentor::inputs::{Command, Key, Place, Verdict, Way};
use sequencer::plan::PlanKind;
use sequencer::{Motion, Role, TurnKind};
use std::fs;
use std::path::{Path, PathBuf};

use super::Rig;
use super::rig::key;

/// Under this nothing is heard: -80 dBFS.
const SILENCE: f32 = 1e-4;

#[test]
fn one_repeated_key_leads_the_whole_class() {
    let mut rig = Rig::demo();
    rig.keys("d DOWN ENTER");
    let groups = rig.state.plan().unwrap().stations.len();
    rig.press(Key::PageDown);
    for group in 0..groups {
        rig.until("the next group's echo", |state| {
            state.turn() == Some(TurnKind::Echo) && state.bar().is_some_and(|bar| usize::from(bar.station) == group)
        });
        rig.press(Key::PageDown);
        rig.run(0.3);
    }
    rig.until("the end", |state| state.pulse.motion == Some(Motion::Done));
}

#[test]
fn a_bouncing_pedal_counts_once() {
    let mut rig = Rig::demo();
    rig.press(Key::PageDown);
    for _ in 0..5 {
        rig.run(0.04);
        rig.press(Key::PageDown);
    }
    rig.until("the count", |state| state.turn() == Some(TurnKind::Count));
    assert_eq!(rig.state.bar().unwrap().station, 0, "a second go would have gone on to the next group");
}

#[test]
fn hush_is_silence_within_50_ms_from_every_screen() {
    for keys in ["", "v", "r", "d", "o", "l", "e", "?", ":"] {
        for hush in [Key::Escape, Key::Sign('s')] {
            let mut rig = Rig::demo();
            rig.keys("o ENTER TAB SPACE");
            rig.until("the model", |state| state.turn() == Some(TurnKind::Model) && state.pulse.beat == 3);
            if !keys.is_empty() {
                rig.press(key(keys));
                rig.idle();
            }
            // where typing filters, a letter is a letter
            let typing = matches!(rig.state.over, Some(Over::Keys(_) | Over::Commands(_)));
            rig.loudest();
            rig.idle();
            assert!(rig.loudest() > 0.01, "{keys}: nothing sounded before");
            if typing && hush != Key::Escape {
                continue;
            }
            rig.press(hush);
            rig.run(0.05);
            rig.loudest();
            rig.run(0.5);
            let left = rig.loudest();
            assert!(left < SILENCE, "{keys} {hush}: {left}");
            assert_eq!(rig.state.over, None);
            assert_eq!(rig.state.pulse.motion, Some(Motion::Held));
        }
    }
}

#[test]
fn hold_keeps_the_place_and_again_repeats_the_round() {
    let mut rig = Rig::demo();
    rig.keys("SPACE");
    rig.until("round two", |state| state.bar().is_some_and(|bar| bar.round == 1) && state.pulse.beat == 2);
    rig.keys("h");
    rig.until("held", |state| state.pulse.motion == Some(Motion::Held));
    assert_eq!(rig.state.bar().unwrap().round, 1);
    rig.keys("BKSP");
    rig.until("running", |state| state.pulse.motion == Some(Motion::Running));
    assert_eq!(rig.state.bar().unwrap().round, 1);
}

#[test]
fn what_was_asked_for_is_shown_until_the_bar_line() {
    let mut rig = Rig::demo();
    rig.keys("SPACE");
    rig.until("the count", |state| state.turn() == Some(TurnKind::Count) && state.pulse.beat == 1);
    rig.press(key("n"));
    assert!(rig.text(80, 24).contains("next group, at the bar line"));
    rig.until("the next group", |state| state.bar().is_some_and(|bar| bar.station == 1));
    assert!(!rig.text(80, 24).contains("at the bar line"));
}

#[test]
fn nudges_change_tempo_and_level() {
    let mut rig = Rig::demo();
    let level = rig.state.pulse.level.unwrap();
    rig.keys("] . [ , ] + = -");
    assert_eq!(rig.state.pulse.tempo.map(units::Tempo::bpm), Some(76.0));
    assert_eq!(rig.state.pulse.level, Some(level + 2));
}

#[test]
fn roles_are_turned_by_their_word_and_the_voice_keeps_its_floor() {
    let mut rig = Rig::demo();
    let turn = |rig: &mut Rig, role, way, times: usize| (0..times).for_each(|_| rig.apply(Action::Do(Command::Role(role, way))));
    turn(&mut rig, Role::Drone, Way::Softer, 2);
    turn(&mut rig, Role::Voice, Way::Softer, 20);
    assert_eq!((rig.state.mix.level(Role::Drone).0, rig.state.mix.level(Role::Voice).0), (-4.0, -6.0));
    let text = rig.text(80, 24);
    assert!(text.contains("drone -4  voice -6"), "{text}");
    assert!(precentor::inputs::table::named(Place::Stage, "drone -") == Some(Command::Role(Role::Drone, Way::Softer)));
}

#[test]
fn quit_asks_once_more_only_while_something_sounds() {
    let mut rig = Rig::demo();
    rig.press(key("q"));
    assert!(rig.session.wants_out());

    let mut rig = Rig::demo();
    rig.keys("SPACE");
    rig.press(key("q"));
    assert!(!rig.session.wants_out());
    rig.run(2.1);
    rig.press(key("q"));
    assert!(!rig.session.wants_out(), "the first press was forgotten after two seconds");
    rig.run(1.0);
    rig.press(key("q"));
    assert!(rig.session.wants_out());

    let mut rig = Rig::demo();
    rig.keys("SPACE");
    rig.press(Key::Control('c'));
    assert!(rig.session.wants_out());
}

#[test]
fn landmarks_are_played_and_go_leads_back_to_the_drill() {
    let mut rig = Rig::demo();
    rig.keys("SPACE");
    rig.until("round two", |state| state.bar().is_some_and(|bar| bar.round == 1));
    rig.keys("h");
    rig.until("held", |state| state.pulse.motion == Some(Motion::Held));
    let bar = rig.state.pulse.bar;
    rig.keys("l DOWN DOWN ENTER");
    assert_eq!(rig.state.plan().unwrap().kind, PlanKind::Landmarks);
    assert!(rig.state.plan().unwrap().title.starts_with("Clarinets"));
    assert!(rig.state.pulse.is_moving(), "they are played without another key");
    rig.until("their end", |state| state.pulse.motion == Some(Motion::Done));
    assert!(rig.text(80, 24).contains("back to where you were"));
    rig.keys("SPACE");
    assert_eq!((rig.state.plan().unwrap().kind, rig.state.pulse.bar), (PlanKind::Drill, bar));
    assert_eq!(rig.state.pulse.motion, Some(Motion::Held));
    rig.run(0.5);
    rig.keys("SPACE");
    assert!(rig.state.pulse.is_moving());
}

#[test]
fn sections_in_turn_name_every_section() {
    let mut rig = Rig::demo();
    rig.keys("t");
    let plan = rig.state.plan().unwrap();
    assert_eq!(plan.kind, PlanKind::InTurn);
    assert_eq!(plan.stations.len(), 13);
    assert!(rig.state.pulse.is_moving());
}

#[test]
fn a_roll_takes_verdicts_that_can_be_changed() {
    let mut rig = Rig::demo();
    rig.keys("e DOWN DOWN DOWN DOWN DOWN DOWN DOWN DOWN ENTER");
    assert_eq!(rig.state.plan().unwrap().kind, PlanKind::Roll);
    rig.keys("1");
    assert_eq!(rig.state.ear.roll().unwrap().seats, [None, None, None], "no seat has echoed");
    rig.keys("SPACE");
    rig.until("seat 1's echo", |state| state.turn() == Some(TurnKind::Echo));
    let asked = "seat 1 ?:  1 on it  2 low  3 high  4 silent";
    assert!(rig.text(60, 16).contains(asked), "{}", rig.text(60, 16));
    rig.keys("2 1");
    assert!(rig.text(80, 24).contains("seat 1 on it:  1 on it"));
    rig.until("seat 2's call", |state| state.station().and_then(|station| station.seat) == Some(2));
    assert_eq!(rig.state.ear.seat, Some(1), "until seat 2 echoes, the verdict is seat 1's");
    rig.keys("3");
    assert_eq!(rig.state.ear.roll().unwrap().seats, [Some(Verdict::High), None, None]);
    rig.until("the end", |state| state.pulse.motion == Some(Motion::Done));
    assert!(matches!(rig.state.over, Some(Over::Ear(_))));
    let text = rig.text(80, 24);
    assert!(text.contains("seat 1   [^] high") && text.contains("not noted"), "{text}");
    // what was noted outlives the roll
    rig.keys("ESC d ENTER 5");
    assert!(rig.text(80, 24).contains("seat 1   [^] high"));
}

#[test]
fn the_drone_is_set_while_it_sounds() {
    let mut rig = Rig::demo();
    rig.keys("o");
    assert!(!rig.state.pulse.drone);
    rig.keys("o");
    assert!(rig.state.pulse.drone);
    rig.run(1.0);
    rig.loudest();
    rig.run(0.2);
    assert!(rig.loudest() > 0.01);
    rig.keys("UP UP UP UP UP UP UP UP");
    rig.keys("RIGHT");
    assert_eq!(rig.state.desk.root.to_string(), "B3");
    let text = rig.text(80, 24);
    assert!(text.contains("< B3 >") && text.contains("Horns           F#4"), "{text}");
    // hold stops the plan, not the drone; the desk's key lets it go
    rig.keys("TAB h");
    assert!(rig.state.pulse.drone);
    rig.keys("o o");
    assert!(!rig.state.pulse.drone);
}

#[test]
fn every_list_is_left_without_a_sound() {
    let mut rig = Rig::demo();
    for keys in ["r TAB", "d q", "o BKSP", "l TAB", "? TAB", ": TAB", "e q"] {
        rig.keys(keys);
        assert_eq!(rig.state.over, None, "{keys}");
    }
    rig.loudest();
    rig.run(0.2);
    assert!(rig.loudest() < SILENCE);
    assert!(!rig.session.wants_out());
}

#[test]
fn the_command_list_is_found_by_typing_and_does_what_is_marked() {
    let mut rig = Rig::demo();
    rig.keys(":");
    rig.types("room v");
    rig.keys("ENTER");
    assert_eq!((rig.state.base, rig.state.over.clone()), (Base::RoomView, None));
    rig.keys("?");
    rig.types("qqq");
    assert!(rig.text(80, 24).contains("Nothing is called that"));
    rig.keys("BKSP BKSP BKSP");
    rig.types("go");
    rig.keys("ENTER");
    assert!(rig.state.pulse.is_moving());
}

#[test]
fn up_and_down_pick_the_staff() {
    let mut rig = Rig::demo();
    assert!(rig.text(80, 24).contains("Flute, treble clef"));
    rig.keys("DOWN DOWN DOWN DOWN DOWN DOWN DOWN DOWN DOWN");
    assert!(rig.text(80, 24).contains("Trombone, bass clef"));
}

#[test]
fn a_lost_device_is_told_and_the_place_kept() {
    let mut rig = Rig::demo();
    let sound = |standing, says: &str| {
        Action::Sound(Sound { standing, name: "Hall speakers".to_owned(), says: says.to_owned(), mend: String::new() })
    };
    rig.apply(sound(Standing::Playing, "sound goes to Hall speakers"));
    rig.keys("o o TAB SPACE");
    rig.until("round two", |state| state.bar().is_some_and(|bar| bar.round == 1));
    rig.apply(sound(Standing::Lost, "lost Hall speakers: it was unplugged"));
    rig.idle();
    assert_eq!(rig.state.pulse.motion, Some(Motion::Held));
    assert!(rig.state.pulse.drone, "the drone goes on by itself when the sound is back");
    assert_eq!(rig.state.bar().unwrap().round, 1);
    let text = rig.text(80, 24);
    assert!(text.contains("SOUND LOST") && text.contains("place is kept"), "{text}");
    rig.apply(sound(Standing::Playing, "sound is back on Hall speakers"));
    assert!(rig.text(80, 24).contains("The sound is back"));
    rig.keys("SPACE");
    assert!(rig.state.pulse.is_moving());
    assert_eq!(rig.state.bar().unwrap().round, 1);
}

fn write(path: &Path, text: &str) {
    fs::write(path, text).unwrap();
}

/// The first demo drill saved as a file, its text, and a console opened on it; the folder lasts as long as it is held.
fn on_a_saved_drill() -> (tempfile::TempDir, PathBuf, String, Rig) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("middle.toml");
    let text = precentor::workshop::DrillText::demos().remove(0).text;
    write(&path, &text);
    let rig = Rig::file(&path);
    (folder, path, text, rig)
}

#[test]
fn an_edit_is_taken_up_without_stopping_and_a_broken_one_is_shown() {
    let (_folder, path, text, mut rig) = on_a_saved_drill();
    rig.keys("SPACE");
    rig.until("the model", |state| state.turn() == Some(TurnKind::Model));

    write(&path, &text.replace("F4:4", "H4:4"));
    rig.apply(Action::Edited);
    rig.idle();
    assert!(rig.state.pulse.is_moving(), "the version before plays on");
    let screen = rig.text(120, 40);
    assert!(screen.contains("H4:4") && screen.contains('^') && screen.contains("mend:"), "{screen}");
    rig.keys("f");
    let page = rig.text(80, 24);
    assert!(page.contains("H4:4") && page.contains('^'), "{page}");
    rig.keys("TAB");

    write(&path, &text.replace("F4:4", "G4:4").replace("tempo = 72", "tempo = 90"));
    rig.apply(Action::Edited);
    rig.until("the edited line", |state| {
        state.plan().is_some_and(|plan| plan.tempo == units::Tempo::new(90.0).unwrap()) && state.pulse.tempo == Some(plan_tempo(90.0))
    });
    assert!(rig.state.pulse.is_moving());
    assert_eq!(rig.state.faults, None);
}

fn plan_tempo(bpm: f64) -> units::Tempo {
    units::Tempo::new(bpm).unwrap()
}

#[test]
fn a_broken_file_that_comes_back_as_it_was_is_sound_again() {
    let (_folder, path, text, mut rig) = on_a_saved_drill();
    write(&path, "version = ");
    rig.apply(Action::Edited);
    assert!(rig.state.faults.is_some());
    write(&path, &text);
    rig.apply(Action::Edited);
    assert_eq!(rig.state.faults, None);
}

#[test]
fn a_broken_save_stops_nothing_that_was_good_before() {
    let (_folder, path, _, mut rig) = on_a_saved_drill();
    rig.keys("SPACE");
    rig.until("the model", |state| state.turn() == Some(TurnKind::Model));
    write(&path, "version = ");
    rig.apply(Action::Edited);
    rig.keys("t");
    rig.until("sections in turn", |state| state.plan().is_some_and(|plan| plan.kind == sequencer::plan::PlanKind::InTurn));
    assert!(rig.state.faults.is_some(), "the fault is still told");
}

#[test]
fn verdicts_of_a_roll_are_kept_by_seat() {
    let root = tempfile::tempdir().unwrap();
    let folders = precentor::folders::Folders::under(root.path());
    let mut rig = Rig::on(None, Some(folders.clone()));
    rig.keys("ESC e DOWN DOWN DOWN DOWN DOWN DOWN DOWN DOWN ENTER SPACE");
    rig.until("seat 1's echo", |state| state.turn() == Some(TurnKind::Echo));
    // the second takes the place of the first: it is the same echo
    rig.keys("2 1");
    rig.until("seat 2's echo", |state| state.turn() == Some(TurnKind::Echo) && state.station().and_then(|station| station.seat) == Some(2));
    // the director's word takes the place of the microphone's, and not the other way
    let low = records::Verdict::read("low partial", std::num::NonZeroI8::new(-2)).unwrap();
    let heard = |seat| {
        let judged = precentor::hearing::Judged { verdict: low, heard: "C4".parse().ok(), cents: None, entry_ms: None, confidence: 0.9 };
        Action::Echoed(precentor::app::state::SeatHeard { seat, target: "G4".parse().unwrap(), judged, last: true })
    };
    rig.apply(heard(2));
    rig.keys("4");
    rig.apply(heard(2));
    rig.until("seat 3's echo", |state| state.turn() == Some(TurnKind::Echo) && state.station().and_then(|station| station.seat) == Some(3));
    rig.apply(heard(3));
    let room = rig.state.room.name.clone();
    assert_eq!(rig.session.end(), None);
    let kept = records::Store::find(&folders.records).unwrap().unwrap().records(&records::Filter::default()).unwrap();
    let told: Vec<_> = kept.iter().map(|record| (record.seat.map(Into::into), record.verdict)).collect();
    assert_eq!(told, [(Some(1), records::Verdict::OnIt), (Some(2), records::Verdict::Nothing), (Some(3), low)]);
    for record in &kept {
        let by = if record.verdict == low { records::HeardBy::Microphone } else { records::HeardBy::Ear };
        assert_eq!((&record.room, record.section.as_str(), record.by), (&room, "Horns", by));
        assert_eq!((record.target.map(|note| note.to_string()).as_deref(), &record.lesson), (Some("G4"), &None));
        assert!(record.drill.contains("Horns, seat by seat"), "{}", record.drill);
        assert!((jiff::Timestamp::now() - record.when).as_secs() < 60);
    }
}

#[test]
fn a_run_leaves_a_journal_that_can_be_read() {
    let root = tempfile::tempdir().unwrap();
    let folders = precentor::folders::Folders::under(root.path());
    let mut rig = Rig::on(None, Some(folders.clone()));
    assert!(rig.session.keep_journal().is_none());
    rig.keys("SPACE ] ESC");
    rig.session.end();
    let file = fs::read_dir(&folders.journals).unwrap().next().unwrap().unwrap();
    let text = fs::read_to_string(file.path()).unwrap();
    let (_, entries) = engine::journal::read(&text).unwrap();
    let cues: Vec<String> = entries
        .iter()
        .filter_map(|entry| match &entry.deed {
            engine::journal::Deed::Cue { cue } => Some(cue.clone()),
            engine::journal::Deed::End => Some("end".to_owned()),
            _ => None,
        })
        .collect();
    assert_eq!(cues, ["go", "quicker", "hush", "end"]);
}

#[test]
fn nothing_is_drawn_again_while_nothing_changes() {
    let mut rig = Rig::demo();
    rig.run(0.2);
    rig.state.changed = false;
    rig.run(1.0);
    assert!(!rig.state.changed, "a standing plan changes nothing");
    rig.keys("SPACE");
    rig.state.changed = false;
    rig.run(1.0);
    assert!(rig.state.changed, "the beat moves");
}
