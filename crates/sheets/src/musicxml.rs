//! What a MusicXML file says of its bars: their numbers, meters, tempi, rehearsal marks and repeats. The notes are counted for the length
//! of the bars and not kept.
//!
//! The format is MusicXML 4.0 and 3.1 as published by the W3C Music Notation Community Group (score-partwise, score-timewise, and the
//! compressed .mxl with its META-INF/container.xml).
//!
//! - `container`: a compressed file opened
//! - `text`: bytes as text
//! - `xml`: the text tag by tag, with the place of everything that is wrong
//! - `score`: what counts in it
//! - `lengths`: how long the bars are
//! - [`piece`](mod@piece): the piece made of that, and what was left out

mod container;
mod lengths;
pub mod piece;
mod score;
#[cfg(test)]
mod tests;
mod text;
mod xml;

use book::Faults;
use units::Beats;

pub use piece::{Imported, Omission, piece};

/// The largest file that is read, in bytes.
pub const LARGEST_FILE: u64 = 32 << 20;
/// The longest text that is read out of a compressed file, in bytes.
pub const LONGEST_TEXT: u64 = 64 << 20;

/// What a score says of its bars.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outline {
    /// The work's title, the movement's, or both.
    pub title: Option<String>,
    /// In the order of the page, at least one.
    pub bars: Vec<Bar>,
}

/// A bar of a score.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bar {
    /// Its number as it is written: "12", "0", "X1".
    pub number: String,
    /// Whether the score says that it is not counted with the others.
    pub implicit: bool,
    /// The meter written at its beginning.
    pub meter: Option<Written>,
    /// How many quarter notes its fullest part lasts; nothing where no part has any notes.
    pub lasts: Beats,
    /// The tempi written in it, in order.
    pub tempi: Vec<Speed>,
    /// The rehearsal marks over it.
    pub marks: Vec<String>,
    /// Whether a repeat begins with it.
    pub repeats_from: bool,
    /// How often what is repeated is played in all, where a repeat ends with it.
    pub repeats_to: Option<u8>,
    /// The numbers of the ending that begins with it, such as "1" or "1, 2".
    pub ending_from: Option<String>,
    /// Whether an ending ends with it.
    pub ending_to: bool,
    /// Signs and words that send the players elsewhere, in the words of [`Omission`].
    pub leaps: Vec<&'static str>,
}

/// A meter as a score writes it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Written {
    /// Upper numbers, each over its lower: 3+2 over 8 is one pair, 3/8 + 2/4 two.
    Fraction(Vec<(Vec<u8>, u8)>),
    /// No meter: free time.
    Free,
    /// Something that is no fraction.
    Unknown(String),
}

/// A tempo as a score writes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Speed {
    /// How many quarter notes after the beginning of the bar.
    pub at: Beats,
    /// Quarter notes a minute.
    pub quarters: f64,
}

/// Reads the score in `bytes`, compressed or not; `name` is what faults call the file.
///
/// # Errors
/// One fault: what is broken, too large or no MusicXML, where there is a place with it, and how to mend it.
pub fn read(name: &str, bytes: &[u8]) -> Result<Outline, Faults> {
    if bytes.len() as u64 > LARGEST_FILE {
        let message = format!("the file is longer than {} MiB", LARGEST_FILE >> 20);
        return Err(book::Fault::of_file(name, message, "export one movement by itself, without pictures").into());
    }
    if container::is_one(bytes) {
        let (inside, text) = container::open(name, bytes)?;
        return score::read(&inside, &text);
    }
    let text = text::decode(name, bytes)?;
    score::read(name, &text)
}
