//! How long the program as it ships takes from its start to the device's first request for sound. The figure, on a machine with nothing else
//! to do or in a class above it all:
//! `PRECENTOR_STARTS=50 SOUND_SERVER_FIFO=40 chrt -f 30 cargo test --release --test tests device::start -- --ignored --nocapture`.

use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use super::server::Server;

/// How often it is started.
const STARTS: usize = 10;

/// Nanoseconds of the system's monotonic clock.
fn monotonic() -> u64 {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
    now.tv_sec as u64 * 1_000_000_000 + now.tv_nsec as u64
}

/// Starts the program once as a client of `server`; milliseconds to the first callback.
fn first_callback(server: &Server) -> f64 {
    let home = tempfile::tempdir().unwrap();
    let before = monotonic();
    let mut child = Command::new(env!("CARGO_BIN_EXE_precentor"))
        .args(["lead", "--plain"])
        .envs(server.environment())
        .env("XDG_CONFIG_HOME", home.path().join("config"))
        .env("XDG_STATE_HOME", home.path().join("state"))
        .env("PRECENTOR_STAMP_FIRST_CALLBACK", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let log = home.path().join("state/precentor/console.log");
    let deadline = Instant::now() + Duration::from_secs(10);
    let stamp = loop {
        let text = std::fs::read_to_string(&log).unwrap_or_default();
        if let Some(at) = text.lines().find_map(|line| line.strip_prefix("first callback at ")?.strip_suffix(" ns")?.parse::<u64>().ok()) {
            break at;
        }
        assert!(Instant::now() < deadline, "no first callback; the log says: {text}");
        thread::sleep(Duration::from_millis(5));
    };
    child.kill().unwrap();
    child.wait().unwrap();
    (stamp - before) as f64 / 1e6
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn the_first_callback_comes_soon_after_the_start() {
    let server = Server::start();
    let starts = std::env::var("PRECENTOR_STARTS").ok().and_then(|starts| starts.parse().ok()).unwrap_or(STARTS);
    first_callback(&server);
    let mut times: Vec<f64> = (0..starts).map(|_| first_callback(&server)).collect();
    times.sort_by(f64::total_cmp);
    let at = |share: f64| times[((times.len() - 1) as f64 * share).round() as usize];
    println!(
        "{starts} starts: first callback after {:.1} ms at best, median {:.1}, p95 {:.1}, worst {:.1}",
        at(0.0),
        at(0.5),
        at(0.95),
        at(1.0)
    );
    // an unoptimised build has four times as much to load and to do, and shares the machine with whatever else is tested
    let limit = if cfg!(debug_assertions) { 150.0 } else { 12.0 };
    assert!(at(0.95) <= limit, "p95 is {:.1} ms", at(0.95));
}
