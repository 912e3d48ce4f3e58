//! The sound server dies under the console, or is not there.

use super::terminal::Terminal;
use super::{SECOND, console, place};
use crate::device::server::Server;

/// Whether something sounds in `sink` within the next second.
fn sounds(server: &Server, terminal: &Terminal) -> bool {
    let recording = server.record("room");
    terminal.wait_for("a recording of a second", 5 * SECOND, |_| recording.length() > 48_000);
    let samples = recording.end();
    samples.iter().filter(|sample| sample.abs() > 1e-4).count() > samples.len() / 8
}

#[test]
#[ignore = "needs tmux and a private sound server; run by .ci/run"]
fn the_drill_survives_three_deaths_of_the_sound_server() {
    let server = Server::start();
    let terminal = console(&server, "precentor lead room.toml");
    terminal.key("Space");
    let program = terminal.program();
    let mut rounds = Vec::new();
    for death in 1..=3 {
        let playing = terminal.shows("LISTEN )))");
        assert!(sounds(&server, &terminal), "silent before death {death}");
        let before = place(&playing);
        server.script("kill");
        let lost = terminal.wait_for("the loss", 3 * SECOND, |screen| screen.contains("SOUND LOST") || screen.contains("NO SOUND"));
        assert_eq!(place(&lost), before, "the place when the sound is lost");
        server.script("start");
        let back =
            terminal.wait_for("the sound", 5 * SECOND, |screen| screen.contains("SOUND on room") || screen.contains("The sound is back"));
        assert!(back.contains("HELD"), "{back}");
        assert_eq!(place(&back), before, "the place when the sound is back");
        assert_eq!(terminal.program(), program, "the same process");
        terminal.key("Space");
        let again = terminal.wait("the same round again", |screen| !screen.contains("HELD") && place(screen) == before);
        rounds.push(place(&again));
    }
    terminal.shows("LISTEN )))");
    assert!(sounds(&server, &terminal), "silent after three deaths");
    println!("taken up again at {rounds:?}");
    let journal = terminal.journal();
    let faults = |word: &str| journal.iter().filter(|line| line.contains("\"fault\"") && line.contains(word)).count();
    assert!(faults("lost room") == 3 && faults("sound is back on room") == 3, "{journal:#?}");
    terminal.key("C-c");
    assert_eq!(terminal.left_with(), 0);
}

#[test]
#[ignore = "needs tmux; run by .ci/run"]
fn without_a_sound_server_it_runs_on_a_silent_clock_and_says_how_to_get_sound() {
    let nowhere = Server::absent();
    let terminal = Terminal::open((160, 45), &nowhere.environment());
    let before = terminal.settings("before");
    terminal.lead("precentor");
    terminal.shows("NO SOUND, silent clock");
    terminal.key("f");
    let page = terminal.shows("how to mend it");
    assert!(page.contains("sound server"), "{page}");
    terminal.key("Tab");
    terminal.wait("the stage", |screen| !screen.contains("how to mend it"));
    terminal.key("Space");
    terminal.shows("LISTEN )))");
    terminal.key("C-c");
    assert_eq!(terminal.left_with(), 0);
    terminal.is_given_back(&before);
}
