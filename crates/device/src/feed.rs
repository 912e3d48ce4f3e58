//! The body of a stream's callback. No allocation, no free, no lock, no system call here.

use crossbeam_channel::Sender;
use std::f32::consts::PI;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};
use units::{FrameInstant, FrameSpan};

use crate::backend::Line;
use crate::custody::{Custody, User};
use crate::gap::GapDetector;

/// A second callback this many nanoseconds after the first proves that the device consumes sound; before that it only fills its buffer.
const PROOF: u64 = 5_000_000;
/// Seconds of the fade at a stream's start and end.
const FADE: f64 = 0.010;
/// How many gaps may wait to be read.
pub(crate) const MISSED_QUEUE: usize = 64;

/// Frames that came late.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Missed {
    pub(crate) frames: FrameSpan,
    pub(crate) at: FrameInstant,
}

/// A stream's signs of life, and what it is asked.
#[derive(Debug, Default)]
pub(crate) struct Heart {
    first_beat: AtomicU64,
    claimed: AtomicU64,
    last_beat: AtomicU64,
    frames: AtomicU32,
    proven: AtomicBool,
    suspected: AtomicU64,
    closing: AtomicBool,
    faded: AtomicBool,
}

impl Heart {
    /// When the last callback came, on the custody's clock; zero before the first.
    pub(crate) fn last_beat(&self) -> u64 {
        self.last_beat.load(Ordering::Acquire)
    }

    /// When the first callback came; zero before it.
    pub(crate) fn first_beat(&self) -> u64 {
        self.first_beat.load(Ordering::Acquire)
    }

    /// When it last took the renderer over; zero before.
    pub(crate) fn claimed(&self) -> u64 {
        self.claimed.load(Ordering::Acquire)
    }

    /// How many frames it asked for.
    pub(crate) fn frames(&self) -> u32 {
        self.frames.load(Ordering::Relaxed)
    }

    /// Whether the device consumes what it gets.
    pub(crate) fn is_proven(&self) -> bool {
        self.proven.load(Ordering::Acquire)
    }

    /// Marks the stream as suspect; true if it was not.
    pub(crate) fn suspect(&self, now: u64) -> bool {
        self.suspected.compare_exchange(0, now.max(1), Ordering::AcqRel, Ordering::Relaxed).is_ok()
    }

    /// When it became suspect; a callback since then clears it.
    pub(crate) fn suspected(&self) -> Option<u64> {
        let since = self.suspected.load(Ordering::Acquire);
        if since != 0 && self.last_beat() > since {
            self.suspected.store(0, Ordering::Release);
            return None;
        }
        Some(since).filter(|since| *since != 0)
    }

    /// Asks the stream to fade to silence.
    pub(crate) fn close(&self) {
        self.closing.store(true, Ordering::Release);
    }

    /// Whether it has.
    pub(crate) fn has_faded(&self) -> bool {
        self.faded.load(Ordering::Acquire)
    }
}

/// Fills a stream's buffers.
pub(crate) struct Feed {
    id: u32,
    custody: Arc<Custody>,
    heart: Arc<Heart>,
    missed: Sender<Missed>,
    channels: usize,
    delivered: u64,
    fade: Fade,
    gaps: GapDetector,
}

impl Feed {
    pub(crate) fn new(line: &Line, channels: usize) -> Self {
        Self {
            id: line.id,
            custody: Arc::clone(&line.custody),
            heart: Arc::clone(&line.heart),
            missed: line.missed.clone(),
            channels: channels.max(1),
            delivered: 0,
            fade: Fade::new(line.rate.span(FADE).0 as u32),
            gaps: GapDetector::new(line.rate.hz()),
        }
    }

    fn claim(&self, now: u64) {
        if self.custody.claim(self.id) {
            self.heart.claimed.store(now.max(1), Ordering::Release);
        }
    }

    /// Audio thread: fills `out`, interleaved.
    pub(crate) fn fill(&mut self, out: &mut [f32]) {
        let now = self.custody.clock();
        let first = match self.heart.first_beat() {
            0 => {
                self.heart.first_beat.store(now.max(1), Ordering::Release);
                // what the device has room for at once is sound already; the watcher takes it back if no more is asked for
                self.claim(now);
                now
            }
            first => first,
        };
        if now.saturating_sub(first) >= PROOF {
            self.heart.proven.store(true, Ordering::Release);
            self.claim(now);
        }
        let frame = self.custody.frame().0;
        if self.custody.lend(User::Stream(self.id), |renderer| renderer.fill(out, self.channels)) {
            if self.fade.apply(out, self.channels, self.heart.closing.load(Ordering::Acquire)) {
                self.heart.faded.store(true, Ordering::Release);
            }
        } else {
            out.fill(0.0);
        }
        let frames = out.len() / self.channels;
        self.delivered += frames as u64;
        self.heart.frames.store(frames as u32, Ordering::Relaxed);
        self.heart.last_beat.store(now.max(1), Ordering::Release);
        if let Some(gap) = self.gaps.note(self.delivered, now, frame) {
            // the watcher only ever tries to receive, so this wakes and locks nothing
            let _ = self.missed.try_send(Missed { frames: FrameSpan(gap.frames), at: FrameInstant(gap.frame) });
        }
    }
}

/// A raised-cosine fade in, and out when asked; in between samples pass untouched.
struct Fade {
    place: u32,
    length: u32,
}

impl Fade {
    fn new(length: u32) -> Self {
        Self { place: 0, length: length.max(1) }
    }

    /// True once it is silent because it was asked to be.
    fn apply(&mut self, out: &mut [f32], channels: usize, closing: bool) -> bool {
        if !closing && self.place == self.length {
            return false;
        }
        for frame in out.chunks_mut(channels) {
            let gain = 0.5 - 0.5 * (PI * self.place as f32 / self.length as f32).cos();
            for sample in frame {
                *sample *= gain;
            }
            self.place = if closing { self.place.saturating_sub(1) } else { (self.place + 1).min(self.length) };
        }
        closing && self.place == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stream_fades_in_and_out_and_is_untouched_between() {
        let mut fade = Fade::new(480);
        let mut out = vec![1.0; 1_024];
        assert!(!fade.apply(&mut out, 2, false));
        assert_eq!(out[0], 0.0);
        let steepest = out.windows(3).map(|w| (w[2] - w[0]).abs()).fold(0.0, f32::max);
        assert!(steepest < 0.004, "a step of {steepest}");
        assert_eq!(out[2 * 480..], vec![1.0; 64]);
        let mut out = vec![1.0; 64];
        assert!(!fade.apply(&mut out, 2, false));
        assert_eq!(out, vec![1.0; 64]);
        let mut out = vec![1.0; 1_024];
        assert!(fade.apply(&mut out, 2, true));
        assert_eq!(out[2 * 481..], vec![0.0; 62]);
    }
}
