//! The program as it ships, in a real terminal and on a real sound server. Run by `.ci/run`; by hand:
//! `cargo test --test tests console:: -- --ignored --test-threads=1`.

#![cfg(all(unix, feature = "sound"))]
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod edits;
mod losses;
mod playing;
mod records;
mod screens;
mod standing;
pub(crate) mod terminal;

use std::path::Path;
use std::time::Duration;

use crate::device::server::Server;
use terminal::Terminal;

const SECOND: Duration = Duration::from_secs(1);

/// One section, so that its tone sounds alone.
const ROOM: &str = r#"version = 1
name = "Elm Street School"
[[section]]
name = "Horns"
instrument = "horn in F"
seats = 2
"#;

/// Four tones without clicks or words over them; each lasts longer than a second.
const DRILL: &str = r#"version = 1
title = "Down and up"
tempo = 72
meter = "4/4"
rounds = 3
click = false
groups = [["Horns"]]
[line]
Horns = { written = "G4:2 F4:2" }
[[turn]]
count = { bars = 1, rounds = "first" }
[[turn]]
model = {}
[[turn]]
echo = {}
"#;

/// A console on a drill of long tones, so that sound can be looked for while one lasts, as a client of `server`; it has its sound.
pub(crate) fn console(server: &Server, line: &str) -> Terminal {
    let terminal = Terminal::open((100, 30), &server.environment());
    write_files(terminal.home());
    let drill = DRILL.replace("G4:2 F4:2", "G4:8").replace("rounds = 3", "rounds = 9");
    std::fs::write(terminal.home().join("down-and-up.toml"), drill).unwrap();
    terminal.lead(line);
    terminal.wait("the sound", |screen| screen.contains("SOUND on room"));
    terminal
}

/// The row of the screen that says which group and round it is.
pub(crate) fn place(screen: &str) -> String {
    let row = screen.lines().find(|line| line.contains("group ")).expect("a place on the screen");
    row[row.find("group ").unwrap()..].trim().to_owned()
}

/// Writes the room and the drill to `folder`.
fn write_files(folder: &Path) {
    std::fs::write(folder.join("room.toml"), ROOM).unwrap();
    std::fs::write(folder.join("down-and-up.toml"), DRILL).unwrap();
}
