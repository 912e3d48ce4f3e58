//! A lesson in its folder and its room: files that are not there, sections and passages that do not exist, at their place in the lesson.

use sequencer::lesson::{Excerpt, Ground};
use sequencer::{Advance, Item, Passage, Piece, Plan, Room, SectionIndex, Work, compile};
use std::ops::Range;

use super::{LessonFile, Loader, Spans, read};
use crate::climb::{ClimbKeys, RecheckKeys};
use crate::fault::{Fault, Faults};
use crate::file::{Book, Sort};
use crate::room::nearest_section;
use crate::source::Source;
use crate::view::View;
use crate::walk::{self, Walker};
use crate::{DrillFile, PieceFile, suggest};

impl LessonFile {
    /// The room the lesson names, read by `load`; nothing if it names none.
    ///
    /// # Errors
    /// One fault at the room's name: there is no such file, or it is at fault or no room.
    pub fn room(&self, load: &mut Loader<'_>) -> Result<Option<Room>, Faults> {
        let Some(name) = &self.lesson.room else { return Ok(None) };
        let place = Place { source: &self.source, span: &self.room };
        match load(name) {
            Ok(Book::Room(room)) => Ok(Some(*room)),
            Ok(other) => Err(place.wrong_sort(name, &other, Sort::Room)),
            Err(faults) => Err(place.of_named(name, &faults)),
        }
    }

    /// The lesson as it can be led in `room`: an item that does not go with the room, or names what is not there, turns into its faults;
    /// a climb or a recheck takes from its piece what it does not say itself. `load` reads the files that are named, each once an item.
    #[must_use]
    pub fn within(mut self, room: &Room, load: &mut Loader<'_>) -> Self {
        let Ok(document) = self.source.document() else { return self };
        let tables = View::new(&self.source, &document).tables("item");
        for (file, (table, _)) in self.items.iter_mut().zip(tables) {
            if let Ok(item) = &mut file.item
                && let Some(table) = table.table(item.work.word())
            {
                let led = Led { source: &self.source, spans: &file.spans, table, room };
                match led.plan(item, load) {
                    Ok(plan) => file.notices = plan.map(|plan| plan.notices).unwrap_or_default(),
                    Err(faults) => file.item = Err(faults),
                }
            }
        }
        drop(document);
        self
    }
}

impl LessonFile {
    /// The plan of the item `number`, from zero, in `room`; `load` reads the files it names.
    ///
    /// # Errors
    /// Everything wrong in the item, or that there is none of this number.
    pub fn plan(&self, number: usize, room: &Room, load: &mut Loader<'_>) -> Result<Plan, Faults> {
        let document = self.source.document()?;
        let tables = View::new(&self.source, &document).tables("item");
        let (Some(file), Some((table, _))) = (self.items.get(number), tables.get(number)) else {
            let mend = format!("choose one of its {}", self.items.len());
            return Err(Fault::of_file(self.file(), format!("there is no item {}", number + 1), mend).into());
        };
        let mut item = file.item.clone()?;
        let verb = Place { source: &self.source, span: &file.spans.verb };
        let work = item.work.clone();
        let held = match &work {
            Work::Drone(drone) => {
                let minutes = item.slot.minutes.filter(|_| item.slot.advance == Advance::ByItself);
                Some(compile::hold(room, drone.as_ref().unwrap_or(&room.drone), minutes.map(f64::from)))
            }
            Work::Talk { note } => Some(compile::talk(room, note)),
            _ => None,
        };
        if let Some(held) = held {
            return held.map_err(|error| verb.error(&error));
        }
        let led = table.table(work.word()).map(|table| Led { source: &self.source, spans: &file.spans, table, room });
        let plan = led.map(|led| led.plan(&mut item, load)).transpose()?.flatten();
        plan.ok_or_else(|| verb.fault("there is nothing to lead", "say what is done").clone())
    }
}

/// An item about to be led.
struct Led<'l> {
    source: &'l Source,
    spans: &'l Spans,
    /// What it says of its work.
    table: View<'l>,
    room: &'l Room,
}

