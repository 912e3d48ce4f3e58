//! The thread that keeps sound going: it opens, watches, gives up and opens again. It never calls into the sound system itself, which may
//! hang: opening and closing have threads of their own.

use crossbeam_channel::{Receiver, Sender, bounded, select, unbounded};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};
use units::SampleRate;

use crate::backend::{Backend, Fault, FaultKind, Line, OpenError, Opened, Wish};
use crate::custody::Custody;
use crate::event::{Event, Sound, Status};
use crate::feed::{Heart, MISSED_QUEUE, Missed};
use crate::health::{Health, Signs, judge};
use crate::output::Wanted;
use crate::search::{Buffer, Search};
use crate::silent::Bell;

/// How often a stream is looked at.
const TICK: Duration = Duration::from_millis(10);
/// How long opening may take before it is reported as hanging.
const SLOW: Duration = Duration::from_millis(2500);
/// How long until another attempt is made beside one that hangs.
const ABANDON: Duration = Duration::from_secs(10);
/// How many hanging attempts there may be; then the watcher waits for one of them.
const MOST_ABANDONED: u32 = 3;
/// After a loss, the first moments without a device go without saying.
const PATIENCE: Duration = Duration::from_millis(1500);
/// Longest wait for a stream to fade out.
const FADE_LIMIT: Duration = Duration::from_millis(60);
/// Longest wait for a stream to close at the end.
const CLOSE_LIMIT: Duration = Duration::from_millis(40);
/// How long a new stream may have the renderer without asking for more.
const UNPROVEN: Duration = Duration::from_millis(150);
/// A tick this late means that the whole program stood still, and the stream with it.
const OVERSLEPT: Duration = Duration::from_millis(100);

/// What the console tells the watcher.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Order {
    Use(Wanted),
    Stop,
}

type Attempt = (u32, Result<Opened, OpenError>);

enum State {
    /// No device is wanted, or the renderer panicked.
    Resting,
    Waiting {
        until: Instant,
    },
    Opening {
        line: Line,
        missed: Receiver<Missed>,
        wish: Wish,
        since: Instant,
        slow: bool,
    },
    Running(Running),
}

/// An open stream.
struct Running {
    opened: Opened,
    heart: Arc<Heart>,
    id: u32,
    missed: Receiver<Missed>,
    opened_at: Instant,
    /// When it was first seen to play.
    playing_since: Option<Instant>,
}

pub(crate) struct Watcher {
    backend: Arc<dyn Backend>,
    custody: Arc<Custody>,
    rate: SampleRate,
    wanted: Wanted,
    events: Sender<Event>,
    status: Arc<Mutex<Status>>,
    bell: Sender<Bell>,
    attempts: (Sender<Attempt>, Receiver<Attempt>),
    faults: (Sender<Fault>, Receiver<Fault>),
    state: State,
    search: Search,
    buffer: Buffer,
    first_frames: u32,
    last_id: u32,
    abandoned: u32,
    /// When sound was lost, until it is back.
    lost_at: Option<Instant>,
    /// The last trouble told, until sound is back.
    told: Option<OpenError>,
    /// Until when the program was standing still, on the custody's clock.
    excused: u64,
}

impl Watcher {
    pub(crate) fn new(
        backend: Arc<dyn Backend>,
        custody: Arc<Custody>,
        rate: SampleRate,
        (wanted, first_frames): (Wanted, u32),
        events: Sender<Event>,
        status: Arc<Mutex<Status>>,
        bell: Sender<Bell>,
    ) -> Self {
        let now = Instant::now();
        Self {
            backend,
            custody,
            rate,
            wanted,
            events,
            status,
            bell,
            attempts: unbounded(),
            faults: bounded(16),
            state: State::Resting,
            search: Search::new(now),
            buffer: Buffer::new(first_frames),
            first_frames,
            last_id: 0,
            abandoned: 0,
            lost_at: None,
            told: None,
            excused: 0,
        }
    }

