//! The hour's arithmetic: what has run, what is left, what no longer fits, and what to shorten so that it does.

use std::fmt;
use std::str::FromStr;
use std::time::Duration;

use super::LessonError;
use crate::Advance;

/// How long before its start a lesson may be begun and still be counted by the wall clock; ours.
const EARLY: Duration = Duration::from_secs(15 * 60);
const DAY: Duration = Duration::from_secs(24 * 60 * 60);

/// The time a lesson has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Hour {
    /// As long as it takes.
    #[default]
    Open,
    /// So many minutes from when it is begun.
    Long {
        /// How many.
        minutes: u16,
    },
    /// By the clock on the wall. A lesson begun outside this time, tried out at home perhaps, has its whole length from when it is begun.
    Timed {
        /// When it starts.
        starts: WallTime,
        /// How many minutes it lasts.
        minutes: u16,
    },
}

/// A time of day on the wall: hours and minutes.
///
/// ```
/// use sequencer::lesson::WallTime;
/// let starts: WallTime = "10:15".parse()?;
/// assert_eq!(starts.since_midnight().as_secs(), 36_900);
/// assert!("24:00".parse::<WallTime>().is_err());
/// # Ok::<(), sequencer::lesson::LessonError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WallTime {
    minutes: u16,
}

/// What an item takes of the hour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Slot {
    /// How long it is planned for; nothing for an item that takes no part in the reckoning, 0 for one that is left out.
    pub minutes: Option<u16>,
    /// What it may be shortened to; nothing lets it be halved, up to a whole minute.
    pub least: Option<u16>,
    /// How it goes on to the next item.
    pub advance: Advance,
    /// Whether it is kept whole whatever happens, as talk is.
    pub kept: bool,
}

/// Where a lesson stands.
#[derive(Clone, Copy, Debug)]
pub struct Progress<'a> {
    /// The time of day when it was begun, since midnight.
    pub begun: Duration,
    /// How long ago that is.
    pub ago: Duration,
    /// The item that stands, from zero.
    pub item: usize,
    /// How long each item has stood so far, all its visits together; what is missing at the end is zero.
    pub spent: &'a [Duration],
}

/// What the clock says of a lesson.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clock {
    /// The whole lesson: by the wall clock if it has one.
    pub hour: Spell,
    /// The item that stands.
    pub item: Spell,
    /// What all items are planned for together.
    pub planned: Duration,
    /// What the standing item and all after it still need.
    pub needed: Duration,
    /// By how much that is more than what is left of the hour.
    pub behind: Duration,
    /// Items after the standing one that would end after the hour does, in order.
    pub misfits: Vec<usize>,
    /// What would make them fit; nothing where all do.
    pub proposal: Option<Proposal>,
    /// When the standing item's minutes are up and it goes on by itself; nothing if it waits for go or for its end.
    pub goes_on_in: Option<Duration>,
}

/// A stretch of time that runs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Spell {
    /// How long it has run.
    pub run: Duration,
    /// How long it is planned for, if it is.
    pub planned: Option<Duration>,
    /// What is left of that.
    pub left: Option<Duration>,
    /// How far it has run over.
    pub over: Duration,
}

/// What to shorten and what to leave out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Proposal {
    /// Items to be shortened, in order.
    pub shorten: Vec<Shorter>,
    /// Items to be left out, last first.
    pub leave_out: Vec<usize>,
    /// What is too long even then.
    pub still_over: Duration,
}

/// An item with fewer minutes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shorter {
    /// Which, from zero.
    pub item: usize,
    /// What it was planned for.
    pub from: u16,
    /// What it would get, at least its least.
    pub to: u16,
}

impl WallTime {
    /// How long after midnight.
    #[must_use]
    pub fn since_midnight(self) -> Duration {
        minutes(self.minutes)
    }
}

impl FromStr for WallTime {
    type Err = LessonError;
    fn from_str(text: &str) -> Result<Self, LessonError> {
        let part = |digits: &str, lengths: &[usize], most: u16| {
            let sound = lengths.contains(&digits.len()) && digits.bytes().all(|byte| byte.is_ascii_digit());
            digits.parse::<u16>().ok().filter(|number| sound && *number <= most)
        };
        let read = || {
            let (hours, minutes) = text.trim().split_once(':')?;
            Some(Self { minutes: 60 * part(hours, &[1, 2], 23)? + part(minutes, &[2], 59)? })
        };
        read().ok_or_else(|| LessonError::WallTime(text.to_owned()))
    }
}

