//! Pedals, switches and keys: what they do, which are there, and what the learn screen has heard.

use std::sync::Arc;

use crate::inputs::{Bindings, Signal};

/// How many different presses the learn screen keeps in sight.
const KEPT: usize = 8;

/// What is known of pedals, switches and keys.
#[derive(Clone, Debug, Default)]
pub struct Pedals {
    /// What the teacher bound.
    pub bindings: Bindings,
    /// What is wrong in the file of bindings; the rest of it counts.
    pub faults: Option<String>,
    /// The MIDI ports that are there.
    pub ports: Vec<Arc<str>>,
    /// The MIDI ports that were there and are gone.
    pub gone: Vec<Arc<str>>,
    /// What the learn screen heard, newest first.
    pub heard: Vec<Heard>,
}

/// A press the learn screen heard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Heard {
    /// What it was.
    pub signal: Signal,
    /// The MIDI port it came through; nothing for the keyboard.
    pub port: Option<Arc<str>>,
    /// How many times running.
    pub times: u32,
}

/// The learn screen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Learn {
    /// The marked line while it is being chosen what the newest press shall do; nothing while presses are listened to.
    pub choosing: Option<usize>,
}

impl Pedals {
    /// A port came; whether it had been there before.
    pub fn came(&mut self, port: Arc<str>) -> bool {
        let known = self.gone.len();
        self.gone.retain(|gone| *gone != port);
        self.ports.push(port);
        self.gone.len() < known
    }

    /// A port went.
    pub fn went(&mut self, port: Arc<str>) {
        if let Some(index) = self.ports.iter().position(|there| *there == port) {
            self.ports.remove(index);
        }
        self.gone.push(port);
    }

    /// Notes a press; one that repeats is counted.
    pub fn hear(&mut self, signal: Signal, port: Option<Arc<str>>) {
        let times = match self.heard.first() {
            Some(newest) if newest.signal == signal && newest.port == port => newest.times.saturating_add(1),
            _ => 1,
        };
        self.heard.retain(|heard| heard.signal != signal || heard.port != port);
        self.heard.insert(0, Heard { signal, port, times });
        self.heard.truncate(KEPT);
    }
}

impl Heard {
    /// What is bound when this is taught: the same press on any channel.
    #[must_use]
    pub const fn taught(&self) -> Signal {
        self.signal.on_any_channel()
    }
}
