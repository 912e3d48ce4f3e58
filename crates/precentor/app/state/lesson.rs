//! The lesson under way: its items, the one that stands, and its clock.

use sequencer::lesson::{Clock, Progress};
use sequencer::{Advance, Hour, Slot};
use std::path::PathBuf;
use std::time::{Duration, SystemTime};
use units::Tempo;

use crate::app::effect::{Errand, Start};
use crate::app::shelf::Source;
use crate::standing::{ItemStanding, LessonStanding, Place, Resume, found_again};

/// A lesson that was opened.
#[derive(Clone, Debug)]
pub struct OpenedLesson {
    /// Where it lies.
    pub source: Source,
    /// What it is called.
    pub title: String,
    /// The time it has.
    pub hour: Hour,
    /// Its items.
    pub items: Vec<LessonItem>,
    /// What is wrong with the room it names; the one that is open serves.
    pub at_fault: Option<String>,
    /// Where it stood, if it was left a short while ago.
    pub resume: Option<Resumed>,
    /// The time of day, since midnight, and the moment when it was opened.
    pub opened: (Duration, SystemTime),
}

/// An item of a lesson.
#[derive(Clone, Debug, PartialEq)]
pub struct LessonItem {
    /// What the screen calls it.
    pub name: String,
    /// What leads it, or what is wrong with it.
    pub errand: Result<Errand, String>,
    /// What it takes of the hour.
    pub slot: Slot,
}

/// Where a lesson stood.
#[derive(Clone, Debug)]
pub struct Resumed {
    /// Item, place and times.
    pub at: Resume,
    /// At which tempo.
    pub tempo: Option<Tempo>,
    /// When it was begun.
    pub begun: SystemTime,
    /// How long ago it was left.
    pub ago: Duration,
}

/// The lesson as it runs.
#[derive(Clone, Debug)]
pub struct LessonRun {
    /// Where it lies.
    pub source: Source,
    /// What it is called.
    pub title: String,
    /// Its items, with what was agreed to be shortened.
    pub items: Vec<LessonItem>,
    /// What is wrong with the room it names; the one that is open serves.
    pub at_fault: Option<String>,
    /// The item that stands.
    pub at: usize,
    /// The item that comes by itself when the standing one is through.
    pub queued: Option<usize>,
    hour: Hour,
    /// How long each item has stood.
    spent: Vec<Duration>,
    /// The minutes each item was cut to, if it was.
    agreed: Vec<Option<u16>>,
    /// The minutes each has in the file.
    written: Vec<Option<u16>>,
    /// Where each item was left.
    places: Vec<Option<(u32, Tempo)>>,
    /// When it was begun.
    begun: Option<Begun>,
    /// The time of day and the moment when the console had run for so long.
    known: (Duration, SystemTime, Duration),
    /// When it was last looked at, since the console started.
    seen: Duration,
}

/// When a lesson was begun.
#[derive(Clone, Copy, Debug)]
struct Begun {
    /// The time of day, since midnight.
    time_of_day: Duration,
    moment: SystemTime,
}

const DAY: Duration = Duration::from_secs(24 * 60 * 60);

impl LessonRun {
    /// A lesson opened `now` after the console's start, standing where it was left or at its first item.
    #[must_use]
    pub fn new(opened: &OpenedLesson, now: Duration) -> Self {
        let count = opened.items.len();
        let (time_of_day, moment) = opened.opened;
        let mut run = Self {
            source: opened.source.clone(),
            title: opened.title.clone(),
            items: opened.items.clone(),
            at_fault: opened.at_fault.clone(),
            at: 0,
            queued: None,
            hour: opened.hour,
            spent: vec![Duration::ZERO; count],
            agreed: vec![None; count],
            written: opened.items.iter().map(|item| item.slot.minutes).collect(),
            places: vec![None; count],
            begun: None,
            known: (time_of_day, moment, now),
            seen: now,
        };
        run.at = run.sound_from(0).unwrap_or(0);
        if let Some(resumed) = &opened.resume {
            run.at = run.sound_from(resumed.at.item).unwrap_or(run.at);
            run.spent.clone_from(&resumed.at.spent);
            run.agreed.clone_from(&resumed.at.agreed);
            run.spent.resize(count, Duration::ZERO);
            run.agreed.resize(count, None);
            let ago = moment.duration_since(resumed.begun).unwrap_or_default();
            let since_midnight = time_of_day + DAY * (1 + (ago.as_secs() / DAY.as_secs()) as u32) - ago;
            run.begun = Some(Begun { time_of_day: within_a_day(since_midnight), moment: resumed.begun });
            for (item, agreed) in run.items.iter_mut().zip(&run.agreed) {
                item.slot.minutes = agreed.or(item.slot.minutes);
            }
        }
        run
    }

