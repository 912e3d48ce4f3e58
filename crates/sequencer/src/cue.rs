//! What the director tells the engine.

use std::fmt;

/// One word from the director. Where it takes hold is part of its meaning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Cue {
    /// Standing: start or go on, the first beat one look-ahead from now. Running: on to the next group or seat at the bar
    /// line; while a group or seat is only just being called, nothing.
    Go,
    /// Stop at the bar line and stand until `go`; a drone goes on.
    Hold,
    /// The present round from its top, at the bar line; at once when standing.
    Again,
    /// The next group, seat or section, at the bar line.
    Next,
    /// The present group or seat from its top, or the one before if this is its first round, at the bar line.
    Back,
    /// The section's landmark and then its next round, at the bar line; where the plan holds none, as `again`.
    Landmark,
    /// Silence at once, from any state; the place is kept.
    Hush,
    /// A step louder, at once.
    Louder,
    /// A step softer, at once.
    Softer,
    /// A step quicker, at the first bar line that no note crosses.
    Quicker,
    /// A step slower, at the first bar line that no note crosses.
    Slower,
}

impl Cue {
    /// Every cue.
    pub const ALL: [Self; 11] = [
        Self::Go,
        Self::Hold,
        Self::Again,
        Self::Next,
        Self::Back,
        Self::Landmark,
        Self::Hush,
        Self::Louder,
        Self::Softer,
        Self::Quicker,
        Self::Slower,
    ];

    /// Beats per minute in one step quicker or slower.
    pub const TEMPO_STEP: i32 = 4;

    /// The cue's word, as journals write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Go => "go",
            Self::Hold => "hold",
            Self::Again => "again",
            Self::Next => "next",
            Self::Back => "back",
            Self::Landmark => "landmark",
            Self::Hush => "hush",
            Self::Louder => "louder",
            Self::Softer => "softer",
            Self::Quicker => "quicker",
            Self::Slower => "slower",
        }
    }

    /// The cue called `word`.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|cue| cue.word() == word)
    }
}

impl fmt::Display for Cue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}
