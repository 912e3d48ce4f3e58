//! The audio side of a microphone: what a callback does with each buffer it is given. No allocation, no free, no lock, no system call here.

use crossbeam_channel::{Receiver, Sender, bounded};
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use units::{FrameInstant, FrameSpan, SampleRate};

use crate::gap::GapDetector;

/// Frames mixed to one channel at a time.
const CHUNK: usize = 256;
/// How many gaps may wait to be read.
const GAPS: usize = 64;

/// Frames the device heard but never gave.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeardGap {
    /// How many.
    pub frames: FrameSpan,
    /// The first frame given after them, counted from the start.
    pub at: FrameInstant,
}

#[derive(Debug, Default)]
struct Counts {
    heard: AtomicU64,
    lost: AtomicU64,
}

/// What a callback writes to.
pub struct Tap {
    samples: Producer<f32>,
    counts: Arc<Counts>,
    gaps: GapDetector,
    found: Sender<HeardGap>,
    heard: u64,
}

/// The other side: what was heard, in one channel.
pub struct Tapped {
    samples: Consumer<f32>,
    counts: Arc<Counts>,
    gaps: Receiver<HeardGap>,
    rate: SampleRate,
}

/// A tap at `rate`, and its other side, which must be read before `seconds` of sound wait there.
#[must_use]
pub fn tap(rate: SampleRate, seconds: f64) -> (Tap, Tapped) {
    let (producer, consumer) = RingBuffer::new((rate.span(seconds).0 as usize).max(CHUNK));
    let (found, gaps) = bounded(GAPS);
    let counts = Arc::new(Counts::default());
    let tap = Tap { samples: producer, counts: Arc::clone(&counts), gaps: GapDetector::new(rate.hz()), found, heard: 0 };
    (tap, Tapped { samples: consumer, counts, gaps, rate })
}

impl Tap {
    /// Audio thread: takes `buffer`, `channels` interleaved, which came at `at` nanoseconds of a steady clock. What finds no room on the
    /// other side is counted as lost.
    pub fn take(&mut self, buffer: &[f32], channels: usize, at: u64) {
        let channels = channels.max(1);
        let first = self.heard;
        let share = 1.0 / channels as f32;
        let mut mono = [0.0; CHUNK];
        let mut lost = 0;
        for part in buffer.chunks(CHUNK * channels) {
            let frames = part.len() / channels;
            for (one, frame) in mono.iter_mut().zip(part.chunks_exact(channels)) {
                *one = frame.iter().sum::<f32>() * share;
            }
            let (_, left) = self.samples.push_partial_slice(mono.get(..frames).unwrap_or_default());
            lost += left.len() as u64;
            self.heard += frames as u64;
        }
        self.counts.heard.store(self.heard, Ordering::Release);
        if lost > 0 {
            self.counts.lost.fetch_add(lost, Ordering::Relaxed);
        }
        if let Some(gap) = self.gaps.note(self.heard, at, first) {
            // the reader only ever tries to receive, so this wakes and locks nothing
            let _ = self.found.try_send(HeardGap { frames: FrameSpan(gap.frames), at: FrameInstant(gap.frame) });
        }
    }
}

impl Tapped {
    /// Frames per second.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Moves everything heard since the last call to the end of `out`.
    pub fn read(&mut self, out: &mut Vec<f32>) {
        if let Ok(chunk) = self.samples.read_chunk(self.samples.slots()) {
            let (one, two) = chunk.as_slices();
            out.extend_from_slice(one);
            out.extend_from_slice(two);
            chunk.commit_all();
        }
    }

    /// Frames heard since the start, with those lost.
    #[must_use]
    pub fn heard(&self) -> u64 {
        self.counts.heard.load(Ordering::Acquire)
    }

    /// Frames that nobody read in time.
    #[must_use]
    pub fn lost(&self) -> u64 {
        self.counts.lost.load(Ordering::Relaxed)
    }

    /// Gaps found since the last call.
    pub fn gaps(&self) -> impl Iterator<Item = HeardGap> {
        self.gaps.try_iter()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: SampleRate = SampleRate::DEFAULT;

    #[test]
    fn channels_become_one_in_order_whatever_the_buffers() {
        let (mut tap, mut tapped) = tap(RATE, 1.0);
        let mut out = Vec::new();
        let mut next = 0;
        for frames in [1, 239, 512, 7, 0, 1024, 531] {
            let buffer: Vec<f32> = (next..next + frames).flat_map(|n| [n as f32, n as f32 + 2.0]).collect();
            tap.take(&buffer, 2, 0);
            next += frames;
            if frames % 2 == 0 {
                tapped.read(&mut out);
            }
        }
        tapped.read(&mut out);
        assert_eq!(out, (0..next).map(|n| n as f32 + 1.0).collect::<Vec<_>>());
        assert_eq!((tapped.heard(), tapped.lost()), (next as u64, 0));
    }

    #[test]
    fn what_nobody_reads_is_counted() {
        let (mut tap, mut tapped) = tap(RATE, 0.01);
        tap.take(&vec![0.5; 1000], 1, 0);
        assert_eq!((tapped.heard(), tapped.lost()), (1000, 520));
        let mut out = Vec::new();
        tapped.read(&mut out);
        assert_eq!(out, vec![0.5; 480]);
    }

    #[test]
    fn taking_allocates_nothing() {
        let (mut tap, _tapped) = tap(RATE, 0.1);
        let buffer = vec![0.25; 4 * 700];
        assert_no_alloc::assert_no_alloc(|| {
            for n in 0..100 {
                tap.take(&buffer, 4, n * 14_583_333);
            }
        });
        assert_eq!(assert_no_alloc::violation_count(), 0);
    }

    #[test]
    fn a_gap_in_bursts_is_found_with_its_length() {
        let (mut tap, tapped) = tap(RATE, 60.0);
        let mut gaps = Vec::new();
        let buffer = vec![0.0; 531];
        let (mut heard, mut dry) = (0_u64, 0_u64);
        for n in 0..4_000_u64 {
            let frames = [1, 239, 531, 17][n as usize % 4];
            if n == 2_000 {
                dry += 960;
            }
            heard += frames;
            tap.take(&buffer[..frames as usize], 1, (heard + dry) * 1_000_000_000 / 48_000);
            gaps.extend(tapped.gaps());
        }
        assert_eq!(gaps.len(), 1, "{gaps:?}");
        assert!(gaps[0].frames.0.abs_diff(960) <= 24, "{gaps:?}");
    }
}
