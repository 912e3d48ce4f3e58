//! From start to end on the screen.

use super::terminal::Terminal;
use std::process::Command;

const SIZES: [(u16, u16); 2] = [(80, 24), (160, 45)];

#[test]
#[ignore = "needs tmux; run by .ci/run"]
fn a_first_run_leads_the_demo_and_gives_the_terminal_back() {
    for size in SIZES {
        let terminal = Terminal::open(size, &[]);
        let before = terminal.settings("before");
        terminal.run("precentor --no-sound");
        // a screen may be caught while it is still being painted, so all it must show is waited for together
        terminal.shows_all(&["Before the first sound", "NIOSH", "ESC is silence"]);
        assert_eq!(terminal.value("alternate_on"), "1");
        terminal.key("Enter");
        terminal.shows_all(&["READY", "Middle note, apart and together", "group 1 of 17, round 1 of 2", "Flutes", "ESC  hush"]);
        terminal.wait("the cautions to be gone", |screen| screen.contains("READY") && !screen.contains("NIOSH"));
        terminal.key("Space");
        terminal.shows("CALL >>|");
        terminal.shows("COUNT 123");
        terminal.shows_all(&["LISTEN )))", "Flutes: the model sounds"]);
        terminal.key("Escape");
        terminal.shows_all(&["HELD", "the place is kept", "group 1 of 17, round 1 of 2"]);
        terminal.key("?");
        terminal.shows("Keys: type to find");
        terminal.key("Tab");
        terminal.wait("the stage", |screen| screen.contains("HELD") && !screen.contains("Keys: type to find"));
        terminal.key("q");
        assert_eq!(terminal.left_with(), 0);
        terminal.is_given_back(&before);
        // the cautions are shown once
        terminal.run("clear; precentor --no-sound");
        let again = terminal.shows("READY");
        assert!(!again.contains("NIOSH"), "{again}");
        terminal.key("C-c");
        assert_eq!(terminal.left_with(), 0);
    }
}

#[test]
#[ignore = "needs tmux; run by .ci/run"]
fn the_window_may_change_its_size_at_any_time() {
    let terminal = Terminal::open((80, 24), &[]);
    terminal.lead("precentor --no-sound");
    terminal.key("Space");
    terminal.shows("COUNT 123");
    // wide: instruments and the staff stand beside the sections, and the hints go on to the right
    for (size, width) in [((160, 45), 100..=160), ((80, 24), 60..=80), ((132, 30), 81..=132)] {
        terminal.resize(size);
        let fits = |screen: &str| {
            let widest = screen.lines().map(|line| line.trim_end().chars().count()).max().unwrap_or(0);
            width.contains(&widest) && screen.contains("ESC  hush") && screen.trim_end_matches('\n').lines().count() == usize::from(size.1)
        };
        terminal.wait(&format!("a screen of {size:?}"), fits);
    }
    terminal.resize((20, 5));
    terminal.wait("a word about the size", |screen| screen.contains("This window is 20"));
    terminal.resize((80, 24));
    terminal.shows("ESC  hush");
    terminal.key("C-c");
    assert_eq!(terminal.left_with(), 0);
}

#[test]
#[ignore = "needs tmux; run by .ci/run"]
fn no_color_is_heeded() {
    // colours are SGR 30 to 37 and 90 to 97, which capture-pane writes as parameters of their own
    let coloured = |screen: &str| {
        let codes = screen.split("\u{1b}[").skip(1).filter_map(|rest| rest.split_once('m')).flat_map(|(codes, _)| codes.split(';'));
        codes.filter_map(|code| code.parse::<u8>().ok()).any(|code| matches!(code, 30..=38 | 40..=48 | 90..=107))
    };
    for (no_color, wanted) in [("", true), ("1", false)] {
        let terminal = Terminal::open((80, 24), &[("NO_COLOR".to_owned(), no_color.to_owned())]);
        terminal.lead("precentor --no-sound");
        terminal.key("Space");
        terminal.shows("LISTEN )))");
        let styled = terminal.screen_with_styles();
        assert_eq!(coloured(&styled), wanted, "{styled:?}");
        assert!(styled.contains("\u{1b}["), "bold and reversed are no colours");
    }
}

#[test]
#[ignore = "needs tmux; run by .ci/run"]
fn signals_end_it_and_give_the_terminal_back() {
    for (signal, code) in [("TERM", 143), ("INT", 130)] {
        let terminal = Terminal::open((80, 24), &[]);
        let before = terminal.settings("before");
        terminal.lead("precentor --no-sound");
        terminal.key("Space");
        terminal.shows("COUNT 123");
        assert!(Command::new("kill").args(["-s", signal, &terminal.program()]).status().unwrap().success());
        assert_eq!(terminal.left_with(), code);
        terminal.is_given_back(&before);
        let journal = terminal.journal();
        assert!(journal.last().is_some_and(|line| line.contains("\"end\"")), "{journal:?}");
    }
}

#[test]
#[ignore = "needs tmux; run by .ci/run"]
fn where_nothing_can_be_drawn_it_speaks_in_lines() {
    let terminal = Terminal::open((80, 24), &[]);
    let before = terminal.settings("before");
    terminal.run("TERM=dumb precentor --no-sound");
    terminal.shows("READY. Flutes: it waits for go");
    let told = terminal.screen_from_the_start();
    assert!(told.contains("1 Line mode. SPACE go") && told.contains("Ears. It starts soft"), "{told}");
    assert_eq!(terminal.value("alternate_on"), "0");
    terminal.key("Space");
    terminal.shows("LISTEN. Flutes: the model sounds");
    terminal.key("C-c");
    assert_eq!(terminal.left_with(), 0);
    terminal.is_given_back(&before);
    // through a pipe: words in, lines out, no escape sequence
    terminal.run("clear; printf 'go\\nhush\\nquit\\n' | precentor --no-sound >lines.txt");
    assert_eq!(terminal.left_with(), 0);
    let lines = std::fs::read_to_string(terminal.home().join("lines.txt")).unwrap();
    assert!(lines.starts_with("1 Line mode. Type a word"), "{lines}");
    assert!(lines.contains("waits for go"), "{lines}");
    assert!(!lines.contains('\u{1b}'), "{lines:?}");
}
