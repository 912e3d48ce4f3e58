//! From a path to a checked room, drill, piece or lesson.

use sequencer::Room;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Read};
use std::path::Path;
use toml::de::DeTable;

use crate::fault::{Fault, Faults};
use crate::source::Source;
use crate::{DrillFile, LessonFile, PieceFile, read_drill, read_lesson, read_piece, read_room, suggest};

/// The largest file that is read, in bytes: a hundred times the longest that a class needs.
pub const LARGEST: u64 = 1 << 20;

/// What a file turned out to be.
#[derive(Clone, Debug)]
pub enum Book {
    /// A room.
    Room(Box<Room>),
    /// A drill.
    Drill(Box<DrillFile>),
    /// A piece.
    Piece(Box<PieceFile>),
    /// A lesson; some of its items may be at fault.
    Lesson(Box<LessonFile>),
}

/// The sorts of file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sort {
    Room,
    Drill,
    Piece,
    Lesson,
}

/// Reads the room, drill, piece or lesson at `path`, whichever it is.
///
/// # Errors
/// Every fault of the file; one if it cannot be read or is none of them.
pub fn load(path: &Path) -> Result<Book, Faults> {
    let text = read_file(path)?;
    let name = path.display().to_string();
    let source = Source::new(&name, &text);
    match sort(&source, &source.document()?)? {
        Sort::Room => read_room(&name, &text).map(|room| Book::Room(Box::new(room))),
        Sort::Drill => read_drill(&name, &text).map(|drill| Book::Drill(Box::new(drill))),
        Sort::Piece => read_piece(&name, &text).map(|piece| Book::Piece(Box::new(piece))),
        Sort::Lesson => read_lesson(&name, &text).map(|lesson| Book::Lesson(Box::new(lesson))),
    }
}

/// Reads the file that the one at `path` calls `name`: seen from its folder.
///
/// # Errors
/// As [`load`].
pub fn load_beside(path: &Path, name: &str) -> Result<Book, Faults> {
    load(&path.parent().unwrap_or(Path::new("")).join(name))
}

impl Book {
    /// What sort of file it is, in a word.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Room(_) => Sort::Room.word(),
            Self::Drill(_) => Sort::Drill.word(),
            Self::Piece(_) => Sort::Piece.word(),
            Self::Lesson(_) => Sort::Lesson.word(),
        }
    }
}

/// The text of the file at `path`.
///
/// # Errors
/// One fault: the file is missing (with the nearest name beside it), a folder, locked, too long or not UTF-8.
pub fn read_file(path: &Path) -> Result<String, Faults> {
    let name = path.display().to_string();
    let mut bytes = Vec::new();
    let read = File::open(path).and_then(|file| {
        if file.metadata()?.is_dir() {
            return Err(ErrorKind::IsADirectory.into());
        }
        file.take(LARGEST + 1).read_to_end(&mut bytes)
    });
    if let Err(error) = read {
        return Err(unreadable(path, &error).into());
    }
    if bytes.len() as u64 > LARGEST {
        let mend = "name a room, drill, piece or lesson file; they are a few thousand bytes long";
        return Err(Fault::of_file(&name, format!("the file is longer than {LARGEST} bytes"), mend).into());
    }
    String::from_utf8(bytes).map_err(|error| not_utf8(&name, &error).into())
}

fn unreadable(path: &Path, error: &io::Error) -> Fault {
    let name = path.display().to_string();
    match error.kind() {
        ErrorKind::IsADirectory => {
            let mend = match toml_files(path).first() {
                Some(first) => format!("name a file in it, such as {}", path.join(first).display()),
                None => "name a file; this folder holds no .toml file".to_owned(),
            };
            Fault::of_file(&name, "this is a folder", mend)
        }
        ErrorKind::PermissionDenied => {
            Fault::of_file(&name, "this file may not be read", "allow yourself to read it: chmod u+r, or ask its owner")
        }
        ErrorKind::NotFound => not_found(path, &name),
        _ => Fault::of_file(&name, format!("this file cannot be read: {error}"), "check the path and the disk it is on"),
    }
}

