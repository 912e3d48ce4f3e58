//! `precentor replay`: a past run again, sample for sample.

use anyhow::{Context, bail};
use book::Fault;
use clap::Args;
use engine::Bounce;
use engine::journal::{self, Deed, Entry, Head};
use sequencer::Cue;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};
use synth::ClipBank;
use thiserror::Error;
use units::{FrameInstant, FrameSpan, Gain, SampleRate, Tempo};

use super::exit::Usage;
use super::render::{clock, interruptions};
use super::wav::{Format, WavDraft};
use super::{output, print};
use crate::app::session::ears;
use crate::folders;
use crate::workshop::{MakeError, Workshop};

/// How much is rendered after the last entry of a journal that was cut short, in seconds.
const TAIL_SECONDS: f64 = 10.0;

/// A past run again as a WAV file, sample for sample
///
/// Every run of the console leaves a journal of each cue and its frame; `precentor doctor` says where. The first frame of the file is the run's
/// frame zero.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor replay 2031-02-03_09-00-00_alder-street.jsonl -o run.wav
  precentor replay run.jsonl -o run.wav --force --format pcm16")]
pub struct ReplayArgs {
    /// The journal of a run
    #[arg(value_name = "JOURNAL")]
    journal: PathBuf,
    /// The WAV file to write
    #[arg(short, long, value_name = "OUT.wav", help_heading = "Output")]
    output: PathBuf,
    /// How samples are kept
    #[arg(long, value_enum, default_value_t, help_heading = "Output")]
    format: Format,
    /// Replace a file that is there already
    #[arg(long, help_heading = "Output")]
    force: bool,
}

/// A journal's entry that cannot be done again.
#[derive(Debug, Error)]
pub enum ReplayError {
    /// Its plan cannot be made.
    #[error("the plan of frame {frame} cannot be made again")]
    Plan {
        /// The entry's frame.
        frame: u64,
        /// Why not.
        source: MakeError,
    },
    /// It holds a word or number that means nothing.
    #[error("the entry of frame {frame} says {what}; was the journal edited?")]
    Entry {
        /// The entry's frame.
        frame: u64,
        /// What it says.
        what: String,
    },
}

/// Does a journal's deeds again, each at its frame.
pub struct Replay<'a> {
    bounce: Bounce,
    workshop: &'a Workshop,
    clips: Arc<ClipBank>,
    entries: std::iter::Peekable<std::slice::Iter<'a, Entry>>,
    end: FrameInstant,
    /// Frames that came out so far.
    out: u64,
}

impl<'a> Replay<'a> {
    /// Ready to play `entries` at the workshop's rate; `clips` are the voice's words.
    #[must_use]
    pub fn new(workshop: &'a Workshop, clips: Arc<ClipBank>, entries: &'a [Entry]) -> Self {
        let end = end(entries, workshop.rate());
        Self { bounce: Bounce::silent(workshop.rate()), workshop, clips, entries: entries.iter().peekable(), end, out: 0 }
    }

    /// Where the run ends.
    #[must_use]
    pub const fn end(&self) -> FrameInstant {
        self.end
    }

    /// Plays the next block and hands its frames to `sink`; false once the run is over.
    ///
    /// # Errors
    /// [`ReplayError`] if an entry cannot be done again.
    pub fn block(&mut self, mut sink: impl FnMut(&[[f32; 2]])) -> Result<bool, ReplayError> {
        let left = self.end.0.saturating_sub(self.out);
        if left == 0 {
            return Ok(false);
        }
        while let Some(entry) = self.entries.next_if(|entry| entry.frame <= self.bounce.now().0) {
            self.apply(entry)?;
        }
        let out = &mut self.out;
        self.bounce.block(&mut (), None, |frames| {
            let frames = frames.get(..frames.len().min(left as usize)).unwrap_or(frames);
            *out += frames.len() as u64;
            sink(frames);
        });
        Ok(true)
    }

