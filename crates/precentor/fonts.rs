//! The SoundFont a room names: found, read once, and what is wrong with it told at its place in the room's text.

use book::{Fault, Faults, soundfont_fault};
use engine::RoomSounds;
use engine::journal::FontNote;
use engine::soundfont::{Made, SoundFontError, SoundFontFile, Tuning};
use sequencer::{PresetId, Room};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::SystemTime;
use synth::SampleBank;

/// Bank and presets of the file used last. The file itself is let go: only the samples in use stay in memory.
#[derive(Debug, Default)]
pub struct FontShelf(Mutex<Option<Read>>);

/// What was made of a file.
#[derive(Debug)]
struct Read {
    path: PathBuf,
    stamp: Option<(SystemTime, u64)>,
    presets: Vec<PresetId>,
    mark: u64,
    bank: Arc<SampleBank>,
    made: Vec<Made>,
}

/// The recorded sounds of a room.
#[derive(Debug, Default)]
pub struct Found {
    /// For the score; nothing if the room has none, or its file cannot be used.
    pub sounds: Option<RoomSounds>,
    /// For the journal.
    pub note: Option<FontNote>,
    /// What is to be mended; the built-in sounds serve meanwhile.
    pub faults: Option<Faults>,
    /// For each section with a sound, how well it can be tuned.
    pub tunings: Vec<(usize, Tuning)>,
}

impl FontShelf {
    /// The sounds of `room`, whose text is `text` and whose file is `name`. A font `noted` by a journal is taken instead of the one the
    /// room names, and must be the same still.
    pub fn find(&self, room: &Room, name: &str, text: &str, noted: Option<&FontNote>) -> Found {
        let Some(named) = room.soundfont.as_deref() else { return Found::default() };
        let beside = Path::new(name).parent().unwrap_or(Path::new("")).join(named);
        let path = noted.map_or(beside, |note| PathBuf::from(&note.path));
        let mut wanted: Vec<PresetId> = room.sections.iter().filter_map(|section| section.preset).collect();
        wanted.sort();
        wanted.dedup();
        let stamp = std::fs::metadata(&path).ok().and_then(|found| Some((found.modified().ok()?, found.len())));
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let known = shelf.take().filter(|read| read.path == path && read.stamp.is_some() && read.stamp == stamp && read.presets == wanted);
        let read = known.map_or_else(|| Read::of(&path, stamp, wanted), Ok);
        match read {
            Ok(read) => {
                let found = read.serve(room, name, text);
                *shelf = Some(read);
                found
            }
            Err(error) => {
                let mend = mend_file(&path, &error);
                let fault = soundfont_fault(name, text, None, &error.to_string(), &mend);
                Found { faults: Some(fault.into()), ..Found::default() }
            }
        }
    }
}

impl Read {
    fn of(path: &Path, stamp: Option<(SystemTime, u64)>, presets: Vec<PresetId>) -> Result<Self, SoundFontError> {
        let file = SoundFontFile::read(path)?;
        let (bank, made) = file.bank(&presets);
        Ok(Self { path: path.to_owned(), stamp, presets, mark: file.mark(), bank: Arc::new(bank), made })
    }

    fn serve(&self, room: &Room, name: &str, text: &str) -> Found {
        let mut found = Found::default();
        let mut faults: Vec<Fault> = Vec::new();
        let mut sounds = Vec::new();
        for (index, section) in room.sections.iter().enumerate() {
            let place = section.preset.and_then(|preset| self.presets.iter().position(|known| *known == preset));
            sounds.push(match place.and_then(|place| self.made.get(place)) {
                Some(Ok((sound, tuning))) => {
                    found.tunings.push((index, *tuning));
                    Some(*sound)
                }
                Some(Err(error)) => {
                    faults.push(soundfont_fault(name, text, Some(index), &error.to_string(), &mend_preset(error)));
                    None
                }
                None => None,
            });
        }
        found.faults = Faults::new(faults);
        found.sounds = Some(RoomSounds { bank: Arc::clone(&self.bank), sounds });
        let whole = std::path::absolute(&self.path).unwrap_or_else(|_| self.path.clone());
        found.note = Some(FontNote { path: whole.display().to_string(), mark: format!("{:016x}", self.mark) });
        found
    }
}

fn mend_file(path: &Path, error: &SoundFontError) -> String {
    let SoundFontError::Unreadable { .. } = error else {
        return "name another SoundFont 2 file (.sf2), or take the line away: the built-in sounds serve without".to_owned();
    };
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let names = std::fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.file_name().to_string_lossy().into_owned());
    let fonts: Vec<String> = names.filter(|name| name.to_lowercase().ends_with(".sf2")).collect();
    let wanted = path.file_name().unwrap_or_default().to_string_lossy();
    match book::suggest(&wanted, &fonts) {
        Some(nearest) => format!("did you mean {}?", folder.join(nearest).display()),
        None => "put the file there, or take the line away: the built-in sounds serve without".to_owned(),
    }
}

fn mend_preset(error: &SoundFontError) -> String {
    match error {
        SoundFontError::NoPreset { nearest, .. } if !nearest.is_empty() => {
            let known = nearest.iter().map(|(id, name)| format!("{{ bank = {}, number = {} }} ({name})", id.bank, id.number));
            format!("the nearest it has: {}", known.collect::<Vec<_>>().join(", "))
        }
        _ => "choose another preset, or take it away: the built-in sound serves without".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_font_is_told_at_its_place_and_the_room_goes_on() {
        let text = format!("soundfont = \"no/such.sf2\"\n{}", book::demo::ROOM.1);
        let room = book::read_room("room.toml", &text).unwrap();
        let found = FontShelf::default().find(&room, "room.toml", &text, None);
        assert!(found.sounds.is_none() && found.note.is_none());
        let told = found.faults.unwrap().to_string();
        assert!(told.starts_with("room.toml:1:14: the SoundFont no/such.sf2 cannot be read"), "{told}");
    }
}
