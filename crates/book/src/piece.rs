//! A piece, from its file and back into one.

mod forms;
mod page;
mod read;
mod write;

pub use crate::tokens::countable;
pub use forms::PIECE;
pub(crate) use read::check_division;
pub use write::write;

use sequencer::{ClimbSettings, Piece, RecheckSettings};

use crate::fault::Faults;
use crate::file::{self, Sort};
use crate::source::Source;
use crate::view::View;
use crate::walk::Walker;

/// A piece, and how it is climbed and rechecked where nothing else is said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PieceFile {
    /// What the page holds.
    pub piece: Piece,
    /// How its passages climb.
    pub climb: ClimbSettings,
    /// How its passages are rechecked.
    pub recheck: RecheckSettings,
    name: String,
}

/// Reads a piece from `text`; `name` is what faults call the file.
///
/// In what it gives, a bar has a tempo only where the tempo changes, marks and repeats stand in the order of the page, and no two bars,
/// marks or passages share a name.
///
/// # Errors
/// Every fault of the file, each at its place.
pub fn read_piece(name: &str, text: &str) -> Result<PieceFile, Faults> {
    let source = Source::new(name, text);
    let document = source.document()?;
    file::expect(&source, &document, Sort::Piece)?;
    let mut walker = Walker::new(&source);
    let known = walker.file(&PIECE, &document);
    let read = known.then(|| read::piece(&mut walker, View::new(&source, &document)));
    let (piece, climb, recheck) = walker.finish(read)?;
    Ok(PieceFile { piece, climb, recheck, name: name.to_owned() })
}

impl PieceFile {
    /// What faults call the file.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.name
    }
}
