//! A simulated section that answers a roll: it hears the room's loudspeaker, and plays into the microphone, both on its own clock.

use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};

use super::server::Server;

/// Frames that are handled at a time.
const BLOCK: usize = 480;
/// Frames of silence with which its way to the microphone is filled: as many as it holds.
const FULL: usize = 9_600;
/// What is louder than this is sound of ours.
const SOUND: f32 = 1e-4;
/// How far around where it should be the rendering is laid on, in frames, and over how much of it.
const AROUND: usize = 2400;
const OVER: usize = 24_000;
/// The same before every answer, on what the loudspeaker gave so many frames before: sound that drops out shifts all that follows, and whoever
/// plays to it.
const AROUND_AGAIN: usize = 24_000;
const BEFORE: usize = 120_000;

/// An answer: from which frame of the rendering on, and what.
pub struct Answer {
    pub at: usize,
    pub sound: Vec<f32>,
}

/// A room and a class.
pub struct Class {
    /// What the engine plays.
    pub rendering: Vec<f32>,
    /// When who plays what.
    pub answers: Vec<Answer>,
    /// Frames from the loudspeaker to the microphone, besides what the server takes.
    pub delay: usize,
    /// How much faster the microphone's clock goes, in parts per million.
    pub drift_ppm: f64,
}

/// A class at work; it goes home when dropped.
pub struct AtWork {
    hears: Child,
    plays: Child,
    thread: Option<JoinHandle<Option<usize>>>,
    attends: Arc<AtomicBool>,
}

fn client(server: &Server, program: &str, device: &str) -> Command {
    let mut client = Command::new(program);
    client.args(["--raw", "--format=float32le", "--rate=48000", "--channels=1", "-d", device]);
    client.envs(server.environment()).stderr(Stdio::null());
    client
}

impl Class {
    /// Sits down in the room of `server`.
    pub fn start(self, server: &Server) -> AtWork {
        let mut hears = client(server, "parec", "room.monitor").arg("--latency-msec=20").stdout(Stdio::piped()).spawn().unwrap();
        let mut plays = client(server, "pacat", "micfeed").arg("--latency-msec=200").stdin(Stdio::piped()).spawn().unwrap();
        let (mut from, mut to) = (hears.stdout.take().unwrap(), plays.stdin.take().unwrap());
        let attends = Arc::new(AtomicBool::new(false));
        let attending = Arc::clone(&attends);
        let thread = thread::spawn(move || {
            let mut room = Room::new(self, attending);
            let mut bytes = [0_u8; 4 * BLOCK];
            // a buffer that is full from the start is as late all the time: one that ran dry first would shift all that follows
            let full = to.write_all(&[0; 4 * FULL]);
            assert!(full.is_ok(), "the microphone takes nothing");
            while from.read_exact(&mut bytes).is_ok() {
                let block: Vec<f32> = bytes.chunks_exact(4).map(|four| f32::from_le_bytes([four[0], four[1], four[2], four[3]])).collect();
                let out: Vec<u8> = room.hear(&block).into_iter().flat_map(f32::to_le_bytes).collect();
                if to.write_all(&out).is_err() {
                    break;
                }
            }
            room.began.first().copied()
        });
        AtWork { hears, plays, thread: Some(thread), attends }
    }
}

impl AtWork {
    /// From now on the next sound of the loudspeaker is the beginning of the rendering.
    pub fn attend(&self) {
        self.attends.store(true, Ordering::Relaxed);
    }

    /// Ends it; whether it ever found the engine's sound.
    pub fn end(mut self) -> bool {
        let _ = self.hears.kill();
        let _ = self.hears.wait();
        let found = self.thread.take().and_then(|thread| thread.join().ok()).flatten();
        let _ = self.plays.kill();
        let _ = self.plays.wait();
        found.is_some()
    }
}

impl Drop for AtWork {
    fn drop(&mut self) {
        let _ = self.hears.kill();
        let _ = self.plays.kill();
        let _ = self.hears.wait();
        let _ = self.plays.wait();
    }
}

struct Room {
    class: Class,
    attends: Arc<AtomicBool>,
    heard: Vec<f32>,
    /// Where in what was heard the first sound is, and where the rendering's first frame lies, as heard before each answer so far.
    first: Option<usize>,
    began: Vec<usize>,
    laying: Option<JoinHandle<usize>>,
    /// Where the microphone's next frame is read in what was heard.
    reading: f64,
}

