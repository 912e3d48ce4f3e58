//! Pedals, switches and keys that are taught something else.

use precentor::app::action::{Action, Focus};
use precentor::app::state::{Learn, Over};
use precentor::folders::Folders;
use precentor::inputs::{Command, Key, Press, Signal};
use precentor::text;
use precentor::view::plain::Speaker;
use sequencer::{Cue, Motion, TurnKind};
use std::fs;
use std::sync::Arc;

use super::Rig;
use super::rig::{LOOKS, RICH, SIZES, letters};

const GO: [u8; 3] = [0xb0, 64, 127];
const GO_UP: [u8; 3] = [0xb0, 64, 0];
const AGAIN: [u8; 3] = [0xb0, 66, 127];
const HUSH: [u8; 3] = [0xb0, 67, 127];
const NOTE_C2: [u8; 3] = [0x90, 36, 100];

/// The word of what `message` does as things are bound.
fn does(rig: &Rig, message: &[u8]) -> &'static str {
    rig.state.pedals.bindings.does(Signal::of_midi(message).unwrap()).word()
}

#[test]
fn three_midi_pedals_lead_the_class_as_they_come() {
    let mut rig = Rig::demo();
    rig.sends(&GO);
    rig.sends(&GO_UP);
    rig.until("the model", |state| state.turn() == Some(TurnKind::Model));
    rig.sends(&AGAIN);
    assert_eq!(rig.state.asked, Some(Cue::Again));
    rig.sends(&HUSH);
    rig.run(0.1);
    rig.loudest();
    rig.run(0.3);
    assert!(rig.loudest() < 1e-4);
    assert_eq!(rig.state.pulse.motion, Some(Motion::Held));
}

#[test]
fn over_a_list_midi_pedals_move_and_choose() {
    let mut rig = Rig::demo();
    rig.keys("d");
    rig.sends(&AGAIN);
    rig.run(1.0);
    rig.sends(&GO);
    rig.run(1.0);
    assert_eq!(rig.state.over, None);
    assert!(rig.state.plan().unwrap().title.contains(&rig.state.shelf.drills[1].name), "{}", rig.state.plan().unwrap().title);
    assert_ne!(rig.state.motion(), Some(Motion::Running), "what chose does not start what was chosen");
}

#[test]
fn the_learn_screen_shows_what_comes_and_does_none_of_it() {
    let mut rig = Rig::demo();
    rig.keys("i");
    rig.apply(Action::Port { name: Arc::from("Foot Board"), there: true });
    insta::assert_snapshot!("learn_80x24", letters(&rig.buffer(80, 24, RICH)));
    rig.keys("PGDN F5 b s x SPACE ENTER UP");
    rig.sends(&[0xc0, 4]);
    rig.sends(&NOTE_C2);
    rig.sends(&NOTE_C2);
    rig.sends(&GO);
    rig.idle();
    assert_eq!(rig.state.motion(), Some(Motion::Ready), "nothing was done");
    insta::assert_snapshot!("learn_heard_80x24", letters(&rig.buffer(80, 24, RICH)));
    rig.keys("q");
    assert_eq!(rig.state.over, None);
    rig.keys("i ESC");
    assert_eq!(rig.state.over, None, "hush is where it always was");
}

