//! The journal file of one run: written as it happens, so that a power cut loses a moment, not a class.

use engine::journal::{Entry, entry_line, head_line};
use std::fs::File;
use std::io::Write;
use units::SampleRate;

use crate::folders::Folders;
use crate::workshop::RoomText;

pub(super) struct JournalFile {
    file: File,
}

impl JournalFile {
    pub(super) fn start(folders: &Folders, room: &RoomText, rate: SampleRate) -> anyhow::Result<Self> {
        let name = room.read().map(|room| room.name).unwrap_or_default();
        let (_, mut file) = folders.new_journal(&name)?;
        let program = concat!("precentor ", env!("CARGO_PKG_VERSION"));
        file.write_all(head_line(rate, program).as_bytes())?;
        Ok(Self { file })
    }

    /// Appends `entries`; each write reaches the system whole.
    pub(super) fn write(&mut self, entries: &[Entry]) -> std::io::Result<()> {
        if entries.is_empty() {
            return Ok(());
        }
        let lines: String = entries.iter().map(entry_line).collect();
        self.file.write_all(lines.as_bytes())?;
        self.file.flush()
    }
}
