//! The microphone: opened, watched, and looked for again when it is lost. Opening has a thread of its own, because a sound system whose
//! microphone gives nothing may never return.

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded, unbounded};
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};
use units::SampleRate;

use crate::Wanted;
use crate::backend::OpenError;
use crate::search::Search;
use crate::tap::{Pulse, Tapped};
use crate::watcher::drop_elsewhere;

/// Seconds of sound that wait at most to be read.
#[cfg_attr(not(feature = "sound"), allow(dead_code, reason = "the other build's"))]
pub(crate) const WAITING: f64 = 10.0;
/// Longest wait of [`Capture::stop`].
const STOP_LIMIT: Duration = Duration::from_millis(180);
/// Longest wait for a stream to close at the end.
const CLOSE_LIMIT: Duration = Duration::from_millis(100);
/// How often a microphone is looked at.
const TICK: Duration = Duration::from_millis(50);
/// How long opening may take before it is reported as hanging, and until another attempt is made beside one that hangs.
const SLOW: Duration = Duration::from_millis(2500);
const ABANDON: Duration = Duration::from_secs(10);
/// How many hanging attempts there may be; then one of them is waited for.
const MOST_ABANDONED: usize = 3;
/// After a loss, the first moments without a microphone go without saying.
const PATIENCE: Duration = Duration::from_millis(1500);
/// Longest wait for sound of a microphone that has given some, and of one that has not.
const QUIET: Duration = Duration::from_millis(800);
const MUTE: Duration = Duration::from_secs(5);
/// A look this late means that the whole program stood still, and the stream with it.
const OVERSLEPT: Duration = Duration::from_millis(300);
/// The shortest pause between attempts while there was no microphone yet: nobody waits for the moment it is plugged in.
const CALM: Duration = Duration::from_millis(500);

/// An open microphone.
pub struct Listening {
    /// Its name as the system gives it.
    pub device: String,
    /// The sound system it was reached through.
    pub host: String,
    /// Its id; empty if it would not say. With [`crate::Status::id`] it tells what is known of [`crate::Clocks`].
    pub id: String,
    /// What it hears. Its frames are counted from this opening.
    pub sound: Tapped,
    /// How long it was lost, if it is back.
    pub returned: Option<Duration>,
}

/// What becomes of a microphone that was asked for. The first piece of news is one of the first two.
pub enum CaptureEvent {
    /// It is open, for the first time or again. Whether anything is heard tells [`Tapped::heard`].
    Listening(Listening),
    /// It cannot be opened. The search for it goes on by itself; the same reason is told once.
    Refused {
        /// Why not.
        why: String,
        /// What to do about it.
        mend: String,
    },
    /// It was lost: what was given of it gives no more. The search for it goes on by itself.
    Lost {
        /// What was seen.
        why: String,
    },
}

/// Which microphone, and how.
#[derive(Clone, Debug)]
pub(crate) struct EarWish {
    pub(crate) wanted: Wanted,
    pub(crate) rate: SampleRate,
    pub(crate) frames: u32,
    /// Whether the way of last resort may be tried too.
    pub(crate) last_resort: bool,
}

/// A microphone that runs until the stream is dropped.
pub(crate) struct OpenEar {
    pub(crate) stream: Box<dyn Send>,
    pub(crate) listening: Listening,
    /// It was reached by the way of last resort.
    pub(crate) last_resort: bool,
}

