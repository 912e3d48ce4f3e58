//! `precentor records where`: the file.

use ::records::{Filter, Store, VERSION};
use clap::Args;
use schemars::JsonSchema;
use serde::Serialize;

use super::counted;
use crate::cli::print;
use crate::folders::Folders;

/// The file the records are in, and how much is in it
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor records where
  precentor records where --json          for other programs

It is an SQLite file; while a console is open, two more lie beside it. Delete all of them, and nothing was ever kept.")]
pub struct WhereArgs {
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// What `records where --json` prints.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WhereOutput {
    /// The file.
    pub path: String,
    /// Whether it is there yet.
    pub exists: bool,
    /// How many verdicts are in it.
    pub verdicts: u64,
    /// How many bytes it takes.
    pub bytes: u64,
    /// The version of its shape.
    pub version: u32,
}

pub(super) fn run(args: &WhereArgs) -> anyhow::Result<()> {
    let path = Folders::find()?.records;
    let store = Store::find(&path)?;
    let verdicts = store.as_ref().map_or(Ok(0), |store| store.count(&Filter::default()))?;
    let bytes = std::fs::metadata(&path).map_or(0, |file| file.len());
    let output = WhereOutput { path: path.display().to_string(), exists: store.is_some(), verdicts, bytes, version: VERSION };
    if args.json {
        return print::json(&output);
    }
    let holds = match store {
        Some(_) => format!("{}, {} kB", counted(verdicts), bytes.div_ceil(1000)),
        None => "nothing is kept yet; it is made with the first verdict".to_owned(),
    };
    print::text(&format!("{}\n{holds}\n", output.path))
}
