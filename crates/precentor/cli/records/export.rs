//! `precentor records export`: rows for other programs.

use ::records::export::{Csv, ExportError, Exported, json_line};
use ::records::{Filter, Row, ShareRow, Store};
use anyhow::Context;
use clap::{Args, ValueEnum};
use std::io::{BufWriter, ErrorKind, Write, stdout};
use std::path::PathBuf;

use super::{Which, store};
use crate::cli::output::Draft;
use crate::cli::print::Closed;

/// Rows for a spreadsheet or another program
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor records export csv -o horns.csv --section Horns     for a spreadsheet
  precentor records export jsonl --since 2031-02-03             a JSON object a line, on the standard output
  precentor records export csv --shares -o shares.csv           where whole sections sat

CSV is as RFC 4180 says, in UTF-8. Names that a spreadsheet would take for a formula get a ' in front. What you export is yours to delete:
forget does not reach it.")]
pub struct ExportArgs {
    /// How rows are written
    #[arg(value_enum)]
    format: Format,
    /// Where whole sections sat, a row for each note of an echo, instead of verdicts
    #[arg(long)]
    shares: bool,
    #[command(flatten)]
    which: Which,
    /// The file to write; the standard output unless given
    #[arg(short, long, value_name = "FILE", help_heading = "Output")]
    output: Option<PathBuf>,
    /// Replace a file that is there already
    #[arg(long, help_heading = "Output", requires = "output")]
    force: bool,
}

/// How rows are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Comma-separated, under a line of heads
    Csv,
    /// A JSON object a line
    Jsonl,
}

pub(super) fn run(args: &ExportArgs) -> anyhow::Result<()> {
    let store = store()?;
    let filter = args.which.filter(store.as_ref())?;
    match &args.output {
        None => match write(store.as_ref(), &filter, args, stdout().lock()) {
            Err(ExportError::Written(error)) if error.kind() == ErrorKind::BrokenPipe => Err(Closed.into()),
            result => result.context("the records cannot be written to the standard output"),
        },
        Some(target) => {
            let draft = Draft::begin(target, args.force)?;
            write(store.as_ref(), &filter, args, draft.file()?).with_context(|| draft.fault())?;
            draft.keep()
        }
    }
}

fn write(store: Option<&Store>, filter: &Filter, args: &ExportArgs, out: impl Write) -> Result<(), ExportError> {
    if args.shares {
        rows::<ShareRow>(args.format, out, |each| match store {
            Some(store) => store.each_section(filter, |record| ShareRow::of(&record).iter().try_for_each(&mut *each)),
            None => Ok(()),
        })
    } else {
        rows::<Row>(args.format, out, |each| match store {
            Some(store) => store.each(filter, |record| each(&Row::from(&record))),
            None => Ok(()),
        })
    }
}

/// Writes all rows that `hand_on` hands on.
fn rows<R: Exported>(
    format: Format,
    out: impl Write,
    hand_on: impl FnOnce(&mut dyn FnMut(&R) -> Result<(), ExportError>) -> Result<(), ExportError>,
) -> Result<(), ExportError> {
    let mut out = BufWriter::new(out);
    match format {
        Format::Csv => {
            let mut csv = Csv::begin::<R>(&mut out)?;
            hand_on(&mut |row| Ok(csv.row(row)?))?;
            csv.end()?;
        }
        Format::Jsonl => hand_on(&mut |row| Ok(json_line(&mut out, row)?))?,
    }
    Ok(out.flush()?)
}
