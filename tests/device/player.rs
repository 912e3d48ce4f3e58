//! A program that plays a drone through [`device::Output`] and tells what happens, and the test's handle on it.

use device::{BUFFER_FRAMES, Output, Wanted};
use sequencer::{Drone, Language, Room, StackTone};
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread;
use std::time::{Duration, Instant};
use units::SampleRate;

use super::server::Server;

/// Set for the player: the device it plays on, and the frames it asks for at a time.
const DEVICE: &str = "PRECENTOR_TEST_PLAYS_ON";
const FRAMES: &str = "PRECENTOR_TEST_FRAMES";

/// The player's side: plays A4 until told to stop, a line for every event and every 20 ms one with the engine's frame.
#[test]
#[ignore = "started by the other tests of this folder"]
fn player() {
    let Ok(wanted) = std::env::var(DEVICE) else { return };
    let (mut controls, renderer) = engine::pair(SampleRate::DEFAULT);
    let root = "A4".parse().unwrap();
    let drone = Drone { root, stack: vec![StackTone::Root], temperament: pitch::Temperament::Just, registers: Default::default() };
    let room = Room {
        name: "Alder Street School".to_owned(),
        reference: pitch::Reference::default(),
        sections: Vec::new(),
        drone: drone.clone(),
        syllables: Default::default(),
        soundfont: None,
        voice: None,
        language: Language::English,
        mix: Default::default(),
    };
    controls.drone(Some((&drone, &room)));
    let start = Instant::now();
    let frames = std::env::var(FRAMES).ok().and_then(|frames| frames.parse().ok()).unwrap_or(BUFFER_FRAMES[0]);
    let output = Output::start(renderer, Wanted::from(wanted.as_str()), frames);
    println!("\nSTARTED {}", start.elapsed().as_micros());
    let (orders_in, orders) = crossbeam_channel::unbounded();
    thread::spawn(move || std::io::stdin().lines().map_while(Result::ok).try_for_each(|line| orders_in.send(line)));
    loop {
        crossbeam_channel::select! {
            recv(output.events()) -> event => if let Ok(event) = event { println!("EVENT {event:?}") },
            recv(orders) -> order => match order.as_deref().map(|order| (order, order.strip_prefix("use "))) {
                Ok(("survey", _)) => {
                    let asked = Instant::now();
                    let survey = device::devices();
                    println!("SURVEY {} {survey:?}", asked.elapsed().as_millis());
                }
                Ok((_, Some(device))) => output.use_device(Wanted::from(device)),
                _ => break,
            },
            default(Duration::from_millis(20)) => {
                controls.poll();
                println!("FRAME {}", output.frame().0);
            }
        }
    }
    let stopping = Instant::now();
    output.stop();
    println!("STOPPED {}", stopping.elapsed().as_millis());
    // as the program itself ends: what hangs is left behind
    std::process::exit(0);
}

/// Whether this program was started by [`Player`].
pub fn is_started() -> bool {
    std::env::var(DEVICE).is_ok()
}

/// What a `Returned` says of how long the sound was away.
fn seconds_after(event: &str) -> Duration {
    let text = event.split("after: ").nth(1).and_then(|rest| rest.split(' ').next()).expect("how long after");
    let unit = text.trim_start_matches(|sign: char| sign.is_ascii_digit() || sign == '.');
    let scale = match unit {
        "s" => 1.0,
        "ms" => 1e-3,
        "µs" => 1e-6,
        _ => 1e-9,
    };
    Duration::from_secs_f64(text.trim_end_matches(unit).parse::<f64>().unwrap() * scale)
}

/// The test's side.
pub struct Player {
    child: Child,
    orders: ChildStdin,
    lines: Receiver<(Instant, String)>,
    /// Every frame told so far, with when.
    pub frames: Vec<(Instant, u64)>,
}

impl Player {
    /// Starts one as a client of `server`.
    pub fn start(server: &Server, device: &str) -> Self {
        Self::start_with(server, device, [])
    }

    /// Starts one on the default device that asks for `frames` at a time.
    pub fn start_with_frames(server: &Server, frames: u32) -> Self {
        Self::start_with(server, "default", [(FRAMES, frames.to_string())])
    }

    /// Starts one that can reach `server` only through ALSA.
    pub fn start_on_alsa(server: &Server) -> Self {
        // ALSA's plug-in takes an address without the prefix, the direct way does not
        let address =
            server.environment().into_iter().find(|(name, _)| name == "PULSE_SERVER").map(|(_, address)| address.replace("unix:", ""));
        Self::start_with(server, "default", [("PULSE_SERVER", address.unwrap())])
    }