    fn apply(&mut self, entry: &Entry) -> Result<(), ReplayError> {
        let fault = |what: String| ReplayError::Entry { frame: entry.frame, what };
        let plan = |source: MakeError| ReplayError::Plan { frame: entry.frame, source };
        let controls = &mut self.bounce.controls;
        match &entry.deed {
            Deed::Load { recipe, place } => {
                let made = self.workshop.from_recipe(recipe).map_err(plan)?;
                let place = match place {
                    Some((bar, bpm)) => Some((*bar, Tempo::new(*bpm).map_err(|error| fault(error.to_string()))?)),
                    None => None,
                };
                controls.load(made.score, place, recipe.clone());
            }
            Deed::Amend { recipe } => {
                let made = self.workshop.from_recipe(recipe).map_err(plan)?;
                controls.amend(made.score, recipe.clone());
            }
            Deed::Queue { recipe, within } => {
                let made = recipe.as_ref().map(|recipe| self.workshop.from_recipe(recipe)).transpose().map_err(plan)?;
                let next = made.zip(recipe.as_ref()).map(|(made, recipe)| (made.score, recipe.clone()));
                controls.queue(next, within.map(FrameSpan));
            }
            Deed::Cue { cue } => controls.cue(Cue::named(cue).ok_or_else(|| fault(format!("\"{cue}\", which is no cue")))?),
            Deed::Drone { drone: Some(note) } => {
                controls.chord(Some(note.chord().ok_or_else(|| fault("a drone that cannot sound".to_owned()))?));
            }
            Deed::Drone { drone: None } => controls.chord(None),
            Deed::Voice => controls.clips(Arc::clone(&self.clips)),
            Deed::Probe { kind } => {
                let known = ears::probe_named(kind, self.workshop.rate());
                controls.probe(known.ok_or_else(|| fault(format!("\"{kind}\", which is no sound to measure with")))?);
            }
            Deed::Say { words } => {
                let remark = sequencer::words::remark(words.iter().map(String::as_str));
                controls.say(remark.ok_or_else(|| fault(format!("\"{}\", which is no remark", words.join(" "))))?);
            }
            Deed::Level { dial, gain } => {
                let known = journal::dial_named(dial).ok_or_else(|| fault(format!("\"{dial}\", which is no dial")))?;
                controls.set_level(known, Gain::new(*gain));
            }
            Deed::Halt { why } => controls.halt(why),
            Deed::Fault { .. } | Deed::End => {}
        }
        Ok(())
    }
}

/// The frame a run ends at: where it says so, else a while after its last entry.
fn end(entries: &[Entry], rate: SampleRate) -> FrameInstant {
    let last = entries.iter().map(|entry| entry.frame).max().unwrap_or(0);
    match entries.iter().find(|entry| entry.deed == Deed::End) {
        Some(end) => FrameInstant(end.frame),
        None => FrameInstant(last) + rate.span(TAIL_SECONDS),
    }
}

pub(super) fn run(args: &ReplayArgs) -> anyhow::Result<()> {
    let name = args.journal.display().to_string();
    let text = journal_text(args)?;
    let (head, entries) = journal::read(&text).map_err(|error| super::exit::Usage(format!("{name}: {error}")))?;
    let rate = SampleRate::new(head.rate)?;
    note_other_program(&head);
    if output::same(&args.journal, &args.output) {
        return Err(Usage::error("the journal would be written over itself", "name another file to write"));
    }
    let most = args.format.most_frames(2);
    let frames = end(&entries, rate).0;
    if frames > most {
        let hours = rate.seconds(units::FrameSpan(frames)) / 3600.0;
        return Err(Usage::error(
            format!("the run lasts {hours:.1} hours, longer than a WAV file holds"),
            "try --format pcm16, or cut the journal",
        ));
    }
    let workshop = Workshop::new(rate).with_own_voices(folders::own_voices());
    // every voice of the run is known before the first word is said
    for recipe in entries.iter().filter_map(|entry| entry.deed.recipe()) {
        // a recipe that cannot be made is told of when its turn comes
        let _ = workshop.from_recipe(recipe);
    }
    let mut replay = Replay::new(&workshop, workshop.clips()?, &entries);
    let mut wav = WavDraft::begin(&args.output, args.force, 2, rate, args.format)?;
    let interrupted = interruptions()?;
    let begun = Instant::now();
    let mut written = Ok(());
    while replay.block(|frames| written = wav.write(frames.as_flattened())).map_err(|error| blame(error, &name))? {
        std::mem::replace(&mut written, Ok(()))?;
        if interrupted.load(Ordering::Relaxed) {
            bail!("interrupted; nothing was written");
        }
    }
    let sound = Duration::from_secs_f64(rate.seconds(units::FrameSpan(wav.frames())));
    wav.finish()?.keep()?;
    let speed = sound.as_secs_f64() / begun.elapsed().as_secs_f64().max(1e-3);
    print::text(&format!(
        "wrote {}: {} entries of {name}, {} at {} Hz, {}; {speed:.0} times faster than real time\n",
        args.output.display(),
        entries.len(),
        clock(sound),
        rate.hz(),
        args.format.words()
    ))
}

