//! `precentor hear`: what was played in a recording.

use anyhow::Context;
use clap::Args;
use engine::recording::Recording;
use listen::{Heard, Note, Player};
use pitch::{Instrument, Reference, ReferenceError, Tuning};
use records::Verdict;
use schemars::JsonSchema;
use sequencer::Room;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};
use units::{FrameInstant, FrameSpan, SampleRate};

use super::exit::Usage;
use super::print::{self, Table};
use super::sources;
use super::written::instrument;
use crate::hearing::{self, Asked, Judged};
use crate::workshop::{FileText, find_section};

/// Frames read at a time.
const BLOCK: usize = 4_096;

/// What was played in a recording: one player's notes, or a drill's echoes
///
/// With an instrument: every note as the player reads it, how far off it lies, on which partial, and when it came in. With a drill or a roll:
/// what came of every note that is asked of one section alone, heard as one player.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor hear horn.wav --instrument \"horn in F\"
  precentor hear monday.flac --instrument trumpet_bb --reference 442 --json
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

fn reference(text: &str) -> Result<Reference, ReferenceError> {
    Reference::new(text.parse().unwrap_or(f64::NAN))
}

/// What `hear --json` prints.
#[derive(Clone, Debug, Default, PartialEq, Serialize, JsonSchema)]
pub struct HearOutput {
    /// Frames per second of the recording.
    pub rate: u32,
    /// How long it is, in seconds.
    pub length_s: f64,
    /// Whether the file ended before what it says of itself.
    pub cut_off: bool,
    /// The instrument's id.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// Every note that stood long enough to be told from talk and noise, in order.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub notes: Option<Vec<NoteOutput>>,
    /// With a drill: what came of every note asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdicts: Option<Vec<VerdictOutput>>,
}

/// What came of one note asked for.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct VerdictOutput {
    /// What the bar was for: `echo`.
    pub turn: &'static str,
    /// The round, from 1.
    pub round: u16,
    /// Whose echo.
    pub section: String,
    /// The seat, in a roll.
    pub seat: Option<u16>,
    /// The note asked for, as it is read.
    pub target: String,
    /// The note that came.
    pub heard: Option<String>,
    /// How many partials away it is, on brass.
    pub partials_off: Option<i8>,
    /// How far it lies above (negative: below) the middle of what came, in cents.
    pub cents: Option<f64>,
    /// From the beat to its entry, in milliseconds.
    pub entry_ms: Option<f64>,
    /// In a word: `on it`, `low partial`, `flat`, `late`, `nothing` and so on.
    pub verdict: String,
    /// The share of the sound that was the note, 0 to 1.
    pub confidence: f64,
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
    let mut output = HearOutput { rate: rate.hz(), ..HearOutput::default() };
    let frames = match (args.instrument, &args.drill) {
        (Some(instrument), _) => {
            output.instrument = Some(instrument.id().to_owned());
            let (notes, frames) = notes(&mut recording, instrument, args.reference)?;
            output.notes = Some(notes);
            frames
        }
        (None, Some(drill)) => {
            let (verdicts, frames) = verdicts(&mut recording, args, drill)?;
            output.verdicts = Some(verdicts);
            frames
        }
        (None, None) => return Err(Usage::error("there is nothing to listen for", "name an instrument or a drill")),
    };
    output.length_s = frames as f64 / f64::from(rate.hz());
    output.cut_off = recording.cut_off();
    if output.cut_off {
        print::note(&format!("note: {} ends before it says it does; what is there was heard", args.file.display()));
    }
    if args.json { print::json(&output) } else { print::text(&told(&output)) }
}

/// Reads all of `recording` block by block, and a second of silence after it, so that a note at its very end is over too; gives its frames.
fn listen_through(recording: &mut Recording, mut hear: impl FnMut(&[f32])) -> usize {
    let mut block = vec![0.0; BLOCK];
    let mut frames = 0;
    loop {
        let came = recording.read(&mut block);
        hear(block.get(..came).unwrap_or_default());
        frames += came;
        if came < block.len() {
            break;
        }
    }
    block.fill(0.0);
    (0..recording.rate().hz() as usize).step_by(BLOCK).for_each(|_| hear(&block));
    frames
}

fn notes(recording: &mut Recording, instrument: &'static Instrument, reference: Reference) -> anyhow::Result<(Vec<NoteOutput>, usize)> {
    let rate = recording.rate();
    let mut player = Player::new(instrument, rate, Tuning { reference, ..Tuning::default() })?;
    let mut notes = Vec::new();
    let frames = listen_through(recording, |block| {
        player.hear(block, |heard| {
            if let Heard::Over(note) = heard {
                notes.push(NoteOutput::of(&note, instrument, rate));
            }
        });
    });
    Ok((notes, frames))
}

