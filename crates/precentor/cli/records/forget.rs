//! `precentor records forget`: what is forgotten is in no file any more.

use clap::Args;
use schemars::JsonSchema;
use serde::Serialize;

use super::{Which, counted, store};
use crate::cli::exit::Usage;
use crate::cli::print;

/// Forgets a seat, a section, a room, or what is old: for good
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor records forget --section Horns --seat 4        a seat
  precentor records forget --room \"Cedar Lane, first hour\"
  precentor records forget --until 2031-06-30              everything up to the end of that day
  precentor records forget --until 2031-06-30 --dry-run    only say how much that is
  precentor records forget --all

What is forgotten is overwritten, in the file and beside it. Copies you made (exports, backups) are yours to delete, and what a disk
keeps of overwritten files only encrypting the disk keeps from others.")]
pub struct ForgetArgs {
    #[command(flatten)]
    which: Which,
    /// Everything
    #[arg(long, conflicts_with_all = ["room", "section", "seat", "note", "since", "until"])]
    all: bool,
    /// Forget nothing; say how much it would be
    #[arg(long)]
    dry_run: bool,
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// What `records forget --json` prints.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ForgetOutput {
    /// How many verdicts are, or would be, forgotten.
    pub verdicts: u64,
    /// Whether they are forgotten; else it was a dry run.
    pub forgotten: bool,
}

pub(super) fn run(args: &ForgetArgs) -> anyhow::Result<()> {
    if !args.all && args.which == Which::default() {
        return Err(Usage::error("this would forget everything", "name a section, a room, a note or a day, or say --all"));
    }
    let mut store = store()?;
    let filter = args.which.filter(store.as_ref())?;
    let verdicts = match &mut store {
        None => 0,
        Some(store) if args.dry_run => store.count(&filter)?,
        Some(store) => store.forget(&filter)? as u64,
    };
    if args.json {
        return print::json(&ForgetOutput { verdicts, forgotten: !args.dry_run });
    }
    let what = match (verdicts, args.dry_run) {
        (0, _) => "No verdicts are kept that this names.".to_owned(),
        (_, true) => format!("{} would be forgotten.", counted(verdicts)),
        (_, false) => format!("{} forgotten; nothing of that is left in the file.", counted(verdicts)),
    };
    print::text(&format!("{what}\n"))
}
