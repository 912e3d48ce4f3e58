//! `precentor records export`: rows for other programs.

use ::records::export::{Csv, ExportError, json_line};
use ::records::{Filter, Row, Store};
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

CSV is as RFC 4180 says, in UTF-8. Names that a spreadsheet would take for a formula get a ' in front. What you export is yours to delete:
forget does not reach it.")]
pub struct ExportArgs {
    /// How rows are written
    #[arg(value_enum)]
    format: Format,
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
        None => match write(store.as_ref(), &filter, args.format, stdout().lock()) {
            Err(ExportError::Written(error)) if error.kind() == ErrorKind::BrokenPipe => Err(Closed.into()),
            result => result.context("the records cannot be written to the standard output"),
        },
        Some(target) => {
            let draft = Draft::begin(target, args.force)?;
            write(store.as_ref(), &filter, args.format, draft.file()?).with_context(|| draft.fault())?;
            draft.keep()
        }
    }
}

fn write(store: Option<&Store>, filter: &Filter, format: Format, out: impl Write) -> Result<(), ExportError> {
    let mut out = BufWriter::new(out);
    match format {
        Format::Csv => {
            let mut csv = Csv::begin(&mut out)?;
            if let Some(store) = store {
                store.each(filter, |record| Ok::<_, ExportError>(csv.row(&Row::from(&record))?))?;
            }
            csv.end()?;
        }
        Format::Jsonl => {
            if let Some(store) = store {
                store.each(filter, |record| Ok::<_, ExportError>(json_line(&mut out, &Row::from(&record))?))?;
            }
        }
    }
    Ok(out.flush()?)
}
