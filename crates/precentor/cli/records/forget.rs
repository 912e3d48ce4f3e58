//! `precentor records forget`: what is forgotten is in no file any more.

use ::records::Counts;
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

What is forgotten is overwritten, in the file and beside it, with its sound if any is kept. A section's shares name no seat: they go with
the section, not with one of its seats. Copies you made (exports, backups) are yours to delete, and what a disk
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
    /// How many echoes of whole sections.
    pub sections: u64,
    /// How many echoes of which the sound was kept.
    pub clips: u64,
    /// Whether they are forgotten; else it was a dry run.
    pub forgotten: bool,
}

pub(super) fn run(args: &ForgetArgs) -> anyhow::Result<()> {
    if !args.all && args.which == Which::default() {
        return Err(Usage::error("this would forget everything", "name a section, a room, a note or a day, or say --all"));
    }
    let mut store = store()?;
    let filter = args.which.filter(store.as_ref())?;
    let counts = match &mut store {
        None => Counts::default(),
        Some(store) if args.dry_run => store.count(&filter)?,
        Some(store) => store.forget(&filter)?,
    };
    let Counts { verdicts, sections, clips } = counts;
    if args.json {
        return print::json(&ForgetOutput { verdicts, sections, clips, forgotten: !args.dry_run });
    }
    let what = match (counts == Counts::default(), args.dry_run) {
        (true, _) => "No verdicts are kept that this names.".to_owned(),
        (_, true) => format!("{} would be forgotten.", counted(counts)),
        (_, false) => format!("{} forgotten; nothing of that is left in the file.", counted(counts)),
    };
    print::text(&format!("{what}\n"))
}
