//! What the engine gave out, for the control side to compare with what a microphone hears: the mean of both channels behind the limiter.
//!
//! Whole blocks go through a bounded queue without a lock. Nobody has to read them: what finds no room is dropped and counted, and the
//! frame numbers show where.

use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use synth::BLOCK;
use units::{FrameInstant, FrameSpan, SampleRate};

/// Seconds of sound that wait at most to be read.
pub const SENT_SECONDS: f64 = 4.0;

/// One block.
#[derive(Clone, Copy)]
struct SentBlock {
    /// The frame of the sounds in the first sample that counts.
    at: FrameInstant,
    /// How many samples come before frame zero, and do not count.
    early: usize,
    samples: [f32; BLOCK],
}

#[derive(Debug, Default)]
struct Shared {
    wanted: AtomicBool,
    dropped: AtomicU64,
}

/// The audio side.
pub(crate) struct Sender {
    blocks: Producer<SentBlock>,
    shared: Arc<Shared>,
}

/// The control side.
pub(crate) struct Sent {
    blocks: Consumer<SentBlock>,
    shared: Arc<Shared>,
}

/// Both sides, for a renderer at `rate`.
pub(crate) fn lane(rate: SampleRate) -> (Sender, Sent) {
    let (producer, blocks) = RingBuffer::new((rate.span(SENT_SECONDS).0 as usize).div_ceil(BLOCK));
    let shared = Arc::new(Shared::default());
    (Sender { blocks: producer, shared: Arc::clone(&shared) }, Sent { blocks, shared })
}

impl Sender {
    /// Audio thread: passes on the block rendered at `rendered`, whose sounds are `latency` late in it, if it is asked for.
    pub(crate) fn send(&mut self, rendered: FrameInstant, latency: FrameSpan, block: &[[f32; 2]; BLOCK]) {
        if !self.shared.wanted.load(Ordering::Relaxed) {
            return;
        }
        let mut samples = [0.0; BLOCK];
        samples.iter_mut().zip(block).for_each(|(mean, [left, right])| *mean = 0.5 * (left + right));
        let at = FrameInstant(rendered.0.saturating_sub(latency.0));
        let early = latency.0.saturating_sub(rendered.0) as usize;
        if self.blocks.push(SentBlock { at, early, samples }).is_err() {
            self.shared.dropped.fetch_add(BLOCK as u64, Ordering::Relaxed);
        }
    }
}

impl Sent {
    /// Asks for what is given out from the next block on, or for no more of it.
    pub(crate) fn want(&self, wanted: bool) {
        self.shared.wanted.store(wanted, Ordering::Relaxed);
    }

    /// Frames that nobody read in time.
    pub(crate) fn dropped(&self) -> FrameSpan {
        FrameSpan(self.shared.dropped.load(Ordering::Relaxed))
    }

    /// Hands over what came since the last call.
    pub(crate) fn read(&mut self, mut out: impl FnMut(FrameInstant, &[f32])) {
        while let Ok(SentBlock { at, early, samples }) = self.blocks.pop() {
            if let Some(samples) = samples.get(early..).filter(|samples| !samples.is_empty()) {
                out(at, samples);
            }
        }
    }
}