impl Room {
    fn new(class: Class, attends: Arc<AtomicBool>) -> Self {
        Self { class, attends, heard: Vec::new(), first: None, began: Vec::new(), laying: None, reading: 0.0 }
    }

    /// Takes what the loudspeaker gave, and gives what the microphone hears meanwhile.
    fn hear(&mut self, block: &[f32]) -> Vec<f32> {
        let at = self.heard.len();
        self.heard.extend_from_slice(block);
        if self.first.is_none() && self.attends.load(Ordering::Relaxed) {
            self.first = block.iter().position(|x| x.abs() > SOUND).map(|n| at + n);
        }
        if let (Some((from, near, around)), None) = (self.next_laying(), &self.laying)
            && self.heard.len() > near + OVER + around
        {
            // beside the stream: it would stand still for longer than its buffer lasts
            let (start, last) = (near.saturating_sub(around), self.began.last().copied());
            let part = self.class.rendering[from..from + OVER].to_vec();
            let heard = self.heard[start..near + OVER + around].to_vec();
            self.laying = Some(thread::spawn(move || lay_on(&part, &heard).map_or(last, |at| (start + at).checked_sub(from)).unwrap_or(0)));
        }
        if let Some(laying) = self.laying.take_if(|laying| laying.is_finished()) {
            self.began.extend(laying.join().ok());
        }
        let mut out = Vec::with_capacity(BLOCK + 1);
        // a sample of what comes after is needed between two
        while self.reading + 2.0 < self.heard.len() as f64 {
            let (whole, part) = (self.reading.floor(), self.reading.fract() as f32);
            let n = whole as usize;
            out.push(self.microphone(n) * (1.0 - part) + self.microphone(n + 1) * part);
            self.reading += 1.0 + 1e-6 * self.class.drift_ppm;
        }
        out
    }

    /// What is laid on next, as soon as it has been heard: from which frame of the rendering on, near which heard, and how far around.
    fn next_laying(&self) -> Option<(usize, usize, usize)> {
        match self.began.split_last() {
            None => {
                let own = self.class.rendering.iter().position(|x| x.abs() > SOUND)?;
                Some((own, self.first?, AROUND))
            }
            Some((began, before)) => {
                let from = self.class.answers.get(before.len())?.at.checked_sub(BEFORE)?;
                Some((from, began + from, AROUND_AGAIN))
            }
        }
    }

    /// What the microphone hears at frame `n` of the loudspeaker: that sound later, off two walls too, and the class.
    fn microphone(&self, n: usize) -> f32 {
        let back = |by: usize| n.checked_sub(by).map_or(0.0, |n| self.heard[n]);
        let delay = self.class.delay;
        let room = 0.4 * back(delay) - 0.15 * back(delay + 911) + 0.08 * back(delay + 3203);
        let answers = self.class.answers.iter().enumerate();
        let played = answers.filter_map(|(answer, Answer { at, sound })| {
            // the first laying is for the beginning, each further one for one answer
            let began = self.began.get(answer + 1).or(self.began.last())?;
            sound.get(n.checked_sub(began + delay)?.checked_sub(*at)?)
        });
        let played: f32 = played.sum();
        room + played
    }
}

/// Where in what was `heard` this `part` of the rendering lies best, if any of it sounds.
fn lay_on(part: &[f32], heard: &[f32]) -> Option<usize> {
    let likeness = |start: usize| -> f64 {
        let pairs = part.iter().zip(&heard[start..]).step_by(3);
        pairs.map(|(x, y)| f64::from(x * y)).sum()
    };
    let most = heard.len() - part.len();
    let best = |starts: &mut dyn Iterator<Item = usize>| starts.max_by(|a, b| likeness(*a).total_cmp(&likeness(*b)));
    let near = best(&mut (0..=most).step_by(8))?;
    let found = best(&mut (near.saturating_sub(8)..=(near + 8).min(most)))?;
    (likeness(found) > 0.0).then_some(found)
}

/// A note of a simulated player at 48 kHz, from a file at 24 kHz.
pub fn note(name: &str, level: f32) -> Vec<f32> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/listening/answers").join(name);
    let slow: Vec<f32> = hound::WavReader::open(path).unwrap().samples::<i16>().map(|x| f32::from(x.unwrap()) / 32_768.0).collect();
    let between = |n: usize| 0.5 * (slow[n] + slow.get(n + 1).copied().unwrap_or(0.0));
    (0..slow.len()).flat_map(|n| [slow[n], between(n)]).map(|x| level * x).collect()
}
