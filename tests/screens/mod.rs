//! The console on the real engine, without a terminal or a device.

mod clipping;
mod ears;
mod keys;
mod lessons;
mod lines;
mod looks;
mod pedals;
mod rig;

use rig::Rig;