    /// The thread's body.
    pub(crate) fn run(mut self, orders: &Receiver<Order>) {
        self.ring(Bell::Run);
        self.begin();
        let mut last = Instant::now();
        loop {
            let wait = match &self.state {
                State::Resting => Duration::from_millis(200),
                State::Waiting { until } => until.saturating_duration_since(Instant::now()).min(Duration::from_millis(100)),
                State::Opening { .. } => Duration::from_millis(50),
                State::Running(_) => TICK,
            };
            let (attempts, faults) = (self.attempts.1.clone(), self.faults.1.clone());
            select! {
                recv(orders) -> order => match order {
                    Ok(Order::Use(wanted)) => self.change(wanted),
                    Ok(Order::Stop) | Err(_) => break,
                },
                recv(attempts) -> attempt => if let Ok((id, result)) = attempt { self.take(id, result) },
                recv(faults) -> fault => if let Ok(fault) = fault { self.hear(fault) },
                default(wait) => {}
            }
            let now = Instant::now();
            if now.saturating_duration_since(last) > wait + OVERSLEPT {
                self.excused = self.custody.clock();
            }
            last = now;
            self.tick(now);
        }
        let closed = self.close();
        let _ = closed.recv_timeout(CLOSE_LIMIT);
        self.ring(Bell::Stop);
        self.custody.clear();
    }

    /// Starts looking for the wanted device.
    fn begin(&mut self) {
        self.state = match self.wanted {
            Wanted::None => State::Resting,
            Wanted::Default | Wanted::Named(_) => State::Waiting { until: Instant::now() },
        };
        let sound = if self.wanted == Wanted::None { Sound::Off } else { Sound::Searching };
        self.note(|status| {
            status.sound = sound;
            status.trouble = None;
        });
    }

    fn change(&mut self, wanted: Wanted) {
        self.close();
        self.wanted = wanted;
        self.search = Search::new(Instant::now());
        self.buffer = Buffer::new(self.first_frames);
        self.lost_at = None;
        self.told = None;
        self.begin();
    }

    fn tick(&mut self, now: Instant) {
        if self.custody.has_panicked() {
            if self.read_sound() != Sound::Panicked {
                self.close();
                self.note(|status| status.sound = Sound::Panicked);
                self.tell(Event::Panicked);
            }
            self.state = State::Resting;
            return;
        }
        match &self.state {
            State::Resting => {}
            State::Waiting { until } => {
                if now >= *until {
                    self.open(now);
                }
            }
            State::Opening { since, slow, .. } => {
                let waited = now.saturating_duration_since(*since);
                if waited >= ABANDON && self.abandoned < MOST_ABANDONED {
                    self.abandoned += 1;
                    self.custody.recall();
                    self.open(now);
                } else if waited >= SLOW && !slow {
                    if let State::Opening { slow, .. } = &mut self.state {
                        *slow = true;
                    }
                    self.tell_trouble(OpenError::Hangs, now);
                }
            }
            State::Running(_) => self.watch(now),
        }
    }

    /// Sends a thread to open the device.
    fn open(&mut self, now: Instant) {
        self.last_id += 1;
        let id = self.last_id;
        let (missed_out, missed) = bounded(MISSED_QUEUE);
        let line = Line {
            id,
            rate: self.rate,
            custody: Arc::clone(&self.custody),
            heart: Arc::new(Heart::default()),
            missed: missed_out,
            faults: self.faults.0.clone(),
        };
        let last_resort = self.search.may_try_last_resort(now);
        let wish = Wish { wanted: self.wanted.clone(), rate: self.rate, frames: self.buffer.frames(), last_resort };
        let frames = wish.frames;
        self.note(|status| status.frames_asked = frames);
        self.custody.expect(id);
        let thread = {
            let (backend, line, wish, attempts) = (Arc::clone(&self.backend), line.clone(), wish.clone(), self.attempts.0.clone());
            thread::Builder::new().name("sound-open".to_owned()).spawn(move || {
                // if nobody waits any more, the stream is dropped here
                let _ = attempts.send((id, backend.open(&wish, &line)));
            })
        };
        self.state = State::Opening { line, missed, wish, since: now, slow: false };
        if let Err(error) = thread {
            self.fail(OpenError::Failed(format!("no thread could be started: {error}")), now);
        }
    }