impl fmt::Display for WallTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{:02}", self.minutes / 60, self.minutes % 60)
    }
}

impl Slot {
    /// What it is planned for; nothing planned is nothing needed.
    fn planned(&self) -> Duration {
        minutes(self.minutes.unwrap_or(0))
    }

    /// What it still needs after `spent`.
    fn needs(&self, spent: Duration) -> Duration {
        self.planned().saturating_sub(spent)
    }

    /// The fewest minutes it can be given after `spent`.
    fn least(&self, spent: Duration) -> u16 {
        let planned = self.minutes.unwrap_or(0);
        if self.kept {
            return planned;
        }
        let least = self.least.unwrap_or(planned.div_ceil(2));
        let begun = u16::try_from(whole_minutes(spent)).unwrap_or(u16::MAX);
        least.max(begun).min(planned)
    }
}

impl Spell {
    fn new(run: Duration, planned: Option<Duration>) -> Self {
        let left = planned.map(|planned| planned.saturating_sub(run));
        Self { run, planned, left, over: planned.map_or(Duration::ZERO, |planned| run.saturating_sub(planned)) }
    }
}

impl Hour {
    /// What the clock says of a lesson of these `slots` that stands at `progress`.
    #[must_use]
    pub fn clock(&self, slots: &[Slot], progress: &Progress<'_>) -> Clock {
        let spent = |item: usize| progress.spent.get(item).copied().unwrap_or_default();
        let hour = self.spell(progress);
        let standing = slots.get(progress.item).copied().unwrap_or_default();
        let item = Spell::new(spent(progress.item), standing.minutes.map(minutes));
        let ahead: Vec<Ahead> = slots
            .iter()
            .enumerate()
            .skip(progress.item)
            .map(|(item, slot)| Ahead { item, slot: *slot, spent: spent(item), standing: item == progress.item })
            .collect();
        let needed = ahead.iter().map(Ahead::needs).sum();
        let behind = hour.left.map_or(Duration::ZERO, |left| Duration::saturating_sub(needed, left));
        Clock {
            hour,
            item,
            planned: slots.iter().map(Slot::planned).sum(),
            needed,
            behind,
            misfits: misfits(&ahead, &hour),
            proposal: (behind > Duration::ZERO).then(|| propose(&ahead, behind)),
            goes_on_in: item.left.filter(|_| standing.advance == Advance::ByItself),
        }
    }

    fn spell(&self, progress: &Progress<'_>) -> Spell {
        match *self {
            Self::Open => Spell::new(progress.ago, None),
            Self::Long { minutes } => Spell::new(progress.ago, Some(self::minutes(minutes))),
            Self::Timed { starts, minutes } => {
                let length = self::minutes(minutes);
                match Begun::of(starts, length, progress.begun) {
                    Begun::Late(by) => Spell::new(by + progress.ago, Some(length)),
                    Begun::Early(by) => {
                        let left = (length + by).saturating_sub(progress.ago);
                        Spell { left: Some(left), ..Spell::new(progress.ago.saturating_sub(by), Some(length)) }
                    }
                    Begun::Elsewhere => Spell::new(progress.ago, Some(length)),
                }
            }
        }
    }
}

/// When a lesson was begun beside the clock on the wall.
enum Begun {
    /// So long after the hour's start.
    Late(Duration),
    /// So shortly before.
    Early(Duration),
    /// At another time of day.
    Elsewhere,
}

impl Begun {
    fn of(starts: WallTime, length: Duration, begun: Duration) -> Self {
        let since = |from: Duration, to: Duration| of_day(to + DAY - from);
        let (starts, begun) = (starts.since_midnight(), of_day(begun));
        match (since(starts, begun), since(begun, starts)) {
            (late, _) if late < length => Self::Late(late),
            (_, early) if early <= EARLY => Self::Early(early),
            _ => Self::Elsewhere,
        }
    }
}

