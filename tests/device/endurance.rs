//! A long time through a sound server at the largest buffer, without a gap. A short one runs with the other tests; an hour by
//! `PRECENTOR_SOAK_SECONDS=3600 SOUND_SERVER_FIFO=40 chrt -f 30 cargo test --release --test tests device::endurance -- --ignored --nocapture`.
//!
//! The machine itself must be fit for it: beside it runs a thread that only sleeps and wakes, whose lateness is told.

use std::io::Read;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use super::player::Player;
use super::server::Server;
use super::sine::Listener;

const SECOND: Duration = Duration::from_secs(1);
/// The largest buffer.
const FRAMES: u32 = 2048;

/// What a thread that only sleeps saw of the machine: how often it woke, how often more than a millisecond and more than a buffer late, and
/// the worst.
#[derive(Debug, Default)]
struct Wakes {
    wakes: u64,
    late: u64,
    later_than_a_buffer: u64,
    worst: Duration,
}

fn watch_the_machine(over: &AtomicBool) -> Wakes {
    let period = Duration::from_micros(1_333);
    let buffer = SECOND * FRAMES / 48_000;
    let mut wakes = Wakes::default();
    let mut next = Instant::now();
    while !over.load(Ordering::Relaxed) {
        next += period;
        thread::sleep(next.saturating_duration_since(Instant::now()));
        let late = next.elapsed();
        wakes.wakes += 1;
        wakes.late += u64::from(late > Duration::from_millis(1));
        wakes.later_than_a_buffer += u64::from(late > buffer);
        wakes.worst = wakes.worst.max(late);
        if late > period {
            next = Instant::now();
        }
    }
    wakes
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_drone_plays_on_without_a_gap() {
    let seconds: u64 = std::env::var("PRECENTOR_SOAK_SECONDS").ok().and_then(|seconds| seconds.parse().ok()).unwrap_or(15);
    let server = Server::start();
    let mut player = Player::start_with_frames(&server, FRAMES);
    player.expect("Playing", 5 * SECOND);
    // the drone swells, the stream settles
    thread::sleep(3 * SECOND);
    let mut recorder = Command::new("parec")
        .args(["--raw", "--format=float32le", "--rate=48000", "--channels=1", "--latency-msec=500", "-d", "room.monitor"])
        .envs(server.environment())
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut pipe = recorder.stdout.take().unwrap();
    let listening = thread::spawn(move || {
        let mut listener = Listener::new(440.0);
        let mut bytes = vec![0; 1 << 16];
        let mut kept = 0;
        while let Ok(read) = pipe.read(&mut bytes[kept..])
            && read > 0
        {
            let whole = (kept + read) / 4 * 4;
            listener.hear(bytes[..whole].as_chunks::<4>().0.iter().map(|sample| f32::from_le_bytes(*sample)));
            bytes.copy_within(whole..kept + read, 0);
            kept = kept + read - whole;
        }
        listener
    });
    let over = Arc::new(AtomicBool::new(false));
    let watching = thread::spawn({
        let over = Arc::clone(&over);
        move || watch_the_machine(&over)
    });
    let mut events = Vec::new();
    let begun = Instant::now();
    let resident = super::resident(player.process());
    while begun.elapsed() < SECOND * seconds as u32 {
        player.frames.clear();
        for event in player.events_for(10 * SECOND.min(SECOND * seconds as u32)) {
            println!("after {:.0?}: {event}", begun.elapsed());
            events.push(event);
        }
    }
    let grown = super::resident(player.process()).saturating_sub(resident);
    over.store(true, Ordering::Relaxed);
    recorder.kill().unwrap();
    recorder.wait().unwrap();
    let heard = listening.join().unwrap().end();
    let wakes = watching.join().unwrap();
    player.stop();
    println!("{seconds} s at {FRAMES} frames: told {} events; heard {heard:?}; memory grew by {grown} KiB", events.len());
    println!("a thread that only sleeps, beside it: {wakes:?}");
    assert!(heard.seconds > seconds as f64 * 0.9, "only {} s were heard", heard.seconds);
    assert_eq!(events, [""; 0], "told of gaps");
    assert_eq!(heard.silences, 0, "silences were heard");
    assert!(heard.cents.abs() < 1e-3, "{} cents off", heard.cents);
    assert!(grown < 1024, "memory grew by {grown} KiB");
}
