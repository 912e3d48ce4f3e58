//! Where whole sections sat and how together they came, week by week. Means stand beside the number of echoes they are of; an interval is the
//! mean of theirs and grows no narrower with many, because what misleads the microphone about a section misleads it every time.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use pitch::Written;
use std::collections::BTreeMap;

use crate::{SectionRecord, Week};

/// The mean of what there was.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Mean {
    sum: f64,
    count: u64,
}

/// What echoes of a section on one note came to together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sat {
    echoes: u64,
    on_it: Mean,
    low: Mean,
    high: Mean,
    elsewhere: Mean,
    cents: Mean,
    entry_ms: Mean,
    spread_ms: Mean,
    /// The notes of the biggest groups, each with how often it was that, the commonest first; of two as common, the latest.
    largest: Vec<(Written, u64)>,
}

/// The echoes of a section on one note.
#[derive(Clone, Debug, PartialEq)]
pub struct ShareGroup {
    /// The room's name.
    pub room: String,
    /// The section's name.
    pub section: String,
    /// The note asked for, as the section reads it.
    pub target: Option<Written>,
    /// All of them.
    pub all: Sat,
    /// The same, week by week; weeks without an echo are not there.
    pub weeks: BTreeMap<Week, Sat>,
}

/// What many echoes of sections say together: rooms and sections by name, notes from low to high.
#[derive(Clone, Debug, Default)]
pub struct ShareSummary {
    groups: BTreeMap<Key, ShareGroup>,
    span: Option<(Timestamp, Timestamp)>,
}

/// Room, section and note: from low to high.
type Key = (String, String, Option<(i32, String)>);

impl Mean {
    fn add(&mut self, value: Option<f64>) {
        if let Some(value) = value {
            self.sum += value;
            self.count += 1;
        }
    }

    fn value(self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / self.count as f64)
    }
}

impl Sat {
    fn add(&mut self, record: &SectionRecord) {
        let on_it = record.on_target();
        self.echoes += 1;
        self.on_it.add(on_it.map(|note| note.share));
        self.low.add(on_it.map(|note| note.low));
        self.high.add(on_it.map(|note| note.high));
        self.elsewhere.add(record.elsewhere);
        self.cents.add(record.cents.map(|cents| cents.0));
        self.entry_ms.add(record.entry.map(|entry| entry.0));
        self.spread_ms.add(record.spread.map(|spread| spread.0));
        if let Some(largest) = record.largest() {
            let known = self.largest.iter().position(|(note, _)| *note == largest.written);
            let count = known.map_or(0, |at| self.largest.remove(at).1) + 1;
            let at = self.largest.iter().position(|(_, other)| *other <= count).unwrap_or(self.largest.len());
            self.largest.insert(at, (largest.written, count));
        }
    }

    /// How many echoes.
    #[must_use]
    pub const fn echoes(&self) -> u64 {
        self.echoes
    }

    /// The mean share on the note asked for, 0 to 1, and the means of what it was at least and at most; nothing if it was never among the notes.
    #[must_use]
    pub fn on_it(&self) -> Option<(f64, f64, f64)> {
        Some((self.on_it.value()?, self.low.value()?, self.high.value()?))
    }

    /// The mean share of the sound on none of the notes, 0 to 1.
    #[must_use]
    pub fn elsewhere(&self) -> Option<f64> {
        self.elsewhere.value()
    }

    /// The mean tuning, in cents above the notes.
    #[must_use]
    pub fn cents(&self) -> Option<f64> {
        self.cents.value()
    }

    /// The mean entry, in milliseconds after the beat.
    #[must_use]
    pub fn entry_ms(&self) -> Option<f64> {
        self.entry_ms.value()
    }

    /// The mean spread of entries, in milliseconds.
    #[must_use]
    pub fn spread_ms(&self) -> Option<f64> {
        self.spread_ms.value()
    }

    /// The note that was most often that of the biggest group, and how often; of two as common, the latest.
    #[must_use]
    pub fn largest(&self) -> Option<(Written, u64)> {
        self.largest.first().copied()
    }
}

impl ShareSummary {
    /// Takes one more echo; its week is that of `zone`. Echoes come in order of time.
    pub fn add(&mut self, record: &SectionRecord, zone: &TimeZone) {
        self.span = Some(self.span.map_or((record.when, record.when), |(first, last)| (first.min(record.when), last.max(record.when))));
        let note = record.target.map(|note| (note.semitone(), note.to_string()));
        let group = self.groups.entry((record.room.clone(), record.section.clone(), note)).or_insert_with(|| ShareGroup {
            room: record.room.clone(),
            section: record.section.clone(),
            target: record.target,
            all: Sat::default(),
            weeks: BTreeMap::new(),
        });
        group.all.add(record);
        group.weeks.entry(Week::of(record.when, zone)).or_default().add(record);
    }

    /// How many echoes were taken.
    #[must_use]
    pub fn echoes(&self) -> u64 {
        self.groups.values().map(|group| group.all.echoes).sum()
    }

    /// The first and the last moment.
    #[must_use]
    pub const fn span(&self) -> Option<(Timestamp, Timestamp)> {
        self.span
    }

    /// Each section on each note.
    pub fn groups(&self) -> impl Iterator<Item = &ShareGroup> {
        self.groups.values()
    }
}
