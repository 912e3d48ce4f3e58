//! Files named on the command line, and the built-in ones: `demo` is the first drill (or, as a room, the demo room), `demo:NAME` any of them.

use book::{Book, Fault, Faults, LessonFile};
use std::path::{Path, PathBuf};

use crate::folders::Folders;
use crate::workshop::{DrillText, FileText, LessonText, PieceText, RoomText};

const DEMO: &str = "demo";

/// A room and why it was chosen.
#[derive(Clone, Debug)]
pub struct ChosenRoom {
    /// Its text.
    pub text: RoomText,
    /// Told to the user where nothing was named: "the room beside it, alder-street.toml".
    pub why: String,
}

/// The room, drill or piece called `path`.
pub fn file(path: &Path) -> Result<FileText, Faults> {
    match built_in(path) {
        None => FileText::load(path),
        Some("") => demo_drill(0).ok_or_else(|| no_such_demo(path, "")),
        Some(name) if stem(book::demo::ROOM.0) == name => Ok(FileText::Room(RoomText::demo())),
        Some(name) if stem(book::demo::PIECE.0) == name => Ok(FileText::Piece(PieceText::demo())),
        Some(name) if stem(book::demo::LESSON.0) == name => Ok(FileText::Lesson(LessonText::demo())),
        Some(name) => {
            let place = book::demo::DRILLS.iter().position(|(file, _)| stem(file) == name);
            place.and_then(demo_drill).ok_or_else(|| no_such_demo(path, name))
        }
    }
}

/// The lesson called `path`; nothing if it is of another sort or at fault as a whole.
pub fn lesson(path: &Path) -> Option<LessonFile> {
    let book = match built_in(path) {
        None => book::load(path),
        Some(name) => book::demo::load(&format!("{name}.toml")),
    };
    match book {
        Ok(Book::Lesson(lesson)) => Some(*lesson),
        _ => None,
    }
}

/// The file that the one at `path` calls `name`.
pub fn beside(path: &Path, name: &str) -> PathBuf {
    match built_in(path) {
        None => path.with_file_name(name),
        Some(_) => PathBuf::from(format!("{DEMO}:{}", stem(name))),
    }
}

/// Reads the file that the one at `path` calls `name`.
pub fn load_beside(path: &Path, name: &str) -> Result<Book, Faults> {
    match built_in(path) {
        None => book::load_beside(path, name),
        Some(_) => book::demo::load(name),
    }
}

/// The room called `path`.
pub fn room(path: &Path) -> Result<RoomText, Faults> {
    match built_in(path) {
        None => RoomText::load(path),
        Some("") => Ok(RoomText::demo()),
        Some(_) => match file(path)? {
            FileText::Room(room) => Ok(room),
            other => Err(no_room(other.name(), other.word())),
        },
    }
}

fn no_room(name: &str, sort: &str) -> Faults {
    Fault::of_file(name, format!("this is a {sort}, not a room"), "name a room here, such as demo").into()
}

/// The room for the drill at `drill`: the one `given`, else a room file beside it, else the demo room.
pub fn room_for(drill: &Path, given: Option<&Path>) -> Result<ChosenRoom, Faults> {
    if let Some(given) = given {
        return Ok(ChosenRoom { text: room(given)?, why: given.display().to_string() });
    }
    if built_in(drill).is_none() {
        let beside = rooms_beside(drill);
        if let Some(first) = beside.first() {
            let more = if beside.len() > 1 { format!(", the first of {} rooms there", beside.len()) } else { String::new() };
            return Ok(ChosenRoom { text: RoomText::load(first)?, why: format!("the room beside it, {}{more}", first.display()) });
        }
    }
    Ok(ChosenRoom { text: RoomText::demo(), why: "the built-in demo room".to_owned() })
}

/// The room a command takes that is told of none and has no drill: the one used last, else the demo room.
pub fn usual_room() -> Result<ChosenRoom, Faults> {
    match Folders::find().ok().and_then(|folders| folders.last_room()) {
        Some(path) => Ok(ChosenRoom { text: RoomText::load(&path)?, why: format!("the room used last, {}", path.display()) }),
        None => Ok(ChosenRoom { text: RoomText::demo(), why: "the built-in demo room".to_owned() }),
    }
}

/// Whether `path` names a file that is part of the program.
pub fn is_built_in(path: &Path) -> bool {
    built_in(path).is_some()
}

/// What follows `demo:`, or nothing where `demo` stands alone.
fn built_in(path: &Path) -> Option<&str> {
    let name = path.to_str()?;
    if name == DEMO { Some("") } else { name.strip_prefix(DEMO)?.strip_prefix(':') }
}

fn demo_drill(place: usize) -> Option<FileText> {
    DrillText::demos().into_iter().nth(place).map(FileText::Drill)
}

fn no_such_demo(path: &Path, name: &str) -> Faults {
    let names: Vec<String> = book::demo::DRILLS
        .iter()
        .chain([&book::demo::ROOM, &book::demo::PIECE, &book::demo::LESSON])
        .map(|(file, _)| format!("{DEMO}:{}", stem(file)))
        .collect();
    let mend = match book::suggest(&format!("{DEMO}:{name}"), &names) {
        Some(nearest) => format!("did you mean {nearest}?"),
        None => format!("there are {}", names.join(", ")),
    };
    Fault::of_file(&path.display().to_string(), "no built-in file is called so", mend).into()
}

fn stem(file: &str) -> &str {
    file.trim_end_matches(".toml")
}

/// The sound room files in the folder of `drill`, by name.
fn rooms_beside(drill: &Path) -> Vec<PathBuf> {
    let folder = drill.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut files: Vec<PathBuf> = entries.flatten().map(|entry| folder.join(entry.file_name())).collect();
    files.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
    files.sort();
    files.retain(|path| matches!(book::load(path), Ok(Book::Room(_))));
    files
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn built_in_files_go_by_name() {
        assert!(matches!(file(Path::new("demo")), Ok(FileText::Drill(drill)) if drill.name == "middle-note.toml"));
        assert!(matches!(file(Path::new("demo:two-notes")), Ok(FileText::Drill(drill)) if drill.name == "two-notes.toml"));
        assert!(matches!(file(Path::new("demo:alder-street")), Ok(FileText::Room(_))));
        assert_eq!(room(Path::new("demo")).unwrap(), RoomText::demo());
        let faults = file(Path::new("demo:two-note")).unwrap_err().to_string();
        assert_eq!(faults, "demo:two-note: no built-in file is called so\n  mend: did you mean demo:two-notes?");
        assert!(room(Path::new("demo:two-notes")).is_err());
    }

    #[test]
    fn a_room_beside_a_drill_is_its_room() {
        let folder = tempfile::tempdir().unwrap();
        let (_, drill) = book::demo::DRILLS[0];
        let path = folder.path().join("drill.toml");
        std::fs::write(&path, drill).unwrap();
        assert_eq!(room_for(&path, None).unwrap().why, "the built-in demo room");
        std::fs::write(folder.path().join("b-room.toml"), book::demo::ROOM.1).unwrap();
        std::fs::write(folder.path().join("a-broken-room.toml"), "[[section]]").unwrap();
        let chosen = room_for(&path, None).unwrap();
        assert!(chosen.why.ends_with("b-room.toml"), "{}", chosen.why);
        assert!(chosen.text.name.ends_with("b-room.toml"));
    }
}
