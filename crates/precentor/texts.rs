//! The texts of files people write, each known by what it describes.

use book::{Book, DrillFile, Faults, LessonFile, PieceFile, read_drill, read_file, read_lesson, read_piece, read_room};
use sequencer::Room;
use std::fmt;
use std::marker::PhantomData;
use std::path::Path;

/// What a file describes.
pub trait Describes: Sized {
    /// Reads it from `text`; faults call the file `name`.
    ///
    /// # Errors
    /// Every fault of the text.
    fn read(name: &str, text: &str) -> Result<Self, Faults>;
}

impl Describes for Room {
    fn read(name: &str, text: &str) -> Result<Self, Faults> {
        read_room(name, text)
    }
}

impl Describes for DrillFile {
    fn read(name: &str, text: &str) -> Result<Self, Faults> {
        read_drill(name, text)
    }
}

impl Describes for PieceFile {
    fn read(name: &str, text: &str) -> Result<Self, Faults> {
        read_piece(name, text)
    }
}

impl Describes for LessonFile {
    fn read(name: &str, text: &str) -> Result<Self, Faults> {
        read_lesson(name, text)
    }
}

/// A file's text, and what faults call it.
pub struct Text<T> {
    /// The file as the user named it.
    pub name: String,
    /// All of it.
    pub text: String,
    of: PhantomData<fn() -> T>,
}

/// A room file's text.
pub type RoomText = Text<Room>;
/// A drill file's text.
pub type DrillText = Text<DrillFile>;
/// A piece file's text.
pub type PieceText = Text<PieceFile>;
/// A lesson file's text.
pub type LessonText = Text<LessonFile>;

impl<T> Text<T> {
    /// This text of a file called `name`, not yet judged.
    #[must_use]
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        Self { name: name.into(), text: text.into(), of: PhantomData }
    }

    fn built_in((name, text): (&str, &str)) -> Self {
        Self::new(name, text)
    }

    /// The text of the file at `path`, not yet judged.
    ///
    /// # Errors
    /// [`Faults`] if it cannot be read as text.
    pub fn load(path: &Path) -> Result<Self, Faults> {
        Ok(Self::new(path.display().to_string(), read_file(path)?))
    }
}

impl<T: Describes> Text<T> {
    /// What it describes.
    ///
    /// # Errors
    /// Every fault of the text.
    pub fn read(&self) -> Result<T, Faults> {
        T::read(&self.name, &self.text)
    }
}

impl Text<Room> {
    /// The demo room.
    #[must_use]
    pub fn demo() -> Self {
        Self::built_in(book::demo::ROOM)
    }
}

impl Text<DrillFile> {
    /// The demo drills, from the first lesson on.
    #[must_use]
    pub fn demos() -> Vec<Self> {
        book::demo::DRILLS.into_iter().map(Self::built_in).collect()
    }
}

impl Text<PieceFile> {
    /// The demo piece.
    #[must_use]
    pub fn demo() -> Self {
        Self::built_in(book::demo::PIECE)
    }
}

impl Text<LessonFile> {
    /// The demo lesson.
    #[must_use]
    pub fn demo() -> Self {
        Self::built_in(book::demo::LESSON)
    }
}

impl<T> Clone for Text<T> {
    fn clone(&self) -> Self {
        Self::new(self.name.clone(), self.text.clone())
    }
}

impl<T> fmt::Debug for Text<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Text").field("name", &self.name).field("text", &self.text).finish()
    }
}

impl<T> PartialEq for Text<T> {
    fn eq(&self, other: &Self) -> bool {
        (&self.name, &self.text) == (&other.name, &other.text)
    }
}

impl<T> Eq for Text<T> {}

/// The text of a file that proved to be sound.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FileText {
    /// A room.
    Room(RoomText),
    /// A drill.
    Drill(DrillText),
    /// A piece.
    Piece(PieceText),
    /// A lesson.
    Lesson(LessonText),
}

impl FileText {
    /// The room, drill, piece or lesson at `path`, whichever it is.
    ///
    /// # Errors
    /// Every fault of the file; those inside one item of a lesson are the item's own.
    pub fn load(path: &Path) -> Result<Self, Faults> {
        Ok(match book::load(path)? {
            Book::Room(_) => Self::Room(RoomText::load(path)?),
            Book::Drill(_) => Self::Drill(DrillText::load(path)?),
            Book::Piece(_) => Self::Piece(PieceText::load(path)?),
            Book::Lesson(_) => Self::Lesson(LessonText::load(path)?),
        })
    }

    /// What sort of file it is, in a word.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Room(_) => "room",
            Self::Drill(_) => "drill",
            Self::Piece(_) => "piece",
            Self::Lesson(_) => "lesson",
        }
    }

    /// What faults call it.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Room(text) => &text.name,
            Self::Drill(text) => &text.name,
            Self::Piece(text) => &text.name,
            Self::Lesson(text) => &text.name,
        }
    }
}
