//! Where a whole section sat in every echo that a drill asks of it alone, and how it came in.

use engine::recording::Recording;
use pitch::Instrument;
use schemars::JsonSchema;
use sequencer::{Room, Section};
use serde::Serialize;
use std::ops::Range;
use units::{FrameInstant, FrameSpan, SampleRate};

use super::listen_through;
use super::section::{Onset, SectionOutput};
use crate::cli::print::Table;
use crate::hearing::{Asked, WholeSection};

/// What was heard of a section in one note of its echo.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SectionEchoOutput {
    /// What the bar was for: `echo`.
    pub turn: &'static str,
    /// The round, from 1.
    pub round: u16,
    /// Which section.
    pub section: String,
    /// The note asked for, as it is read.
    pub target: String,
    /// The share on the note asked for, 0 to 1.
    pub on_target: Option<f64>,
    /// Who sat where, and how they came in; nothing if that is not to be told.
    pub heard: Option<SectionOutput>,
    /// Why it is not to be told.
    pub untold: Option<String>,
}

/// Nobody was to be heard.
const UNHEARD: &str = "no section was to be heard";

/// Listens to every note in `asked`, in the order of their beats.
pub(super) fn heard(recording: &mut Recording, asked: &[Asked], room: &Room) -> Vec<SectionEchoOutput> {
    let rate = recording.rate();
    let mut ears: Vec<Ear<'_>> = asked.iter().filter_map(|asked| Ear::new(asked, room, rate)).collect();
    let mut now = FrameInstant::ZERO;
    let mut first = 0;
    listen_through(recording, |block| {
        let then = now + FrameSpan(block.len() as u64);
        for ear in ears.iter_mut().skip(first).take_while(|ear| ear.from < then) {
            ear.hear(block, now);
        }
        first += ears.iter().skip(first).take_while(|ear| ear.told.is_some()).count();
        now = then;
    });
    ears.into_iter().map(Ear::output).collect()
}

/// Listens for one note.
struct Ear<'a> {
    asked: &'a Asked,
    who: &'a Section,
    tuning: pitch::Tuning,
    rate: SampleRate,
    from: FrameInstant,
    upto: FrameInstant,
    whole: Option<WholeSection>,
    /// What came of it, once it is over.
    told: Option<Result<SectionOutput, String>>,
}

impl<'a> Ear<'a> {
    fn new(asked: &'a Asked, room: &'a Room, rate: SampleRate) -> Option<Self> {
        let who = room.section(asked.section)?;
        let (from, upto) = WholeSection::window(asked, rate);
        Some(Self { asked, who, tuning: room.equal_tuning(), rate, from, upto, whole: None, told: None })
    }

    /// Hears what of `block`, which begins at `now`, is its own.
    fn hear(&mut self, block: &[f32], now: FrameInstant) {
        if self.told.is_some() {
            return;
        }
        let here = |at: FrameInstant| (at.since(now).0 as usize).min(block.len());
        let Range { start, end } = here(self.from)..here(self.upto);
        let heads = self.who.heads();
        let (who, asked, tuning, rate) = (self.who, self.asked, &self.tuning, self.rate);
        let start_at = now + FrameSpan(start as u64);
        if self.whole.is_none() {
            self.whole = WholeSection::new(who.instrument, tuning, heads, asked, rate, start_at);
        }
        let Some(whole) = &mut self.whole else {
            self.told = Some(Err(no_series(who.instrument, asked)));
            return;
        };
        whole.hear(block.get(start..end).unwrap_or_default());
        if now + FrameSpan(block.len() as u64) >= self.upto {
            let entries = whole.entries();
            let onset = entries.map(|entries| Onset { entries, beat_known: true });
            let output = whole.shares().and_then(|(shares, names)| SectionOutput::of(Some(heads), &shares, names, onset));
            self.told = Some(output.ok_or_else(|| UNHEARD.to_owned()));
            self.whole = None;
        }
    }

    fn output(self) -> SectionEchoOutput {
        let (heard, untold) = match self.told {
            Some(Ok(heard)) => (Some(heard), None),
            Some(Err(why)) => (None, Some(why)),
            None => (None, Some(UNHEARD.to_owned())),
        };
        let target = self.asked.written.to_string();
        let on_target = heard.as_ref().and_then(|heard| heard.share_on(self.asked.written));
        SectionEchoOutput { turn: "echo", round: self.asked.round + 1, section: self.who.name.clone(), target, on_target, heard, untold }
    }
}

/// Why nothing is told of a note that is on no series.
fn no_series(instrument: &Instrument, asked: &Asked) -> String {
    format!("{} has no neighbours on \"{}\" that are told apart", asked.written, instrument.label())
}

/// In a table.
pub(super) fn table(echoes: &[SectionEchoOutput]) -> String {
    let mut table = Table::new(&["section", "round", "asked", "on it", "of", "largest beside", "cents", "came in"]);
    for echo in echoes {
        let start = [echo.section.clone(), echo.round.to_string(), echo.target.clone()];
        let rest = match &echo.heard {
            None => [String::new(), String::new(), String::new(), String::new(), echo.untold.clone().unwrap_or_default()],
            Some(heard) => [
                echo.on_target.map(|share| format!("{:.0} %", 100.0 * share)).unwrap_or_default(),
                heard.players.map(|players| players.to_string()).unwrap_or_default(),
                heard.astray(&echo.target).map(|other| format!("{:.0} % on {}", 100.0 * other.share, other.written)).unwrap_or_default(),
                format!("{:+.0}", heard.cents),
                heard.came().unwrap_or_default(),
            ],
        };
        table.row(start.into_iter().chain(rest));
    }
    table.lines()
}