    /// An attempt to open came to its end.
    fn take(&mut self, id: u32, result: Result<Opened, OpenError>) {
        let now = Instant::now();
        if !matches!(&self.state, State::Opening { line, .. } if line.id == id) {
            self.abandoned = self.abandoned.saturating_sub(1);
            if let Ok(late) = result {
                drop_elsewhere(late.stream);
            }
            return;
        }
        let State::Opening { line, missed, wish, .. } = std::mem::replace(&mut self.state, State::Resting) else { return };
        match result {
            Ok(opened) => {
                self.state = State::Running(Running { opened, heart: line.heart, id, missed, opened_at: now, playing_since: None });
            }
            // half an attempt that found nothing says little
            Err(OpenError::NoHost | OpenError::Failed(_)) if !wish.last_resort => self.wait(now),
            Err(error) => self.fail(error, now),
        }
    }

    fn fail(&mut self, error: OpenError, now: Instant) {
        self.tell_trouble(error, now);
        self.wait(now);
    }

    fn wait(&mut self, now: Instant) {
        self.custody.recall();
        self.note(|status| status.sound = Sound::Searching);
        let until = now + self.search.next_delay(now);
        self.state = State::Waiting { until };
    }

    /// A stream complained.
    fn hear(&mut self, fault: Fault) {
        let State::Running(running) = &self.state else { return };
        if running.id != fault.id {
            return;
        }
        match fault.kind {
            FaultKind::Fatal => self.lose(&fault.why, Instant::now()),
            FaultKind::Moved => self.tell(Event::Moved),
            // its callbacks will tell
            FaultKind::Suspicious => {}
        }
    }

    /// Looks at the running stream.
    fn watch(&mut self, now: Instant) {
        let State::Running(running) = &mut self.state else { return };
        let clock = self.custody.clock();
        let opened = u64::try_from(now.saturating_duration_since(running.opened_at).as_nanos()).unwrap_or(u64::MAX);
        let seen = running.heart.last_beat().max(clock.saturating_sub(opened)).max(self.excused);
        let frames = running.heart.frames();
        let asked = self.buffer.frames();
        let signs = Signs {
            quiet: Duration::from_nanos(clock.saturating_sub(seen)),
            suspect: running.heart.suspected().is_some(),
            proven: running.heart.is_proven(),
            period: Duration::from_secs_f64(f64::from(frames.max(asked)) / f64::from(self.rate.hz())),
            age: now.saturating_duration_since(running.opened_at),
        };
        let first = Some(running.heart.first_beat()).filter(|beat| *beat != 0).map(|beat| self.custody.instant(beat));
        let newly = signs.proven && running.playing_since.is_none();
        if newly {
            running.playing_since = Some(now);
        }
        if !signs.proven && first.is_some() && signs.quiet >= UNPROVEN && !self.custody.is_idle() {
            // it filled its buffer and asks for no more: the clock goes on without it until it does
            self.custody.expect(running.id);
            let _ = self.bell.send(Bell::Run);
        }
        let missed: Vec<Missed> = running.missed.try_iter().collect();
        self.note(|status| {
            status.frames_per_callback = frames;
            status.first_callback = status.first_callback.or(first);
        });
        if newly {
            self.announce();
        }
        match judge(signs) {
            Health::Alive => self.count(&missed, now),
            Health::Silent => self.lose(&format!("it asked for no sound for {} ms", signs.quiet.as_millis()), now),
            Health::Failed => self.lose("it reported an error and stopped", now),
            Health::Mute => {
                let State::Running(running) = std::mem::replace(&mut self.state, State::Resting) else { return };
                self.custody.recall();
                drop_elsewhere(running.opened.stream);
                self.fail(OpenError::Mute(running.opened.device), now);
            }
        }
    }

    /// Sound goes out: says so.
    fn announce(&mut self) {
        let State::Running(running) = &self.state else { return };
        let (device, host, id) = (running.opened.device.clone(), running.opened.host.clone(), running.opened.id.clone());
        let frames_per_callback = running.heart.frames();
        let since = self.custody.instant(running.heart.claimed());
        self.note(|status| {
            status.sound = Sound::Playing;
            status.device = Some(device.clone());
            status.host = Some(host.clone());
            status.id = Some(id);
            status.frames_per_callback = frames_per_callback;
            status.trouble = None;
        });
        self.told = None;
        let event = match self.lost_at.take() {
            Some(lost) => Event::Returned { device, after: since.saturating_duration_since(lost) },
            None => Event::Playing { device, host, rate: self.rate, frames_per_callback },
        };
        self.tell(event);
    }