    /// Starts another test as a program of its own, whose lines and orders are like the player's.
    pub fn start_other(server: &Server, test: &str) -> Self {
        Self::start_test(server, test, "default", [])
    }

    fn start_with<const N: usize>(server: &Server, device: &str, more: [(&str, String); N]) -> Self {
        Self::start_test(server, "device::player::player", device, more)
    }

    fn start_test<const N: usize>(server: &Server, test: &str, device: &str, more: [(&str, String); N]) -> Self {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", test, "--ignored", "--nocapture", "--test-threads=1"])
            .envs(server.environment())
            .envs(more)
            .env(DEVICE, device)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let (orders, out) = (child.stdin.take().unwrap(), BufReader::new(child.stdout.take().unwrap()));
        let (sender, lines) = channel();
        thread::spawn(move || out.lines().map_while(Result::ok).try_for_each(|line| sender.send((Instant::now(), line))));
        Self { child, orders, lines, frames: Vec::new() }
    }

    /// Sends an order: `use DEVICE`, `survey` or `stop`.
    pub fn order(&mut self, order: &str) {
        writeln!(self.orders, "{order}").unwrap();
    }

    /// The next line that starts with `word` and when it came. Frames on the way are kept.
    fn next(&mut self, word: &str, limit: Duration) -> Option<(Instant, String)> {
        let deadline = Instant::now() + limit;
        loop {
            let (at, line) = self.lines.recv_timeout(deadline.saturating_duration_since(Instant::now())).ok()?;
            if let Some(frame) = line.strip_prefix("FRAME ") {
                self.frames.push((at, frame.parse().unwrap()));
            } else if let Some(rest) = line.strip_prefix(word) {
                return Some((at, rest.trim().to_owned()));
            }
        }
    }

    /// The next event, whatever it is, within `limit`.
    pub fn event(&mut self, limit: Duration) -> Option<(Instant, String)> {
        self.next("EVENT ", limit)
    }

    /// Waits for the event called `name`; gaps and larger buffers may come before it.
    pub fn expect(&mut self, name: &str, limit: Duration) -> (Instant, String) {
        let deadline = Instant::now() + limit;
        loop {
            let (at, event) = self.event(deadline.saturating_duration_since(Instant::now())).unwrap_or_else(|| panic!("no {name}"));
            if event.starts_with(name) {
                return (at, event);
            }
            assert!(["Gap", "BufferGrown", "Playing"].iter().any(|usual| event.starts_with(usual)), "{event} instead of {name}");
        }
    }

    /// Waits for the sound to be lost and, once `mend` has done what brings it back and said when, to return: how long it took from then on
    /// until the device took sound again.
    pub fn lost_and_back(&mut self, limit: Duration, mend: impl FnOnce() -> Instant) -> Duration {
        let (lost, _) = self.expect("Lost", 2 * Duration::from_secs(1));
        let mended = mend();
        let (_, event) = self.expect("Returned", limit);
        (lost + seconds_after(&event)).saturating_duration_since(mended)
    }

    /// Every event that comes within `time`.
    pub fn events_for(&mut self, time: Duration) -> Vec<String> {
        let deadline = Instant::now() + time;
        std::iter::from_fn(|| self.event(deadline.saturating_duration_since(Instant::now()))).map(|(_, event)| event).collect()
    }

    /// What a survey of the devices took, in milliseconds, and found.
    pub fn survey(&mut self) -> (u64, String) {
        self.order("survey");
        let (_, line) = self.next("SURVEY ", Duration::from_secs(10)).expect("a survey");
        let (time, found) = line.split_once(' ').unwrap();
        (time.parse().unwrap(), found.to_owned())
    }

    /// Stops it; returns the milliseconds [`Output::stop`] took. Fails if the program has died or the frames ever went back.
    pub fn stop(mut self) -> u64 {
        self.order("stop");
        let (_, time) = self.next("STOPPED ", Duration::from_secs(5)).expect("it stops");
        assert!(self.child.wait().unwrap().success());
        assert!(self.frames.is_sorted_by_key(|(_, frame)| *frame), "the frames went back");
        time.parse().unwrap()
    }

    /// Sends the program a signal by its name.
    pub fn signal(&self, name: &str) {
        assert!(Command::new("kill").args(["-s", name, &self.child.id().to_string()]).status().unwrap().success());
    }

    /// The program's process.
    pub fn process(&self) -> u32 {
        self.child.id()
    }

    /// How many threads it has.
    pub fn threads(&self) -> usize {
        std::fs::read_dir(format!("/proc/{}/task", self.child.id())).unwrap().count()
    }
}

impl Drop for Player {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
