//! One integration target made of modules: a new test never edits a manifest.
#![allow(clippy::unwrap_used, reason = "in a test, a panic is the message")]

pub(crate) mod cli;
mod console;
mod device;
mod files;
mod house;
mod outside;
mod pedals;
mod render;
mod screens;
mod soundfont;
