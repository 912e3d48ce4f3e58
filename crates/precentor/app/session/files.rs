//! Reading rooms and drills, wherever they lie, and the small things remembered between runs.

use book::{Fault, Faults, ItemFile};
use sequencer::lesson::Ground;
use sequencer::{Item, Slot, Work};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, SystemTime};

use crate::app::action::OpenedRoom;
use crate::app::effect::Errand;
use crate::app::shelf::{Shelf, Source};
use crate::app::state::{LessonItem, LessonRun, OpenedLesson, Resumed};
use crate::folders::{Folders, write_whole};
use crate::inputs::bindings::rewritten;
use crate::inputs::{Bindings, Deed, Signal};
use crate::standing::climbs::Climbing;
use crate::standing::{LessonStanding, Store};
use crate::workshop::{Choice, DrillText, FileText, Files, LessonText, PieceText, RoomText, Workshop};

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

/// The text of the piece at `source`.
fn piece(source: &Source) -> Result<PieceText, Faults> {
    match source {
        Source::Demo(_) => Ok(PieceText::demo()),
        Source::File(path) => PieceText::load(path),
    }
}

/// The text of the lesson at `source`.
fn lesson_text(source: &Source) -> Result<LessonText, Faults> {
    match source {
        Source::Demo(_) => Ok(LessonText::demo()),
        Source::File(path) => LessonText::load(path),
    }
}

/// The texts an errand is made from.
pub(super) fn of(errand: &Errand) -> Result<Files, Faults> {
    Ok(Files {
        drill: errand.drill.as_ref().map(drill).transpose()?,
        piece: errand.piece.as_ref().map(piece).transpose()?,
        lesson: errand.lesson.as_ref().map(lesson_text).transpose()?,
    })
}

/// What an errand climbs in the room at `room`, to be remembered by; nothing if it climbs nothing.
pub(super) fn climbing(errand: &Errand, files: &Files, room: &Source) -> Option<Climbing> {
    let of = |piece: String, passage: Option<String>| Climbing { room: room.remembered(), piece, passage };
    let piece = || errand.piece.as_ref().map(Source::remembered);
    match &errand.choice {
        Choice::Climb { passage } => Some(of(piece()?, passage.clone())),
        Choice::Item { number } => {
            let lesson = files.lesson.as_ref()?.read().ok()?;
            let item = lesson.items.get(*number)?.item.as_ref().ok()?;
            match &item.work {
                Work::Climb { of: Ground::Piece(excerpt), .. } => Some(of(piece()?, excerpt.passage.clone())),
                Work::Climb { .. } => Some(of(crate::text::lesson::item(item), None)),
                _ => None,
            }
        }
        _ => None,
    }
}

/// A lesson with its room, if it names one, and its own text. It stands where `standing` says if that is of this lesson and fresh.
pub(super) fn lesson(
    source: &Source,
    (room_source, room_text): &(Source, RoomText),
    standing: Option<&LessonStanding>,
) -> Result<(Option<OpenedRoom>, OpenedLesson), Faults> {
    let text = lesson_text(source)?;
    let file = text.read()?;
    let mut load = |name: &str| match source.beside(name) {
        Source::Demo(name) => book::demo::load(&name),
        Source::File(path) => book::load(&path),
    };
    let mut at_fault = None;
    let room = match &file.lesson.room {
        Some(name) if source.beside(name) != *room_source => match file.room(&mut load) {
            Ok(_) => Some(open_alone(source.beside(name))?),
            // the lesson is led in the room that is open, and the fault told at the place where its own is named
            Err(faults) => {
                at_fault = Some(faults.to_string());
                None
            }
        },
        _ => None,
    };
    let class = match &room {
        Some(opened) => Arc::clone(&opened.room),
        None => Arc::new(room_text.read()?),
    };
    let (title, hour) = (file.lesson.title.clone(), file.lesson.hour);
    let file = file.within(&class, &mut load);
    let item = |(number, file): (usize, ItemFile)| match file.item {
        Ok(item) => LessonItem { name: crate::text::lesson::item(&item), errand: Ok(errand(source, number, &item)), slot: item.slot },
        Err(faults) => LessonItem { name: crate::text::lesson::at_fault(number), errand: Err(faults.to_string()), slot: Slot::default() },
    };
    let items: Vec<LessonItem> = file.items.into_iter().enumerate().map(item).collect();
    let now = SystemTime::now();
    let resume = standing.filter(|standing| Source::of_memory(&standing.lesson) == *source).and_then(|standing| {
        let names: Vec<&str> = items.iter().map(|item| item.name.as_str()).collect();
        let ago = now.duration_since(standing.written).unwrap_or_default();
        Some(Resumed { at: standing.resume(now, &names)?, tempo: standing.tempo(), begun: standing.begun, ago })
    });
    let mut opened = OpenedLesson { source: source.clone(), title, hour, items, at_fault, resume, opened: (time_of_day(), now) };
    // an hour that is over is not gone on with: the next class takes the lesson from its top
    let is_over = || LessonRun::new(&opened, Duration::ZERO).clock().hour.left == Some(Duration::ZERO);
    if opened.resume.is_some() && is_over() {
        opened.resume = None;
    }
    Ok((room, opened))
}

