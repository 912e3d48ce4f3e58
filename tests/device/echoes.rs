//! Rolls answered through a virtual microphone: what the console says of each seat.

use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use super::class::{Answer, Class, note};
use super::server::Server;
use crate::cli::Desk;

/// How long anything may take.
const PATIENCE: Duration = Duration::from_secs(60);

/// How often the room may be measured.
const MEASURED: usize = 4;

const DRILL: &str = "version = 1\ntitle = \"Middle note\"\ntempo = 84\n[line]\nHorns = { written = \"G4:4\" }\n[[turn]]\ncount = {}\n[[turn]]\n\
                     model = {}\n[[turn]]\nbreath = { bars = 1, beats = 2 }\n[[turn]]\necho = {}\n[[turn]]\nbreath = { bars = 1, beats = 2 }\n";

/// `precentor lead --plain`, and what it says.
struct Console {
    child: Child,
    keys: ChildStdin,
    told: mpsc::Receiver<String>,
    said: Vec<String>,
}

impl Console {
    fn start(server: &Server, desk: &Desk) -> Self {
        let mut child = desk
            .program()
            .args(["lead", "--plain", "roll.toml"])
            .envs(server.environment())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let keys = child.stdin.take().unwrap();
        let (tell, told) = mpsc::channel();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        std::thread::spawn(move || lines.map_while(Result::ok).all(|line| tell.send(line).is_ok()));
        Self { child, keys, told, said: Vec::new() }
    }

    fn types(&mut self, text: &str) {
        self.keys.write_all(text.as_bytes()).unwrap();
    }

    /// Measures the room, as often as a busy machine drops sound meanwhile.
    fn measures(&mut self) {
        for _ in 0..MEASURED {
            self.types("measure\n");
            if self.until("The room ").contains("and entries are told") {
                return;
            }
        }
        panic!("the room was never measured\n{}", self.said.join("\n"));
    }

    fn until(&mut self, what: &str) -> String {
        loop {
            let line = self.told.recv_timeout(PATIENCE).unwrap_or_else(|_| panic!("never said: {what}\n{}", self.said.join("\n")));
            self.said.push(line.clone());
            if line.contains(what) {
                return line;
            }
        }
    }
}

impl Drop for Console {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// What the engine plays in the roll, in one channel, and the frames of its echoes.
fn rendering(desk: &Desk) -> (Vec<f32>, Vec<usize>) {
    let args = ["render", "roll.toml", "--roll", "Horns", "-o", "out.wav", "--cues", "out.json", "--force"];
    desk.done(&args);
    let list: Value = serde_json::from_slice(&desk.read("out.json")).unwrap();
    let echo = |cue: &&Value| cue["kind"] == "turn" && cue["turn"] == "echo";
    let echoes = list["cues"].as_array().unwrap().iter().filter(echo).map(|cue| cue["at"].as_u64().unwrap() as usize).collect();
    let (sound, channels, _) = crate::cli::samples(&desk.path("out.wav"));
    let channels = usize::from(channels);
    (sound.chunks(channels).map(|frame| frame.iter().sum::<f32>() / channels as f32).collect(), echoes)
}

/// One is on it, two sits two partials low, three comes late: all of it is told and kept, with the entries.
fn answered(delay: usize, drift_ppm: f64) {
    let server = Server::start();
    let desk = Desk::new();
    std::fs::remove_file(desk.path("room.toml")).unwrap();
    desk.write("roll.toml", DRILL);
    let (rendering, echoes) = rendering(&desk);
    assert_eq!(echoes.len(), 3, "the demo room's horns");
    let ms = 48;
    let answers = vec![
        Answer { at: echoes[0] + 20 * ms, sound: note("g4.wav", 0.5) },
        Answer { at: echoes[1] + 60 * ms, sound: note("c4.wav", 0.5) },
        Answer { at: echoes[2] + 250 * ms, sound: note("g4_other.wav", 0.5) },
    ];
    let class = Class { rendering, answers, delay, drift_ppm }.start(&server);
    let mut console = Console::start(&server, &desk);
    console.types("microphone\n");
    console.until("hears the echoes");
    console.measures();
    class.attend();
    console.types("roll\n");
    console.until("Whose roll");
    let horns = console.until("Horns");
    let number = horns.split(' ').nth(1).unwrap().trim_end_matches(':').to_owned();
    console.types(&format!("{number}\ngo\n"));
    let said: Vec<String> = (1..=3).map(|seat| console.until(&format!("Seat {seat}:"))).collect();
    console.types("quit now\n");
    let _ = console.child.wait();
    println!("delay {delay} frames, {drift_ppm} ppm:\n{}", console.said.join("\n"));
    assert!(class.end(), "the class never heard the engine");
    let kept = desk.json(&["records", "show", "--json"]);
    println!("{kept}");
    let has = |seat: usize, words: &str| assert!(said[seat - 1].contains(words), "seat {seat}: {words}\n{}", console.said.join("\n"));
    has(1, "on it");
    has(2, "2 partials low, C4 for G4.");
    has(3, "late");
    let entries: Vec<f64> = kept["records"].as_array().unwrap().iter().filter_map(|record| record["entry_ms"].as_f64()).collect();
    let off = |wanted: f64| entries.iter().map(|entry| (entry - wanted).abs()).fold(f64::INFINITY, f64::min);
    for wanted in [20.0, 60.0, 250.0] {
        assert!(off(wanted) < 20.0, "{wanted} ms: {entries:?}");
    }
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_class_is_heard_near_by() {
    answered(1_000, 0.0);
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_class_is_heard_far_behind_and_on_another_clock() {
    answered(9_600, 30.0);
}
