//! The audio side of a microphone: what a callback does with each buffer it is given. No allocation, no free, no lock, no system call here.

use crossbeam_channel::{Receiver, Sender, bounded};
use rtrb::{Consumer, Producer, RingBuffer};
use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use units::{FrameInstant, FrameSpan, SampleRate};

use crate::gap::GapDetector;
use crate::level::{Level, Meter};

/// Frames mixed to one channel at a time.
const CHUNK: usize = 256;
/// How many gaps may wait to be read.
const GAPS: usize = 64;

/// Frames that are missing: the device heard them but never gave them, or nobody read them in time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeardGap {
    /// How many.
    pub frames: FrameSpan,
    /// The first frame that came after them, as [`Tapped::read`] counts.
    pub at: FrameInstant,
    /// Whether it was the device. Such a gap is not in the count of [`Tapped::read`], and is told a quarter of a second late. What nobody
    /// read in time is in the count.
    pub by_device: bool,
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
    /// Frames dropped since the last that found room.
    dropped: u64,
}

/// The other side: what was heard, in one channel.
pub struct Tapped {
    samples: Consumer<f32>,
    counts: Arc<Counts>,
    gaps: Receiver<HeardGap>,
    rate: SampleRate,
    meter: Box<Meter>,
    /// The count of the next frame to be read.
    next: u64,
    /// Gaps still to be handed on.
    told: VecDeque<HeardGap>,
    /// Of those, drops that were not read past yet.
    drops: VecDeque<HeardGap>,
}

/// A tap at `rate`, and its other side, which must be read before `seconds` of sound wait there.
#[must_use]
pub fn tap(rate: SampleRate, seconds: f64) -> (Tap, Tapped) {
    let (producer, consumer) = RingBuffer::new((rate.span(seconds).0 as usize).max(CHUNK));
    let (found, gaps) = bounded(GAPS);
    let counts = Arc::new(Counts::default());
    let tap = Tap { samples: producer, counts: Arc::clone(&counts), gaps: GapDetector::new(rate.hz()), found, heard: 0, dropped: 0 };
    let (told, drops) = (VecDeque::with_capacity(GAPS), VecDeque::with_capacity(GAPS));
    (tap, Tapped { samples: consumer, counts, gaps, rate, meter: Box::new(Meter::new(rate)), next: 0, told, drops })
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
            lost += self.push(mono.get(..frames).unwrap_or_default());
        }
        self.counts.heard.store(self.heard, Ordering::Release);
        if lost > 0 {
            self.counts.lost.fetch_add(lost, Ordering::Relaxed);
        }
        if let Some(gap) = self.gaps.note(self.heard, at, first) {
            // the reader only ever tries to receive, so this wakes and locks nothing
            let _ = self.found.try_send(HeardGap { frames: FrameSpan(gap.frames), at: FrameInstant(gap.frame), by_device: true });
        }
    }

    /// Passes on what there is room for; how many frames there was none for.
    fn push(&mut self, mono: &[f32]) -> u64 {
        if self.dropped > 0 && self.samples.slots() > 0 {
            // told before what follows it can be seen
            let gap = HeardGap { frames: FrameSpan(self.dropped), at: FrameInstant(self.heard), by_device: false };
            if self.found.try_send(gap).is_err() {
                // so many gaps that nobody reads: neither is this one
                self.dropped += mono.len() as u64;
                self.heard += mono.len() as u64;
                return mono.len() as u64;
            }
            self.dropped = 0;
        }
        let (_, left) = self.samples.push_partial_slice(mono);
        self.dropped += left.len() as u64;
        self.heard += mono.len() as u64;
        left.len() as u64
    }
}

