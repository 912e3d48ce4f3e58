//! What came of every note that a drill asks of a seat, or of one section alone.

use anyhow::Context;
use engine::recording::Recording;
use listen::Player;
use pitch::Tuning;
use records::Verdict;
use schemars::JsonSchema;
use sequencer::Room;
use serde::{Deserialize, Serialize};
use std::path::Path;
use units::{FrameInstant, FrameSpan, SampleRate};

use super::{HearArgs, HearOutput, echoes, listen_through, rounded};
use crate::cli::exit::Usage;
use crate::cli::sources;
use crate::hearing::{self, Asked, Judged};
use crate::workshop::{FileText, find_section};

/// What came of one note asked for.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct VerdictOutput {
    /// What the bar was for: `echo`.
    pub turn: &'static str,
    /// The round, from 1.
    pub round: u16,
    /// Whose echo.
    pub section: String,
    /// The seat; there is one, as verdicts are of a roll.
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

/// What was heard of a drill: of the seats of a roll, or of the sections that answer alone.
pub(super) fn heard(recording: &mut Recording, args: &HearArgs, drill: &Path, output: &mut HearOutput) -> anyhow::Result<()> {
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
    if args.roll.is_some() {
        output.verdicts = Some(verdicts(recording, &asked, &room));
    } else {
        output.sections = Some(echoes::heard(recording, &asked, &room));
    }
    Ok(())
}

/// What came of every note asked of a seat.
fn verdicts(recording: &mut Recording, asked: &[Asked], room: &Room) -> Vec<VerdictOutput> {
    let rate = recording.rate();
    let tuning = room.equal_tuning();
    let mut output = Vec::new();
    let mut coming = asked.iter().peekable();
    let mut now = FrameInstant::ZERO;
    let mut player: Option<Player> = None;
    listen_through(recording, |block| {
        let mut rest = block;
        while let Some(next) = coming.peek().copied().filter(|_| !rest.is_empty()) {
            let (from, to) = next.window(rate, follower(asked, next));
            // a moment before it, to know the room by
            let from = from.back(rate.span(1.0));
            let until = if now < from { from } else { to };
            let (here, later) = rest.split_at((until.offset_from(now).0.max(0) as usize).min(rest.len()));
            if now >= from
                && let Some(player) = listening(&mut player, next, room, tuning, rate, now)
            {
                player.hear(here, |_| ());
            }
            now += FrameSpan(here.len() as u64);
            rest = later;
            if now >= to {
                let judged = player.as_mut().map(|player| next.judged(player, rate));
                output.extend(judged.map(|judged| of(next, &judged, room)));
                coming.next();
                let goes_on = coming.peek().filter(|after| after.turn == next.turn && after.section == next.section);
                match (goes_on, &mut player) {
                    (Some(after), Some(player)) => player.expect(Some(after.written)),
                    _ => player = None,
                }
            }
        }
    });
    output
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
    let ours = |at: u64| FrameInstant(at).at_rate(theirs, rate);
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
