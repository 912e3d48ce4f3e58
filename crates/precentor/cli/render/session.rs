//! A rendering as it goes: blocks from the engine into files.

use anyhow::bail;
use engine::listing::Lister;
use engine::{Bounce, Score, Snapshot};
use sequencer::{Cue, Motion};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use synth::Stems;
use units::FrameSpan;

use super::stems::StemFiles;
use crate::cli::wav::WavDraft;

/// Where a rendering goes.
pub struct Files {
    /// The mix.
    pub wav: WavDraft,
    /// Each section and role by itself.
    pub stems: Option<StemFiles>,
    /// Whether the user wants an end of it.
    pub interrupted: Arc<AtomicBool>,
}

/// An engine that renders into files.
pub struct Session<'a> {
    bounce: Bounce,
    lister: Lister<'a>,
    block: Stems,
    files: Files,
}

impl<'a> Session<'a> {
    /// A session that has rendered nothing yet.
    pub fn new(bounce: Bounce, lister: Lister<'a>, files: Files) -> Self {
        Self { bounce, lister, block: Stems::new(), files }
    }

    /// The engine, to be told what to do next.
    pub fn controls(&mut self) -> &mut engine::Controls {
        &mut self.bounce.controls
    }

    /// Renders for `length`, to the end of its last block.
    pub fn for_a_while(&mut self, length: FrameSpan) -> anyhow::Result<()> {
        let end = self.bounce.now() + length;
        while self.bounce.now() < end {
            self.block()?;
        }
        Ok(())
    }

    /// Plays `score` from top to end, going on by itself where it would wait for the director.
    pub fn play(&mut self, score: &Arc<Score>) -> anyhow::Result<()> {
        self.bounce.controls.load(Arc::clone(score), None, engine::journal::Recipe::default());
        self.bounce.controls.cue(Cue::Go);
        loop {
            match self.block()?.motion() {
                Some(Motion::Waiting) => self.bounce.controls.cue(Cue::Go),
                Some(Motion::Done) | None => return Ok(()),
                Some(_) => {}
            }
        }
    }

    /// Lets the drone go and renders until the last sound has died away.
    pub fn die_away(&mut self) -> anyhow::Result<()> {
        self.bounce.controls.drone(None);
        loop {
            self.block()?;
            if self.bounce.is_silent() {
                return Ok(());
            }
        }
    }

    /// What has been rendered, and the list of its sounds.
    pub fn finish(self) -> (Files, Lister<'a>) {
        (self.files, self.lister)
    }

    fn block(&mut self) -> anyhow::Result<Snapshot> {
        if self.files.interrupted.load(Ordering::Relaxed) {
            bail!("interrupted; nothing was written");
        }
        let Self { bounce, lister, block, files } = self;
        let mut result = Ok(());
        let snapshot = bounce.block(lister, Some(block), |frames| result = files.wav.write(frames.as_flattened()));
        result?;
        if let Some(stems) = &mut files.stems {
            stems.write(block, files.wav.frames())?;
        }
        Ok(snapshot)
    }
}
