//! The lesson under way.

use serde::{Deserialize, Serialize};
use std::path::PathBuf;
use std::time::{Duration, SystemTime};
use units::Tempo;

/// A lesson left for longer than this is over and not offered any more; ours: no school day is longer.
pub const LONGEST_PAUSE: Duration = Duration::from_secs(12 * 60 * 60);

/// Where a lesson stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LessonStanding {
    /// The lesson's file, or `demo:` and its name.
    pub lesson: PathBuf,
    /// The room's file, or `demo:` and its name.
    pub room: PathBuf,
    /// The item that stands, from zero.
    pub item: usize,
    /// Where in it.
    pub place: Place,
    /// Its tempo there, in thousandths of a beat per minute; nothing for an item without one.
    pub tempo: Option<u32>,
    /// Every item of the lesson.
    pub items: Vec<ItemStanding>,
    /// When the lesson was begun.
    pub begun: SystemTime,
    /// When this was written.
    pub written: SystemTime,
}

/// Where in an item, counted from zero.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// The group, seat or stage.
    pub station: usize,
    /// The round of a drill, or the pass of a stage.
    pub round: usize,
    /// The bar of the plan.
    pub bar: usize,
}

/// What became of an item so far.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ItemStanding {
    /// What the screen calls it: by this it is found again in a lesson that was edited.
    pub name: String,
    /// How long it has stood.
    pub spent: Duration,
    /// The minutes it was cut to, 0 if it was left out; nothing if it keeps those of the file.
    pub agreed: Option<u16>,
}

/// How to go on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Resume {
    /// With which item, from zero.
    pub item: usize,
    /// Where in it: nothing if the item is another by now, so that it is taken from its top.
    pub place: Option<Place>,
    /// How long each item has stood.
    pub spent: Vec<Duration>,
    /// The minutes each was cut to, if it was.
    pub agreed: Vec<Option<u16>>,
}

impl LessonStanding {
    /// Whether it is to be offered at `now`: it was written within [`LONGEST_PAUSE`]. A clock that was set back meanwhile, as after a power cut,
    /// does no harm within the same bounds.
    #[must_use]
    pub fn is_fresh(&self, now: SystemTime) -> bool {
        let pause = now.duration_since(self.written).unwrap_or_else(|ahead| ahead.duration());
        pause <= LONGEST_PAUSE
    }

    /// The tempo, if it is one.
    #[must_use]
    pub fn tempo(&self) -> Option<Tempo> {
        Tempo::new(f64::from(self.tempo?) / 1000.0).ok()
    }

    /// How to go on at `now` in the lesson whose items are called `names` by now; nothing if it is stale or there is nothing to go on with.
    ///
    /// An item is known by its name, the first of that name to the first, the second to the second. If the one that stood is gone, the one in its
    /// place is taken from its top.
    #[must_use]
    pub fn resume<S: AsRef<str>>(&self, now: SystemTime, names: &[S]) -> Option<Resume> {
        if !self.is_fresh(now) || names.is_empty() {
            return None;
        }
        let before: Vec<&str> = self.items.iter().map(|item| item.name.as_str()).collect();
        let known = found_again(&before, names);
        let item = known.iter().position(|known| *known == Some(self.item));
        let was = |known: &Option<usize>| self.items.get((*known)?);
        Some(Resume {
            item: item.unwrap_or(self.item.min(names.len() - 1)),
            place: item.map(|_| self.place),
            spent: known.iter().map(|known| was(known).map_or(Duration::ZERO, |item| item.spent)).collect(),
            agreed: known.iter().map(|known| was(known).and_then(|item| item.agreed)).collect(),
        })
    }
}

/// Which of the items called `before` each of those called `names` is: the first of a name the first, the second the second.
#[must_use]
pub fn found_again<A: AsRef<str>, B: AsRef<str>>(before: &[A], names: &[B]) -> Vec<Option<usize>> {
    let mut left: Vec<Option<&str>> = before.iter().map(|name| Some(name.as_ref())).collect();
    let mut was = |name: &str| {
        let index = left.iter().position(|known| *known == Some(name))?;
        *left.get_mut(index)? = None;
        Some(index)
    };
    names.iter().map(|name| was(name.as_ref())).collect()
}
