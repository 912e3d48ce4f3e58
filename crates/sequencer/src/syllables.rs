//! What is said between the beats: the ways of counting in use among band and theory teachers.
//!
//! The tables beside `tests/outside/counting.rs` name the sources, way by way.

use std::fmt;
use std::str::FromStr;
use thiserror::Error;

use crate::Meter;

/// Into how many parts a counted beat is divided aloud.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Division {
    /// Only the beats are counted.
    #[default]
    Beat,
    /// Eighths of a quarter-note beat.
    Two,
    /// Eighths of a dotted-quarter beat, or triplets.
    Three,
    /// Sixteenths of a quarter-note beat.
    Four,
    /// Sixteenths of a dotted-quarter beat.
    Six,
}

/// A way of counting, named by what it says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Syllables {
    /// `1 e & a`, in thirds `1 & a`.
    EAndA,
    /// `1 e & a`, in thirds `1 trip let`.
    TripLet,
    /// `1 e & a`, in thirds `1 la li`: no word stands in two places, as in the others of this row.
    #[default]
    LaLi,
    /// `1 ti te ta`, in thirds `1 la li`.
    TiTeTa,
    /// `1 ta te ta`, in thirds `1 la li`.
    TaTeTa,
    /// `1 e & a`, in sixths `1 to la ta li ti`: a word of its own for each place.
    ToLaTaLiTi,
    /// `ta ka di mi`, in thirds `ta ki da`: the beat itself is `ta`, whichever it is.
    TaKaDiMi,
    /// `1 ta ne ta`, in thirds `1 na ni`.
    TaNeTa,
}

/// Text that names no way of counting.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{0}\" is no way of counting; write {list}", list = Syllables::list())]
pub struct SyllablesError(pub String);

impl Division {
    /// All, coarsest first.
    pub const ALL: [Self; 5] = [Self::Beat, Self::Two, Self::Three, Self::Four, Self::Six];

    /// How many parts.
    #[must_use]
    pub const fn parts(self) -> u8 {
        match self {
            Self::Beat => 1,
            Self::Two => 2,
            Self::Three => 3,
            Self::Four => 4,
            Self::Six => 6,
        }
    }

    /// The division into `parts`, if there is one.
    #[must_use]
    pub fn into(parts: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|division| division.parts() == parts)
    }

    /// Whether a beat of `meter` divides so. A compound beat divides into three and six; a simple one into two, three (triplets) and four.
    #[must_use]
    pub fn fits(self, meter: Meter) -> bool {
        match self {
            Self::Beat | Self::Three => true,
            Self::Two | Self::Four => meter.divides_into() == 2,
            Self::Six => meter.divides_into() == 3,
        }
    }
}

impl Syllables {
    /// All ways.
    pub const ALL: [Self; 8] =
        [Self::EAndA, Self::TripLet, Self::LaLi, Self::TiTeTa, Self::TaTeTa, Self::ToLaTaLiTi, Self::TaKaDiMi, Self::TaNeTa];

    /// The names of all ways, as files write them.
    pub const NAMES: [&str; 8] = ["e-and-a", "trip-let", "la-li", "ti-te-ta", "ta-te-ta", "to-la-ta-li-ti", "ta-ka-di-mi", "ta-ne-ta"];

    /// As files write it.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::ALL.iter().zip(Self::NAMES).find(|(way, _)| **way == self).map_or("", |(_, name)| name)
    }

    /// What stands for the number on every divided beat, if this way has no numbers there.
    #[must_use]
    pub const fn on_the_beat(self) -> Option<&'static str> {
        match self {
            Self::TaKaDiMi => Some("ta"),
            _ => None,
        }
    }

    /// The words of the parts after the beat's own, as ids; nothing if this way has none for so many parts.
    #[must_use]
    pub const fn between(self, division: Division) -> Option<&'static [&'static str]> {
        Some(match (division, self) {
            (Division::Beat, _) => &[],
            (Division::Two, Self::TiTeTa | Self::TaTeTa) => &["te"],
            (Division::Two, Self::TaKaDiMi) => &["di"],
            (Division::Two, Self::TaNeTa) => &["ne"],
            (Division::Two, _) => &["and"],
            (Division::Three, Self::EAndA) => &["and", "a"],
            (Division::Three, Self::TripLet) => &["trip", "let"],
            (Division::Three, Self::TaKaDiMi) => &["ki", "da"],
            (Division::Three, Self::TaNeTa) => &["na", "ni"],
            (Division::Three, _) => &["la", "li"],
            (Division::Four, Self::TiTeTa) => &["ti", "te", "ta"],
            (Division::Four, Self::TaTeTa) => &["ta", "te", "ta"],
            (Division::Four, Self::TaKaDiMi) => &["ka", "di", "mi"],
            (Division::Four, Self::TaNeTa) => &["ta", "ne", "ta"],
            (Division::Four, _) => &["e", "and", "a"],
            (Division::Six, Self::EAndA | Self::TripLet) => return None,
            (Division::Six, Self::ToLaTaLiTi) => &["to", "la", "ta", "li", "ti"],
            (Division::Six, Self::TaKaDiMi) => &["va", "ki", "di", "da", "ma"],
            (Division::Six, Self::TaNeTa) => &["ta", "na", "ta", "ni", "ta"],
            (Division::Six, _) => &["ta", "la", "ta", "li", "ta"],
        })
    }

    /// The names of the ways that have words for `division`, for a message.
    pub(crate) fn that_say(division: Division) -> String {
        quoted(Self::ALL.into_iter().filter(|way| way.between(division).is_some()))
    }

    fn list() -> String {
        quoted(Self::ALL.into_iter())
    }
}

fn quoted(ways: impl Iterator<Item = Syllables>) -> String {
    let names: Vec<_> = ways.map(|way| format!("\"{way}\"")).collect();
    match names.as_slice() {
        [first @ .., last] if !first.is_empty() => format!("{} or {last}", first.join(", ")),
        _ => names.concat(),
    }
}

impl fmt::Display for Syllables {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Syllables {
    type Err = SyllablesError;

    fn from_str(text: &str) -> Result<Self, SyllablesError> {
        let wanted = text.trim();
        Self::ALL.into_iter().find(|way| way.name() == wanted).ok_or_else(|| SyllablesError(text.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_way_has_its_name_and_as_many_words_as_parts() {
        for (way, name) in Syllables::ALL.into_iter().zip(Syllables::NAMES) {
            assert_eq!((way.name(), name.parse()), (name, Ok(way)));
            for division in Division::ALL {
                assert_eq!(Division::into(division.parts()), Some(division));
                if let Some(words) = way.between(division) {
                    assert_eq!(words.len() + 1, usize::from(division.parts()), "{way} in {division:?}");
                }
            }
        }
        let refused = "1 e & a".parse::<Syllables>().unwrap_err().to_string();
        assert!(refused.starts_with("\"1 e & a\" is no way of counting; write \"e-and-a\", ") && refused.ends_with(" or \"ta-ne-ta\""));
    }
}