#[test]
fn a_switch_is_taught_and_the_file_keeps_it() {
    let root = tempfile::tempdir().unwrap();
    let folders = Folders::under(root.path());
    folders.create().unwrap();
    let mut rig = Rig::on(None, Some(folders.clone()));
    rig.keys("i TAB");
    assert!(rig.text(80, 24).contains("Press the pedal or switch first"));
    rig.sends(&NOTE_C2);
    rig.keys("TAB");
    insta::assert_snapshot!("teach_80x24", letters(&rig.buffer(80, 24, RICH)));
    // from "as it comes" past nothing, hush and go
    rig.keys("DOWN DOWN DOWN DOWN");
    let text = rig.text(80, 24);
    assert!(text.lines().any(|line| line.starts_with("> again")), "{text}");
    rig.keys("ENTER");
    assert_eq!(does(&rig, &NOTE_C2), "again");
    assert_eq!(does(&rig, &[0x93, 36, 1]), "again", "on any channel");
    assert!(rig.text(80, 24).contains("note C2 does again from now on."));
    let file = fs::read_to_string(folders.inputs()).unwrap();
    assert!(file.ends_with("[[bind]]\nsignal = \"note C2\"\ndoes = \"again\"\n"), "{file}");

    // a key that leads as it comes is taught too, and what is fixed is not
    rig.keys("PGUP TAB UP UP UP UP UP UP UP UP UP DOWN ENTER q");
    assert_eq!(rig.state.pedals.bindings.does(Key::PageUp.into()).word(), "nothing");
    rig.keys("PGUP");
    assert_eq!(rig.state.asked, None);
    let again = Rig::on(None, Some(folders.clone()));
    let (bindings, faults) = again.session.bindings();
    assert_eq!((bindings, faults), (rig.state.pedals.bindings.clone(), None));

    // and back to what it does as it comes
    rig.keys("i PGUP TAB UP UP UP ENTER q");
    assert_eq!(rig.state.pedals.bindings.does(Key::PageUp.into()).word(), "again");
    assert!(!fs::read_to_string(folders.inputs()).unwrap().contains("PGUP"));
    let left: Vec<_> = fs::read_dir(&folders.config).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left, ["inputs.toml"], "no passing file is left");
}

#[test]
fn a_file_with_faults_counts_as_far_as_it_is_sound_and_is_not_written_over() {
    let root = tempfile::tempdir().unwrap();
    let folders = Folders::under(root.path());
    folders.create().unwrap();
    let text = "version = 1\n[[bind]]\nsignal = \"note C2\"\ndoes = \"go\"\n[[bind]]\nsignal = \"F6\"\ndoes = \"agian\"\n";
    fs::write(folders.inputs(), text).unwrap();
    let rig = Rig::on(None, Some(folders.clone()));
    let (bindings, faults) = rig.session.bindings();
    assert_eq!(bindings.does("note C2".parse().unwrap()).word(), "go");
    assert!(faults.unwrap().to_string().contains("inputs.toml:7:9: \"agian\" is nothing that can be bound"));

    fs::write(folders.inputs(), "version = 1\n[[bind]\n").unwrap();
    let mut rig = Rig::on(None, Some(folders.clone()));
    rig.keys("i");
    rig.sends(&NOTE_C2);
    rig.apply(Action::Bind(precentor::inputs::Deed::named("go")));
    let told = rig.state.told.clone().unwrap().0;
    assert!(told.contains("is not kept") && told.contains("precentor check"), "{told}");
    assert_eq!(does(&rig, &NOTE_C2), "go", "it counts all the same");
    assert_eq!(fs::read_to_string(folders.inputs()).unwrap(), "version = 1\n[[bind]\n");
}

#[test]
fn every_cue_comes_from_every_source() {
    let sources: [(&str, Signal); 5] = [
        ("a controller", Press::Controller(80).into()),
        ("a note", Press::Note(36).into()),
        ("a program", Press::Program(4).into()),
        ("a key with a name", Key::Function(9).into()),
        ("a key with a sign", Key::Sign('x').into()),
    ];
    for (name, signal) in sources {
        for cue in Cue::ALL {
            let mut rig = Rig::demo();
            rig.keys("SPACE");
            rig.until("the model", |state| state.turn() == Some(TurnKind::Model));
            rig.state.pedals.bindings.bind(signal, Some(precentor::inputs::Deed::Do(Command::Cue(cue))));
            let (level, tempo) = (rig.state.pulse.level, rig.state.pulse.tempo.map(units::Tempo::bpm));
            rig.press(signal);
            rig.idle();
            match cue {
                Cue::Hush => assert_eq!(rig.state.pulse.motion, Some(Motion::Held), "{name} {cue}"),
                Cue::Louder | Cue::Softer => assert_ne!(rig.state.pulse.level, level, "{name} {cue}"),
                Cue::Quicker | Cue::Slower => {
                    rig.run(6.0);
                    assert_ne!(rig.state.pulse.tempo.map(units::Tempo::bpm), tempo, "{name} {cue}");
                }
                _ => assert_eq!(rig.state.asked, Some(cue), "{name} {cue}"),
            }
        }
    }
}

