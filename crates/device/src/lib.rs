//! The only crate that knows the sound device.
//!
//! [`Output::start`] takes the renderer and returns at once; a watcher thread of its own finds the device, keeps the stream alive, brings it
//! back when it is lost and tells of it in [`Event`]s. When no stream lives, a silent clock takes the renderer, so the plan's time goes on
//! and a console with no device at all still runs. Without the feature `sound` there is only the silent clock.
//!
//! - [`output`]: the handle the console holds
//! - [`event`]: what it is told
//! - [`capture`]: the microphone; [`mod@tap`] is what its callback writes to, [`level`] how loud it is
//! - [`clocks`]: whether loudspeaker and microphone keep the same time
//! - [`survey`]: which devices there are
//!
//! Inside: `custody` hands the renderer from stream to stream without a lock, `feed` is the callback's body, `gap` counts frames against
//! the clock, `health` and `search` decide when a stream is dead and when to look again, `watcher` acts on it, `silent` is the silent
//! clock, `backend` is what a way to the device must offer and `sound` the one that offers it.

#![cfg_attr(not(feature = "sound"), allow(dead_code, reason = "what serves a device is compiled and tested in every build"))]

mod backend;
pub mod capture;
pub mod clocks;
mod custody;
pub mod event;
mod feed;
mod gap;
mod health;
pub mod level;
pub mod output;
mod search;
mod silent;
#[cfg(feature = "sound")]
mod sound;
pub mod survey;
pub mod tap;
mod watcher;

#[cfg(test)]
mod tests;

pub use capture::{Capture, CaptureEvent, Listening};
pub use clocks::Clocks;
pub use event::{Event, Sound, Status};
pub use level::{Level, Meter};
pub use output::{BUFFER_FRAMES, Output, Wanted};
pub use survey::{DeviceInfo, Survey, devices};
