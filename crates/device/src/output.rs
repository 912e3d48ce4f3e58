//! The handle the console holds.

use crossbeam_channel::{Receiver, Sender, bounded, unbounded};
use engine::Renderer;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;
use units::FrameInstant;

use crate::backend::{self, Backend, OpenError};
use crate::custody::Custody;
use crate::event::{Event, Status};
use crate::silent;
use crate::watcher::{Order, Watcher};

/// How many events may wait; what comes when they do is dropped.
const EVENTS: usize = 1024;
/// Longest wait of [`Output::stop`].
const STOP_LIMIT: Duration = Duration::from_millis(180);

/// The device to play on.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Wanted {
    /// Whatever the system plays on.
    #[default]
    Default,
    /// One device: its id or its name as [`crate::devices`] lists them, whatever their case.
    Named(String),
    /// None: only the silent clock.
    None,
}

impl From<&str> for Wanted {
    /// `default`, `none` or a name.
    fn from(text: &str) -> Self {
        match text {
            "default" => Self::Default,
            "none" => Self::None,
            name => Self::Named(name.to_owned()),
        }
    }
}

/// How many frames a device is asked to take at a time: the first of these, and the next after too many gaps.
pub const BUFFER_FRAMES: [u32; 3] = [512, 1024, 2048];

/// A running output: a watcher, a silent clock and at most one stream, around one renderer.
pub struct Output {
    orders: Sender<Order>,
    events: Receiver<Event>,
    status: Arc<Mutex<Status>>,
    custody: Arc<Custody>,
    ended: Receiver<()>,
}

impl Output {
    /// Takes the renderer and returns at once; the device is opened behind its back. The silent clock runs until sound does.
    ///
    /// The device is asked for the first of [`BUFFER_FRAMES`] that holds `frames`: the first of all unless the machine is known to need more.
    #[must_use]
    pub fn start(renderer: Renderer, wanted: Wanted, frames: u32) -> Self {
        Self::start_with(renderer, wanted, frames, backend::ours())
    }

    pub(crate) fn start_with(renderer: Renderer, wanted: Wanted, frames: u32, backend: Arc<dyn Backend>) -> Self {
        let rate = renderer.rate();
        let custody = Arc::new(Custody::new(renderer));
        let status = Arc::new(Mutex::new(Status::default()));
        let (orders, orders_in) = unbounded();
        let (events_out, events) = bounded(EVENTS);
        let (bell, bell_in) = unbounded();
        let (ending, ended) = bounded(1);
        let watcher = Watcher::new(backend, Arc::clone(&custody), rate, (wanted, frames), events_out.clone(), Arc::clone(&status), bell);
        let clock = {
            let custody = Arc::clone(&custody);
            thread::Builder::new().name("silent-clock".to_owned()).spawn(move || silent::run(&custody, rate, &bell_in))
        };
        let watch = thread::Builder::new().name("sound-watch".to_owned()).spawn(move || {
            watcher.run(&orders_in);
            let _ = ending.send(());
        });
        if let Err(error) = clock.and(watch) {
            let why = OpenError::Failed(format!("no thread could be started: {error}"));
            let mend = "close other programs and start again".to_owned();
            let _ = events_out.try_send(Event::NoDevice { why: why.to_string(), mend });
        }
        Self { orders, events, status, custody, ended }
    }

    /// What happens, in order. At most 1,024 events wait to be read.
    #[must_use]
    pub fn events(&self) -> &Receiver<Event> {
        &self.events
    }

    /// How things stand.
    #[must_use]
    pub fn status(&self) -> Status {
        self.status.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// The engine's next frame. It never goes back, whatever becomes of the device.
    #[must_use]
    pub fn frame(&self) -> FrameInstant {
        self.custody.frame()
    }

    /// Goes over to another device.
    pub fn use_device(&self, wanted: Wanted) {
        let _ = self.orders.send(Order::Use(wanted));
    }

    /// Fades out and closes. Returns within 200 ms even if the sound system hangs; what hangs is left behind.
    pub fn stop(self) {
        let _ = self.orders.send(Order::Stop);
        let _ = self.ended.recv_timeout(STOP_LIMIT);
    }
}
