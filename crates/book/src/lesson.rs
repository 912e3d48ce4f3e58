//! The items of a class hour, from their file: a lesson with an error in one item still gives the others.

mod forms;
mod read;
mod within;

pub use forms::LESSON;

use sequencer::plan::Notice;
use sequencer::{Item, Lesson, Slot};
use std::ops::Range;

use crate::fault::{Fault, Faults};
use crate::file::{self, Book, Sort};
use crate::source::Source;
use crate::view::View;
use crate::walk::Walker;

/// A lesson with the text it was read from, so that what is wrong with it in a room is told at its place.
#[derive(Clone, Debug)]
pub struct LessonFile {
    /// What the file says above its items.
    pub lesson: Lesson,
    /// The items in order, each sound or with its own faults.
    pub items: Vec<ItemFile>,
    source: Source,
    /// Where the room is named.
    room: Range<usize>,
}

/// An item of a lesson.
#[derive(Clone, Debug)]
pub struct ItemFile {
    /// What it says, or everything wrong in it.
    pub item: Result<Item, Faults>,
    /// What to know before it is led: who sits out, what is passed by. Known once it is in its room.
    pub notices: Vec<Notice>,
    spans: Spans,
}

/// Where the parts of an item stand in the text.
#[derive(Clone, Debug, Default)]
struct Spans {
    /// The word for what is done.
    verb: Range<usize>,
    /// The file it names.
    file: Range<usize>,
    section: Range<usize>,
    passage: Range<usize>,
}

/// Reads a file that a lesson names: a drill, a piece, a room.
pub type Loader<'l> = dyn FnMut(&str) -> Result<Book, Faults> + 'l;

/// Reads a lesson from `text`; `name` is what faults call the file. What needs neither a room nor other files is judged here.
///
/// # Errors
/// Every fault of the file above its items. Those inside an item are the item's own.
pub fn read_lesson(name: &str, text: &str) -> Result<LessonFile, Faults> {
    let source = Source::new(name, text);
    let document = source.document()?;
    file::expect(&source, &document, Sort::Lesson)?;
    let mut walker = Walker::new(&source);
    let known = walker.file(&LESSON, &document);
    let view = View::new(&source, &document);
    let lesson = if known { read::lesson(&mut walker, view) } else { None };
    let lesson = walker.finish(lesson)?;
    let items = view.tables("item").into_iter().map(|(item, span)| read::item(&source, item, &span)).collect();
    let room = view.text("room").map(|room| room.inside()).unwrap_or_default();
    drop(document);
    Ok(LessonFile { lesson, items, source, room })
}

impl LessonFile {
    /// What faults call the file.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.source.name
    }

    /// What each item takes of the hour; one that is at fault takes nothing.
    #[must_use]
    pub fn slots(&self) -> Vec<Slot> {
        let left_out = Slot { minutes: Some(0), ..Slot::default() };
        self.items.iter().map(|item| item.item.as_ref().map_or(left_out, |item| item.slot)).collect()
    }

    /// The files the lesson names, its room first, each once.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = self.lesson.room.as_deref().into_iter().collect();
        for item in &self.items {
            if let Some(name) = item.item.as_ref().ok().and_then(|item| item.work.file()).filter(|name| !names.contains(name)) {
                names.push(name);
            }
        }
        names
    }

    /// Everything wrong in any item, in the order of the text; nothing if all are sound.
    #[must_use]
    pub fn faults(&self) -> Option<Faults> {
        let faults = self.items.iter().filter_map(|item| item.item.as_ref().err());
        let mut all: Vec<Fault> = faults.flat_map(|faults| faults.iter().cloned()).collect();
        all.truncate(Faults::MOST);
        Faults::new(all)
    }
}
