//! Writes what is remembered from a thread of its own: a slow disk never holds up the console.

use crossbeam_channel::{Receiver, Sender, unbounded};
use std::thread::JoinHandle;

use super::{ClimbStanding, LessonStanding, Store};
use crate::folders::FoldersError;

/// The thread and the way to it. When it is dropped, what was last handed over is written.
#[derive(Debug)]
pub struct Keeper {
    jobs: Option<Sender<Job>>,
    told: Receiver<String>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Debug)]
enum Job {
    Lesson(Box<LessonStanding>),
    ForgetLesson,
    Climb(ClimbStanding),
}

impl Keeper {
    /// A keeper of `store`.
    ///
    /// # Errors
    /// If the system starts no thread.
    pub fn start(store: Store) -> std::io::Result<Self> {
        let (jobs, todo) = unbounded();
        let (tell, told) = unbounded();
        let work = move || {
            while let Ok(first) = todo.recv() {
                for job in latest(first, &todo) {
                    let told = match job {
                        Job::Lesson(standing) => store.keep_lesson(&standing).map(|()| None),
                        Job::ForgetLesson => store.forget_lesson().map(|()| None),
                        Job::Climb(standing) => store.keep_climb(standing),
                    };
                    // whoever listened may be gone
                    let _ = told.unwrap_or_else(|error: FoldersError| Some(error.to_string())).map(|told| tell.send(told));
                }
            }
        };
        let thread = std::thread::Builder::new().name("standing".to_owned()).spawn(work)?;
        Ok(Self { jobs: Some(jobs), told, thread: Some(thread) })
    }

    /// Remembers a lesson. Of several handed over faster than the disk takes them, the last counts.
    pub fn lesson(&self, standing: LessonStanding) {
        self.hand(Job::Lesson(Box::new(standing)));
    }

    /// Forgets the lesson.
    pub fn forget_lesson(&self) {
        self.hand(Job::ForgetLesson);
    }

    /// Remembers where a climb stands.
    pub fn climb(&self, standing: ClimbStanding) {
        self.hand(Job::Climb(standing));
    }

    /// What the user should know since this was last asked: something cannot be written, or a file was set aside.
    #[must_use]
    pub fn told(&self) -> Option<String> {
        self.told.try_iter().last()
    }

    fn hand(&self, job: Job) {
        // the thread ends only after the keeper
        let _ = self.jobs.as_ref().map(|jobs| jobs.send(job));
    }
}

/// `first` and all that waits behind it, in order, of the lesson's only the last.
fn latest(first: Job, todo: &Receiver<Job>) -> Vec<Job> {
    let mut jobs: Vec<Job> = std::iter::once(first).chain(todo.try_iter()).collect();
    let of_lesson = |job: &Job| matches!(job, Job::Lesson(_) | Job::ForgetLesson);
    let last = jobs.iter().rposition(of_lesson);
    let mut index = 0;
    jobs.retain(|job| {
        index += 1;
        !of_lesson(job) || Some(index - 1) == last
    });
    jobs
}

impl Drop for Keeper {
    fn drop(&mut self) {
        self.jobs = None;
        // a thread that panicked has nothing left to write
        let _ = self.thread.take().map(JoinHandle::join);
    }
}
