//! The beat made audible.

/// Which beat a click marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ClickKind {
    /// The first beat of a bar: highest and longest.
    Downbeat,
    /// Any other beat.
    Beat,
    /// A part of a beat: softest and shortest.
    Subdivision,
}