#[test]
fn a_flood_of_a_thousand_a_second_gives_one_cue() {
    let mut rig = Rig::demo();
    rig.sends(&GO);
    // two bars and more, the key and the pedal at once, twenty-five each between two looks
    for _ in 0..200 {
        for _ in 0..25 {
            rig.sends(&GO);
            rig.press(Key::PageDown);
            rig.sends(&GO_UP);
        }
        rig.run(0.025);
    }
    assert_eq!(rig.state.bar().unwrap().station, 0, "a second go would have gone on to the next group");
    assert_eq!(rig.state.asked, None);
    // hush gets through it
    rig.sends(&HUSH);
    rig.run(0.1);
    assert_eq!(rig.state.pulse.motion, Some(Motion::Held));
}

#[test]
fn a_pedal_that_goes_and_comes_back_is_told() {
    let mut rig = Rig::demo();
    let mut port = |there: bool| {
        rig.apply(Action::Port { name: Arc::from("Foot Board"), there });
        rig.text(80, 24)
    };
    assert!(port(true).contains("pedal there: Foot Board"));
    assert!(port(false).contains("pedal gone: Foot Board"));
    assert!(port(true).contains("pedal back: Foot Board"));
    assert_eq!(rig.state.pedals.ports.len(), 1);
}

#[test]
fn a_window_without_the_keyboard_says_so_in_large_letters() {
    let mut rig = Rig::demo();
    rig.keys("SPACE");
    rig.apply(Action::Focus(Focus::Elsewhere));
    insta::assert_snapshot!("away_80x24", letters(&rig.buffer(80, 24, RICH)));
    for ports in [false, true] {
        if ports {
            rig.apply(Action::Port { name: Arc::from("Foot Board"), there: true });
        }
        for (width, height) in SIZES {
            for look in LOOKS {
                let text = letters(&rig.buffer(width, height, look));
                assert!(text.contains(text::pedals::AWAY_MEANS), "{width}x{height}:\n{text}");
                assert_eq!(text.contains("MIDI still leads: Foot Board"), ports, "{width}x{height}:\n{text}");
                assert!(text.contains(text::pedals::AWAY) || (width >= 80 && height >= 24), "{width}x{height}:\n{text}");
            }
        }
    }
    rig.apply(Action::Focus(Focus::Here));
    assert!(!rig.text(80, 24).contains(text::pedals::AWAY_MEANS));
}

#[test]
fn line_mode_teaches_too() {
    let mut rig = Rig::demo();
    let mut speaker = Speaker::default();
    speaker.news(&rig.state);
    rig.keys("i");
    let lines = speaker.news(&rig.state).join("\n");
    assert!(lines.contains("then type does and what it shall do"), "{lines}");
    rig.sends(&NOTE_C2);
    let lines = speaker.news(&rig.state).join("\n");
    assert!(lines.ends_with("note C2 on channel 1: nothing, from Foot Board"), "{lines}");
    rig.apply(Action::Bind(precentor::inputs::Deed::named("again")));
    let lines = speaker.news(&rig.state).join("\n");
    assert!(lines.contains("note C2 does again from now on."), "{lines}");
    // with keys: the marked line is told
    rig.keys("TAB");
    let lines = speaker.news(&rig.state).join("\n");
    assert!(lines.contains("what shall note C2 do") && lines.contains("> again"), "{lines}");
    rig.keys("q");
    assert_eq!(rig.state.over, Some(Over::Learn(Learn { choosing: None })));
}