/// A way to microphones. Called on a thread of its own, so it may block; whoever called may have stopped waiting. What ends the stream is
/// told to the sender.
pub(crate) trait Ears: Send + Sync + 'static {
    fn open(&self, wish: &EarWish, ends: &Sender<String>) -> Result<OpenEar, OpenError>;
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
    /// asked for `frames` at a time: fewer come sooner, but a busy machine loses some. Lost, or not there, it is looked for until
    /// [`Self::stop`].
    #[must_use]
    pub fn start(wanted: Wanted, rate: SampleRate, frames: u32) -> Self {
        Self::start_with(wanted, rate, frames, ours())
    }

    pub(crate) fn start_with(wanted: Wanted, rate: SampleRate, frames: u32, ears: Arc<dyn Ears>) -> Self {
        let (news, events) = unbounded();
        let (order, orders) = bounded::<()>(0);
        let (ending, ended) = bounded(1);
        let failed = news.clone();
        let wish = EarWish { wanted, rate, frames, last_resort: false };
        let run = move || {
            Keeper::new(ears, wish, news).run(&orders);
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

/// The order to end was given.
struct Ended;

/// The thread that keeps the microphone.
struct Keeper {
    ears: Arc<dyn Ears>,
    wish: EarWish,
    news: Sender<CaptureEvent>,
    search: Search,
    /// When it was lost, until it is back.
    lost_at: Option<Instant>,
    /// Whether there ever was one.
    had: bool,
    /// The last trouble told, until it is open.
    told: Option<OpenError>,
    /// Attempts that hang.
    abandoned: Vec<Receiver<Result<OpenEar, OpenError>>>,
}

impl Keeper {
    fn new(ears: Arc<dyn Ears>, wish: EarWish, news: Sender<CaptureEvent>) -> Self {
        let search = Search::new(Instant::now());
        Self { ears, wish, news, search, lost_at: None, had: false, told: None, abandoned: Vec::new() }
    }

    /// Until the order's sender is dropped.
    fn run(mut self, orders: &Receiver<()>) {
        while let Ok(()) = self.once(orders) {}
    }

    /// One attempt, and what becomes of it.
    fn once(&mut self, orders: &Receiver<()>) -> Result<(), Ended> {
        let (ends, ended) = bounded(4);
        match self.open(orders, ends)? {
            Ok(OpenEar { stream, listening, last_resort }) => {
                let opened = Instant::now();
                let pulse = listening.sound.pulse();
                let device = listening.device.clone();
                let returned = self.lost_at.take().map(|lost| opened.saturating_duration_since(lost));
                (self.told, self.had) = (None, true);
                let _ = self.news.send(CaptureEvent::Listening(Listening { returned, ..listening }));
                let why = self.watch(&pulse, &ended, orders);
                let closed = drop_elsewhere(stream);
                let Ok(why) = why else {
                    let _ = closed.recv_timeout(CLOSE_LIMIT);
                    return Err(Ended);
                };
                let now = Instant::now();
                self.lost_at = Some(now);
                self.search.after_loss(now, now.saturating_duration_since(opened), !last_resort);
                let why = why.unwrap_or_else(|| OpenError::Deaf(device).to_string());
                let _ = self.news.send(CaptureEvent::Lost { why });
            }
            // half an attempt that found nothing says little
            Err(OpenError::NoHost | OpenError::Failed(_)) if !self.wish.last_resort => {}
            Err(error) => self.tell(error),
        }
        let pause = self.search.next_delay(Instant::now()).max(if self.had { Duration::ZERO } else { CALM });
        match orders.recv_timeout(pause) {
            Err(RecvTimeoutError::Timeout) => Ok(()),
            _ => Err(Ended),
        }
    }

    /// Sends a thread to open it, and waits.
    fn open(&mut self, orders: &Receiver<()>, ends: Sender<String>) -> Result<Result<OpenEar, OpenError>, Ended> {
        let start = Instant::now();
        self.wish.last_resort = self.search.may_try_last_resort(start);
        let (done, result) = bounded(1);
        let (ears, wish) = (Arc::clone(&self.ears), self.wish.clone());
        // if nobody waits any more, the stream is dropped there
        let spawned = thread::Builder::new().name("microphone-open".to_owned()).spawn(move || {
            let _ = done.send(ears.open(&wish, &ends));
        });
        if let Err(error) = spawned {
            return Ok(Err(OpenError::Failed(format!("no thread could be started: {error}"))));
        }
        loop {
            if let Ok(result) = result.recv_timeout(TICK) {
                return Ok(result);
            }
            if !matches!(orders.try_recv(), Err(crossbeam_channel::TryRecvError::Empty)) {
                return Err(Ended);
            }
            let waited = start.elapsed();
            if waited >= SLOW {
                self.tell(OpenError::Hangs);
            }
            // what hung and came to its end after all is let go
            self.abandoned.retain(|result| result.try_recv().is_err_and(|error| error.is_empty()));
            if waited >= ABANDON && self.abandoned.len() < MOST_ABANDONED {
                self.abandoned.push(result);
                return Ok(Err(OpenError::Hangs));
            }
        }
    }

    /// Looks after an open microphone until it is lost; why, where that was told. An error means the order to end.
    fn watch(&self, pulse: &Pulse, ended: &Receiver<String>, orders: &Receiver<()>) -> Result<Option<String>, Ended> {
        let (mut heard, mut since, mut looked) = (0, Instant::now(), Instant::now());
        loop {
            if !matches!(orders.recv_timeout(TICK), Err(RecvTimeoutError::Timeout)) {
                return Err(Ended);
            }
            let now = Instant::now();
            if let Ok(why) = ended.try_recv() {
                return Ok(Some(why));
            }
            if pulse.heard() != heard || now.saturating_duration_since(looked) > OVERSLEPT {
                since = now;
            }
            (heard, looked) = (pulse.heard(), now);
            if now.saturating_duration_since(since) > if heard == 0 { MUTE } else { QUIET } {
                return Ok(None);
            }
        }
    }

    /// Tells of a trouble, once, and not in the first moments after a loss.
    fn tell(&mut self, error: OpenError) {
        if self.lost_at.is_some_and(|lost| lost.elapsed() < PATIENCE) || self.told.as_ref() == Some(&error) {
            return;
        }
        refuse(&self.news, &error);
        self.told = Some(error);
    }
}

#[cfg(feature = "sound")]
fn ours() -> Arc<dyn Ears> {
    Arc::new(crate::sound::System)
}

#[cfg(not(feature = "sound"))]
fn ours() -> Arc<dyn Ears> {
    struct NoEars;
    impl Ears for NoEars {
        fn open(&self, _wish: &EarWish, _ends: &Sender<String>) -> Result<OpenEar, OpenError> {
            Err(OpenError::BuiltWithout)
        }
    }
    Arc::new(NoEars)
}

#[cfg(test)]
mod tests;
