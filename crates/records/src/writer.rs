//! Writes records from a thread of its own: a slow, full or busy disk never holds up whoever hands them over.

use crossbeam_channel::{Receiver, Sender, TrySendError, bounded, unbounded};
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use crate::{Record, RecordId, RecordsError, Store};

/// How many verdicts wait for the disk at most: hours of a class.
const MOST_WAITING: usize = 4096;
/// How many of the last echoes are known, to be corrected.
const MOST_KNOWN: usize = 256;
/// How long between tries while the disk refuses.
const RETRY: Duration = Duration::from_secs(1);
/// How long the disk is tried at the end.
const LAST_TRIES: Duration = Duration::from_secs(2);
/// How long between those tries.
const LAST_PAUSE: Duration = Duration::from_millis(100);

/// Which echo of a run: a verdict on the same echo takes the place of the one before.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Echo(pub u64);

/// The thread and the way to it. When it ends or is dropped, what was last handed over is written.
#[derive(Debug)]
pub struct Writer {
    jobs: Option<Sender<(Echo, Box<Record>)>>,
    told: Receiver<String>,
    tell: Sender<String>,
    kept: Arc<AtomicU64>,
    ending: Arc<AtomicBool>,
    thread: Option<JoinHandle<usize>>,
}

impl Writer {
    /// A writer of the file at `path`, which is opened with the first verdict.
    ///
    /// # Errors
    /// If the system starts no thread.
    pub fn start(path: PathBuf) -> std::io::Result<Self> {
        let (jobs, todo) = bounded(MOST_WAITING);
        let (tell, told) = unbounded();
        let kept = Arc::new(AtomicU64::new(0));
        let ending = Arc::new(AtomicBool::new(false));
        let work = Work {
            path,
            store: None,
            known: VecDeque::new(),
            trouble: None,
            tell: tell.clone(),
            kept: Arc::clone(&kept),
            ending: Arc::clone(&ending),
        };
        let thread = std::thread::Builder::new().name("records".to_owned()).spawn(move || work.run(&todo))?;
        Ok(Self { jobs: Some(jobs), told, tell, kept, ending, thread: Some(thread) })
    }

    /// Hands over the verdict on an echo. Never waits; what finds no room is told.
    pub fn note(&self, echo: Echo, record: Record) {
        // the thread ends only after the writer
        if let Some(Err(TrySendError::Full(_))) = self.jobs.as_ref().map(|jobs| jobs.try_send((echo, Box::new(record)))) {
            let _ = self.tell.send(format!("This verdict is not kept: {MOST_WAITING} wait for the disk already."));
        }
    }

    /// What the user should know since this was last asked.
    #[must_use]
    pub fn told(&self) -> Option<String> {
        self.told.try_iter().last()
    }

    /// How many verdicts have been written, corrections too: these outlast whatever happens.
    #[must_use]
    pub fn kept(&self) -> u64 {
        self.kept.load(Ordering::Acquire)
    }

    /// Writes what is left, as long as the disk takes it within some seconds; says what could not be written, and why.
    #[must_use]
    pub fn end(mut self) -> Option<String> {
        let lost = self.stop();
        let why = self.told();
        (lost > 0).then(|| format!("Verdicts that could not be kept: {lost}. {}", why.unwrap_or_default()).trim_end().to_owned())
    }

    fn stop(&mut self) -> usize {
        self.ending.store(true, Ordering::Release);
        self.jobs = None;
        let thread = self.thread.take();
        // a thread that panicked has nothing left to write
        thread.inspect(|thread| thread.thread().unpark()).and_then(|thread| thread.join().ok()).unwrap_or(0)
    }
}

impl Drop for Writer {
    fn drop(&mut self) {
        self.stop();
    }
}

/// The thread's side.
struct Work {
    path: PathBuf,
    store: Option<Store>,
    known: VecDeque<(Echo, RecordId)>,
    /// What was last told to be wrong.
    trouble: Option<String>,
    tell: Sender<String>,
    kept: Arc<AtomicU64>,
    ending: Arc<AtomicBool>,
}

impl Work {
    /// Writes one verdict after another until the writer is gone and none waits; gives how many could not be written.
    fn run(mut self, todo: &Receiver<(Echo, Box<Record>)>) -> usize {
        let mut lost = 0;
        let mut end = None;
        for (echo, record) in todo {
            let written = loop {
                let Err(error) = self.keep(echo, &record) else { break true };
                let ending = self.ending.load(Ordering::Acquire);
                let out_of_time = ending && Instant::now() >= *end.get_or_insert_with(|| Instant::now() + LAST_TRIES);
                if self.is_in_vain(&error) || out_of_time {
                    break false;
                }
                std::thread::park_timeout(if ending { LAST_PAUSE } else { RETRY });
            };
            if !written {
                lost += 1;
                continue;
            }
            self.kept.fetch_add(1, Ordering::Release);
            if self.trouble.take().is_some() {
                self.say("The records are kept again.".to_owned());
            }
        }
        lost
    }

    /// Tells once of what is wrong; whether trying again cannot help.
    fn is_in_vain(&mut self, error: &RecordsError) -> bool {
        self.store = None;
        let trouble = error.to_string();
        if self.trouble.as_ref() != Some(&trouble) {
            self.say(format!("Verdicts are not kept: {trouble}"));
            self.trouble = Some(trouble);
        }
        error.is_final()
    }

    fn keep(&mut self, echo: Echo, record: &Record) -> Result<(), RecordsError> {
        // a file that was removed under an open console is made anew
        let store = match self.store.take().filter(|store| store.path().exists()) {
            Some(store) => store,
            None => Store::open(&self.path)?,
        };
        let store = self.store.insert(store);
        let over = self.known.iter().find(|(known, _)| *known == echo).map(|(_, id)| *id);
        let id = store.keep(record, over)?;
        self.known.retain(|(known, _)| *known != echo);
        self.known.push_back((echo, id));
        if self.known.len() > MOST_KNOWN {
            self.known.pop_front();
        }
        Ok(())
    }

    fn say(&self, text: String) {
        // whoever listened may be gone
        let _ = self.tell.send(text);
    }
}