impl Proposal {
    /// The slots as they are once it is agreed to: what is left out has no minutes any more.
    #[must_use]
    pub fn agreed(&self, slots: &[Slot]) -> Vec<Slot> {
        let mut slots = slots.to_vec();
        let changes = self.shorten.iter().map(|shorter| (shorter.item, shorter.to)).chain(self.leave_out.iter().map(|item| (*item, 0)));
        for (item, minutes) in changes {
            if let Some(slot) = slots.get_mut(item) {
                slot.minutes = Some(minutes);
            }
        }
        slots
    }
}

/// An item that is not yet through.
struct Ahead {
    item: usize,
    slot: Slot,
    spent: Duration,
    standing: bool,
}

impl Ahead {
    fn needs(&self) -> Duration {
        self.slot.needs(self.spent)
    }

    /// The most minutes it can give.
    fn gives(&self) -> u16 {
        self.slot.minutes.unwrap_or(0) - self.slot.least(self.spent)
    }

    /// Whether leaving it out helps and is allowed.
    fn may_go(&self) -> bool {
        !self.standing && !self.slot.kept && self.needs() > Duration::ZERO
    }
}

fn misfits(ahead: &[Ahead], hour: &Spell) -> Vec<usize> {
    let Some(left) = hour.left else { return Vec::new() };
    let mut ends = Duration::ZERO;
    let ended: Vec<_> = ahead
        .iter()
        .map(|item| {
            ends += item.needs();
            (item, ends)
        })
        .collect();
    let misfit =
        |(item, ends): &(&Ahead, Duration)| !item.standing && item.slot.minutes != Some(0) && (*ends > left || hour.over > Duration::ZERO);
    ended.iter().filter(|found| misfit(found)).map(|(item, _)| item.item).collect()
}

/// How to need `behind` less: by shortening if that is enough, else by leaving out as few as it takes, the last first, and shortening.
fn propose(ahead: &[Ahead], behind: Duration) -> Proposal {
    let mut kept: Vec<&Ahead> = ahead.iter().collect();
    let mut behind = behind;
    let mut leave_out = Vec::new();
    let gives = |kept: &[&Ahead]| kept.iter().map(|item| u64::from(item.gives())).sum::<u64>();
    while whole_minutes(behind) > gives(&kept) {
        let Some(last) = kept.iter().rposition(|item| item.may_go()) else { break };
        let gone = kept.remove(last);
        behind = behind.saturating_sub(gone.needs());
        leave_out.push(gone.item);
    }
    let cut = whole_minutes(behind).min(gives(&kept));
    let shorten = shortened(&kept, cut);
    Proposal { shorten, leave_out, still_over: behind.saturating_sub(Duration::from_secs(60 * cut)) }
}

/// Takes `cut` minutes from those of `kept` that give some: minute by minute from the one that is the longest by then, of two as long from the later.
fn shortened(kept: &[&Ahead], cut: u64) -> Vec<Shorter> {
    let mut lengths: Vec<(u16, &Ahead)> = kept.iter().map(|item| (item.slot.minutes.unwrap_or(0), *item)).collect();
    for _ in 0..cut {
        let giving = lengths.iter_mut().filter(|(length, item)| *length > item.slot.least(item.spent));
        let Some((length, _)) = giving.max_by_key(|(length, item)| minutes(*length).saturating_sub(item.spent)) else { break };
        *length -= 1;
    }
    let shorter = |(to, item): &(u16, &Ahead)| {
        let from = item.slot.minutes.filter(|from| from != to)?;
        Some(Shorter { item: item.item, from, to: *to })
    };
    lengths.iter().filter_map(shorter).collect()
}

/// A time of day, days left out.
const fn of_day(time: Duration) -> Duration {
    Duration::new(time.as_secs() % DAY.as_secs(), time.subsec_nanos())
}

const fn minutes(minutes: u16) -> Duration {
    Duration::from_secs(60 * minutes as u64)
}

/// The fewest whole minutes that hold `time`.
const fn whole_minutes(time: Duration) -> u64 {
    (time.as_secs() + (time.subsec_nanos() > 0) as u64).div_ceil(60)
}

#[cfg(test)]
mod tests;
