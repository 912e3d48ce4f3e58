//! Pedals, switches and keys on the real binary in a real terminal: keys through tmux, MIDI through a private JACK server. Run by `.ci/run`;
//! by hand: `cargo test --features jack --test tests pedals:: -- --ignored --test-threads 1`.

#![cfg(feature = "jack")]
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod cues;
mod latency;
mod switch;

use std::time::Duration;

use crate::console::terminal::Terminal;

const SECOND: Duration = Duration::from_secs(1);

/// A room whose drone is one pure, steady tone.
const ROOM: &str = r#"version = 1
name = "Elm Street School"
drone = { concert = "A4", stack = ["root"] }
[[section]]
name = "Horns"
instrument = "horn in F"
seats = 2
"#;

/// A drill that goes on for as long as it takes.
const DRILL: &str = r#"version = 1
title = "Down and up"
tempo = 120
meter = "4/4"
rounds = 60
groups = [["Horns"], ["Horns"], ["Horns"]]
[line]
Horns = { written = "G4:2 F4:2" }
[[turn]]
model = {}
[[turn]]
echo = {}
"#;

/// A console on that room, led by `words`, with bindings of the teacher's own.
fn console(environment: &[(String, String)], words: &str, inputs: &str) -> Terminal {
    let terminal = Terminal::open((100, 30), environment);
    std::fs::write(terminal.home().join("room.toml"), ROOM).unwrap();
    std::fs::write(terminal.home().join("down-and-up.toml"), DRILL).unwrap();
    let config = terminal.home().join("config/precentor");
    std::fs::create_dir_all(&config).unwrap();
    std::fs::write(config.join("inputs.toml"), inputs).unwrap();
    terminal.lead(words);
    terminal
}
