//! Files edited while they play.

use super::terminal::Terminal;
use super::{DRILL, write_files};

#[test]
#[ignore = "needs tmux; run by .ci/run"]
fn an_edit_is_taken_up_and_a_broken_one_is_shown_while_it_plays_on() {
    let terminal = Terminal::open((160, 45), &[]);
    write_files(terminal.home());
    let stage = terminal.lead("precentor lead room.toml --no-sound");
    assert!(stage.contains("Down and up") && stage.contains("G4 F4"), "{stage}");
    terminal.key("Space");
    terminal.shows("LISTEN )))");

    let drill = terminal.home().join("down-and-up.toml");
    std::fs::write(&drill, DRILL.replace("G4:2 F4:2", "G4:2 E4:2")).unwrap();
    terminal.shows("Saved changes taken up");
    terminal.wait("the new note", |screen| screen.contains("E4") && !screen.contains("F4"));

    let faulty = DRILL.replace("G4:2 F4:2", "G4:2 H4:2");
    std::fs::write(&drill, &faulty).unwrap();
    let screen = terminal.shows("Saved with faults; the version before plays on");
    let fault = screen.lines().position(|line| line.contains("H4:2")).expect("the line with the fault is shown");
    let caret = screen.lines().nth(fault + 1).unwrap();
    let (at, under) = (column(screen.lines().nth(fault).unwrap(), "H4"), column(caret, "^"));
    assert!(under >= at && under < at + 4, "the caret stands at {under}, the fault at {at}:\n{screen}");
    // it plays on: the turns follow each other as before
    let turns = ["LISTEN )))", "PLAY <<<"];
    let now = turns.iter().position(|turn| screen.contains(turn)).expect("a turn is going on");
    for step in 1..=2 {
        let next = terminal.shows(turns[(now + step) % 2]);
        assert!(next.contains("E4") && next.contains("Saved with faults"), "{next}");
    }

    std::fs::write(&drill, DRILL.replace("G4:2 F4:2", "G4:2 D4:2")).unwrap();
    terminal.wait("the mended file", |screen| screen.contains("D4") && !screen.contains("Saved with faults"));
    terminal.key("C-c");
    assert_eq!(terminal.left_with(), 0);
}

/// The column at which `text` stands in `line`.
fn column(line: &str, text: &str) -> usize {
    line[..line.find(text).unwrap()].chars().count()
}
