//! Rooms and drills to choose from: where each lies, and what it says of itself.

use std::path::{Path, PathBuf};

use crate::folders::Folders;
use crate::workshop::{DrillText, FileText, LessonText, PieceText, RoomText};

/// The file that remembers rooms used before, newest first, one path a line.
const RECENT: &str = "recent-rooms";
/// How many of them are remembered.
const MOST_RECENT: usize = 8;
/// The tempi that are offered to climb to with no piece, and over how many bars of 4/4.
pub const BARE_GOALS: [u16; 8] = [92, 100, 108, 120, 132, 144, 152, 160];
/// How many bars a pass has with no piece.
pub const BARE_BARS: u16 = 8;

/// In front of a built-in file's name.
const DEMO: &str = "demo:";
/// How many files of a folder are looked into.
const MOST_FILES: usize = 200;

/// Where a room or drill comes from.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Source {
    /// Built into the program, by its file name.
    Demo(String),
    /// A file.
    File(PathBuf),
}

/// One line of a list of rooms or drills.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Title {
    /// Where it lies.
    pub source: Source,
    /// The room's name or the drill's title.
    pub name: String,
    /// Where it lies, for the eye.
    pub from: String,
}

/// What can be chosen.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Shelf {
    /// Rooms: used before, beside the present one, the demo.
    pub rooms: Vec<Title>,
    /// Drills: beside the room, then the demo's.
    pub drills: Vec<Title>,
    /// Passages of the pieces that lie there, each with its name; nothing for the whole piece.
    pub passages: Vec<(Title, Option<String>)>,
    /// Lessons that lie there.
    pub lessons: Vec<Title>,
}

impl Source {
    /// The file at `path`, wherever the program is run from.
    #[must_use]
    pub fn absolute(path: &Path) -> Self {
        Self::File(std::path::absolute(path).unwrap_or_else(|_| path.to_owned()))
    }

    /// How it is remembered between runs: its path, or `demo:` and its name.
    #[must_use]
    pub fn remembered(&self) -> String {
        match self {
            Self::Demo(name) => format!("{DEMO}{name}"),
            Self::File(path) => path.display().to_string(),
        }
    }

    /// What was remembered so.
    #[must_use]
    pub fn of_memory(remembered: &Path) -> Self {
        match remembered.to_str().and_then(|text| text.strip_prefix(DEMO)) {
            Some(name) => Self::Demo(name.to_owned()),
            None => Self::File(remembered.to_owned()),
        }
    }

    /// The file that the one here calls `name`: seen from its folder.
    #[must_use]
    pub fn beside(&self, name: &str) -> Self {
        match self {
            Self::Demo(_) => Self::Demo(name.to_owned()),
            Self::File(path) => Self::File(folder_of(path).join(name)),
        }
    }

    /// The file, if it is one.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        match self {
            Self::Demo(_) => None,
            Self::File(path) => Some(path),
        }
    }
}

impl Shelf {
    /// The demo room and drills.
    #[must_use]
    pub fn demo() -> Self {
        let mut shelf = Self::default();
        shelf.add_demo();
        shelf
    }

    /// Everything there is to choose from beside `room` and what is led from, `beside`, with the rooms used before. Reads files; those that are not sound are
    /// left out, `check` tells what is wrong with them.
    #[must_use]
    pub fn find(folders: Option<&Folders>, room: &Source, beside: &[&Source]) -> Self {
        let mut shelf = Self::default();
        let recent = folders.map(recent).unwrap_or_default();
        for path in recent {
            if let Ok(FileText::Room(text)) = FileText::load(&path) {
                shelf.add_room(&path, &text);
            }
        }
        let mut looked_into: Vec<PathBuf> = Vec::new();
        for source in std::iter::once(room).chain(beside.iter().copied()) {
            let Some(folder) = source.path().map(folder_of) else { continue };
            if looked_into.contains(&folder) {
                continue;
            }
            for path in toml_files(&folder) {
                match FileText::load(&path) {
                    Ok(FileText::Room(text)) => shelf.add_room(&path, &text),
                    Ok(FileText::Drill(text)) => shelf.add_drill(&path, &text),
                    Ok(FileText::Piece(text)) => shelf.add_piece(Source::absolute(&path), &text, &path.display().to_string()),
                    Ok(FileText::Lesson(text)) => shelf.add_lesson(Source::absolute(&path), &text, &path.display().to_string()),
                    Err(_) => {}
                }
            }
            looked_into.push(folder);
        }
        shelf.add_demo();
        shelf
    }

