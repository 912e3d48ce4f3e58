//! A private JACK server on its dummy driver, and a foot board with switches on it. The board is this very program started again: it needs the
//! server's environment, which a running process cannot safely change.

use midir::os::unix::VirtualOutput;
use midir::{MidiOutput, MidiOutputConnection};
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

/// Set for the foot board.
const BOARD: &str = "PRECENTOR_TEST_FOOT_BOARD";
/// The frames of one period of the server: what a message may be late by is one of them.
pub const PERIOD: u32 = 128;

/// Since the machine started, on the clock every process reads.
pub fn clock() -> Duration {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
    Duration::new(now.tv_sec.unsigned_abs(), now.tv_nsec.unsigned_abs() as u32)
}

/// The board's side: obeys a line at a time and answers each.
#[test]
#[ignore = "started by the other tests of this folder"]
fn board() {
    if std::env::var_os(BOARD).is_none() {
        return;
    }
    let mut plugged: Option<MidiOutputConnection> = None;
    for line in std::io::stdin().lines().map_while(Result::ok) {
        let words: Vec<&str> = line.split(' ').collect();
        match (words.as_slice(), &mut plugged) {
            (["plug"], plugged) => {
                let output = MidiOutput::new("Foot Board").unwrap();
                *plugged = Some(output.create_virtual("left").unwrap_or_else(|error| panic!("{error}")));
            }
            (["unplug"], plugged) => *plugged = None,
            (["send", bytes @ ..], Some(connection)) => {
                let message: Vec<u8> = bytes.iter().map(|byte| byte.parse().unwrap()).collect();
                connection.send(&message).unwrap();
            }
            (["flood", number], Some(connection)) => {
                let start = Instant::now();
                for press in 0..number.parse().unwrap() {
                    connection.send(&[0xb0, 64, if press % 2 == 0 { 127 } else { 0 }]).unwrap();
                    thread::sleep((start + Duration::from_millis(press)).saturating_duration_since(Instant::now()));
                }
            }
            _ => panic!("no such order: {line}"),
        }
        println!("\nDONE");
    }
    std::process::exit(0);
}

/// The server with the board on it; gone when dropped.
pub struct Board {
    server: Child,
    name: String,
    child: Child,
    orders: ChildStdin,
    answers: BufReader<ChildStdout>,
}

impl Board {
    /// Starts both; the board is plugged in.
    pub fn start() -> Self {
        // always the same, so that one that died in its place gives it up
        let name = "precentor-test".to_owned();
        let period = PERIOD.to_string();
        let server = Command::new("jackd")
            .args(["--no-realtime", "--sync", "--name", &name, "-d", "dummy", "--rate", "48000", "--period", &period])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let waited = Command::new("jack_wait").args(["--server", &name, "--wait", "--timeout", "20"]).output().unwrap();
        assert!(waited.status.success(), "JACK does not start: {}", String::from_utf8_lossy(&waited.stdout));
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["pedals::switch::board", "--exact", "--ignored", "--nocapture"])
            .env(BOARD, "1")
            .env("JACK_DEFAULT_SERVER", &name)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let (orders, answers) = (child.stdin.take().unwrap(), BufReader::new(child.stdout.take().unwrap()));
        let mut board = Self { server, name, child, orders, answers };
        board.order("plug");
        board
    }

    /// The variables a client of this server needs.
    pub fn environment(&self) -> Vec<(String, String)> {
        vec![("JACK_DEFAULT_SERVER".to_owned(), self.name.clone())]
    }

    /// Gives an order and waits until it is done; when it was given.
    pub fn order(&mut self, order: &str) -> Duration {
        let at = clock();
        writeln!(self.orders, "{order}").unwrap();
        let mut line = String::new();
        while line.trim() != "DONE" {
            line.clear();
            assert_ne!(self.answers.read_line(&mut line).unwrap(), 0, "the foot board is gone");
        }
        at
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        // nothing to be done about either if it has ended by itself
        let _ = self.child.kill();
        let _ = self.child.wait();
        // asked to end, not killed: JACK keeps a list of eight servers, and a dead one keeps its place
        let _ = Command::new("kill").arg(self.server.id().to_string()).status();
        let deadline = Instant::now() + Duration::from_secs(5);
        while matches!(self.server.try_wait(), Ok(None)) {
            if Instant::now() > deadline {
                let _ = self.server.kill();
            }
            thread::sleep(Duration::from_millis(10));
        }
    }
}
