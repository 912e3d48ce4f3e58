//! `precentor records show`: verdict by verdict.

use ::records::{Record, Row, SectionRecord, ShareRow};
use clap::Args;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use schemars::JsonSchema;
use serde::Serialize;

use super::{NONE, Which, store};
use crate::cli::print::{self, Table};

/// Verdict by verdict, in order of time
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor records show --last 20                       the last of all
  precentor records show --section Horns --seat 4        one seat
  precentor records show --since 2031-02-03 --json       for other programs")]
pub struct ShowArgs {
    #[command(flatten)]
    which: Which,
    /// Only the last so many
    #[arg(long, value_name = "COUNT", help_heading = "Output")]
    last: Option<usize>,
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// What `records show --json` prints.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ShowOutput {
    /// Verdicts, in order of time.
    pub records: Vec<Row>,
    /// The notes of echoes of whole sections, in order of time.
    pub shares: Vec<ShareRow>,
}

/// A line of the table: a seat's verdict or a section's echo.
enum Line {
    Seat(Record),
    Section(SectionRecord),
}

impl Line {
    const fn when(&self) -> Timestamp {
        match self {
            Self::Seat(record) => record.when,
            Self::Section(record) => record.when,
        }
    }
}

pub(super) fn run(args: &ShowArgs) -> anyhow::Result<()> {
    let store = store()?;
    let filter = args.which.filter(store.as_ref())?;
    let mut lines = Vec::new();
    if let Some(store) = &store {
        lines.extend(store.records(&filter)?.into_iter().map(Line::Seat));
        lines.extend(store.section_records(&filter)?.into_iter().map(Line::Section));
        lines.sort_by_key(Line::when);
        lines.drain(..lines.len().saturating_sub(args.last.unwrap_or(usize::MAX)));
    }
    if args.json {
        let mut output = ShowOutput { records: Vec::new(), shares: Vec::new() };
        for line in &lines {
            match line {
                Line::Seat(record) => output.records.push(Row::from(record)),
                Line::Section(record) => output.shares.extend(ShareRow::of(record)),
            }
        }
        return print::json(&output);
    }
    if lines.is_empty() {
        return print::text(NONE);
    }
    let zone = TimeZone::system();
    let mut table =
        Table::new(&["when", "room", "section", "seat", "note", "verdict", "heard", "cents", "entry", "spread", "by", "drill", "lesson"]);
    for line in lines {
        match line {
            Line::Seat(record) => table.row(cells(record, &zone)),
            Line::Section(record) => table.row(section_cells(record, &zone)),
        }
    }
    print::text(&table.lines())
}

/// As people read a moment.
fn told(when: Timestamp, zone: &TimeZone) -> String {
    zone.to_datetime(when).strftime("%Y-%m-%d %H:%M:%S").to_string()
}

/// A section's echo: its shares in the place of a verdict, its biggest group in that of the note heard.
fn section_cells(record: SectionRecord, zone: &TimeZone) -> [String; 13] {
    let percent = |share: f64| format!("{:.0}", 100.0 * share);
    let shares = record
        .shares
        .iter()
        .map(|note| format!("{} {} % ({}..{})", note.written, percent(note.share), percent(note.low), percent(note.high)));
    [
        told(record.when, zone),
        record.room.clone(),
        record.section.clone(),
        record.players.map_or("all".to_owned(), |players| format!("all {players}")),
        record.target.map(|note| note.to_string()).unwrap_or_default(),
        shares.collect::<Vec<_>>().join(", "),
        record.largest().map(|note| note.written.to_string()).unwrap_or_default(),
        record.cents.map(|cents| format!("{:+.0}", cents.0)).unwrap_or_default(),
        record.entry.map(|entry| format!("{:+.0} ms", entry.0)).unwrap_or_default(),
        record.spread.map(|spread| format!("{:.0} ms", spread.0)).unwrap_or_default(),
        "microphone".to_owned(),
        record.drill,
        record.lesson.unwrap_or_default(),
    ]
}

fn cells(record: Record, zone: &TimeZone) -> [String; 13] {
    [
        told(record.when, zone),
        record.room,
        record.section,
        record.seat.map_or("all".to_owned(), |seat| seat.to_string()),
        record.target.map(|note| note.to_string()).unwrap_or_default(),
        record.verdict.to_string(),
        record.heard.map(|note| note.to_string()).unwrap_or_default(),
        record.cents.map(|cents| format!("{:+.0}", cents.0)).unwrap_or_default(),
        record.entry.map(|entry| format!("{:+.0} ms", entry.0)).unwrap_or_default(),
        String::new(),
        record.by.word().to_owned(),
        record.drill,
        record.lesson.unwrap_or_default(),
    ]
}
