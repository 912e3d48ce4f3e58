//! The program as it ships, in a real terminal and on a real sound server. Run by `.ci/run`; by hand:
//! `cargo test --test tests console:: -- --ignored --test-threads=1`.

#![cfg(all(unix, feature = "sound"))]
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod edits;
mod losses;
mod playing;
mod screens;
mod terminal;

use std::path::Path;
use std::time::Duration;

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

/// Writes the room and the drill to `folder`.
fn write_files(folder: &Path) {
    std::fs::write(folder.join("room.toml"), ROOM).unwrap();
    std::fs::write(folder.join("down-and-up.toml"), DRILL).unwrap();
}
