//! Reading rooms and drills, wherever they lie, and the small things remembered between runs.

use book::{Fault, Faults};
use std::path::Path;
use std::sync::Arc;

use crate::app::action::OpenedRoom;
use crate::app::shelf::{Shelf, Source};
use crate::folders::{Folders, write_whole};
use crate::inputs::bindings::rewritten;
use crate::inputs::{Bindings, Deed, Signal};
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
            found.ok_or_else(|| Fault::of_file(name, "there is no such demo drill", "choose one from the list").into())
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
        FileText::Piece(text) => Err(Fault::of_file(&text.name, "this is a piece", "name a room or a drill here").into()),
    }
}

/// What the teacher bound in the file at `path`, and what is wrong in it; without the file, nothing.
pub(super) fn bindings(path: &Path) -> (Bindings, Option<Faults>) {
    match path.exists().then(|| book::read_file(path)) {
        None => (Bindings::default(), None),
        Some(Ok(text)) => Bindings::read(&path.display().to_string(), &text),
        Some(Err(faults)) => (Bindings::default(), Some(faults)),
    }
}

/// Keeps one binding in the file at `path`, which is whole at any moment; everything else in it stays.
pub(super) fn keep_binding(path: &Path, signal: Signal, deed: Option<Deed>) -> Result<(), String> {
    let text = if path.exists() { book::read_file(path).map_err(|faults| faults.to_string())? } else { String::new() };
    let text = rewritten(&text, signal, deed).map_err(|why| why.to_string())?;
    write_whole(path, text.as_bytes()).map_err(|why| why.to_string())
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
