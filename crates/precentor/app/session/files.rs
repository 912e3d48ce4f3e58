//! Reading rooms and drills, wherever they lie, and the small things remembered between runs.

use book::Faults;
use std::path::Path;
use std::sync::Arc;

use crate::app::action::OpenedRoom;
use crate::app::shelf::{Shelf, Source};
use crate::folders::Folders;
use crate::workshop::{Choice, DrillText, FileText, RoomText, Workshop};

/// The file whose presence says that the cautions were read.
const CAUTIONS: &str = "cautions-read";

/// The text of the room at `source`.
pub(super) fn room(source: &Source) -> Result<RoomText, Faults> {
    match source {
        Source::Demo(_) => Ok(RoomText::demo()),
        Source::File(path) => RoomText::load(path),
    }
}

/// The text of the drill at `source`.
pub(super) fn drill(source: &Source) -> Result<DrillText, Faults> {
    match source {
        Source::Demo(name) => {
            let found = DrillText::demos().into_iter().find(|text| text.name == *name);
            found.ok_or_else(|| book::Fault::of_file(name, "there is no such demo drill", "choose one from the list").into())
        }
        Source::File(path) => DrillText::load(path),
    }
}

/// The room at `source` and the first drill beside it, or else of the demo, that goes with it.
pub(super) fn open(source: Source, workshop: &Workshop) -> Result<OpenedRoom, Faults> {
    let text = room(&source)?;
    let class = Arc::new(text.read()?);
    let goes = |title: &crate::app::shelf::Title| {
        let drill = drill(&title.source).ok()?;
        workshop.make(&Choice::Drill, &text, Some(&drill)).ok()?;
        Some((title.source.clone(), drill))
    };
    let drill = Shelf::find(None, &source, None).drills.iter().find_map(goes);
    Ok(OpenedRoom { source, text, room: class, drill })
}

/// What to open: the file named, else the room last used, else the demo. The faults are those of the room last used, if it cannot be opened;
/// a file that was named must be sound.
///
/// # Errors
/// The faults of the named file.
pub fn opening(named: Option<&Path>, folders: Option<&Folders>, workshop: &Workshop) -> Result<(OpenedRoom, Option<Faults>), Faults> {
    let demo = || open(Source::Demo(book::demo::ROOM.0.to_owned()), workshop);
    let absolute = |path: &Path| Source::File(std::path::absolute(path).unwrap_or_else(|_| path.to_owned()));
    let last = || match folders.and_then(Folders::last_room).map(|path| open(absolute(&path), workshop)) {
        Some(Ok(opened)) => Ok((opened, None)),
        Some(Err(faults)) => Ok((demo()?, Some(faults))),
        None => Ok((demo()?, None)),
    };
    let Some(path) = named else { return last() };
    match FileText::load(path)? {
        FileText::Room(_) => Ok((open(absolute(path), workshop)?, None)),
        FileText::Drill(text) => {
            let (mut opened, faults) = last()?;
            opened.drill = Some((absolute(path), text));
            Ok((opened, faults))
        }
    }
}

/// Whether the cautions were read in an earlier run.
#[must_use]
pub fn cautions_were_read(folders: &Folders) -> bool {
    folders.state.join(CAUTIONS).exists()
}

pub(super) fn note_cautions_read(folders: &Folders) -> anyhow::Result<()> {
    folders.create()?;
    std::fs::write(folders.state.join(CAUTIONS), "")?;
    Ok(())
}