    /// The same lesson after its files were edited. An item is known by its name, or by its number where none came or went: its time, what
    /// was agreed and where it was left stay. Says where each item was before.
    pub fn reread(&mut self, opened: &OpenedLesson) -> Vec<Option<usize>> {
        let same = opened.items.len() == self.items.len();
        let names: Vec<&str> = opened.items.iter().map(|item| item.name.as_str()).collect();
        let by_name = found_again(&self.names(), &names);
        let by_number = |index: usize| (same && !by_name.contains(&Some(index))).then_some(index);
        let known: Vec<_> = by_name.iter().enumerate().map(|(index, known)| known.or_else(|| by_number(index))).collect();
        let mut run = Self::new(&OpenedLesson { resume: None, ..opened.clone() }, self.seen);
        for (index, was) in known.iter().enumerate() {
            let (Some(was), Some(item)) = (*was, run.items.get_mut(index)) else { continue };
            run.spent[index] = self.spent[was];
            run.places[index] = self.places[was];
            // what the file says anew holds over what was agreed
            if run.written[index] == self.written[was] {
                run.agreed[index] = self.agreed[was];
                item.slot.minutes = self.agreed[was].or(item.slot.minutes);
            }
        }
        run.at = known.iter().position(|was| *was == Some(self.at)).or_else(|| run.sound_from(self.at)).unwrap_or(run.at);
        (run.begun, run.known) = (self.begun, self.known);
        *self = run;
        known
    }

    /// The item `number` cannot be led after all, and why.
    pub fn is_at_fault(&mut self, number: usize, why: String) {
        if let Some(item) = self.items.get_mut(number) {
            item.errand = Err(why);
        }
    }

    /// Looks at the clock, `now` after the console's start; begins the lesson if something `moves`.
    pub fn tick(&mut self, now: Duration, moves: bool) {
        if self.begun.is_none() && moves {
            let (time_of_day, moment, at) = self.known;
            let since = now.saturating_sub(at);
            self.begun = Some(Begun { time_of_day: within_a_day(time_of_day + since), moment: moment + since });
        } else if self.begun.is_some()
            && let Some(spent) = self.spent.get_mut(self.at)
        {
            *spent += now.saturating_sub(self.seen);
        }
        self.seen = now;
    }

    /// What the clock says: as it will be, if the lesson began now, before it is begun.
    #[must_use]
    pub fn clock(&self) -> Clock {
        let (time_of_day, moment, at) = self.known;
        let since = self.seen.saturating_sub(at);
        let (begun, ago) = match self.begun {
            Some(begun) => (begun.time_of_day, (moment + since).duration_since(begun.moment).unwrap_or_default()),
            None => (within_a_day(time_of_day + since), Duration::ZERO),
        };
        let slots: Vec<Slot> = self.items.iter().map(|item| item.slot).collect();
        self.hour.clock(&slots, &Progress { begun, ago, item: self.at, spent: &self.spent })
    }

    /// Whether it runs: the first item has begun.
    #[must_use]
    pub const fn is_begun(&self) -> bool {
        self.begun.is_some()
    }

    /// What is wrong in it, part by part.
    pub fn faults(&self) -> impl Iterator<Item = &str> {
        let items = self.items.iter().filter_map(|item| item.errand.as_ref().err());
        self.at_fault.iter().chain(items).map(String::as_str)
    }

    /// What the screen calls its items.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        self.items.iter().map(|item| item.name.as_str()).collect()
    }

    /// The first item from `item` on that is not at fault and was not left out.
    #[must_use]
    pub fn sound_from(&self, item: usize) -> Option<usize> {
        let leadable = |item: &LessonItem| item.errand.is_ok() && item.slot.minutes != Some(0);
        self.items.iter().enumerate().skip(item).find(|(_, item)| leadable(item)).map(|(index, _)| index)
    }

    /// The last sound item before the standing one.
    #[must_use]
    pub fn sound_before(&self) -> Option<usize> {
        self.items.iter().take(self.at).rposition(|item| item.errand.is_ok())
    }

    /// What leads the item `number`, from where it was left if it was.
    #[must_use]
    pub fn errand(&self, number: usize, start: Start) -> Option<Errand> {
        let errand = self.items.get(number)?.errand.as_ref().ok()?;
        Some(Errand { place: self.places.get(number).copied().flatten(), start, ..errand.clone() })
    }

    /// The standing item is left at `place`, to be come back to there; nothing for its top.
    pub fn leave_at(&mut self, place: Option<(u32, Tempo)>) {
        if let Some(slot) = self.places.get_mut(self.at) {
            *slot = place;
        }
    }

    /// The item that comes by itself after the standing one, and how long that may begin new rounds.
    #[must_use]
    pub fn comes_by_itself(&self) -> Option<(usize, Option<Duration>)> {
        let standing = self.items.get(self.at)?;
        let next = self.sound_from(self.at + 1)?;
        (standing.slot.advance == Advance::ByItself).then(|| (next, self.clock().goes_on_in))
    }

    /// Takes up what the clock proposes; whether there was anything.
    pub fn agree(&mut self) -> bool {
        let Some(proposal) = self.clock().proposal else { return false };
        let slots: Vec<Slot> = self.items.iter().map(|item| item.slot).collect();
        for (index, slot) in proposal.agreed(&slots).into_iter().enumerate() {
            if let (Some(item), Some(agreed)) = (self.items.get_mut(index), self.agreed.get_mut(index))
                && item.slot.minutes != slot.minutes
            {
                *agreed = slot.minutes;
                item.slot = slot;
            }
        }
        true
    }

    /// What is remembered of it, standing in `room` at `place` and `tempo`; nothing before it is begun.
    #[must_use]
    pub fn standing(&self, room: &Source, place: Place, tempo: Option<Tempo>) -> Option<LessonStanding> {
        let (_, moment, at) = self.known;
        let item = |index: usize| ItemStanding {
            name: self.items.get(index).map(|item| item.name.clone()).unwrap_or_default(),
            spent: self.spent.get(index).copied().unwrap_or_default(),
            agreed: self.agreed.get(index).copied().flatten(),
        };
        Some(LessonStanding {
            lesson: PathBuf::from(self.source.remembered()),
            room: PathBuf::from(room.remembered()),
            item: self.at,
            place,
            tempo: tempo.map(Tempo::thousandths),
            items: (0..self.items.len()).map(item).collect(),
            begun: self.begun?.moment,
            written: moment + self.seen.saturating_sub(at),
        })
    }
}

