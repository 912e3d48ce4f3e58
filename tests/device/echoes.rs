//! A roll answered through a virtual microphone: what the console says of each seat.

use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use super::server::Server;
use crate::cli::Desk;
use crate::cli::hearing::{ROLL, tone};
use crate::cli::recording::write;

/// How long anything may take.
const PATIENCE: Duration = Duration::from_secs(30);

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_roll_is_heard_through_the_microphone() {
    let server = Server::start();
    let desk = Desk::new();
    let slow = ROLL.replace("tempo = 72", "tempo = 60");
    let (right, _) = tone(&desk, "roll.toml", &slow);
    let (low, _) = tone(&desk, "low.toml", &slow.replace("G4:4", "C4:4"));
    // the first horn is on it, the second two partials low
    for (name, tone) in [("one.wav", &right), ("two.wav", &low)] {
        write(&desk.path(name), &tone.iter().map(|sample| 2.0 * sample).collect::<Vec<_>>());
    }
    std::fs::remove_file(desk.path("low.toml")).unwrap();
    let mut console = Command::new(env!("CARGO_BIN_EXE_precentor"))
        .args(["lead", "--plain", "roll.toml"])
        .current_dir(desk.path("."))
        .envs(server.environment())
        .env("HOME", desk.path("."))
        .env("XDG_STATE_HOME", desk.path("state"))
        .env("XDG_CONFIG_HOME", desk.path("config"))
        .env("XDG_DATA_HOME", desk.path("data"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut keys = console.stdin.take().unwrap();
    let (tell, told) = mpsc::channel();
    let lines = BufReader::new(console.stdout.take().unwrap()).lines();
    std::thread::spawn(move || lines.map_while(Result::ok).all(|line| tell.send(line).is_ok()));
    let mut said = Vec::new();
    let mut until = |what: &str| loop {
        let line = told.recv_timeout(PATIENCE).unwrap_or_else(|_| panic!("never said: {what}\n{}", said.join("\n")));
        said.push(line.clone());
        if line.contains(what) {
            return line;
        }
    };
    keys.write_all(b"microphone\n").unwrap();
    until("hears the echoes of rolls");
    keys.write_all(b"roll\n").unwrap();
    until("Whose roll");
    let horns = until("Horns");
    let number = horns.split(' ').nth(1).unwrap().trim_end_matches(':').to_owned();
    keys.write_all(format!("{number}\ngo\n").as_bytes()).unwrap();
    let answer =
        |name: &str| Command::new("paplay").args(["-d", "micfeed"]).arg(desk.path(name)).envs(server.environment()).spawn().unwrap();
    until("PLAY. Horns, seat 1");
    let mut playing = answer("one.wav");
    let first = until("Seat 1:");
    playing.wait().unwrap();
    until("PLAY. Horns, seat 2");
    let mut playing = answer("two.wav");
    let second = until("Seat 2:");
    playing.wait().unwrap();
    console.kill().unwrap();
    console.wait().unwrap();
    println!("{first}\n{second}");
    assert!(first.contains("Seat 1: on it"), "{first}");
    assert!(second.contains("Seat 2: 2 partials low, C4 for G4."), "{second}");
}