    fn count(&mut self, missed: &[Missed], now: Instant) {
        for Missed { frames, at } in missed.iter().copied() {
            self.note(|status| {
                status.gaps += 1;
                status.frames_missed += frames.0;
            });
            self.tell(Event::Gap { frames, at, lasted: Duration::from_secs_f64(self.rate.seconds(frames)) });
            if let Some((from, to)) = self.buffer.gap(now) {
                self.tell(Event::BufferGrown { from, to });
                self.close();
                self.state = State::Waiting { until: now };
                return;
            }
        }
    }

    /// The stream is dead.
    fn lose(&mut self, why: &str, now: Instant) {
        let State::Running(running) = std::mem::replace(&mut self.state, State::Resting) else { return };
        self.custody.recall();
        self.ring(Bell::Run);
        drop_elsewhere(running.opened.stream);
        if let Some(since) = running.playing_since {
            let life = now.saturating_duration_since(since);
            self.search.after_loss(now, life, !running.opened.last_resort);
            self.lost_at.get_or_insert(now);
            self.note(|status| {
                status.sound = Sound::Searching;
                status.losses += 1;
                status.trouble = Some((why.to_owned(), "it is being looked for".to_owned()));
            });
            self.tell(Event::Lost { device: running.opened.device, why: why.to_owned() });
        }
        self.wait(now);
    }

    /// Fades the stream out, if there is one, and closes it. What is returned gets a message when it is closed, or is dead at once.
    fn close(&mut self) -> Receiver<()> {
        let running = match std::mem::replace(&mut self.state, State::Resting) {
            State::Running(running) => running,
            state => {
                self.abandoned += u32::from(matches!(state, State::Opening { .. }));
                self.custody.recall();
                return bounded(0).1;
            }
        };
        let period = Duration::from_secs_f64(f64::from(self.buffer.frames()) / f64::from(self.rate.hz()));
        let start = Instant::now();
        let beats = running.heart.last_beat();
        running.heart.close();
        let alive =
            running.playing_since.is_some() && self.custody.clock().saturating_sub(beats) < 2 * period.as_nanos() as u64 + 20_000_000;
        while alive && !running.heart.has_faded() && start.elapsed() < FADE_LIMIT.max(period + TICK) {
            thread::sleep(Duration::from_millis(2));
        }
        if running.heart.has_faded() {
            // the fade is still in the device's buffer
            thread::sleep(period * 2);
        }
        self.custody.recall();
        self.ring(Bell::Run);
        drop_elsewhere(running.opened.stream)
    }

    fn tell_trouble(&mut self, error: OpenError, now: Instant) {
        if self.lost_at.is_some_and(|lost| now.saturating_duration_since(lost) < PATIENCE) || self.told.as_ref() == Some(&error) {
            return;
        }
        let (why, mend) = (error.to_string(), error.mend());
        self.note(|status| status.trouble = Some((why.clone(), mend.clone())));
        self.tell(Event::NoDevice { why, mend });
        self.told = Some(error);
    }

    fn tell(&self, event: Event) {
        let _ = self.events.try_send(event);
    }

    fn ring(&self, bell: Bell) {
        let _ = self.bell.send(bell);
    }

    fn note(&self, change: impl FnOnce(&mut Status)) {
        change(&mut self.status.lock().unwrap_or_else(PoisonError::into_inner));
    }

    fn read_sound(&self) -> Sound {
        self.status.lock().unwrap_or_else(PoisonError::into_inner).sound
    }
}

/// Drops a stream on a thread that may hang. What is returned gets a message when it is done.
pub(crate) fn drop_elsewhere(stream: Box<dyn Send>) -> Receiver<()> {
    let (done, closed) = bounded(1);
    // without a thread the stream is dropped here: better late than never
    let _ = thread::Builder::new().name("sound-close".to_owned()).spawn(move || {
        drop(stream);
        let _ = done.send(());
    });
    closed
}
