//! `precentor hear`: what was played in a recording.
//!
//! - `drill`: what came of every note a drill asks of a seat
//! - `echoes`: where whole sections sat in a drill's echoes
//! - `section`: a section playing together

mod drill;
mod echoes;
mod section;

use clap::Args;
use engine::recording::{Condition, Recording};
use listen::{Heard, Note, Player};
use pitch::{Instrument, Reference, Tuning, Written};
use schemars::JsonSchema;
use serde::Serialize;
use std::path::{Path, PathBuf};
use units::{FrameInstant, SampleRate};

use super::concert::reference;
use super::exit::Usage;
use super::print::{self, Table};
use super::written::instrument;
pub use drill::VerdictOutput;
pub use echoes::SectionEchoOutput;
pub use section::SectionOutput;

/// Where entries are not to be told.
const NOT_CAME: &str = "how they came in is not to be heard: that takes half a second before it, and a tone of more than a second";

/// Frames read at a time.
const BLOCK: usize = 4_096;

/// What was played in a recording: notes, shares of a section, echoes
///
/// With an instrument: every note as the player reads it, how far off it lies, on which partial, and when it came in. With a section besides:
/// what share of it sat on which of the candidates, and how close together it came in. With a roll: what came of every note that is asked of a
/// seat. With a drill: where every section sat that answers alone, note by note, and how it came in.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor hear horn.wav --instrument \"horn in F\"
  precentor hear monday.flac --instrument trumpet_bb --reference 442 --json
  precentor hear horns.wav --instrument horn_f --section 8 --candidates C4,G4,C5 --at 2.5
  precentor hear roll.wav --drill middle-note.toml --roll Horns --starts 2.5
  precentor hear class.wav --drill two-notes.toml --cues class.json --json

