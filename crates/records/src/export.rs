//! Rows as other programs read them: CSV for spreadsheets, JSON Lines for everything else.

use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::io::{self, Write};
use std::num::NonZeroI8;
use thiserror::Error;

use crate::{Confidence, NoteShare, Record, SectionRecord, Verdict};

/// A record as other programs read it. Fields are added, never renamed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Row {
    /// When the verdict was given, in UTC, to the millisecond: `2031-02-03T09:15:00.000Z`.
    pub when: String,
    /// The room's name.
    pub room: String,
    /// The section's name.
    pub section: String,
    /// The seat; nothing for the section as a whole.
    pub seat: Option<u16>,
    /// The title of the drill that was led.
    pub drill: String,
    /// The lesson's title.
    pub lesson: Option<String>,
    /// The written note asked for; nothing for instruments without a pitch.
    pub target: Option<String>,
    /// The written note that came.
    pub heard: Option<String>,
    /// What was heard: `on it`, `low`, `high`, `low partial`, `high partial`, `low octave`, `high octave`, `low twelfth`, `high twelfth`, `flat`,
    /// `sharp`, `late`, `early`, `off the series`, `another note`, `nothing`.
    pub verdict: String,
    /// How many partials away, negative for lower.
    pub partials_off: Option<i8>,
    /// How many octaves away, negative for lower.
    pub octaves_off: Option<i8>,
    /// Cents above (negative: below) the middle of the note that came.
    pub cents: Option<f64>,
    /// Milliseconds after the beat, negative before it.
    pub entry_ms: Option<f64>,
    /// `ear` or `microphone`.
    pub by: String,
    /// How sure the microphone is, 0 to 1.
    pub confidence: Option<f64>,
}

/// The share of a whole section on one note of its echo, as other programs read it. Fields are added, never renamed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShareRow {
    /// When the echo was heard, in UTC, to the millisecond: `2031-02-03T09:15:00.000Z`. The rows of one echo follow one another.
    pub when: String,
    /// The room's name.
    pub room: String,
    /// The section's name.
    pub section: String,
    /// The title of the drill that was led.
    pub drill: String,
    /// The lesson's title.
    pub lesson: Option<String>,
    /// The written note asked for.
    pub target: Option<String>,
    /// The written note of this row; nothing if no note of the echo was told.
    pub written: Option<String>,
    /// The share of the section on it, 0 to 1.
    pub share: Option<f64>,
    /// It is at least this.
    pub low: Option<f64>,
    /// It is at most this.
    pub high: Option<f64>,
    /// The share of the sound on none of the notes of the echo, 0 to 1.
    pub elsewhere: Option<f64>,
    /// How many played, if somebody counted them.
    pub players: Option<u16>,
    /// How far the section's mean tuning lies above (negative: below) the notes, in cents.
    pub cents: Option<f64>,
    /// Milliseconds after the beat at which they came in the mean, negative before it.
    pub entry_ms: Option<f64>,
    /// How far apart they came: the standard deviation, in milliseconds.
    pub spread_ms: Option<f64>,
}

/// The heads of the columns of verdicts, in order.
const HEADS: [&str; 15] = [
    "when",
    "room",
    "section",
    "seat",
    "drill",
    "lesson",
    "target",
    "heard",
    "verdict",
    "partials_off",
    "octaves_off",
    "cents",
    "entry_ms",
    "by",
    "confidence",
];

/// The heads of the columns of shares, in order.
const SHARE_HEADS: [&str; 15] = [
    "when",
    "room",
    "section",
    "drill",
    "lesson",
    "target",
    "written",
    "share",
    "low",
    "high",
    "elsewhere",
    "players",
    "cents",
    "entry_ms",
    "spread_ms",
];

