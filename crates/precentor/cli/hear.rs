//! `precentor hear`: what was played in a recording.

use clap::Args;
use engine::recording::Recording;
use listen::{Heard, Note, Player};
use pitch::{Instrument, Reference, ReferenceError, Tuning};
use schemars::JsonSchema;
use serde::Serialize;
use std::path::PathBuf;
use units::{FrameInstant, SampleRate};

use super::print::{self, Table};
use super::written::instrument;

/// Frames read at a time.
const BLOCK: usize = 4_096;

/// What one player played in a recording, note by note
///
/// Every note as the player reads it, how far off it lies, on which partial, and when it came in.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor hear horn.wav --instrument \"horn in F\"
  precentor hear monday.flac --instrument trumpet_bb --reference 442 --json

The recording is WAV or FLAC, of any length; several channels are mixed to one. It is read and not kept.")]
pub struct HearArgs {
    /// The recording
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// The instrument by name or id; `precentor instruments` lists them
    #[arg(long, value_name = "NAME", value_parser = instrument)]
    instrument: &'static Instrument,
    /// The frequency of A4 in hertz, 415 to 466
    #[arg(long, value_name = "HZ", default_value = "440", value_parser = reference)]
    reference: Reference,
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

fn reference(text: &str) -> Result<Reference, ReferenceError> {
    Reference::new(text.parse().unwrap_or(f64::NAN))
}

/// What `hear --json` prints.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct HearOutput {
    /// Frames per second of the recording.
    pub rate: u32,
    /// How long it is, in seconds.
    pub length_s: f64,
    /// Whether the file ended before what it says of itself.
    pub cut_off: bool,
    /// The instrument's id.
    pub instrument: String,
    /// Every note that stood long enough to be told from talk and noise, in order.
    pub notes: Vec<NoteOutput>,
}

/// One note.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct NoteOutput {
    /// When it began, in seconds.
    pub start_s: f64,
    /// When it was over.
    pub end_s: f64,
    /// What sounded, as a concert pitch.
    pub sounding: String,
    /// What the player calls it.
    pub written: String,
    /// Its frequency: the median over the note.
    pub hz: f64,
    /// How far it lies above (negative: below) that note, in cents.
    pub cents: f64,
    /// The partial it is with its usual fingering, on brass.
    pub partial: Option<u8>,
    /// The share of the sound that is the note, 0 to 1.
    pub confidence: f64,
}

impl NoteOutput {
    fn of(note: &Note, instrument: &Instrument, rate: SampleRate) -> Self {
        let seconds = |at: FrameInstant| rounded(at.0 as f64 / f64::from(rate.hz()), 1e4);
        Self {
            start_s: seconds(note.entry),
            end_s: seconds(note.entry + note.length),
            sounding: note.named.concert.to_string(),
            written: note.named.written.to_string(),
            hz: rounded(note.frequency.hz(), 1e6),
            cents: rounded(note.named.cents.0, 1e2),
            partial: instrument.fingering(note.named.written).map(|fingering| fingering.partial),
            confidence: rounded(note.confidence, 1e3),
        }
    }
}

fn rounded(value: f64, by: f64) -> f64 {
    (value * by).round() / by
}

pub(super) fn run(args: &HearArgs) -> anyhow::Result<()> {
    let mut recording = Recording::open(&args.file)?;
    let rate = recording.rate();
    let tuning = Tuning { reference: args.reference, ..Tuning::default() };
    let mut player = Player::new(args.instrument, rate, tuning)?;
    let mut notes = Vec::new();
    let mut block = vec![0.0; BLOCK];
    let mut frames = 0;
    let mut hear = |block: &[f32]| {
        player.hear(block, |heard| {
            if let Heard::Over(note) = heard {
                notes.push(NoteOutput::of(&note, args.instrument, rate));
            }
        });
    };
    loop {
        let came = recording.read(&mut block);
        hear(block.get(..came).unwrap_or_default());
        frames += came;
        if came < block.len() {
            break;
        }
    }
    // a note that sounds at the very end is over too
    block.fill(0.0);
    (0..rate.hz() as usize).step_by(BLOCK).for_each(|_| hear(&block));
    let length_s = frames as f64 / f64::from(rate.hz());
    let output = HearOutput { rate: rate.hz(), length_s, cut_off: recording.cut_off(), instrument: args.instrument.id().to_owned(), notes };
    if output.cut_off {
        print::note(&format!("note: {} ends before it says it does; what is there was heard", args.file.display()));
    }
    if args.json {
        return print::json(&output);
    }
    if output.notes.is_empty() {
        return print::text(&format!("no note of the {} in {length_s:.1} s\n", args.instrument.label()));
    }
    let mut table = Table::new(&["from", "to", "written", "sounds", "cents", "partial"]);
    for note in &output.notes {
        let partial = note.partial.map(|partial| partial.to_string()).unwrap_or_default();
        let (from, to, cents) = (format!("{:.2} s", note.start_s), format!("{:.2} s", note.end_s), format!("{:+.0}", note.cents));
        table.row([from, to, note.written.clone(), note.sounding.clone(), cents, partial]);
    }
    print::text(&table.lines())
}