fn verdicts(recording: &mut Recording, args: &HearArgs, drill: &Path) -> anyhow::Result<(Vec<VerdictOutput>, usize)> {
    let rate = recording.rate();
    let room = sources::room_for(drill, args.room.as_deref())?.text.read()?;
    let FileText::Drill(text) = sources::file(drill)? else {
        return Err(Usage::error(format!("{} is no drill", drill.display()), "name a drill file"));
    };
    let plan = match &args.roll {
        Some(section) => text.read()?.roll(&room, find_section(&room, section)?)?,
        None => text.read()?.compile(&room)?,
    };
    let mut asked = hearing::asked(&plan, rate);
    place(&mut asked, args, rate)?;
    if asked.is_empty() {
        let mend = "take the drill with --roll SECTION, or one whose groups are single sections";
        return Err(Usage::error("no echo of this drill is of one section alone", mend));
    }
    let tuning = Tuning { reference: room.reference, ..Tuning::default() };
    let mut output = Vec::new();
    let mut coming = asked.iter().peekable();
    let mut now = FrameInstant::ZERO;
    let mut player: Option<Player> = None;
    let frames = listen_through(recording, |block| {
        let mut rest = block;
        while let Some(next) = coming.peek().copied().filter(|_| !rest.is_empty()) {
            let (from, to) = next.window(rate, follower(&asked, next));
            // a moment before it, to know the room by
            let from = from.back(rate.span(1.0));
            let until = if now < from { from } else { to };
            let (here, later) = rest.split_at((until.offset_from(now).0.max(0) as usize).min(rest.len()));
            if now >= from
                && let Some(player) = listening(&mut player, next, &room, tuning, rate, now)
            {
                player.hear(here, |_| ());
            }
            now += FrameSpan(here.len() as u64);
            rest = later;
            if now >= to {
                let judged = player.as_mut().map(|player| next.judged(player, rate));
                output.extend(judged.map(|judged| of(next, &judged, &room)));
                coming.next();
                let goes_on = coming.peek().filter(|after| after.turn == next.turn && after.section == next.section);
                match (goes_on, &mut player) {
                    (Some(after), Some(player)) => player.expect(Some(after.written)),
                    _ => player = None,
                }
            }
        }
    });
    Ok((output, frames))
}

/// The note that is asked for right after `asked` in the same echo.
fn follower<'a>(all: &'a [Asked], asked: &Asked) -> Option<&'a Asked> {
    all.iter().find(|other| other.turn == asked.turn && other.section == asked.section && other.at > asked.at)
}

/// Who is listened to for `asked`, from `now` on if nobody was.
fn listening<'p>(
    player: &'p mut Option<Player>,
    asked: &Asked,
    room: &Room,
    tuning: Tuning,
    rate: SampleRate,
    now: FrameInstant,
) -> Option<&'p mut Player> {
    if player.is_none() {
        let mut fresh = Player::new(room.section(asked.section)?.instrument, rate, tuning).ok()?;
        fresh.resume(now);
        fresh.expect(Some(asked.written));
        *player = Some(fresh);
    }
    player.as_mut()
}

/// Moves every echo to where it is in the recording.
fn place(asked: &mut [Asked], args: &HearArgs, rate: SampleRate) -> anyhow::Result<()> {
    let echoes = args.cues.as_deref().map(|path| echoes(path, rate)).transpose()?;
    let late = (args.starts * f64::from(rate.hz())).round() as i64;
    let moved = |at: FrameInstant, by: i64| FrameInstant(at.0.saturating_add_signed(by));
    let mut first = None;
    for note in asked {
        let by = match &echoes {
            None => late,
            Some(echoes) => {
                let (turn, own) = *first.get_or_insert((note.turn, note.at));
                let own = if turn == note.turn { own } else { note.at };
                first = Some((note.turn, own));
                let told = echoes.get(note.turn).copied().ok_or_else(|| {
                    Usage::error("the list of sounds has fewer echoes than the drill", "name the list of this very rendering")
                })?;
                told.offset_from(own).0 + late
            }
        };
        (note.at, note.end) = (moved(note.at, by), moved(note.end, by));
    }
    Ok(())
}

/// Where the echo turns of a list of sounds begin, at `rate`.
fn echoes(path: &Path, rate: SampleRate) -> anyhow::Result<Vec<FrameInstant>> {
    #[derive(Deserialize)]
    struct List {
        rate: u32,
        cues: Vec<Line>,
    }
    #[derive(Deserialize)]
    struct Line {
        at: u64,
        kind: String,
        turn: String,
    }
    let text = std::fs::read_to_string(path).with_context(|| format!("{} cannot be read", path.display()))?;
    let fault = |fault| Usage::error(format!("{} is no list of sounds ({fault})", path.display()), "name a file that render --cues wrote");
    let list: List = serde_json::from_str(&text).map_err(|error| fault(error.to_string()))?;
    let theirs = SampleRate::new(list.rate).map_err(|error| fault(error.to_string()))?;
    let ours = |at: u64| FrameInstant((u128::from(at) * u128::from(rate.hz()) / u128::from(theirs.hz())) as u64);
    Ok(list.cues.iter().filter(|line| line.kind == "turn" && line.turn == "echo").map(|line| ours(line.at)).collect())
}

fn of(asked: &Asked, judged: &Judged, room: &Room) -> VerdictOutput {
    VerdictOutput {
        turn: "echo",
        round: asked.round + 1,
        section: room.section(asked.section).map(|section| section.name.clone()).unwrap_or_default(),
        seat: asked.seat,
        target: asked.written.to_string(),
        heard: judged.heard.map(|heard| heard.to_string()),
        partials_off: match judged.verdict {
            Verdict::Partials(steps) => Some(steps.get()),
            _ => None,
        },
        cents: judged.cents.map(|cents| rounded(cents.0, 1e2)),
        entry_ms: judged.entry_ms.map(|entry| rounded(entry, 1e1)),
        verdict: judged.verdict.word().to_owned(),
        confidence: rounded(judged.confidence, 1e3),
    }
}

fn told(output: &HearOutput) -> String {
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
