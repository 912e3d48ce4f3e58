//! A lesson: each of its items in its folder and its room, and then every file it names.

use book::{Fault, Faults, LessonFile};
use sequencer::{Hour, Room};
use std::path::{Path, PathBuf};

use super::{FileOutput, NoticeOutput, count};
use crate::cli::sources;
use crate::text;

/// Checks the lesson at `path` in the room at `given`, else in its own, else as a drill would be; says what it is.
pub(super) fn look(path: &Path, lesson: LessonFile, given: Option<&Path>, output: &mut FileOutput) -> Result<(), Faults> {
    output.kind = Some("lesson".to_owned());
    let mut load = |name: &str| sources::load_beside(path, name);
    let own = lesson.room(&mut load);
    let (room, why) = match (&own, given) {
        (Ok(Some(room)), None) => (room.clone(), lesson.lesson.room.clone().unwrap_or_default()),
        _ => {
            let chosen = sources::room_for(path, given)?;
            (chosen.text.read()?, chosen.why)
        }
    };
    let lesson = lesson.within(&room, &mut load);
    output.room = Some(room.name.clone());
    output.says = Some(format!("{}, in {} ({why})", says(&lesson), room.name));
    output.notices = notices(&lesson, &room);
    let faults: Vec<Fault> = own.err().into_iter().chain(lesson.faults()).flat_map(Faults::into_vec).collect();
    Faults::new(faults).map_or(Ok(()), Err)
}

/// The files that the lesson at `path` names and that are there, as `check` takes them.
pub(super) fn named(path: &Path, lesson: &LessonFile) -> Vec<PathBuf> {
    let paths = lesson.names().into_iter().map(|name| sources::beside(path, name));
    paths.filter(|path| sources::is_built_in(path) || path.exists()).collect()
}

fn says(lesson: &LessonFile) -> String {
    let planned: u32 = lesson.slots().iter().filter_map(|slot| slot.minutes).map(u32::from).sum();
    let items = count(lesson.items.len(), "item");
    let hour = match lesson.lesson.hour {
        Hour::Open => format!("{planned} min"),
        Hour::Long { minutes } => format!("{planned} of {minutes} min"),
        Hour::Timed { starts, minutes } => format!("{planned} of {minutes} min from {starts}"),
    };
    format!("{}: {items} for {hour}", lesson.lesson.title)
}

/// A plan that is longer than its hour is allowed, and told of; so is what each item says of itself in the room.
fn notices(lesson: &LessonFile, room: &Room) -> Vec<NoticeOutput> {
    let planned: u32 = lesson.slots().iter().filter_map(|slot| slot.minutes).map(u32::from).sum();
    let mut notices = Vec::new();
    if let Hour::Long { minutes } | Hour::Timed { minutes, .. } = lesson.lesson.hour
        && planned > u32::from(minutes)
    {
        notices.push(NoticeOutput { section: None, text: format!("its items are planned for {planned} min and the hour has {minutes}") });
    }
    for item in &lesson.items {
        let Ok(sound) = &item.item else { continue };
        let name = text::lesson::item(sound);
        notices.extend(
            item.notices
                .iter()
                .map(|told| super::notice(room, told))
                .map(|told| NoticeOutput { text: format!("{name}: {}", told.text), ..told }),
        );
    }
    notices
}
