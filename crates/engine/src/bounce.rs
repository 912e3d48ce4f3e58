//! Rendering without a device, as fast as it goes: the same renderer, the same blocks, the same samples.

use sequencer::{Cue, Motion};
use std::sync::Arc;
use synth::{BLOCK, ClipBank, Stems};
use units::{FrameInstant, SampleRate};

use crate::journal::Recipe;
use crate::{Controls, Observer, Renderer, Score, Snapshot, pair};

/// A renderer that runs by itself. The first frame that comes out is frame zero: the limiter's look-ahead is taken off.
pub struct Bounce {
    /// Its control side, to be used between blocks.
    pub controls: Controls,
    renderer: Renderer,
    /// Frames still to be dropped.
    latency: usize,
}

impl Bounce {
    /// A fresh engine at `rate` with a voice.
    #[must_use]
    pub fn new(rate: SampleRate, clips: Arc<ClipBank>) -> Self {
        let mut bounce = Self::silent(rate);
        bounce.controls.clips(clips);
        bounce
    }

    /// A fresh engine that has no voice yet.
    #[must_use]
    pub fn silent(rate: SampleRate) -> Self {
        let (controls, renderer) = pair(rate);
        let latency = renderer.latency().0 as usize;
        Self { controls, renderer, latency }
    }

    /// The first frame of the block that comes next.
    #[must_use]
    pub fn now(&self) -> FrameInstant {
        self.renderer.now()
    }

    /// Whether nothing sounds.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.renderer.is_silent()
    }

    /// Renders one block, hands what comes out to `sink` and returns the state after it.
    pub fn block(&mut self, observer: &mut impl Observer, stems: Option<&mut Stems>, mut sink: impl FnMut(&[[f32; 2]])) -> Snapshot {
        let block = self.renderer.next_block(observer, stems);
        let skip = self.latency.min(BLOCK);
        self.latency -= skip;
        sink(block.get(skip..).unwrap_or(&[]));
        self.controls.poll()
    }

    /// Plays `score` from the top to its end, going on by itself where it would wait for the director, until the last sound has died away or
    /// `sink` fails.
    ///
    /// # Errors
    /// What `sink` returns.
    pub fn play<E>(
        &mut self,
        score: &Arc<Score>,
        observer: &mut impl Observer,
        mut stems: Option<&mut Stems>,
        mut sink: impl FnMut(&[[f32; 2]], Option<&Stems>) -> Result<(), E>,
    ) -> Result<(), E> {
        self.controls.load(Arc::clone(score), None, Recipe::default());
        self.controls.cue(Cue::Go);
        loop {
            let mut out = [[0.0; 2]; BLOCK];
            let mut len = 0;
            let snapshot = self.block(observer, stems.as_deref_mut(), |frames| {
                len = frames.len();
                for (slot, frame) in out.iter_mut().zip(frames) {
                    *slot = *frame;
                }
            });
            sink(out.get(..len).unwrap_or(&[]), stems.as_deref())?;
            match snapshot.motion() {
                Some(Motion::Waiting) => self.controls.cue(Cue::Go),
                Some(Motion::Done) if self.is_silent() => return Ok(()),
                None => return Ok(()),
                Some(_) => {}
            }
        }
    }
}
