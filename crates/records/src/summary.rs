//! Who has which note, week by week. Counts stand beside every share; nothing is left out for being little.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use pitch::Written;
use std::collections::BTreeMap;
use std::fmt;
use std::num::NonZeroU16;

use crate::{Kind, Record, Verdict};

/// How many verdicts were of each [`Kind`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// On the note.
    pub on_it: u64,
    /// On the note, but flat, sharp, late or early.
    pub near: u64,
    /// Lower.
    pub low: u64,
    /// Higher.
    pub high: u64,
    /// Off the series, or another note.
    pub astray: u64,
    /// Nothing.
    pub nothing: u64,
}

/// A week of the calendar, Monday to Sunday. Source of the numbering: ISO 8601.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Week {
    year: i16,
    week: i8,
}

/// The verdicts of one seat, or of a whole section, on one note.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// The room's name.
    pub room: String,
    /// The section's name.
    pub section: String,
    /// The seat, or nothing for all verdicts of the section together.
    pub seat: Option<NonZeroU16>,
    /// The note asked for, as the section reads it; nothing for instruments without a pitch.
    pub target: Option<Written>,
    /// All of them.
    pub tally: Tally,
    /// The same, week by week; weeks without a verdict are not there.
    pub weeks: BTreeMap<Week, Tally>,
    /// Each verdict with how often it was given, the commonest first; of two as common, the one given last.
    pub verdicts: Vec<(Verdict, u64)>,
}

/// What many records say together.
#[derive(Clone, Debug, Default)]
pub struct Summary {
    groups: BTreeMap<Key, Group>,
    verdicts: u64,
    span: Option<(Timestamp, Timestamp)>,
}

/// Rooms and sections by name, notes from low to high, the section before its seats.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    room: String,
    section: String,
    seat: Option<NonZeroU16>,
    note: Option<(i32, String)>,
}

impl Tally {
    /// Counts one more.
    pub const fn add(&mut self, verdict: Verdict) {
        let count = match verdict.kind() {
            Kind::OnIt => &mut self.on_it,
            Kind::Near => &mut self.near,
            Kind::Low => &mut self.low,
            Kind::High => &mut self.high,
            Kind::Astray => &mut self.astray,
            Kind::Nothing => &mut self.nothing,
        };
        *count += 1;
    }

    /// How many there are.
    #[must_use]
    pub const fn all(&self) -> u64 {
        self.on_it + self.near + self.low + self.high + self.astray + self.nothing
    }

    /// How many had the note, however tuned or timed.
    #[must_use]
    pub const fn had_it(&self) -> u64 {
        self.on_it + self.near
    }
}

impl Week {
    /// The week in which `moment` lies in `zone`.
    #[must_use]
    pub fn of(moment: Timestamp, zone: &TimeZone) -> Self {
        let date = zone.to_datetime(moment).date().iso_week_date();
        Self { year: date.year(), week: date.week() }
    }
}

impl fmt::Display for Week {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-W{:02}", self.year, self.week)
    }
}

impl Summary {
    /// Counts one more record; its week is that of `zone`. Records come in order of time.
    pub fn add(&mut self, record: &Record, zone: &TimeZone) {
        self.verdicts += 1;
        self.span = Some(self.span.map_or((record.when, record.when), |(first, last)| (first.min(record.when), last.max(record.when))));
        let week = Week::of(record.when, zone);
        self.count(record, None, week);
        if record.seat.is_some() {
            self.count(record, record.seat, week);
        }
    }

    fn count(&mut self, record: &Record, seat: Option<NonZeroU16>, week: Week) {
        let key = Key {
            room: record.room.clone(),
            section: record.section.clone(),
            seat,
            note: record.target.map(|note| (note.semitone(), note.to_string())),
        };
        let group = self.groups.entry(key).or_insert_with_key(|key| Group {
            room: key.room.clone(),
            section: key.section.clone(),
            seat,
            target: record.target,
            tally: Tally::default(),
            weeks: BTreeMap::new(),
            verdicts: Vec::new(),
        });
        group.tally.add(record.verdict);
        group.weeks.entry(week).or_default().add(record.verdict);
        let known = group.verdicts.iter().position(|(verdict, _)| *verdict == record.verdict);
        let count = known.map_or(0, |at| group.verdicts.remove(at).1) + 1;
        // a verdict just given goes in front of all that are no more common
        let at = group.verdicts.iter().position(|(_, other)| *other <= count).unwrap_or(group.verdicts.len());
        group.verdicts.insert(at, (record.verdict, count));
    }

    /// How many records were counted.
    #[must_use]
    pub const fn verdicts(&self) -> u64 {
        self.verdicts
    }

    /// The first and the last moment.
    #[must_use]
    pub const fn span(&self) -> Option<(Timestamp, Timestamp)> {
        self.span
    }

    /// Each section on each note, all its verdicts together.
    pub fn sections(&self) -> impl Iterator<Item = &Group> {
        self.groups.values().filter(|group| group.seat.is_none())
    }

    /// Each seat on each note.
    pub fn seats(&self) -> impl Iterator<Item = &Group> {
        self.groups.values().filter(|group| group.seat.is_some())
    }
}
