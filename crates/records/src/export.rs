//! Rows as other programs read them: CSV for spreadsheets, JSON Lines for everything else.

use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::io::{self, Write};
use std::num::NonZeroI8;
use thiserror::Error;

use crate::{Confidence, Record, Verdict};

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

/// The heads of the columns, in order.
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

/// A moment as rows have it.
#[must_use]
pub fn moment(when: Timestamp) -> String {
    format!("{when:.3}")
}

/// Writes rows as CSV after RFC 4180, under a line of heads.
#[derive(Debug)]
pub struct Csv<W: Write>(csv::Writer<W>);

impl<W: Write> Csv<W> {
    /// Begins with the heads.
    ///
    /// # Errors
    /// What `out` says.
    pub fn begin(out: W) -> io::Result<Self> {
        let mut csv = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
        csv.write_record(HEADS).map_err(io::Error::from)?;
        Ok(Self(csv))
    }

    /// Writes one row.
    ///
    /// # Errors
    /// What the output says.
    pub fn row(&mut self, row: &Row) -> io::Result<()> {
        let number = |number: Option<f64>| number.map(|number| number.to_string()).unwrap_or_default();
        let count = |count: Option<i32>| count.map(|count| count.to_string()).unwrap_or_default();
        let fields = [
            row.when.clone(),
            unarmed(&row.room),
            unarmed(&row.section),
            count(row.seat.map(i32::from)),
            unarmed(&row.drill),
            row.lesson.as_deref().map(unarmed).unwrap_or_default(),
            row.target.clone().unwrap_or_default(),
            row.heard.clone().unwrap_or_default(),
            row.verdict.clone(),
            count(row.partials_off.map(i32::from)),
            count(row.octaves_off.map(i32::from)),
            number(row.cents),
            number(row.entry_ms),
            row.by.clone(),
            number(row.confidence),
        ];
        Ok(self.0.write_record(fields)?)
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
pub fn json_line(mut out: impl Write, row: &Row) -> io::Result<()> {
    serde_json::to_writer(&mut out, row)?;
    out.write_all(b"\n")
}
