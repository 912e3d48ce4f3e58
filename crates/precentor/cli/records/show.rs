//! `precentor records show`: verdict by verdict.

use ::records::{Record, Row};
use clap::Args;
use jiff::tz::TimeZone;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::VecDeque;

use super::{NONE, Which, each, store};
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
    /// In order of time.
    pub records: Vec<Row>,
}

pub(super) fn run(args: &ShowArgs) -> anyhow::Result<()> {
    let most = args.last.unwrap_or(usize::MAX);
    let mut last = VecDeque::new();
    each(store()?.as_ref(), &args.which, |record| {
        last.push_back(record);
        if last.len() > most {
            last.pop_front();
        }
        Ok(())
    })?;
    if args.json {
        return print::json(&ShowOutput { records: last.iter().map(Row::from).collect() });
    }
    if last.is_empty() {
        return print::text(NONE);
    }
    let zone = TimeZone::system();
    let mut table = Table::new(&["when", "room", "section", "seat", "note", "verdict", "heard", "cents", "entry", "by", "drill", "lesson"]);
    last.into_iter().for_each(|record| table.row(cells(record, &zone)));
    print::text(&table.lines())
}

fn cells(record: Record, zone: &TimeZone) -> [String; 12] {
    [
        zone.to_datetime(record.when).strftime("%Y-%m-%d %H:%M:%S").to_string(),
        record.room,
        record.section,
        record.seat.map_or("all".to_owned(), |seat| seat.to_string()),
        record.target.map(|note| note.to_string()).unwrap_or_default(),
        record.verdict.to_string(),
        record.heard.map(|note| note.to_string()).unwrap_or_default(),
        record.cents.map(|cents| format!("{:+.0}", cents.0)).unwrap_or_default(),
        record.entry.map(|entry| format!("{:+.0} ms", entry.0)).unwrap_or_default(),
        record.by.word().to_owned(),
        record.drill,
        record.lesson.unwrap_or_default(),
    ]
}
