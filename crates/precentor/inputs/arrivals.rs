//! The one channel through which every source reaches the console, and wakes it at once.

use crossbeam_channel::{Receiver, Sender, TrySendError, bounded};
use crossterm::event::{self, Event};
use std::io::{self, BufRead};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use super::Signal;

/// How many arrivals may wait: more than the fastest source sends in a second. What comes on top is lost, and a burst like that is no press.
const MOST_WAITING: usize = 4096;
/// How often the thread that reads the terminal looks whether it is still wanted.
const WANTED: Duration = Duration::from_millis(50);

/// Something that came, and when.
#[derive(Debug)]
pub struct Arrival {
    /// When it came, before anything else was done.
    pub at: Instant,
    /// What it is.
    pub what: Arrived,
}

/// What may come.
#[derive(Debug)]
pub enum Arrived {
    /// From the terminal: a key, another size, the keyboard given or taken.
    Terminal(Event),
    /// The terminal can no longer be read.
    Broken(io::Error),
    /// From an input that is no terminal.
    Typed(Typed),
    /// From a MIDI port.
    Midi {
        /// What was pressed.
        signal: Signal,
        /// The port's name.
        port: Arc<str>,
    },
    /// A MIDI port came.
    Came(Arc<str>),
    /// A MIDI port went.
    Went(Arc<str>),
}

/// What comes from an input that is no terminal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Typed {
    /// A line.
    Line(String),
    /// Nothing more.
    End,
}

/// Where sources put what comes.
#[derive(Clone, Debug)]
pub struct Inlet(Sender<Arrival>);

/// The channel's two ends.
#[must_use]
pub fn channel() -> (Inlet, Receiver<Arrival>) {
    let (sender, receiver) = bounded(MOST_WAITING);
    (Inlet(sender), receiver)
}

impl Inlet {
    /// Puts `what` in without ever waiting; false if nobody takes it out any more.
    pub fn put(&self, what: Arrived) -> bool {
        !matches!(self.0.try_send(Arrival { at: Instant::now(), what }), Err(TrySendError::Disconnected(_)))
    }
}

/// Reads stdin line by line, on a thread that ends with it or with the program. Lines wait for each other; none is lost.
pub fn read_lines(inlet: Inlet) {
    thread::spawn(move || {
        let lines = io::stdin().lock().lines().map_while(Result::ok).map(Typed::Line);
        for typed in lines.chain([Typed::End]) {
            if inlet.0.send(Arrival { at: Instant::now(), what: Arrived::Typed(typed) }).is_err() {
                return;
            }
        }
    });
}

/// The thread that reads the terminal; dropped, it leaves what is typed from then on to others.
#[derive(Debug)]
pub struct Typing {
    wanted: Arc<AtomicBool>,
    ended: Receiver<()>,
}

impl Typing {
    /// Reads the terminal from now on.
    #[must_use]
    pub fn start(inlet: Inlet) -> Self {
        let wanted = Arc::new(AtomicBool::new(true));
        let (end, ended) = bounded(0);
        let asked = Arc::clone(&wanted);
        thread::spawn(move || {
            // dropped with the thread
            let _end: Sender<()> = end;
            while asked.load(Ordering::Relaxed) {
                let what = match event::poll(WANTED) {
                    Ok(false) => continue,
                    Ok(true) => event::read().map_or_else(Arrived::Broken, Arrived::Terminal),
                    Err(error) => Arrived::Broken(error),
                };
                let broken = matches!(what, Arrived::Broken(_));
                if !inlet.put(what) || broken {
                    return;
                }
            }
        });
        Self { wanted, ended }
    }
}

impl Drop for Typing {
    fn drop(&mut self) {
        self.wanted.store(false, Ordering::Relaxed);
        // a terminal that has hung up never lets go of its reader, which then ends with the program
        let _ = self.ended.recv_timeout(2 * WANTED);
    }
}