/// The journal's text. It may be much longer than the files people write.
fn journal_text(args: &ReplayArgs) -> anyhow::Result<String> {
    let path = &args.journal;
    if path.is_dir() {
        let fault = Fault::of_file(&path.display().to_string(), "this is a folder", "name a journal in it");
        return Err(book::Faults::from(fault).into());
    }
    let bytes = match std::fs::read(path) {
        Ok(bytes) => bytes,
        // what is wrong with a path is the same for every sort of file
        Err(_) => book::read_file(path)?.into_bytes(),
    };
    let mend = || super::exit::Usage(format!("{} is not UTF-8 text; name a journal", path.display()));
    // a power failure may have left half a character at the end
    match String::from_utf8(bytes) {
        Ok(text) => Ok(text),
        Err(error) if error.utf8_error().error_len().is_none() => {
            let whole = error.utf8_error().valid_up_to();
            String::from_utf8(error.into_bytes().get(..whole).unwrap_or_default().to_vec()).with_context(mend)
        }
        Err(_) => Err(mend().into()),
    }
}

fn note_other_program(head: &Head) {
    let ours = concat!("precentor ", env!("CARGO_PKG_VERSION"));
    if head.program != ours {
        print::note(&format!("note: the run was made by {}, this is {ours}; the sound may differ", head.program));
    }
}

/// Says which journal is to blame.
fn blame(error: ReplayError, name: &str) -> anyhow::Error {
    match error {
        ReplayError::Entry { .. } => super::exit::Usage(format!("{name}: {error}")).into(),
        ReplayError::Plan { .. } => anyhow::Error::new(error).context(format!("{name} cannot be played again")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(frame: u64, deed: Deed) -> Entry {
        Entry { frame, deed }
    }

    #[test]
    fn a_run_ends_where_it_says_or_a_while_after_its_last_entry() {
        let rate = SampleRate::DEFAULT;
        assert_eq!(end(&[entry(64, Deed::Voice), entry(6400, Deed::End)], rate), FrameInstant(6400));
        assert_eq!(end(&[entry(64, Deed::Voice)], rate), FrameInstant(64 + 480_000));
        assert_eq!(end(&[], rate), FrameInstant(480_000));
    }

    #[test]
    fn what_comes_out_is_as_long_as_the_run() {
        let workshop = Workshop::new(SampleRate::DEFAULT);
        let entries = [entry(0, Deed::Cue { cue: "go".to_owned() }), entry(1000, Deed::End)];
        let mut replay = Replay::new(&workshop, Arc::new(ClipBank::default()), &entries);
        let mut frames = 0;
        while replay.block(|block| frames += block.len()).unwrap() {}
        assert_eq!(frames, 1000);
    }

    #[test]
    fn a_sweep_sounds_again_on_its_frame_sample_for_sample() {
        let rate = SampleRate::DEFAULT;
        let mut bounce = Bounce::silent(rate);
        let mut out = Vec::new();
        for block in 0..5400 {
            match block {
                10 => bounce.controls.probe(ears::sweep(rate)),
                500 => bounce.controls.hush(),
                1500 => bounce.controls.probe(ears::sweep(rate)),
                _ => {}
            }
            bounce.block(&mut (), None, |frames| out.extend_from_slice(frames));
        }
        let mut text = journal::head_line(rate, "test");
        text.extend(bounce.controls.take_entries().iter().map(journal::entry_line));
        let (_, mut entries) = journal::read(&text).unwrap();
        entries.push(entry(out.len() as u64, Deed::End));
        let workshop = Workshop::new(rate);
        let mut replay = Replay::new(&workshop, Arc::new(ClipBank::default()), &entries);
        let mut again = Vec::new();
        while replay.block(|frames| again.extend_from_slice(frames)).unwrap() {}
        assert!(out.iter().any(|frame| frame[0] > 0.03));
        assert_eq!(out, again);
    }

    #[test]
    fn an_entry_that_means_nothing_is_named_by_its_frame() {
        let workshop = Workshop::new(SampleRate::DEFAULT);
        let entries = [entry(64, Deed::Cue { cue: "jump".to_owned() })];
        let mut replay = Replay::new(&workshop, Arc::new(ClipBank::default()), &entries);
        let error = std::iter::from_fn(|| Some(replay.block(|_| {}))).find_map(Result::err).unwrap();
        assert_eq!(error.to_string(), "the entry of frame 64 says \"jump\", which is no cue; was the journal edited?");
    }
}