/// Why nothing more can be exported.
#[derive(Debug, Error)]
pub enum ExportError {
    /// Whatever takes the rows takes no more.
    #[error("{0}")]
    Written(#[from] io::Error),
    /// The records cannot be read.
    #[error(transparent)]
    Records(#[from] crate::RecordsError),
}

impl From<&Record> for Row {
    fn from(record: &Record) -> Self {
        let steps = record.verdict.steps().map(NonZeroI8::get);
        Self {
            when: moment(record.when),
            room: record.room.clone(),
            section: record.section.clone(),
            seat: record.seat.map(Into::into),
            drill: record.drill.clone(),
            lesson: record.lesson.clone(),
            target: record.target.map(|note| note.to_string()),
            heard: record.heard.map(|note| note.to_string()),
            verdict: record.verdict.word().to_owned(),
            partials_off: steps.filter(|_| matches!(record.verdict, Verdict::Partials(_))),
            octaves_off: steps.filter(|_| matches!(record.verdict, Verdict::Octaves(_))),
            cents: record.cents.map(|cents| cents.0),
            entry_ms: record.entry.map(|entry| entry.0),
            by: record.by.word().to_owned(),
            confidence: record.confidence.map(Confidence::share),
        }
    }
}

impl ShareRow {
    /// The rows of an echo: one for each of its notes, or one without a note if it has none.
    #[must_use]
    pub fn of(record: &SectionRecord) -> Vec<Self> {
        let row = |note: Option<&NoteShare>| Self {
            when: moment(record.when),
            room: record.room.clone(),
            section: record.section.clone(),
            drill: record.drill.clone(),
            lesson: record.lesson.clone(),
            target: record.target.map(|note| note.to_string()),
            written: note.map(|note| note.written.to_string()),
            share: note.map(|note| note.share),
            low: note.map(|note| note.low),
            high: note.map(|note| note.high),
            elsewhere: record.elsewhere,
            players: record.players.map(Into::into),
            cents: record.cents.map(|cents| cents.0),
            entry_ms: record.entry.map(|entry| entry.0),
            spread_ms: record.spread.map(|spread| spread.0),
        };
        if record.shares.is_empty() { vec![row(None)] } else { record.shares.iter().map(|note| row(Some(note))).collect() }
    }
}

/// A moment as rows have it.
#[must_use]
pub fn moment(when: Timestamp) -> String {
    format!("{when:.3}")
}

/// A row that CSV and JSON Lines are written of.
pub trait Exported: Serialize {
    /// The heads of its columns, in order.
    const HEADS: &'static [&'static str];

    /// Its cells, in that order.
    fn cells(&self) -> Vec<String>;
}

impl Exported for Row {
    const HEADS: &'static [&'static str] = &HEADS;

    fn cells(&self) -> Vec<String> {
        vec![
            self.when.clone(),
            unarmed(&self.room),
            unarmed(&self.section),
            cell(self.seat),
            unarmed(&self.drill),
            self.lesson.as_deref().map(unarmed).unwrap_or_default(),
            cell(self.target.as_ref()),
            cell(self.heard.as_ref()),
            self.verdict.clone(),
            cell(self.partials_off),
            cell(self.octaves_off),
            cell(self.cents),
            cell(self.entry_ms),
            self.by.clone(),
            cell(self.confidence),
        ]
    }
}

impl Exported for ShareRow {
    const HEADS: &'static [&'static str] = &SHARE_HEADS;

    fn cells(&self) -> Vec<String> {
        vec![
            self.when.clone(),
            unarmed(&self.room),
            unarmed(&self.section),
            unarmed(&self.drill),
            self.lesson.as_deref().map(unarmed).unwrap_or_default(),
            cell(self.target.as_ref()),
            cell(self.written.as_ref()),
            cell(self.share),
            cell(self.low),
            cell(self.high),
            cell(self.elsewhere),
            cell(self.players),
            cell(self.cents),
            cell(self.entry_ms),
            cell(self.spread_ms),
        ]
    }
}

/// What there is, as it is; an empty cell for nothing.
fn cell(value: Option<impl ToString>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

/// Writes rows as CSV after RFC 4180, under a line of heads.
#[derive(Debug)]
pub struct Csv<W: Write>(csv::Writer<W>);

impl<W: Write> Csv<W> {
    /// Begins with the heads of rows of the kind `R`.
    ///
    /// # Errors
    /// What `out` says.
    pub fn begin<R: Exported>(out: W) -> io::Result<Self> {
        let mut csv = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
        csv.write_record(R::HEADS).map_err(io::Error::from)?;
        Ok(Self(csv))
    }

    /// Writes one row, of the kind it was begun with.
    ///
    /// # Errors
    /// What the output says.
    pub fn row<R: Exported>(&mut self, row: &R) -> io::Result<()> {
        Ok(self.0.write_record(row.cells())?)
    }

    /// Writes what is still held back.
    ///
    /// # Errors
    /// What the output says.
    pub fn end(mut self) -> io::Result<()> {
        self.0.flush()
    }
}

/// A text that no spreadsheet takes for a formula: one that begins like one, or with the mark itself, gets a `'` in front. Source of the signs:
/// OWASP, "CSV Injection".
fn unarmed(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '\'']) { format!("'{text}") } else { text.to_owned() }
}

/// Writes one row as a line of JSON.
///
/// # Errors
/// What `out` says.
pub fn json_line(mut out: impl Write, row: &impl Exported) -> io::Result<()> {
    serde_json::to_writer(&mut out, row)?;
    out.write_all(b"\n")
}
