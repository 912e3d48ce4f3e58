//! A room, drills, a piece and a lesson to start with: Alder Street School, which does not exist.

use sequencer::Room;

use crate::fault::{Fault, Faults};
use crate::file::Book;
use crate::{DrillFile, LessonFile, PieceFile, read_drill, read_lesson, read_piece, read_room};

/// The room's file name and text.
pub const ROOM: (&str, &str) = ("alder-street.toml", include_str!("../../../examples/alder-street.toml"));

/// The drills' file names and texts, from the first lesson on.
pub const DRILLS: [(&str, &str); 5] = [
    ("middle-note.toml", include_str!("../../../examples/middle-note.toml")),
    ("two-notes.toml", include_str!("../../../examples/two-notes.toml")),
    ("five-notes.toml", include_str!("../../../examples/five-notes.toml")),
    ("six-eight.toml", include_str!("../../../examples/six-eight.toml")),
    ("when-it-sits.toml", include_str!("../../../examples/when-it-sits.toml")),
];

/// The piece's file name and text.
pub const PIECE: (&str, &str) = ("lantern-march.toml", include_str!("../../../examples/lantern-march.toml"));

/// The lesson's file name and text.
pub const LESSON: (&str, &str) = ("week-seven.toml", include_str!("../../../examples/week-seven.toml"));

/// The demo room.
///
/// # Panics
/// Never in a build that passes its tests: the text is part of the program.
#[must_use]
pub fn room() -> Room {
    let (name, text) = ROOM;
    read_room(name, text).unwrap_or_else(|faults| unreachable!("{faults}"))
}

/// The demo drills, in the order of [`DRILLS`].
///
/// # Panics
/// Never in a build that passes its tests: the texts are part of the program.
#[must_use]
pub fn drills() -> Vec<DrillFile> {
    DRILLS.iter().map(|(name, text)| read_drill(name, text).unwrap_or_else(|faults| unreachable!("{faults}"))).collect()
}

/// The demo piece.
///
/// # Panics
/// Never in a build that passes its tests: the text is part of the program.
#[must_use]
pub fn piece() -> PieceFile {
    let (name, text) = PIECE;
    read_piece(name, text).unwrap_or_else(|faults| unreachable!("{faults}"))
}

/// The demo lesson in the demo room.
///
/// # Panics
/// Never in a build that passes its tests: the texts are part of the program.
#[must_use]
pub fn lesson() -> LessonFile {
    let (name, text) = LESSON;
    read_lesson(name, text).unwrap_or_else(|faults| unreachable!("{faults}")).within(&room(), &mut load)
}

/// The built-in file called `name`, as [`crate::load`] reads those on a disk.
///
/// # Errors
/// One fault: there is none of that name.
pub fn load(name: &str) -> Result<Book, Faults> {
    let named = |(file, _): &(&str, &str)| *file == name;
    if let Some((name, text)) = DRILLS.into_iter().find(named) {
        return read_drill(name, text).map(|drill| Book::Drill(Box::new(drill)));
    }
    match name {
        _ if named(&ROOM) => Ok(Book::Room(Box::new(room()))),
        _ if named(&PIECE) => Ok(Book::Piece(Box::new(piece()))),
        _ if named(&LESSON) => read_lesson(name, LESSON.1).map(|lesson| Book::Lesson(Box::new(lesson))),
        _ => {
            let names = || [ROOM, PIECE, LESSON].into_iter().chain(DRILLS).map(|(file, _)| file);
            let mend = match crate::suggest(name, names()) {
                Some(nearest) => format!("did you mean {nearest}?"),
                None => format!("there are {}", names().collect::<Vec<_>>().join(", ")),
            };
            Err(Fault::of_file(name, "no built-in file is called so", mend).into())
        }
    }
}
