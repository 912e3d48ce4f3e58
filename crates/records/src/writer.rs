//! Writes records from a thread of its own: a slow, full or busy disk never holds up whoever hands them over.

use crossbeam_channel::{Receiver, Sender, TrySendError, bounded, unbounded};
use jiff::Timestamp;
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use crate::{ClipOf, KeptAudio, Record, RecordId, RecordsError, SectionId, SectionRecord, Sound, Store};

/// How many verdicts wait for the disk at most: hours of a class.
const MOST_WAITING: usize = 4096;
/// How many frames of sound wait for the disk at most: some minutes, 64 MB.
const MOST_FRAMES: usize = 16 << 20;
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

/// What is to be written of an echo.
enum Job {
    Entry(Entry),
    Sound(Sound),
}

/// What becomes rows of the file.
enum Entry {
    Verdict(Box<Record>),
    Section(Box<SectionRecord>),
}

/// What was written of the last echoes, the newest last.
struct Known<Id>(VecDeque<(Echo, Id)>);

impl<Id: Copy> Known<Id> {
    fn of(&self, echo: Echo) -> Option<Id> {
        self.0.iter().find(|(known, _)| *known == echo).map(|(_, id)| *id)
    }

    fn put(&mut self, echo: Echo, id: Id) {
        self.0.retain(|(known, _)| *known != echo);
        self.0.push_back((echo, id));
        if self.0.len() > MOST_KNOWN {
            self.0.pop_front();
        }
    }
}

/// The thread and the way to it. When it ends or is dropped, what was last handed over is written.
#[derive(Debug)]
pub struct Writer {
    jobs: Option<Sender<(Echo, Job)>>,
    /// Frames of sound that wait for the disk.
    frames: Arc<AtomicUsize>,
    told: Receiver<String>,
    tell: Sender<String>,
    kept: Arc<AtomicU64>,
    ending: Arc<AtomicBool>,
    thread: Option<JoinHandle<usize>>,
}

impl Writer {
    /// A writer of the file at `path`, which is opened with the first verdict. Sound kept beside it that is over by now is deleted at once.
    ///
    /// # Errors
    /// If the system starts no thread.
    pub fn start(path: PathBuf) -> std::io::Result<Self> {
        let (jobs, todo) = bounded(MOST_WAITING);
        let (tell, told) = unbounded();
        let kept = Arc::new(AtomicU64::new(0));
        let ending = Arc::new(AtomicBool::new(false));
        let frames = Arc::new(AtomicUsize::new(0));
        let work = Work {
            path,
            store: None,
            verdicts: Known(VecDeque::new()),
            sections: Known(VecDeque::new()),
            trouble: None,
            tell: tell.clone(),
            kept: Arc::clone(&kept),
            ending: Arc::clone(&ending),
            frames: Arc::clone(&frames),
        };
        let thread = std::thread::Builder::new().name("records".to_owned()).spawn(move || work.run(&todo))?;
        Ok(Self { jobs: Some(jobs), frames, told, tell, kept, ending, thread: Some(thread) })
    }

    /// Hands over the verdict on an echo. Never waits; what finds no room is told.
    pub fn note(&self, echo: Echo, record: Record) {
        self.hand_over(echo, Job::Entry(Entry::Verdict(Box::new(record))));
    }

    /// Hands over what the echo of a whole section came to. It takes the place of the one before on the same echo; a verdict on that echo is
    /// another thing and stays. Never waits; what finds no room is told.
    pub fn note_section(&self, echo: Echo, record: SectionRecord) {
        self.hand_over(echo, Job::Entry(Entry::Section(Box::new(record))));
    }

    /// Hands over the sound of an echo of which something was noted before; of any other it is not kept. Never waits; what finds no room, or
    /// cannot be written, is told.
    pub fn keep_sound(&self, echo: Echo, sound: Sound) {
        let frames = sound.samples.len();
        if self.frames.fetch_add(frames, Ordering::AcqRel) + frames > MOST_FRAMES {
            self.frames.fetch_sub(frames, Ordering::AcqRel);
            let _ = self.tell.send("The sound of this echo is not kept: minutes of it wait for the disk already.".to_owned());
            return;
        }
        self.hand_over(echo, Job::Sound(sound));
    }

    fn hand_over(&self, echo: Echo, job: Job) {
        // the thread ends only after the writer
        if let Some(Err(TrySendError::Full(_))) = self.jobs.as_ref().map(|jobs| jobs.try_send((echo, job))) {
            let _ = self.tell.send(format!("This verdict is not kept: {MOST_WAITING} wait for the disk already."));
        }
    }

    /// What the user should know since this was last asked.
    #[must_use]
    pub fn told(&self) -> Option<String> {
        self.told.try_iter().last()
    }

    /// How many verdicts and echoes of sections have been written, corrections too: these outlast whatever happens.
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
    verdicts: Known<RecordId>,
    sections: Known<SectionId>,
    /// What was last told to be wrong.
    trouble: Option<String>,
    tell: Sender<String>,
    kept: Arc<AtomicU64>,
    ending: Arc<AtomicBool>,
    frames: Arc<AtomicUsize>,
}

impl Work {
    /// Writes one thing after another until the writer is gone and none waits; gives how many verdicts could not be written.
    fn run(mut self, todo: &Receiver<(Echo, Job)>) -> usize {
        self.tidy();
        let mut lost = 0;
        let mut end = None;
        for (echo, job) in todo {
            let entry = match job {
                Job::Entry(entry) => entry,
                Job::Sound(sound) => {
                    self.keep_sound(echo, &sound);
                    continue;
                }
            };
            let written = loop {
                let Err(error) = self.keep(echo, &entry) else { break true };
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

    /// Deletes sound that is over. Records that nobody has any more have none either.
    fn tidy(&self) {
        let audio = KeptAudio::beside(&self.path);
        let swept = if self.path.exists() { audio.sweep(Timestamp::now()) } else { audio.sweep(Timestamp::MAX) };
        if let Err(error) = swept {
            self.say(error.to_string());
        }
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

    fn keep(&mut self, echo: Echo, entry: &Entry) -> Result<(), RecordsError> {
        let store = match self.store.take().filter(|store| store.path().exists()) {
            Some(store) => store,
            None => self.open()?,
        };
        let store = self.store.insert(store);
        match entry {
            Entry::Verdict(record) => self.verdicts.put(echo, store.keep(record, self.verdicts.of(echo))?),
            Entry::Section(record) => self.sections.put(echo, store.keep_section(record, self.sections.of(echo))?),
        }
        Ok(())
    }

    /// Opens the file. One that was removed under an open console is made anew, and its ids begin anew.
    fn open(&mut self) -> Result<Store, RecordsError> {
        if !self.path.exists() {
            self.verdicts.0.clear();
            self.sections.0.clear();
        }
        let store = Store::open(&self.path)?;
        if let Err(error) = store.sweep_audio() {
            self.say(error.to_string());
        }
        Ok(store)
    }

    /// Keeps the sound of an echo that is known: of its verdict, or else of the section's.
    fn keep_sound(&self, echo: Echo, sound: &Sound) {
        self.frames.fetch_sub(sound.samples.len(), Ordering::AcqRel);
        let verdict = self.verdicts.of(echo).map(ClipOf::Verdict);
        let Some(of) = verdict.or(self.sections.of(echo).map(ClipOf::Section)) else { return };
        if let Err(error) = KeptAudio::beside(&self.path).keep(of, sound, Timestamp::now()) {
            self.say(error.to_string());
        }
    }

    fn say(&self, text: String) {
        // whoever listened may be gone
        let _ = self.tell.send(text);
    }
}
