//! The microphone: opened on a thread of its own, because a sound system whose microphone gives nothing may never return.

use crossbeam_channel::{Receiver, Sender, bounded};
use std::thread;
use std::time::Duration;
use units::SampleRate;

use crate::Wanted;
use crate::backend::OpenError;
use crate::tap::Tapped;

/// Seconds of sound that wait at most to be read.
#[cfg_attr(not(feature = "sound"), allow(dead_code, reason = "the other build's"))]
pub(crate) const WAITING: f64 = 10.0;
/// Longest wait of [`Capture::stop`].
const STOP_LIMIT: Duration = Duration::from_millis(180);

/// An open microphone.
pub struct Listening {
    /// Its name as the system gives it.
    pub device: String,
    /// The sound system it was reached through.
    pub host: String,
    /// What it hears.
    pub sound: Tapped,
}

/// What becomes of a microphone that was asked for. The first piece of news is one of the first two.
pub enum CaptureEvent {
    /// It is open. Whether anything is heard tells [`Tapped::heard`].
    Listening(Listening),
    /// It cannot be opened.
    Refused {
        /// Why not.
        why: String,
        /// What to do about it.
        mend: String,
    },
    /// It was lost; nothing more comes.
    Lost {
        /// What was seen.
        why: String,
    },
}

/// A microphone in use, or on its way to be.
pub struct Capture {
    events: Receiver<CaptureEvent>,
    ended: Receiver<()>,
    /// Dropped, it ends the thread.
    order: Sender<()>,
}

impl Capture {
    /// Asks for a microphone and returns at once. It is opened at `rate`, or at the nearest rate it has; [`Tapped::rate`] tells. The device is
    /// asked for `frames` at a time: fewer come sooner, but a busy machine loses some.
    #[must_use]
    pub fn start(wanted: Wanted, rate: SampleRate, frames: u32) -> Self {
        let (news, events) = bounded(8);
        let (order, orders) = bounded::<()>(0);
        let (ending, ended) = bounded(1);
        let failed = news.clone();
        let run = move || {
            match open(&wanted, rate, frames, &news) {
                Ok((stream, listening)) => {
                    let _ = news.send(CaptureEvent::Listening(listening));
                    // until the order's sender is dropped
                    let _ = orders.recv();
                    drop(stream);
                }
                Err(error) => refuse(&news, &error),
            }
            let _ = ending.send(());
        };
        if let Err(error) = thread::Builder::new().name("microphone".to_owned()).spawn(run) {
            refuse(&failed, &OpenError::Failed(format!("no thread could be started: {error}")));
        }
        Self { events, ended, order }
    }

    /// What becomes of it.
    #[must_use]
    pub const fn events(&self) -> &Receiver<CaptureEvent> {
        &self.events
    }

    /// Closes it. Returns within 200 ms even if the sound system hangs; what hangs is left behind.
    pub fn stop(self) {
        drop(self.order);
        let _ = self.ended.recv_timeout(STOP_LIMIT);
    }
}

fn refuse(news: &Sender<CaptureEvent>, error: &OpenError) {
    let _ = news.try_send(CaptureEvent::Refused { why: error.to_string(), mend: error.mend() });
}

#[cfg(feature = "sound")]
use crate::sound::capture::open;

#[cfg(not(feature = "sound"))]
fn open(_: &Wanted, _: SampleRate, _: u32, _: &Sender<CaptureEvent>) -> Result<(Box<dyn Send>, Listening), OpenError> {
    Err(OpenError::BuiltWithout)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_microphone_that_is_not_there_is_refused_with_a_mend() {
        let capture = Capture::start(Wanted::Named("the organ loft".to_owned()), SampleRate::DEFAULT, 1024);
        let Ok(CaptureEvent::Refused { why, mend }) = capture.events().recv_timeout(Duration::from_secs(10)) else { panic!("no refusal") };
        assert!(!why.is_empty() && !mend.is_empty());
        capture.stop();
    }
}
