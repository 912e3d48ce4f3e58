//! Which records are meant.

use jiff::Timestamp;
use pitch::Written;
use rusqlite::Params;
use std::num::NonZeroU16;

/// Which records are meant: those of which everything that is given holds. The default means all.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Filter {
    /// Of this room, by its whole name.
    pub room: Option<String>,
    /// Of this section, by its whole name.
    pub section: Option<String>,
    /// Of this seat; echoes of whole sections are not.
    pub seat: Option<NonZeroU16>,
    /// Where this written note was asked for, as it is spelled.
    pub note: Option<Written>,
    /// From this moment on.
    pub since: Option<Timestamp>,
    /// Before this moment.
    pub until: Option<Timestamp>,
}

/// What holds of a verdict that is meant, in the order of [`Filter::params`].
pub(crate) const VERDICTS: &str = "(?1 IS NULL OR sections.room = ?1) AND (?2 IS NULL OR sections.name = ?2) AND (?3 IS NULL OR seat = ?3) \
                                   AND (?4 IS NULL OR target = ?4) AND (?5 IS NULL OR at_ms >= ?5) AND (?6 IS NULL OR at_ms < ?6)";
/// What holds of a whole section's echo that is meant: no seat's is.
pub(crate) const SECTIONS: &str = "(?1 IS NULL OR sections.room = ?1) AND (?2 IS NULL OR sections.name = ?2) AND ?3 IS NULL \
                                   AND (?4 IS NULL OR target = ?4) AND (?5 IS NULL OR at_ms >= ?5) AND (?6 IS NULL OR at_ms < ?6)";

impl Filter {
    pub(crate) fn params(&self) -> impl Params + '_ {
        // a moment between two milliseconds lies before what is kept at the later of them
        let ceiling = |moment: Timestamp| {
            let floor = moment.as_millisecond();
            if Timestamp::from_millisecond(floor).is_ok_and(|floor| floor < moment) { floor + 1 } else { floor }
        };
        (
            self.room.as_deref(),
            self.section.as_deref(),
            self.seat.map(NonZeroU16::get),
            self.note.map(|note| note.to_string()),
            self.since.map(ceiling),
            self.until.map(ceiling),
        )
    }
}
