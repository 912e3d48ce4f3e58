//! `precentor records where`: the file.

use ::records::export::moment;
use ::records::{Clip, Counts, Filter, KeptAudio, VERSION};
use clap::Args;
use schemars::JsonSchema;
use serde::Serialize;

use super::{counted, sound, store};
use crate::cli::print;
use crate::folders::Folders;

/// The file the records are in, and how much is in it
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor records where
  precentor records where --json          for other programs

It is an SQLite file; while a console is open, two more lie beside it, and a folder if sound is
kept. Delete all of them, and nothing was ever kept.")]
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
    /// How many echoes of whole sections.
    pub sections: u64,
    /// How many bytes it takes.
    pub bytes: u64,
    /// The version of its shape.
    pub version: u32,
    /// The sound that is kept beside it.
    pub sound: SoundOutput,
}

/// Sound that is kept for some days.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SoundOutput {
    /// The folder.
    pub folder: String,
    /// Of how many echoes it is kept.
    pub clips: u64,
    /// How many bytes they take.
    pub bytes: u64,
    /// When the last of it is over, in UTC; it is deleted at the first start after that.
    pub until: Option<String>,
}

impl SoundOutput {
    pub(super) fn of(audio: &KeptAudio, clips: &[Clip]) -> Self {
        Self {
            folder: audio.folder().display().to_string(),
            clips: clips.len() as u64,
            bytes: clips.iter().map(|clip| clip.bytes).sum(),
            until: clips.last().map(|clip| moment(clip.until)),
        }
    }
}

pub(super) fn run(args: &WhereArgs) -> anyhow::Result<()> {
    let path = Folders::find()?.records;
    let store = store()?;
    let audio = KeptAudio::beside(&path);
    let clips = audio.clips()?;
    let counts = store.as_ref().map_or(Ok(Counts::default()), |store| store.count(&Filter::default()))?;
    let bytes = std::fs::metadata(&path).map_or(0, |file| file.len());
    if args.json {
        return print::json(&WhereOutput {
            path: path.display().to_string(),
            exists: store.is_some(),
            verdicts: counts.verdicts,
            sections: counts.sections,
            bytes,
            version: VERSION,
            sound: SoundOutput::of(&audio, &clips),
        });
    }
    let holds = match store {
        Some(_) => format!("{}, {} kB", counted(Counts { clips: 0, ..counts }), bytes.div_ceil(1000)),
        None => "nothing is kept yet; it is made with the first verdict".to_owned(),
    };
    let sound = sound(&clips).map_or("no sound is kept\n".to_owned(), |sound| format!("{sound}\n{}\n", audio.folder().display()));
    print::text(&format!("{}\n{holds}\n{sound}", path.display()))
}
