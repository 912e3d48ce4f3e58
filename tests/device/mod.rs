//! The output against a real sound server of its own, and its failures. Run by `.ci/run`; by hand:
//! `cargo test --test tests device:: -- --ignored --test-threads=1`.
//!
//! The player is this very program started again: it needs the private server's environment, which a running process cannot safely change.

#![cfg(feature = "sound")]
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod class;
mod ears;
mod echoes;
mod endurance;
mod faults;
mod many_faults;
mod microphone;
mod player;
pub(crate) mod server;
pub(crate) mod sine;
mod sound;
mod start;

/// The memory a process has resident, in KiB.
fn resident(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).expect("a line on memory");
    line.trim().trim_end_matches("kB").trim().parse().unwrap()
}

/// The seconds of a gap, if the event is one.
fn gap(event: &str) -> Option<f64> {
    let frames: u32 = event.strip_prefix("Gap { frames: FrameSpan(")?.split(')').next()?.parse().ok()?;
    Some(f64::from(frames) / sine::RATE)
}