impl<'l> Led<'l> {
    /// The item's plan, where it makes one, with what its piece says of it put into the item.
    fn plan(&self, item: &mut Item, load: &mut Loader<'_>) -> Result<Option<Plan>, Faults> {
        let file = self.place(&self.spans.file);
        let section = self.place(&self.spans.section);
        let whole = self.place(&self.spans.verb);
        let room = self.room;
        let plan = match &mut item.work {
            Work::Drone(_) | Work::Talk { .. } => return Ok(None),
            Work::Landmarks { section: name } => {
                let index = section.section(room, name)?;
                compile::landmarks(room, index).map_err(|error| section.error(&error))?
            }
            Work::Drill { file: name } => file.drill(name, load)?.compile(room).map_err(|faults| file.of_named(name, &faults))?,
            Work::Roll { section: name, drill } => {
                let index = section.section(room, name)?;
                file.drill(drill, load)?.roll(room, index).map_err(|faults| file.of_named(drill, &faults))?
            }
            Work::Climb { of: Ground::Bare { tempo, meter, bars }, settings } => {
                let piece = Piece::bare(format!("Up to {tempo}"), *tempo, *meter, *bars);
                compile::climb(room, &piece, &piece.whole(), settings).map_err(|error| whole.error(&error))?
            }
            Work::Climb { of: Ground::Piece(of), settings } => {
                let (file, passage) = self.excerpt(of, load)?;
                let mut walker = Walker::new(self.source);
                let keys = ClimbKeys::read(&mut walker, self.table);
                read::check_climb(&mut walker, self.table, &keys, &file.piece, &passage);
                *settings = walker.finish(Some(keys))?.over(file.climb);
                compile::climb(room, &file.piece, &passage, settings).map_err(|error| whole.error(&error))?
            }
            Work::Recheck { of, settings } => {
                let (file, passage) = self.excerpt(of, load)?;
                let mut walker = Walker::new(self.source);
                let keys = RecheckKeys::read(&mut walker, self.table);
                *settings = walker.finish(Some(keys))?.over(file.recheck);
                compile::recheck(room, &file.piece, &passage, settings).map_err(|error| whole.error(&error))?
            }
        };
        Ok(Some(plan))
    }

    const fn place(&self, span: &'l Range<usize>) -> Place<'l> {
        Place { source: self.source, span }
    }

    fn excerpt(&self, of: &Excerpt, load: &mut Loader<'_>) -> Result<(Box<PieceFile>, Passage), Faults> {
        let piece = self.place(&self.spans.file).piece(&of.file, load)?;
        let passage = match &of.passage {
            None => piece.piece.whole(),
            Some(name) => piece.piece.passage(name).cloned().ok_or_else(|| {
                let names = || piece.piece.passages.iter().map(|passage| passage.name.as_str());
                let mend = match suggest(name, names()) {
                    Some(nearest) => format!("did you mean \"{nearest}\"?"),
                    None if piece.piece.passages.is_empty() => "take it away, or add a [[passage]] to the piece".to_owned(),
                    None => format!("it has {}", names().collect::<Vec<_>>().join(", ")),
                };
                self.place(&self.spans.passage).fault(format!("{} has no passage called \"{name}\"", of.file), mend)
            })?,
        };
        Ok((piece, passage))
    }
}

/// A place in the lesson's text where something is named.
struct Place<'l> {
    source: &'l Source,
    span: &'l Range<usize>,
}

impl Place<'_> {
    fn fault(&self, message: impl Into<String>, mend: impl Into<String>) -> Faults {
        self.source.fault(self.span.clone(), message, mend).into()
    }

    fn error(&self, error: &impl ToString) -> Faults {
        let (message, mend) = walk::in_two(&error.to_string());
        self.fault(message, mend)
    }

    /// A file that is named here is not there, or has faults of its own.
    fn of_named(&self, name: &str, faults: &Faults) -> Faults {
        let Some(first) = faults.iter().next() else { return self.fault(format!("{name} cannot be read"), "check it") };
        let message = match first.line() {
            None => format!("{name}: {}", first.message),
            Some(line) => format!("{name} has {}, in line {line}: {}", number(faults.iter().count()), first.message),
        };
        self.fault(message, first.mend.clone())
    }

    fn wrong_sort(&self, name: &str, found: &Book, wanted: Sort) -> Faults {
        self.fault(format!("{name} is a {}, not a {}", found.word(), wanted.word()), format!("name a {} here", wanted.word()))
    }

    fn section(&self, room: &Room, name: &str) -> Result<SectionIndex, Faults> {
        let unknown = || self.fault(format!("the room has no section called \"{name}\""), nearest_section(room, name));
        room.find(name).ok_or_else(unknown)
    }

    fn drill(&self, name: &str, load: &mut Loader<'_>) -> Result<Box<DrillFile>, Faults> {
        match load(name) {
            Ok(Book::Drill(drill)) => Ok(drill),
            Ok(other) => Err(self.wrong_sort(name, &other, Sort::Drill)),
            Err(faults) => Err(self.of_named(name, &faults)),
        }
    }

    fn piece(&self, name: &str, load: &mut Loader<'_>) -> Result<Box<PieceFile>, Faults> {
        match load(name) {
            Ok(Book::Piece(piece)) => Ok(piece),
            Ok(other) => Err(self.wrong_sort(name, &other, Sort::Piece)),
            Err(faults) => Err(self.of_named(name, &faults)),
        }
    }
}

fn number(faults: usize) -> String {
    if faults == 1 { "a fault".to_owned() } else { format!("{faults} faults, the first") }
}