impl Tapped {
    /// Frames per second.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Moves everything heard since the last call to the end of `out`, but not past frames that nobody read in time: those that came after
    /// them are left for the next call. Gives the count of the first frame moved, from the start.
    pub fn read(&mut self, out: &mut Vec<f32>) -> FrameInstant {
        let mut waiting = self.samples.slots();
        // after the slots were counted: a drop is told before what follows it
        for gap in self.gaps.try_iter() {
            if self.told.len() == GAPS {
                self.told.pop_front();
            }
            self.told.push_back(gap);
            if !gap.by_device {
                self.drops.push_back(gap);
            }
        }
        if let Some(gap) = self.drops.front() {
            let before = gap.at.0.saturating_sub(gap.frames.0);
            if before == self.next {
                self.next = gap.at.0;
                self.drops.pop_front();
                if let Some(gap) = self.drops.front() {
                    waiting = waiting.min(gap.at.0.saturating_sub(gap.frames.0 + self.next) as usize);
                }
            } else {
                waiting = waiting.min(before.saturating_sub(self.next) as usize);
            }
        }
        let first = FrameInstant(self.next);
        if let Ok(chunk) = self.samples.read_chunk(waiting) {
            let (one, two) = chunk.as_slices();
            self.meter.take(one);
            self.meter.take(two);
            out.extend_from_slice(one);
            out.extend_from_slice(two);
            self.next += waiting as u64;
            chunk.commit_all();
        }
        first
    }

    /// The level of what was read last; none before anything was.
    #[must_use]
    pub fn level(&self) -> Option<Level> {
        self.meter.level()
    }

    /// For how long nothing but zeros has been read: a microphone hears at least its own noise.
    #[must_use]
    pub const fn zeros(&self) -> FrameSpan {
        self.meter.zeros()
    }

    /// How many frames have come so far, for whoever watches that they do.
    pub(crate) fn pulse(&self) -> Pulse {
        Pulse(Arc::clone(&self.counts))
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

    /// Gaps found by the last [`Self::read`] and before, since this was last asked.
    pub fn gaps(&mut self) -> impl Iterator<Item = HeardGap> {
        self.told.drain(..)
    }
}

/// A tap's count of frames, seen from elsewhere.
pub(crate) struct Pulse(Arc<Counts>);

impl Pulse {
    /// Frames heard since the start, with those lost.
    pub(crate) fn heard(&self) -> u64 {
        self.0.heard.load(Ordering::Acquire)
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
    fn every_frame_has_its_count_whatever_was_lost_between() {
        let (mut tap, mut tapped) = tap(RATE, 0.01);
        // each sample is its own count
        let mut next = 0_u64;
        let mut give = |frames: u64| {
            let buffer: Vec<f32> = (next..next + frames).map(|n| n as f32).collect();
            tap.take(&buffer, 1, 0);
            next += frames;
        };
        let (mut all, mut gaps) = (Vec::new(), Vec::new());
        let mut fetch = |times: usize| {
            for _ in 0..times {
                let mut out = Vec::new();
                let first = tapped.read(&mut out);
                out.iter().enumerate().for_each(|(n, sample)| assert_eq!(*sample, (first.0 + n as u64) as f32));
                all.extend(out);
                gaps.extend(tapped.gaps().map(|gap| (gap.frames.0, gap.at.0, gap.by_device)));
            }
            all.len()
        };
        give(100);
        assert_eq!(fetch(1), 100);
        give(700);
        assert_eq!(fetch(1), 580);
        give(300);
        // another loss before the first was told of
        give(400);
        assert_eq!(fetch(3), 1060);
        give(100);
        assert_eq!(fetch(3), 1160);
        assert_eq!(gaps, [(220, 800, false), (220, 1500, false)]);
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
        let (mut tap, mut tapped) = tap(RATE, 60.0);
        let (mut gaps, mut out) = (Vec::new(), Vec::new());
        let buffer = vec![0.0; 531];
        let (mut heard, mut dry) = (0_u64, 0_u64);
        for n in 0..4_000_u64 {
            let frames = [1, 239, 531, 17][n as usize % 4];
            if n == 2_000 {
                dry += 960;
            }
            heard += frames;
            tap.take(&buffer[..frames as usize], 1, (heard + dry) * 1_000_000_000 / 48_000);
            tapped.read(&mut out);
            gaps.extend(tapped.gaps());
        }
        assert_eq!(gaps.len(), 1, "{gaps:?}");
        assert!(gaps[0].frames.0.abs_diff(960) <= 24, "{gaps:?}");
    }
}