    fn add_room(&mut self, path: &Path, text: &RoomText) {
        let source = Source::absolute(path);
        if let Ok(room) = text.read()
            && !self.rooms.iter().any(|known| known.source == source)
        {
            self.rooms.push(Title { source, name: room.name, from: path.display().to_string() });
        }
    }

    fn add_drill(&mut self, path: &Path, text: &DrillText) {
        let source = Source::absolute(path);
        if let Ok(file) = text.read()
            && !self.drills.iter().any(|known| known.source == source)
        {
            self.drills.push(Title { source, name: file.drill.title, from: path.display().to_string() });
        }
    }

    /// Every passage of a piece, and all of it.
    fn add_piece(&mut self, source: Source, text: &PieceText, from: &str) {
        let Ok(file) = text.read() else { return };
        let title = |name: &str| Title { source: source.clone(), name: name.to_owned(), from: from.to_owned() };
        let passages = file.piece.passages.iter().map(|passage| passage.name.as_str());
        let named = passages.map(|passage| (title(&format!("{}: {passage}", file.piece.title)), Some(passage.to_owned())));
        self.passages.extend(named.chain([(title(&file.piece.title), None)]));
    }

    fn add_lesson(&mut self, source: Source, text: &LessonText, from: &str) {
        if let Ok(file) = text.read() {
            self.lessons.push(Title { source, name: file.lesson.title, from: from.to_owned() });
        }
    }

    fn add_demo(&mut self) {
        let demo = || crate::text::chooser::DEMO.to_owned();
        let text = RoomText::demo();
        if let Ok(room) = text.read() {
            self.rooms.push(Title { source: Source::Demo(text.name), name: room.name, from: demo() });
        }
        for text in DrillText::demos() {
            if let Ok(file) = text.read() {
                self.drills.push(Title { source: Source::Demo(text.name), name: file.drill.title, from: demo() });
            }
        }
        let (piece, lesson) = (PieceText::demo(), LessonText::demo());
        self.add_piece(Source::Demo(piece.name.clone()), &piece, &demo());
        self.add_lesson(Source::Demo(lesson.name.clone()), &lesson, &demo());
    }
}

/// The folder a file lies in.
#[must_use]
pub fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    }
}

fn toml_files(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut files: Vec<PathBuf> = entries
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|end| end == "toml"))
        .take(MOST_FILES)
        .collect();
    files.sort();
    files
}

/// The rooms used before that are still there, newest first.
fn recent(folders: &Folders) -> Vec<PathBuf> {
    let text = std::fs::read_to_string(folders.state.join(RECENT)).unwrap_or_default();
    let mut paths: Vec<PathBuf> = folders.last_room().into_iter().collect();
    for path in text.lines().map(PathBuf::from) {
        if path.is_file() && !paths.contains(&path) {
            paths.push(path);
        }
    }
    paths
}

/// Puts `room` in front of the rooms used before.
///
/// # Errors
/// What the file system says.
pub fn remember(folders: &Folders, room: &Path) -> anyhow::Result<()> {
    folders.remember_room(room)?;
    let room = std::fs::canonicalize(room).unwrap_or_else(|_| room.to_owned());
    let mut paths = recent(folders);
    paths.retain(|path| *path != room);
    paths.insert(0, room);
    let lines: String = paths.iter().take(MOST_RECENT).map(|path| format!("{}\n", path.display())).collect();
    std::fs::write(folders.state.join(RECENT), lines)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_gives_its_rooms_and_drills_before_the_demo() {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
        write("room.toml", &RoomText::demo().text.replace("Alder Street", "Birch Lane"));
        write("long.toml", &DrillText::demos()[0].text);
        write("broken.toml", "version = ");
        let room = Source::File(folder.path().join("room.toml"));
        let shelf = Shelf::find(None, &room, &[]);
        assert_eq!(shelf.rooms.len(), 2);
        assert!(shelf.rooms[0].name.starts_with("Birch Lane"), "{:?}", shelf.rooms);
        assert_eq!(shelf.rooms[0].source, room);
        assert_eq!(shelf.drills.len(), 1 + DrillText::demos().len());
        assert!(matches!(shelf.drills[0].source, Source::File(_)));
    }

    #[test]
    fn rooms_used_before_come_newest_first() {
        let root = tempfile::tempdir().unwrap();
        let folders = Folders::under(root.path());
        let file = |name: &str| {
            let path = std::fs::canonicalize(root.path()).unwrap().join(name);
            std::fs::write(&path, &RoomText::demo().text).unwrap();
            path
        };
        let (first, second) = (file("first.toml"), file("second.toml"));
        remember(&folders, &first).unwrap();
        remember(&folders, &second).unwrap();
        remember(&folders, &first).unwrap();
        assert_eq!(recent(&folders), [first, second]);
    }
}