/// What leads the item `number` of the lesson at `source`.
fn errand(source: &Source, number: usize, item: &Item) -> Errand {
    let file = item.work.file().map(|name| source.beside(name));
    let takes_a_drill = matches!(item.work, Work::Drill { .. } | Work::Roll { .. });
    let (drill, piece) = if takes_a_drill { (file, None) } else { (None, file) };
    Errand { drill, piece, lesson: Some(source.clone()), ..Errand::of(Choice::Item { number }) }
}

/// The time of day on the wall, since midnight.
fn time_of_day() -> Duration {
    let now = jiff::ZonedDateTime::now().datetime();
    let parts = [now.hour(), now.minute(), now.second()].map(|part| u64::from(part.unsigned_abs()));
    Duration::from_secs(parts.into_iter().fold(0, |seconds, part| seconds * 60 + part))
}

/// The room at `source` and nothing to lead in it.
fn open_alone(source: Source) -> Result<OpenedRoom, Faults> {
    let text = room(&source)?;
    let class = Arc::new(text.read()?);
    Ok(OpenedRoom { source, text, room: class, first: None })
}

/// The room at `source` and the first drill beside it, or else of the demo, that goes with it.
pub(super) fn open(source: Source, workshop: &Workshop) -> Result<OpenedRoom, Faults> {
    let opened = open_alone(source)?;
    let goes = |title: &crate::app::shelf::Title| {
        let drill = drill(&title.source).ok()?;
        workshop.make(&Choice::Drill, &opened.text, &Files::drill(drill)).ok()?;
        Some(Errand::drill(title.source.clone()))
    };
    let first = Shelf::find(None, &opened.source, &[]).drills.iter().find_map(goes);
    Ok(OpenedRoom { first, ..opened })
}

/// What the console opens with.
#[derive(Debug)]
pub struct Opening {
    /// The room.
    pub room: OpenedRoom,
    /// The lesson.
    pub lesson: Option<OpenedLesson>,
    /// The faults of what was used last, if it cannot be opened.
    pub faults: Option<Faults>,
}

/// What to open: the file named, else the lesson that was left a short while ago, else the room last used, else the demo; a file that was named
/// must be sound.
///
/// # Errors
/// The faults of the named file.
pub fn opening(named: Option<&Path>, folders: Option<&Folders>, workshop: &Workshop) -> Result<Opening, Faults> {
    let demo = || open(Source::Demo(book::demo::ROOM.0.to_owned()), workshop);
    let of_room = |room, faults| Opening { room, lesson: None, faults };
    let last = || match folders.and_then(Folders::last_room).map(|path| open(Source::absolute(&path), workshop)) {
        Some(Ok(opened)) => Ok(of_room(opened, None)),
        Some(Err(faults)) => Ok(of_room(demo()?, Some(faults))),
        None => Ok(of_room(demo()?, None)),
    };
    let standing = folders.and_then(|folders| Store::open(folders).lesson().value);
    let led = |source: &Source| {
        let opening = last()?;
        let room = (opening.room.source.clone(), opening.room.text.clone());
        let (own, lesson) = self::lesson(source, &room, standing.as_ref())?;
        Ok(Opening { room: OpenedRoom { first: None, ..own.unwrap_or(opening.room) }, lesson: Some(lesson), ..opening })
    };
    let Some(path) = named else {
        let left = standing.as_ref().filter(|standing| standing.is_fresh(SystemTime::now()));
        let left = left.and_then(|standing| led(&Source::of_memory(&standing.lesson)).ok());
        return match left.filter(|opening: &Opening| opening.lesson.as_ref().is_some_and(|lesson| lesson.resume.is_some())) {
            Some(opening) => Ok(opening),
            None => last(),
        };
    };
    let source = Source::absolute(path);
    match FileText::load(path)? {
        FileText::Room(_) => Ok(of_room(open(source, workshop)?, None)),
        FileText::Drill(_) => first(last()?, Errand::drill(source)),
        FileText::Piece(text) => {
            let passage = text.read()?.piece.passages.first().map(|passage| passage.name.clone());
            first(last()?, Errand::piece(source, Choice::Climb { passage }))
        }
        FileText::Lesson(_) => led(&source),
    }
}

fn first(mut opening: Opening, errand: Errand) -> Result<Opening, Faults> {
    opening.room.first = Some(errand);
    Ok(opening)
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
