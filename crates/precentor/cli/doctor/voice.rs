//! The speaking voices.

use engine::speech::{Pack, SpeechError, library};
use std::fs;
use std::path::Path;
use units::SampleRate;

use super::CheckUp;
use crate::folders;

const MEND: &str = "install the program again; its voices are built in";

/// Decodes every voice, looks for every word a plan may ask for, and says where the teacher's own are looked for.
pub(super) fn check() -> CheckUp {
    let mut told = Vec::new();
    for name in library::built_in() {
        match library::built_in_pack(name).and_then(words) {
            Ok((words, missing)) if missing.is_empty() => told.push(format!("{name} with {words} words")),
            Ok((_, missing)) => return CheckUp::bad("voice", format!("{name} cannot say {}", missing.join(", ")), MEND),
            Err(error) => return CheckUp::bad("voice", error.to_string(), MEND),
        }
    }
    let mut says = told.join(", ");
    if let Some(folder) = folders::own_voices() {
        for own in own(&folder) {
            // gaps in one's own voice are filled by the others
            match Pack::open(&folder.join(&own)).map(|opened| opened.pack.words().count()) {
                Ok(words) => says += &format!(", your own {own} with {words} words"),
                Err(error) => return CheckUp::bad("voice", error.to_string(), "mend it; the built-in voice speaks until then"),
            }
        }
        says += &format!("; voices of your own are looked for in {}", folder.display());
    }
    CheckUp::ok("voice", says)
}

/// How many words a voice has, and what it lacks; every recording must be sound.
fn words(pack: Pack) -> Result<(usize, Vec<&'static str>), SpeechError> {
    pack.decode(SampleRate::DEFAULT)?;
    let missing = sequencer::words::vocabulary(pack.language()).into_iter().filter(|word| pack.index_of(word).is_none()).collect();
    Ok((pack.words().count(), missing))
}

/// The names of the teacher's own voices.
fn own(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let mut names: Vec<_> =
        entries.filter(|entry| entry.path().is_dir()).filter_map(|entry| entry.file_name().into_string().ok()).collect();
    names.sort();
    names
}
