//! `precentor record`: the teacher's own voice.

mod align;
mod take;
mod words;

use clap::{Args, Subcommand};
use engine::speech::own::{Own, OwnError};
use std::path::PathBuf;

use super::exit::Usage;
use crate::folders::{Folders, slug};

/// Your own voice: words you record, and where in each its beat falls
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor record words maple                        19 words, one every 2 s, in under a minute
  precentor record words maple --prompts seven,rest   two of them once more
  precentor record words maple --from take.wav        from a recording you have made already
  precentor record align maple seven +5 -o seven.wav  its beat 5 ms further in, against a click

Then, in the room file: voice = \"maple\"")]
pub struct RecordArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    Words(words::WordsArgs),
    Align(align::AlignArgs),
}

pub(super) fn run(args: &RecordArgs) -> anyhow::Result<()> {
    match &args.what {
        What::Words(args) => words::run(args),
        What::Align(args) => align::run(args),
    }
}

/// The folder of the voice called `name`.
fn folder(name: &str) -> anyhow::Result<PathBuf> {
    if name != slug(name) {
        return Err(Usage::error(
            format!("\"{name}\" is no name for a voice"),
            format!("use small letters, digits and dashes, such as {}", slug(name)),
        ));
    }
    Ok(Folders::find()?.voices.join(name))
}

/// The voice in `folder`; what the teacher wrote there wrongly is the teacher's to mend.
fn read(folder: &std::path::Path) -> anyhow::Result<Own> {
    Own::read(folder).map_err(|error| match error {
        OwnError::File { source, .. } if source.kind() == std::io::ErrorKind::NotFound => {
            Usage::error(format!("there is no voice in {}", folder.display()), "record one: precentor record words NAME")
        }
        OwnError::Manifest { .. } | OwnError::Table { .. } | OwnError::NoWord { .. } => Usage(error.to_string()).into(),
        OwnError::File { .. } => error.into(),
    })
}
