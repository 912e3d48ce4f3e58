//! What the teacher's own keys, pedals and switches do, from its file.

use std::ops::Range;

use crate::fault::Faults;
use crate::form::{Form, Key, Kind};
use crate::source::Source;
use crate::view::{Text, View};
use crate::walk::Walker;

/// The most rows: more than there are pedals, switches and keys in a school.
const MOST: usize = 200;

/// A file of bindings.
pub static BINDINGS: Form = Form {
    what: "a file of bindings",
    keys: &[
        Key::version(),
        Key::new(
            "bind",
            Kind::List { of: &Kind::Table(&BIND), least: 0, most: MOST },
            "[[bind]] and under it signal and does",
            "What each key, pedal or switch does; whatever is not named does what it does as it comes.",
        ),
    ],
    one_of: &[],
    named: None,
    above: None,
};

/// One of them.
static BIND: Form = Form {
    what: "a binding",
    keys: &[
        Key::new(
            "signal",
            Kind::Words { most: 60 },
            "signal = \"pedal controller 64\"",
            "A key, a controller, a note or a program, as the learn screen shows it, such as F6, PGDN, pedal controller 64, note C2 or program 5; \
             with \"on channel 3\" only from there.",
        )
        .needed(),
        Key::new(
            "does",
            Kind::Words { most: 40 },
            "does = \"go\"",
            "The word of what it does, as the list of keys has it, such as go, again, hold, hush or drone; or nothing.",
        )
        .needed(),
    ],
    one_of: &[],
    named: None,
    above: Some(&BINDINGS),
};

/// Why a row is refused: what is wrong, a semicolon, and how to mend it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refused {
    /// Its signal.
    Signal(String),
    /// What it does.
    Does(String),
}

/// Whether `text` is a file of bindings.
#[must_use]
pub fn is_bindings(text: &str) -> bool {
    Source::new("", text).document().is_ok_and(|document| document.contains_key("bind"))
}

/// Goes through the rows of the file called `name`, `take`s each sound one, and returns all that is wrong. Rows without a fault are taken
/// whatever is wrong with the others; none is where the text is no TOML or of another version.
pub fn read_bindings(name: &str, text: &str, mut take: impl FnMut(&str, &str) -> Result<(), Refused>) -> Option<Faults> {
    let source = Source::new(name, text);
    let document = match source.document() {
        Ok(document) => document,
        Err(faults) => return Some(faults),
    };
    let mut walker = Walker::new(&source);
    if walker.file(&BINDINGS, &document) {
        for (row, _) in View::new(&source, &document).tables("bind") {
            let (Some(signal), Some(does)) = (row.text("signal"), row.text("does")) else { continue };
            let (error, at): (String, Range<usize>) = match take(signal.value, does.value) {
                Ok(()) => continue,
                Err(Refused::Signal(error)) => (error, Text::inside(&signal)),
                Err(Refused::Does(error)) => (error, Text::inside(&does)),
            };
            walker.error(at, &error);
        }
    }
    walker.finish(Some(())).err()
}
