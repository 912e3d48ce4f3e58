//! The list of every sound of a rendering, as `--cues` writes it. Fields may be added, never renamed.

use sequencer::Room;
use sequencer::cursor::LaidBar;
use serde::Serialize;
use synth::ClickKind;
use units::{Beats, SampleRate};

use crate::{LaidSound, Observer, Score};

/// Every sound of a rendering.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Listing {
    /// Frames per second.
    pub rate: u32,
    /// How long the rendering is.
    pub frames: u64,
    /// Beats per minute at the start.
    pub tempo: f64,
    /// Such as `4/4`.
    pub meter: String,
    /// In order of their frames.
    pub cues: Vec<Line>,
}

/// One line: a turn, a word, a tone, a breath or a click.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Line {
    /// The frame of the beat it belongs to.
    pub at: u64,
    /// The frame it is over at.
    pub end: u64,
    /// Bars since the start, from 1.
    pub bar: u32,
    /// The beat in that bar, from 1.
    pub beat: String,
    /// What the bar is for.
    pub turn: &'static str,
    /// `turn`, `word`, `tone`, `breath` or `click`.
    pub kind: &'static str,
    /// The round, from 1.
    pub round: u16,
    /// The group, seat, landmark or section it belongs to.
    pub group: String,
    /// The word's id.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub word: Option<&'static str>,
    /// The first frame of the word's clip.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start: Option<u64>,
    /// Whose tone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub section: Option<String>,
    /// What is read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub written: Option<String>,
    /// What sounds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub concert: Option<String>,
    /// At which frequency.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hz: Option<f64>,
    /// Whose turn.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sections: Option<Vec<String>>,
    /// The seat, in a roll.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seat: Option<u16>,
    /// Whether a click is the bar's first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub downbeat: Option<bool>,
}

/// Watches a rendering and writes the list.
pub struct Lister<'a> {
    room: &'a Room,
    lines: Vec<Line>,
    bars: u32,
    last_turn: Option<usize>,
    here: Option<Line>,
}

impl<'a> Lister<'a> {
    /// A lister for a rendering in `room`.
    #[must_use]
    pub fn new(room: &'a Room) -> Self {
        Self { room, lines: Vec::new(), bars: 0, last_turn: None, here: None }
    }

    /// The list of a rendering of `score` that came to `frames` frames.
    #[must_use]
    pub fn finish(mut self, score: &Score, rate: SampleRate, frames: u64) -> Listing {
        self.lines.sort_by_key(|line| line.at);
        let plan = &score.plan;
        Listing { rate: rate.hz(), frames, tempo: plan.tempo.bpm(), meter: plan.meter.to_string(), cues: self.lines }
    }

    fn section_name(&self, section: sequencer::SectionIndex) -> Option<String> {
        self.room.section(section).map(|section| section.name.clone())
    }
}

impl Observer for Lister<'_> {
    fn bar(&mut self, score: &Score, bar: &LaidBar) {
        self.bars += 1;
        let Some(planned) = score.plan.bar(bar.index) else { return };
        let station = score.plan.station_of(planned);
        let line = Line {
            at: bar.start.0,
            end: bar.end.0,
            bar: self.bars,
            beat: "1".to_owned(),
            turn: planned.turn.word(),
            kind: "turn",
            round: planned.round + 1,
            group: station.map(|station| station.label.clone()).unwrap_or_default(),
            word: None,
            start: None,
            section: None,
            written: None,
            concert: None,
            hz: None,
            sections: None,
            seat: station.and_then(|station| station.seat),
            downbeat: None,
        };
        self.here = Some(line.clone());
        let goes_on = !planned.opens_turn && !bar.jumped;
        match self.last_turn.and_then(|index| self.lines.get_mut(index)) {
            Some(turn) if goes_on => turn.end = bar.end.0,
            _ => {
                let sections = planned.sections.iter().filter_map(|section| self.section_name(section)).collect();
                self.last_turn = Some(self.lines.len());
                self.lines.push(Line { sections: Some(sections), ..line });
            }
        }
    }

    fn sound(&mut self, _bar: &LaidBar, sound: &LaidSound) {
        let Some(here) = self.here.clone() else { return };
        let has_pitch = |section| self.room.section(section).is_none_or(|section| section.instrument.is_pitched());
        let from_one = |beat: Beats| (beat + Beats::whole(1)).to_string();
        let line = match *sound {
            LaidSound::Word { at, end, beat, word, start, .. } => {
                Line { at: at.0, end: end.0, beat: from_one(beat), kind: "word", word: Some(word), start: Some(start.0), ..here }
            }
            LaidSound::Tone { at, end, beat, section, pitch } => {
                let pitched = has_pitch(section);
                Line {
                    at: at.0,
                    end: end.0,
                    beat: from_one(beat),
                    kind: "tone",
                    section: self.section_name(section),
                    written: pitched.then(|| pitch.written.to_string()),
                    concert: pitched.then(|| pitch.concert.to_string()),
                    hz: pitched.then(|| pitch.frequency.hz()),
                    ..here
                }
            }
            LaidSound::Click { at, beat, kind } => {
                let downbeat = Some(kind == ClickKind::Downbeat);
                Line { at: at.0, end: at.0, beat: from_one(beat), kind: "click", downbeat, ..here }
            }
            LaidSound::Breath { at, end, beat } => Line { at: at.0, end: end.0, beat: from_one(beat), kind: "breath", ..here },
        };
        self.lines.push(line);
    }
}
