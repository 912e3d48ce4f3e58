//! The console on the real engine, without a terminal or a device.

mod clipping;
mod keys;
mod lines;
mod looks;
mod rig;

use rig::Rig;