fn within_a_day(time: Duration) -> Duration {
    Duration::from_nanos((time.as_nanos() % DAY.as_nanos()) as u64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::workshop::Choice;

    const fn minutes(minutes: u64) -> Duration {
        Duration::from_secs(60 * minutes)
    }

    fn opened(lengths: &[u16], hour: Hour) -> OpenedLesson {
        let item = |(index, minutes): (usize, &u16)| LessonItem {
            name: format!("item {index}"),
            errand: Ok(Errand::of(Choice::Item { number: index })),
            slot: Slot { minutes: Some(*minutes), ..Slot::default() },
        };
        OpenedLesson {
            source: Source::Demo("week.toml".to_owned()),
            title: "Week".to_owned(),
            hour,
            items: lengths.iter().enumerate().map(item).collect(),
            at_fault: None,
            resume: None,
            opened: (minutes(10 * 60 + 20), SystemTime::UNIX_EPOCH + minutes(100_000)),
        }
    }

    #[test]
    fn a_late_start_is_told_before_the_first_note_and_agreeing_makes_it_fit() {
        let hour = Hour::Timed { starts: "10:15".parse().unwrap(), minutes: 50 };
        let mut run = LessonRun::new(&opened(&[10, 30, 10], hour), minutes(1));
        run.tick(minutes(2), false);
        let clock = run.clock();
        assert!(!run.is_begun());
        assert_eq!((clock.hour.run, clock.behind), (minutes(6), minutes(6)));
        assert!(run.agree());
        assert_eq!(run.clock().behind, Duration::ZERO);
        assert_eq!(run.items.iter().map(|item| item.slot.minutes.unwrap()).sum::<u16>(), 44);
    }

    #[test]
    fn time_counts_for_the_item_that_stands_once_something_has_sounded() {
        let mut run = LessonRun::new(&opened(&[10, 10], Hour::Long { minutes: 20 }), Duration::ZERO);
        run.tick(minutes(3), false);
        run.tick(minutes(4), true);
        run.tick(minutes(9), true);
        run.at = 1;
        run.tick(minutes(11), false);
        let clock = run.clock();
        assert_eq!((clock.hour.run, clock.item.run), (minutes(7), minutes(2)));
    }

    #[test]
    fn what_was_left_goes_on_where_and_when_it_stood() {
        let mut first = LessonRun::new(&opened(&[10, 10, 10], Hour::Long { minutes: 30 }), Duration::ZERO);
        first.tick(minutes(1), true);
        first.tick(minutes(11), true);
        first.at = 1;
        first.tick(minutes(14), true);
        let place = Place { station: 1, round: 2, bar: 9 };
        let standing = first.standing(&Source::Demo("room.toml".to_owned()), place, None).unwrap();
        let mut again = opened(&[10, 10, 10], Hour::Long { minutes: 30 });
        again.opened = (minutes(10 * 60 + 36), SystemTime::UNIX_EPOCH + minutes(100_016));
        let at = standing.resume(again.opened.1, &["item 0", "item 1", "item 2"]).unwrap();
        again.resume = Some(Resumed { at, tempo: None, begun: standing.begun, ago: minutes(2) });
        let mut run = LessonRun::new(&again, Duration::ZERO);
        run.tick(minutes(1), true);
        let clock = run.clock();
        assert_eq!((run.at, clock.hour.run, clock.item.run), (1, minutes(16), minutes(4)));
    }

    #[test]
    fn items_at_fault_or_left_out_are_passed_by() {
        let mut opened = opened(&[10, 10, 0, 10], Hour::Open);
        opened.items[0].errand = Err("no such file".to_owned());
        let run = LessonRun::new(&opened, Duration::ZERO);
        assert_eq!((run.at, run.comes_by_itself().unwrap().0), (1, 3));
        assert_eq!(run.sound_from(4), None);
    }
}
