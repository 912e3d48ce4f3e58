//! Every cue from every source, and what comes, goes and floods.

use sequencer::Cue;
use std::thread;
use std::time::Duration;

use super::switch::Board;
use super::{SECOND, console};
use crate::console::terminal::Terminal;

/// Apart enough that no press is taken for a bounce.
const APART: Duration = Duration::from_millis(800);

/// The gain the console starts with: -6 dB.
const START: f64 = 0.501;

/// How often the journal has `cue` so far; louder and softer stand there as the gain they made.
fn given(terminal: &Terminal, cue: Cue) -> usize {
    let journal = terminal.journal();
    let gain = |line: &String| line.split_once("\"dial\":\"master\",\"gain\":")?.1.trim_end_matches('}').parse::<f64>().ok();
    let gains: Vec<f64> = std::iter::once(START).chain(journal.iter().filter_map(gain)).collect();
    match cue {
        Cue::Louder => gains.windows(2).filter(|pair| pair[1] > pair[0] * 1.1).count(),
        Cue::Softer => gains.windows(2).filter(|pair| pair[1] < pair[0] * 0.9).count(),
        _ => {
            let word = format!("\"cue\":\"{cue}\"");
            journal.iter().filter(|line| line.contains(&word)).count()
        }
    }
}

/// Gives every cue through `press` and fails unless each arrives once, and no other.
fn every_cue(terminal: &Terminal, mut press: impl FnMut(Cue)) {
    for cue in Cue::ALL {
        let before = Cue::ALL.map(|cue| given(terminal, cue));
        press(cue);
        terminal.wait_for(&format!("{cue} in the journal"), SECOND * 5, |_| given(terminal, cue) > 0);
        thread::sleep(APART);
        for (other, before) in Cue::ALL.into_iter().zip(before) {
            assert_eq!(given(terminal, other), before + usize::from(other == cue), "{other} after {cue}");
        }
    }
}

#[test]
#[ignore = "needs tmux; run by .ci/run"]
fn every_cue_comes_from_a_key() {
    let terminal = console(&[], "precentor lead down-and-up.toml --no-sound", "version = 1\n");
    every_cue(&terminal, |cue| {
        terminal.key(match cue {
            Cue::Go => "PageDown",
            Cue::Again => "PageUp",
            Cue::Hush => "Escape",
            Cue::Hold => "h",
            Cue::Next => "n",
            Cue::Back => "b",
            Cue::Landmark => "j",
            Cue::Louder => "+",
            Cue::Softer => "-",
            Cue::Quicker => "]",
            Cue::Slower => "[",
        });
    });
    terminal.key("q");
    terminal.key("q");
    assert_eq!(terminal.left_with(), 0);
}

#[test]
#[ignore = "needs tmux and JACK; run by .ci/run"]
fn every_cue_comes_from_midi_and_a_pedal_may_be_pulled_out() {
    let mut board = Board::start();
    // three as they come, the others as taught: controllers, notes and programs
    let rows: String = Cue::ALL.iter().enumerate().fold("version = 1\n".to_owned(), |rows, (index, cue)| {
        let signal = match cue {
            Cue::Go | Cue::Again | Cue::Hush => return rows,
            _ if index % 3 == 0 => format!("controller {}", 80 + index),
            _ if index % 3 == 1 => format!("note C{}", index / 3),
            _ => format!("program {}", index + 1),
        };
        rows + &format!("[[bind]]\nsignal = \"{signal}\"\ndoes = \"{cue}\"\n")
    });
    let terminal = console(&board.environment(), "precentor lead down-and-up.toml --no-sound", &rows);
    terminal.shows("pedal there: Foot Board:left");
    every_cue(&terminal, |cue| {
        let index = Cue::ALL.iter().position(|other| *other == cue).unwrap();
        board.order(&match cue {
            Cue::Go => "send 176 64 127".to_owned(),
            Cue::Again => "send 176 66 127".to_owned(),
            Cue::Hush => "send 176 67 127".to_owned(),
            _ if index % 3 == 0 => format!("send 176 {} 127", 80 + index),
            _ if index % 3 == 1 => format!("send 144 {} 100", 12 * (index / 3 + 1)),
            _ => format!("send 192 {index}"),
        });
    });
    for round in 0..3 {
        board.order("unplug");
        terminal.shows("pedal gone: Foot Board:left");
        board.order("plug");
        terminal.shows("pedal back: Foot Board:left");
        let before = given(&terminal, Cue::Hush);
        board.order("send 176 67 127");
        terminal.wait_for(&format!("hush after plugging in again, {round}"), SECOND * 5, |_| given(&terminal, Cue::Hush) > before);
    }
    // taught while it runs
    terminal.key("i");
    terminal.shows("Nothing has come yet.");
    board.order("send 144 31 100");
    terminal.shows_all(&["note G1 on channel 1", "from Foot Board:left"]);
    for key in ["Tab", "Down", "Down", "Down", "Down", "Enter"] {
        terminal.key(key);
    }
    terminal.shows("note G1 does again from now on.");
    terminal.key("q");
    let before = given(&terminal, Cue::Again);
    thread::sleep(APART);
    board.order("send 144 31 100");
    terminal.wait_for("again from what was taught", SECOND * 5, |_| given(&terminal, Cue::Again) > before);
    let file = std::fs::read_to_string(terminal.home().join("config/precentor/inputs.toml")).unwrap();
    assert!(file.ends_with("signal = \"note G1\"\ndoes = \"again\"\n"), "{file}");
    terminal.key("q");
    terminal.key("q");
    assert_eq!(terminal.left_with(), 0);
}

#[test]
#[ignore = "needs tmux, JACK and a private sound server; run by .ci/run"]
fn a_flood_gives_one_cue_and_no_late_callback() {
    let server = crate::device::server::Server::start();
    let mut board = Board::start();
    let environment = [server.environment(), board.environment()].concat();
    let terminal = console(&environment, "precentor lead down-and-up.toml", "version = 1\n");
    terminal.shows("pedal there: Foot Board:left");
    terminal.wait("the sound", |screen| screen.contains("SOUND on room"));
    let faults = || terminal.journal().iter().filter(|line| line.contains("dropped out")).count();
    thread::sleep(SECOND * 2);
    let before = faults();
    board.order("flood 4000");
    let counted = given(&terminal, Cue::Go);
    let gaps = faults() - before;
    // the same time without a flood, for what the machine does by itself
    thread::sleep(SECOND * 4);
    let by_itself = faults() - before - gaps;
    println!("4000 messages in 4 s: {counted} go, {gaps} gaps; in 4 s without: {by_itself} gaps");
    assert_eq!(counted, 1);
    assert!(gaps <= by_itself, "{gaps} gaps in the flood, {by_itself} without");
    terminal.key("s");
    terminal.shows("HELD");
    terminal.key("q");
    assert_eq!(terminal.left_with(), 0);
}
