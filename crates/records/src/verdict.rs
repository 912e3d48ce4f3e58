//! What was heard of one echo.

use std::fmt;
use std::num::NonZeroI8;

/// What was heard of one echo, by ear or by microphone. Steps are counted from the note asked for; negative is lower.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// The note asked for.
    OnIt,
    /// Something lower; by how much was not said.
    Low,
    /// Something higher; by how much was not said.
    High,
    /// Another partial of the same fingering, so many away.
    Partials(NonZeroI8),
    /// The right note in another octave, so many away.
    Octaves(NonZeroI8),
    /// A twelfth away: what a clarinet does that overblows, or does not.
    Twelfth(Way),
    /// The note asked for, too low in its tuning.
    Flat,
    /// The note asked for, too high in its tuning.
    Sharp,
    /// The note asked for, after its beat.
    Late,
    /// The note asked for, before its beat.
    Early,
    /// On none of the partials of the fingering in use.
    OffTheSeries,
    /// Another note.
    OtherNote,
    /// Nothing came.
    Nothing,
}

/// Up or down.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Way {
    /// Too low.
    Down,
    /// Too high.
    Up,
}

/// What verdicts are counted as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// On the note.
    OnIt,
    /// On the note, but flat, sharp, late or early.
    Near,
    /// Lower.
    Low,
    /// Higher.
    High,
    /// Off the series, or another note.
    Astray,
    /// Nothing.
    Nothing,
}

impl Verdict {
    /// What it is counted as.
    #[must_use]
    pub const fn kind(self) -> Kind {
        match self {
            Self::OnIt => Kind::OnIt,
            Self::Flat | Self::Sharp | Self::Late | Self::Early => Kind::Near,
            Self::Low | Self::Twelfth(Way::Down) => Kind::Low,
            Self::High | Self::Twelfth(Way::Up) => Kind::High,
            Self::Partials(steps) | Self::Octaves(steps) => {
                if steps.get() < 0 {
                    Kind::Low
                } else {
                    Kind::High
                }
            }
            Self::OffTheSeries | Self::OtherNote => Kind::Astray,
            Self::Nothing => Kind::Nothing,
        }
    }

    /// The word that files have for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::OnIt => "on it",
            Self::Low => "low",
            Self::High => "high",
            Self::Partials(steps) => {
                if steps.get() < 0 {
                    "low partial"
                } else {
                    "high partial"
                }
            }
            Self::Octaves(steps) => {
                if steps.get() < 0 {
                    "low octave"
                } else {
                    "high octave"
                }
            }
            Self::Twelfth(Way::Down) => "low twelfth",
            Self::Twelfth(Way::Up) => "high twelfth",
            Self::Flat => "flat",
            Self::Sharp => "sharp",
            Self::Late => "late",
            Self::Early => "early",
            Self::OffTheSeries => "off the series",
            Self::OtherNote => "another note",
            Self::Nothing => "nothing",
        }
    }

    /// How many partials or octaves away, for the verdicts that say so.
    #[must_use]
    pub const fn steps(self) -> Option<NonZeroI8> {
        match self {
            Self::Partials(steps) | Self::Octaves(steps) => Some(steps),
            _ => None,
        }
    }

    /// The verdict of this [`word`](Self::word) and these [`steps`](Self::steps); nothing if there is none, or if the two do not belong together.
    #[must_use]
    pub fn read(word: &str, steps: Option<NonZeroI8>) -> Option<Self> {
        const PLAIN: [Verdict; 11] = [
            Verdict::OnIt,
            Verdict::Low,
            Verdict::High,
            Verdict::Twelfth(Way::Down),
            Verdict::Twelfth(Way::Up),
            Verdict::Flat,
            Verdict::Sharp,
            Verdict::Late,
            Verdict::Early,
            Verdict::OffTheSeries,
            Verdict::OtherNote,
        ];
        let stepped = steps.into_iter().flat_map(|steps| [Self::Partials(steps), Self::Octaves(steps)]);
        let found = PLAIN.into_iter().chain([Self::Nothing]).chain(stepped).find(|verdict| verdict.word() == word)?;
        (found.steps() == steps).then_some(found)
    }
}

impl fmt::Display for Verdict {
    /// As a person says it: "2 partials low".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (steps, of) = match self {
            Self::Partials(steps) => (steps.get(), "partial"),
            Self::Octaves(steps) => (steps.get(), "octave"),
            _ => return f.write_str(self.word()),
        };
        let count = steps.unsigned_abs();
        write!(f, "{count} {of}{} {}", if count == 1 { "" } else { "s" }, if steps < 0 { "low" } else { "high" })
    }
}
