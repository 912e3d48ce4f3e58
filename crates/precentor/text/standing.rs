//! What is remembered between runs.

use std::io;
use std::path::Path;

/// A file was broken and has another name now.
#[must_use]
pub fn set_aside(path: &Path, aside: &Path) -> String {
    format!("{} cannot be understood and counts no more; it is kept as {}", path.display(), aside.display())
}

/// A file is there and cannot be read, or moved out of the way.
#[must_use]
pub fn unreadable(path: &Path, error: &io::Error) -> String {
    format!("{} cannot be read ({error}); see: precentor doctor", path.display())
}
