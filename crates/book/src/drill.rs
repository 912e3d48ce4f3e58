//! A model/echo pattern, from its file, and its plans in a room.

mod compiled;
mod forms;
mod read;

pub use forms::DRILL;
pub(crate) use forms::{METER, NOTE, SYLLABLES, meter, subdivide};
pub(crate) use read::division;

use sequencer::{Drill, Plan, Room, SectionIndex, compile};
use std::ops::Range;

use crate::fault::Faults;
use crate::file::{self, Sort};
use crate::source::Source;
use crate::view::View;
use crate::walk::Walker;

/// A drill with the text it was read from, so that what is wrong with it in a room is told at its place.
#[derive(Clone, Debug)]
pub struct DrillFile {
    /// What the file says.
    pub drill: Drill,
    source: Source,
    spans: Spans,
}

/// Where the parts of a drill stand in its text.
#[derive(Clone, Debug, Default)]
struct Spans {
    title: Range<usize>,
    rounds: Range<usize>,
    /// Each group, and each of its members.
    groups: Vec<(Range<usize>, Vec<Range<usize>>)>,
    everyone: LineSpans,
    /// Each section's name, and its line.
    own: Vec<(Range<usize>, LineSpans)>,
    turns: Vec<TurnSpans>,
}

/// Where a turn stands.
#[derive(Clone, Debug, Default)]
struct TurnSpans {
    /// Its verb, or what it says of the breath's beats.
    beats: Range<usize>,
    /// Its verb, or what it says of dividing them.
    division: Range<usize>,
}

/// Where a line stands.
#[derive(Clone, Debug, Default)]
struct LineSpans {
    whole: Range<usize>,
    tokens: Vec<Range<usize>>,
}

/// Reads a drill from `text`; `name` is what faults call the file. What needs no room to be judged is judged here.
///
/// # Errors
/// Every fault of the file, each at its place.
pub fn read_drill(name: &str, text: &str) -> Result<DrillFile, Faults> {
    let source = Source::new(name, text);
    let document = source.document()?;
    file::expect(&source, &document, Sort::Drill)?;
    let mut walker = Walker::new(&source);
    let known = walker.file(&DRILL, &document);
    let read = if known { read::drill(&mut walker, View::new(&source, &document)) } else { None };
    if let Some((drill, spans)) = &read {
        let faults = compiled::without_a_room(&source, drill, spans, walker.is_sound());
        walker.add(faults);
    }
    let (drill, spans) = walker.finish(read)?;
    drop(document);
    Ok(DrillFile { drill, source, spans })
}

impl DrillFile {
    /// What faults call the file.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.source.name
    }

    /// The drill's plan in `room`, group after group.
    ///
    /// # Errors
    /// Everything that does not go together with this room, at its place in the file.
    pub fn compile(&self, room: &Room) -> Result<Plan, Faults> {
        compile::drill(room, &self.drill).map_err(|error| self.faults(room, &error))
    }

    /// The drill taken seat by seat through one section.
    ///
    /// # Errors
    /// As [`Self::compile`], and if the section has no line.
    pub fn roll(&self, room: &Room, section: SectionIndex) -> Result<Plan, Faults> {
        compile::roll(room, &self.drill, section).map_err(|error| self.faults(room, &error))
    }

    /// The model of every section, one section after another.
    ///
    /// # Errors
    /// As [`Self::compile`], and if no section has a line that fits.
    pub fn in_turn(&self, room: &Room) -> Result<Plan, Faults> {
        compile::drill_in_turn(room, &self.drill).map_err(|error| self.faults(room, &error))
    }
}
