//! The stage each passage has reached in each room.

use serde::{Deserialize, Serialize};
use std::time::SystemTime;
use units::Tempo;

/// The most passages that are remembered; the one longest untouched is forgotten first.
pub const MOST: usize = 500;

/// Where all climbs stand, the one touched last at the end.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ClimbStandings(Vec<ClimbStanding>);

/// Where one passage stands in one room.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClimbStanding {
    /// Which passage where.
    pub of: Climbing,
    /// The stage that stands, by its tempo in thousandths of a beat per minute: where steps are set otherwise meanwhile, the nearest below counts.
    pub tempo: u32,
    /// When it was reached.
    pub written: SystemTime,
}

/// What climbs, and in which room.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Climbing {
    /// The room's file, or `demo:` and its name.
    pub room: String,
    /// The piece's file likewise, or what the screen calls a climb with no piece.
    pub piece: String,
    /// The passage; nothing for the whole piece.
    pub passage: Option<String>,
}

impl ClimbStandings {
    /// All of them, the one touched last at the end.
    pub fn iter(&self) -> std::slice::Iter<'_, ClimbStanding> {
        self.0.iter()
    }

    /// Notes where one stands, in place of what was known of it.
    pub fn note(&mut self, standing: ClimbStanding) {
        self.0.retain(|known| known.of != standing.of);
        self.0.push(standing);
        let over = self.0.len().saturating_sub(MOST);
        self.0.drain(..over);
    }

    /// The stage, from zero, that is offered to `of`: the last that is no quicker than the one it stood at. Nothing if that is the first, or if
    /// it never stood at any.
    #[must_use]
    pub fn offer(&self, of: &Climbing, stages: &[Tempo]) -> Option<usize> {
        let known = self.0.iter().rfind(|known| known.of == *of)?;
        stages.iter().rposition(|stage| stage.thousandths() <= known.tempo).filter(|stage| *stage > 0)
    }
}
