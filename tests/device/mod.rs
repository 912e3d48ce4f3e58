//! The output against a real sound server of its own, and its failures. Run by `.ci/run`; by hand:
//! `cargo test --test tests device:: -- --ignored --test-threads=1`.
//!
//! The player is this very program started again: it needs the private server's environment, which a running process cannot safely change.

#![cfg(feature = "sound")]
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod faults;
mod microphone;
mod player;
pub(crate) mod server;
pub(crate) mod sine;
mod sound;
