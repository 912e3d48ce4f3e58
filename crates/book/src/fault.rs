//! What is wrong in a file, where, and how to mend it.

use serde::Serialize;
use std::fmt;
use std::ops::Range;

use crate::source::Source;

/// How many faults of one file are written out; the rest are counted.
const MOST_SHOWN: usize = 40;

/// One thing wrong in a file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// The file as the caller named it.
    pub file: String,
    /// Where in its text; nothing if the file could not be read as text at all. In JSON its fields stand beside the others.
    #[serde(flatten)]
    pub place: Option<Place>,
    /// What is wrong.
    pub message: String,
    /// How to mend it.
    pub mend: String,
}

/// Where in a text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Place {
    /// From 1.
    pub line: usize,
    /// In characters, from 1.
    pub column: usize,
    /// The exact words, in bytes of the text.
    pub span: Range<usize>,
    /// The line of the text, fit to be shown: no control characters, cut where it is very long.
    pub excerpt: String,
    /// Goes under the excerpt: blanks, then `^` under the exact words.
    #[serde(skip)]
    pub caret: String,
}

/// Everything wrong in a file: one fault or more, in the order of the text, at most [`Faults::MOST`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Faults(Vec<Fault>);

impl Fault {
    /// A fault of a file as a whole.
    #[must_use]
    pub fn of_file(file: &str, message: impl Into<String>, mend: impl Into<String>) -> Self {
        Self { file: clean(file), place: None, message: clean(&message.into()), mend: clean(&mend.into()) }
    }

    /// A fault in a text that was read from elsewhere, with its caret under the bytes of `span`.
    #[must_use]
    pub fn in_text(file: &str, text: &str, span: Range<usize>, message: impl Into<String>, mend: impl Into<String>) -> Self {
        Source::new(file, text).fault(span, message, mend)
    }

    /// The line from 1, where the fault has a place.
    #[must_use]
    pub fn line(&self) -> Option<usize> {
        self.place.as_ref().map(|place| place.line)
    }

    /// The column from 1, where the fault has a place.
    #[must_use]
    pub fn column(&self) -> Option<usize> {
        self.place.as_ref().map(|place| place.column)
    }
}

impl Faults {
    /// The most faults that are collected; a file with more is no file of this kind.
    pub const MOST: usize = 200;

    /// All of `faults` in the order of the text; nothing if there are none.
    #[must_use]
    pub fn new(mut faults: Vec<Fault>) -> Option<Self> {
        faults.sort_by_key(|fault| fault.place.as_ref().map_or((0, 0), |place| (place.span.start, place.span.end)));
        (!faults.is_empty()).then_some(Self(faults))
    }

    /// Each fault in turn.
    pub fn iter(&self) -> std::slice::Iter<'_, Fault> {
        self.0.iter()
    }

    /// The faults themselves.
    #[must_use]
    pub fn into_vec(self) -> Vec<Fault> {
        self.0
    }
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        Self(vec![fault])
    }
}

impl<'a> IntoIterator for &'a Faults {
    type Item = &'a Fault;
    type IntoIter = std::slice::Iter<'a, Fault>;
    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:", self.file)?;
        match &self.place {
            Some(Place { line, column, excerpt, caret, .. }) => {
                let margin = " ".repeat(line.to_string().len());
                writeln!(f, "{line}:{column}: {}", self.message)?;
                writeln!(f, "  {line} | {excerpt}")?;
                writeln!(f, "  {margin} | {caret}")?;
            }
            None => writeln!(f, " {}", self.message)?,
        }
        write!(f, "  mend: {}", self.mend)
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, fault) in self.0.iter().take(MOST_SHOWN).enumerate() {
            if index > 0 {
                f.write_str("\n\n")?;
            }
            write!(f, "{fault}")?;
        }
        match self.0.len().saturating_sub(MOST_SHOWN) {
            0 => Ok(()),
            more if self.0.len() >= Self::MOST => write!(f, "\n\nand at least {more} more"),
            more => write!(f, "\n\nand {more} more"),
        }
    }
}

impl std::error::Error for Faults {}

/// Text that no terminal acts upon: control characters and marks that turn the direction of writing become U+FFFD, tabs blanks.
pub(crate) fn clean(text: &str) -> String {
    let shown = |character: char| match character {
        '\t' => ' ',
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => char::REPLACEMENT_CHARACTER,
        character if character.is_control() => char::REPLACEMENT_CHARACTER,
        character => character,
    };
    text.chars().map(shown).collect()
}