fn not_found(path: &Path, name: &str) -> Fault {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    if !folder.is_dir() {
        return Fault::of_file(name, format!("there is no folder {}", folder.display()), "check the path");
    }
    let wanted = path.file_name().unwrap_or_default().to_string_lossy();
    let files = toml_files(folder);
    let mend = match suggest(&wanted, &files) {
        Some(nearest) => format!("did you mean {}?", path.with_file_name(nearest).display()),
        None if files.is_empty() => "check the path; this folder holds no .toml file".to_owned(),
        None => format!("the folder holds {}", files.iter().take(8).cloned().collect::<Vec<_>>().join(", ")),
    };
    Fault::of_file(name, "there is no such file", mend)
}

/// The names of the TOML files in `folder`, sorted; none if it cannot be listed.
fn toml_files(folder: &Path) -> Vec<String> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let names = entries.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned());
    let mut names: Vec<_> = names.filter(|name| name.ends_with(".toml")).collect();
    names.sort_unstable();
    names
}

fn not_utf8(name: &str, error: &std::string::FromUtf8Error) -> Fault {
    let bytes = error.as_bytes();
    let offset = error.utf8_error().valid_up_to();
    let line = bytes[..offset].iter().filter(|byte| **byte == b'\n').count() + 1;
    let mend = match bytes {
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => "it is UTF-16; save it from the editor as UTF-8",
        _ => "save it from the editor as UTF-8, or type the sign in that line anew",
    };
    Fault::of_file(name, format!("this is not UTF-8 text: byte {offset}, in line {line}, is no part of a character"), mend)
}

/// Tells the sorts apart by what only one of them has.
fn sort(source: &Source, document: &DeTable<'_>) -> Result<Sort, Faults> {
    const MARKS: [(&str, Sort); 14] = [
        ("section", Sort::Room),
        ("turn", Sort::Drill),
        ("line", Sort::Drill),
        ("bars", Sort::Piece),
        ("pickup", Sort::Piece),
        ("passage", Sort::Piece),
        ("mark", Sort::Piece),
        ("change", Sort::Piece),
        ("repeat", Sort::Piece),
        ("numbered", Sort::Piece),
        ("incomplete", Sort::Piece),
        ("climb", Sort::Piece),
        ("recheck", Sort::Piece),
        ("item", Sort::Lesson),
    ];
    let mut found: Vec<_> = document
        .keys()
        .filter_map(|key| MARKS.iter().find(|(mark, _)| mark == key.get_ref()).map(|(mark, sort)| (*mark, *sort, key.span())))
        .collect();
    found.sort_by_key(|(_, _, span)| span.start);
    let first = found.first().cloned();
    match first {
        Some((mark, sort, _)) => match found.into_iter().find(|(_, other, _)| *other != sort) {
            None => Ok(sort),
            Some((other, other_sort, span)) => {
                let message = format!("{mark} makes this file a {}, {other} makes it a {}", sort.word(), other_sort.word());
                Err(source.fault(span, message, format!("write the {} and the {} into two files", other_sort.word(), sort.word())).into())
            }
        },
        None => {
            let misspelt = document.keys().find_map(|key| {
                let nearest = suggest(key.get_ref(), MARKS.map(|(mark, _)| mark))?;
                MARKS.iter().find(|(mark, _)| *mark == nearest).map(|(_, sort)| *sort)
            });
            let mend = "a room has [[section]] for each section; a drill has [line] and [[turn]]; a piece has bars or [[passage]]; a lesson has [[item]]";
            misspelt.ok_or_else(|| source.fault(0..0, "this is no room, drill, piece or lesson", mend).into())
        }
    }
}

impl Sort {
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Room => "room",
            Self::Drill => "drill",
            Self::Piece => "piece",
            Self::Lesson => "lesson",
        }
    }
}

/// Refuses a file that is plainly of another sort, instead of refusing each of its keys.
pub(crate) fn expect(source: &Source, document: &DeTable<'_>, wanted: Sort) -> Result<(), Faults> {
    match sort(source, document) {
        Ok(found) if found != wanted => {
            let message = format!("this is a {}, not a {}", found.word(), wanted.word());
            Err(source.fault(0..0, message, format!("name a {} here", wanted.word())).into())
        }
        // what has no mark at all, or several, is told of key by key
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_locked_file_says_how_to_unlock_it() {
        let fault = unreadable(Path::new("room.toml"), &ErrorKind::PermissionDenied.into());
        assert_eq!(
            fault.to_string(),
            "room.toml: this file may not be read\n  mend: allow yourself to read it: chmod u+r, or ask its owner"
        );
    }
}
