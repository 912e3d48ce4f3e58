//! Each section and role in a file of its own.

use anyhow::Context;
use sequencer::Room;
use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};
use synth::{Bus, Stems};
use units::SampleRate;

use crate::cli::exit::Usage;
use crate::cli::output::{self, Draft};
use crate::cli::wav::{Format, WavDraft};
use crate::folders::slug;

/// Files for what sounds; a bus that stays silent gets none.
pub struct StemFiles {
    folder: PathBuf,
    force: bool,
    rate: SampleRate,
    format: Format,
    buses: Vec<BusFile>,
    /// How many frames every file has, or would have had it begun.
    frames: u64,
}

/// A bus that may sound.
struct BusFile {
    bus: Bus,
    name: String,
    /// Its file, since its first sound.
    file: Option<WavDraft>,
    /// What the mix has not come to yet.
    held: Vec<f32>,
}

impl StemFiles {
    /// Files for the sections of `room` in `folder`, which is made if it is not there.
    pub fn begin(folder: &Path, room: &Room, force: bool, rate: SampleRate, format: Format) -> anyhow::Result<Self> {
        if folder.exists() && !folder.is_dir() {
            return Err(Usage::error(format!("{} is not a folder", folder.display()), "name a folder for the stems"));
        }
        fs::create_dir_all(folder).with_context(|| format!("the folder {} cannot be made; name another", folder.display()))?;
        let mut taken = HashSet::new();
        let file = |(bus, name): (Bus, String)| BusFile { bus, name: unique(&slug(&name), &mut taken), file: None, held: Vec::new() };
        let buses: Vec<_> = named_buses(room).map(file).collect();
        for bus in &buses {
            output::free(&folder.join(&bus.name), force)?;
        }
        Ok(Self { folder: folder.to_owned(), force, rate, format, buses, frames: 0 })
    }

    /// Adds a block of every bus. The mix comes a little later than its stems; they are held back to be as long as it is.
    pub fn write(&mut self, block: &Stems, mix_frames: u64) -> anyhow::Result<()> {
        let due = mix_frames.saturating_sub(self.frames) as usize;
        for BusFile { bus, name, file, held } in &mut self.buses {
            held.extend_from_slice(block.get(*bus));
            let due = due.min(held.len());
            let samples = held.get(..due).unwrap_or_default();
            if file.is_none() && samples.iter().any(|sample| *sample != 0.0) {
                let mut begun = WavDraft::begin(&self.folder.join(name), self.force, 1, self.rate, self.format)?;
                begun.silence(self.frames)?;
                *file = Some(begun);
            }
            if let Some(file) = file {
                file.write(samples)?;
            }
            held.drain(..due);
        }
        self.frames = mix_frames;
        Ok(())
    }

    /// Completes the files, each still waiting to be put in place.
    pub fn finish(self) -> anyhow::Result<Vec<Draft>> {
        self.buses.into_iter().filter_map(|bus| bus.file).map(WavDraft::finish).collect()
    }
}

fn named_buses(room: &Room) -> impl Iterator<Item = (Bus, String)> {
    let sections = room.indexed().map(|(index, section)| (Bus::Section(index.0), section.name.clone()));
    let roles = [(Bus::Drone, "drone"), (Bus::Voice, "voice"), (Bus::Click, "click"), (Bus::Breath, "breath")];
    sections.chain(roles.into_iter().map(|(bus, name)| (bus, name.to_owned())))
}

/// A file name for `slug` that is not taken yet.
fn unique(slug: &str, taken: &mut HashSet<String>) -> String {
    let names = std::iter::once(format!("{slug}.wav")).chain((2..).map(|number| format!("{slug}-{number}.wav")));
    let mut names = names.skip_while(|name| taken.contains(name));
    let name = names.next().unwrap_or_default();
    taken.insert(name.clone());
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sections_with_like_names_have_files_of_their_own() {
        let mut taken = HashSet::new();
        assert_eq!(unique("horns", &mut taken), "horns.wav");
        assert_eq!(unique("horns", &mut taken), "horns-2.wav");
        assert_eq!(unique("horns", &mut taken), "horns-3.wav");
    }
}
