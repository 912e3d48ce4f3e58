//! A room, drills and a piece to start with: Alder Street School, which does not exist.

use sequencer::Room;

use crate::{DrillFile, PieceFile, read_drill, read_piece, read_room};

/// The room's file name and text.
pub const ROOM: (&str, &str) = ("alder-street.toml", include_str!("../../../examples/alder-street.toml"));

/// The drills' file names and texts, from the first lesson on.
pub const DRILLS: [(&str, &str); 4] = [
    ("middle-note.toml", include_str!("../../../examples/middle-note.toml")),
    ("two-notes.toml", include_str!("../../../examples/two-notes.toml")),
    ("five-notes.toml", include_str!("../../../examples/five-notes.toml")),
    ("six-eight.toml", include_str!("../../../examples/six-eight.toml")),
];

/// The piece's file name and text.
pub const PIECE: (&str, &str) = ("lantern-march.toml", include_str!("../../../examples/lantern-march.toml"));

/// The demo room.
///
/// # Panics
/// Never in a build that passes its tests: the text is part of the program.
#[must_use]
pub fn room() -> Room {
    let (name, text) = ROOM;
    read_room(name, text).unwrap_or_else(|faults| unreachable!("{faults}"))
}

/// The demo drills, in the order of [`DRILLS`].
///
/// # Panics
/// Never in a build that passes its tests: the texts are part of the program.
#[must_use]
pub fn drills() -> Vec<DrillFile> {
    DRILLS.iter().map(|(name, text)| read_drill(name, text).unwrap_or_else(|faults| unreachable!("{faults}"))).collect()
}

/// The demo piece.
///
/// # Panics
/// Never in a build that passes its tests: the text is part of the program.
#[must_use]
pub fn piece() -> PieceFile {
    let (name, text) = PIECE;
    read_piece(name, text).unwrap_or_else(|faults| unreachable!("{faults}"))
}