The recording is WAV or FLAC, of any length; several channels are mixed to one. It is read and not kept.")]
pub struct HearArgs {
    /// The recording
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// The instrument by name or id; `precentor instruments` lists them
    #[arg(long, value_name = "NAME", value_parser = instrument, required_unless_present = "drill", conflicts_with = "drill")]
    instrument: Option<&'static Instrument>,
    /// The frequency of A4 in hertz, 415 to 466; of a drill, its room's counts
    #[arg(long, value_name = "HZ", default_value = "440", value_parser = reference)]
    reference: Reference,
    /// A section of so many players that plays one note together; 0 if nobody counted them
    #[arg(long, value_name = "PLAYERS", help_heading = "A section", requires = "instrument", value_parser = clap::value_parser!(u8).range(0..=30))]
    section: Option<u8>,
    /// The written notes they may be on: two to five of one fingering; the neighbours of a single one are found. On woodwinds the first is
    /// the note asked for, and it, its octave and its twelfth are told
    #[arg(long, value_name = "NOTES", help_heading = "A section", requires = "section", value_delimiter = ',')]
    candidates: Vec<Written>,
    /// When their tone was to begin, in seconds from the start of the recording; without it nobody knows how late they were, but only how far
    /// apart
    #[arg(long, value_name = "SECONDS", help_heading = "A section", requires = "section", value_parser = seconds)]
    at: Option<f64>,
    /// The drill whose echoes are in the recording
    #[arg(long, value_name = "FILE", help_heading = "A drill")]
    drill: Option<PathBuf>,
    /// The room it is for; a room file beside it unless given, or else the demo room
    #[arg(long, value_name = "FILE", help_heading = "A drill", requires = "drill")]
    room: Option<PathBuf>,
    /// The drill seat by seat through one section
    #[arg(long, value_name = "SECTION", help_heading = "A drill", requires = "drill")]
    roll: Option<String>,
    /// How many seconds into the recording the drill was started
    #[arg(long, value_name = "SECONDS", help_heading = "A drill", requires = "drill", default_value = "0", allow_negative_numbers = true)]
    starts: f64,
    /// The list of its sounds that `render --cues` wrote: its echoes are where that says
    #[arg(long, value_name = "FILE", help_heading = "A drill", requires = "drill")]
    cues: Option<PathBuf>,
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// What `hear --json` prints.
#[derive(Clone, Debug, Default, PartialEq, Serialize, JsonSchema)]
pub struct HearOutput {
    /// Frames per second of the recording.
    pub rate: u32,
    /// How long it is, in seconds.
    pub length_s: f64,
    /// Whether the file is shorter than it says it is: cut off, or damaged in between.
    pub cut_off: bool,
    /// Whether every sample is zero.
    pub silent: bool,
    /// Whether the channels cancel each other when they are mixed.
    pub cancelled: bool,
    /// How many samples are no numbers; they were taken as silence.
    pub no_numbers: u64,
    /// The instrument's id.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// Every note that stood long enough to be told from talk and noise, in order.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub notes: Option<Vec<NoteOutput>>,
    /// With a section: who sat where.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub section: Option<SectionOutput>,
    /// With a roll: what came of every note asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdicts: Option<Vec<VerdictOutput>>,
    /// With a drill and no roll: where every section that answered alone sat, note by note.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sections: Option<Vec<SectionEchoOutput>>,
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

/// A moment of a recording.
fn seconds(text: &str) -> Result<f64, String> {
    let seconds: Option<f64> = text.parse().ok().filter(|seconds: &f64| (0.0..1e6).contains(seconds));
    seconds.ok_or_else(|| "write seconds from the start of the recording, such as 2.5".to_owned())
}

fn rounded(value: f64, by: f64) -> f64 {
    (value * by).round() / by
}

pub(super) fn run(args: &HearArgs) -> anyhow::Result<()> {
    let mut recording = Recording::open(&args.file)?;
    let rate = recording.rate();
    let mut output = HearOutput { rate: rate.hz(), ..HearOutput::default() };
    let heard = match (args.instrument, &args.drill) {
        (Some(instrument), _) => {
            output.instrument = Some(instrument.id().to_owned());
            if args.section.is_some() {
                section::shares(&mut recording, args, instrument).map(|section| output.section = Some(section))
            } else {
                notes(&mut recording, instrument, args.reference).map(|notes| output.notes = Some(notes))
            }
        }
        (None, Some(drill)) => drill::heard(&mut recording, args, drill, &mut output),
        (None, None) => Err(Usage::error("there is nothing to listen for", "name an instrument or a drill")),
    };
    let Condition { cut_off, no_numbers, silent, cancelled } = recording.condition();
    if recording.frames() > 0 {
        warn(&args.file, recording.condition());
    }
    heard?;
    output.length_s = recording.frames() as f64 / f64::from(rate.hz());
    (output.cut_off, output.silent, output.cancelled, output.no_numbers) = (cut_off, silent, cancelled, no_numbers);
    if args.json { print::json(&output) } else { print::text(&told(&output)) }
}

/// Says what is wrong with a recording that was heard all the same.
fn warn(file: &Path, condition: Condition) {
    let Condition { cut_off, no_numbers, silent, cancelled } = condition;
    let told = |what: &str| print::note(&format!("note: {} {what}", file.display()));
    if cut_off {
        told("is shorter than it says it is, cut off or damaged; what is there was heard");
    }
    if no_numbers > 0 {
        told(&format!("has {no_numbers} samples that are no numbers, taken as silence; save it once more, as 16-bit or 24-bit WAV"));
    }
    if silent {
        told("is all silence, every sample zero; see that the right microphone was chosen, allowed and not muted, and record it again");
    }
    if cancelled {
        told("has channels that cancel each other when they are mixed; save one of them alone");
    }
}

/// Reads all of `recording` block by block.
fn read_through(recording: &mut Recording, mut take: impl FnMut(&[f32])) {
    let mut block = vec![0.0; BLOCK];
    loop {
        let came = recording.read(&mut block);
        take(block.get(..came).unwrap_or_default());
        if came < block.len() {
            return;
        }
    }
}

/// Listens to all of `recording`, and to a second of silence after it, so that a note at its very end is over too.
fn listen_through(recording: &mut Recording, mut hear: impl FnMut(&[f32])) {
    read_through(recording, &mut hear);
    (0..recording.rate().hz() as usize).step_by(BLOCK).for_each(|_| hear(&[0.0; BLOCK]));
}

fn notes(recording: &mut Recording, instrument: &'static Instrument, reference: Reference) -> anyhow::Result<Vec<NoteOutput>> {
    let rate = recording.rate();
    let mut player = Player::new(instrument, rate, Tuning { reference, ..Tuning::default() })?;
    let mut notes = Vec::new();
    listen_through(recording, |block| {
        player.hear(block, |heard| {
            if let Heard::Over(note) = heard {
                notes.push(NoteOutput::of(&note, instrument, rate));
            }
        });
    });
    Ok(notes)
}

fn told(output: &HearOutput) -> String {
    if let Some(section) = &output.section {
        let mut table = Table::new(&["written", "partial", "share", "at least", "at most"]);
        for line in &section.shares {
            let percent = |share: f64| format!("{:.0} %", share * 100.0);
            table.row([line.written.clone(), line.partial.to_string(), percent(line.share), percent(line.least), percent(line.most)]);
        }
        let came = section.came().unwrap_or_else(|| NOT_CAME.to_owned());
        return format!("{}{came}\n", table.lines());
    }
    if let Some(echoes) = &output.sections {
        return echoes::table(echoes);
    }
    if let Some(verdicts) = &output.verdicts {
        let mut table = Table::new(&["section", "seat", "round", "asked", "heard", "cents", "entry", "verdict"]);
        for line in verdicts {
            let seat = line.seat.map(|seat| seat.to_string()).unwrap_or_default();
            let cents = line.cents.map(|cents| format!("{cents:+.0}")).unwrap_or_default();
            let entry = line.entry_ms.map(|entry| format!("{entry:+.0} ms")).unwrap_or_default();
            let heard = line.heard.clone().unwrap_or_default();
            let round = line.round.to_string();
            table.row([line.section.clone(), seat, round, line.target.clone(), heard, cents, entry, line.verdict.clone()]);
        }
        return table.lines();
    }
    let notes = output.notes.as_deref().unwrap_or_default();
    if notes.is_empty() {
        return format!("no note in {:.1} s\n", output.length_s);
    }
    let mut table = Table::new(&["from", "to", "written", "sounds", "cents", "partial"]);
    for note in notes {
        let partial = note.partial.map(|partial| partial.to_string()).unwrap_or_default();
        let (from, to, cents) = (format!("{:.2} s", note.start_s), format!("{:.2} s", note.end_s), format!("{:+.0}", note.cents));
        table.row([from, to, note.written.clone(), note.sounding.clone(), cents, partial]);
    }
    table.lines()
}
