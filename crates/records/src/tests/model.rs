//! Filters and summaries against a plain list of records, counted one by one.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use pitch::Written;
use proptest::prelude::*;
use std::num::{NonZeroI8, NonZeroU16};
use units::Cents;

use super::desk;
use crate::{Confidence, EntryMs, Filter, HeardBy, Kind, Record, Store, Summary, Tally, Verdict, Way, Week};

/// 2031-02-03, a Monday, in milliseconds.
const MONDAY: i64 = 1_927_843_200_000;
const DAY: i64 = 86_400_000;

pub(super) fn verdict() -> impl Strategy<Value = Verdict> {
    let steps = prop_oneof![-5_i8..=-1, 1_i8..=5].prop_map(|steps| NonZeroI8::new(steps).unwrap());
    prop_oneof![
        4 => Just(Verdict::OnIt),
        2 => steps.clone().prop_map(Verdict::Partials),
        1 => steps.prop_map(Verdict::Octaves),
        4 => prop::sample::select(vec![
            Verdict::Low, Verdict::High, Verdict::Twelfth(Way::Up), Verdict::Twelfth(Way::Down), Verdict::Flat, Verdict::Sharp, Verdict::Late,
            Verdict::Early, Verdict::OffTheSeries, Verdict::OtherNote, Verdict::Nothing,
        ]),
    ]
}

fn note() -> impl Strategy<Value = Option<Written>> {
    prop::option::of(prop::sample::select(vec!["C4", "G4", "F#4", "Gb4"]).prop_map(|note| note.parse().unwrap()))
}

prop_compose! {
    /// A record of one of few places, around few weeks, so that records meet.
    pub(super) fn record(names: impl Strategy<Value = String> + Clone)(
        ms in 0..21 * DAY, room in names.clone(), section in names.clone(), drill in names.clone(), lesson in prop::option::of(names.clone()),
        seat in prop::option::of(1_u16..5), target in note(), heard in note(), verdict in verdict(), cents in prop::option::of(-60.0..60.0),
        entry in prop::option::of(-300.0..300.0), ear in any::<bool>(), sure in prop::option::of(0.0..=1.0),
    ) -> Record {
        Record {
            when: Timestamp::from_millisecond(MONDAY + ms).unwrap(), room, section, seat: seat.and_then(NonZeroU16::new), drill, lesson, target,
            heard, verdict, cents: cents.map(Cents), entry: entry.map(EntryMs),
            by: if ear { HeardBy::Ear } else { HeardBy::Microphone }, confidence: sure.and_then(Confidence::new),
        }
    }
}

fn few_names() -> impl Strategy<Value = String> + Clone {
    prop::sample::select(vec!["Horns".to_owned(), "horns".to_owned(), "Flutes".to_owned()])
}

prop_compose! {
    fn filter()(
        room in prop::option::of(few_names()), section in prop::option::of(few_names()), seat in prop::option::of(1_u16..5), note in note(),
        since in prop::option::of(0..21 * DAY * 1000), until in prop::option::of(0..21 * DAY * 1000),
    ) -> Filter {
        let moment = |us: i64| Timestamp::from_microsecond(MONDAY * 1000 + us).unwrap();
        Filter { room, section, seat: seat.and_then(NonZeroU16::new), note, since: since.map(moment), until: until.map(moment) }
    }
}

/// Whether `filter` means `record`.
fn means(filter: &Filter, record: &Record) -> bool {
    filter.room.as_ref().is_none_or(|room| *room == record.room)
        && filter.section.as_ref().is_none_or(|section| *section == record.section)
        && filter.seat.is_none_or(|seat| record.seat == Some(seat))
        && filter.note.is_none_or(|note| record.target == Some(note))
        && filter.since.is_none_or(|since| record.when >= since)
        && filter.until.is_none_or(|until| record.when < until)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn filters_mean_what_they_say(records in prop::collection::vec(record(few_names()), 0..60), filters in prop::collection::vec(filter(), 1..6)) {
        let (_folder, path) = desk();
        let mut store = Store::open(&path).unwrap();
        store.keep_all(&records).unwrap();
        let mut model = records;
        model.sort_by_key(|record| record.when);
        for filter in &filters {
            let meant: Vec<_> = model.iter().filter(|record| means(filter, record)).cloned().collect();
            prop_assert_eq!(store.count(filter).unwrap().verdicts, meant.len() as u64);
            prop_assert_eq!(store.records(filter).unwrap(), meant);
        }
        // and what is forgotten is just what was meant
        for filter in &filters {
            let before = model.len();
            model.retain(|record| !means(filter, record));
            prop_assert_eq!(store.forget(filter).unwrap().verdicts, (before - model.len()) as u64);
            prop_assert_eq!(&store.records(&Filter::default()).unwrap(), &model);
            let mut places: Vec<_> = model.iter().map(|record| (record.room.clone(), record.section.clone())).collect();
            places.sort();
            places.dedup();
            prop_assert_eq!(store.places().unwrap(), places);
        }
    }

    #[test]
    fn summaries_count_every_record_where_it_belongs(
        records in prop::collection::vec(record(few_names()), 0..80), hours in -12_i8..=12,
    ) {
        let mut records = records;
        records.sort_by_key(|record| record.when);
        let zone = TimeZone::fixed(jiff::tz::Offset::constant(hours));
        let mut summary = Summary::default();
        records.iter().for_each(|record| summary.add(record, &zone));
        prop_assert_eq!(summary.verdicts(), records.len() as u64);
        prop_assert_eq!(summary.sections().map(|group| group.tally.all()).sum::<u64>(), records.len() as u64);
        let seated = records.iter().filter(|record| record.seat.is_some()).count();
        prop_assert_eq!(summary.seats().map(|group| group.tally.all()).sum::<u64>(), seated as u64);
        for group in summary.sections().chain(summary.seats()) {
            let own: Vec<_> = records
                .iter()
                .filter(|record| (&record.room, &record.section, record.target) == (&group.room, &group.section, group.target))
                .filter(|record| group.seat.is_none() || record.seat == group.seat)
                .collect();
            let tally = |of: &dyn Fn(&Record) -> bool| {
                let count = |kind| own.iter().filter(|record| of(record) && record.verdict.kind() == kind).count() as u64;
                Tally {
                    on_it: count(Kind::OnIt), near: count(Kind::Near), low: count(Kind::Low), high: count(Kind::High),
                    astray: count(Kind::Astray), nothing: count(Kind::Nothing),
                }
            };
            prop_assert_eq!(group.tally, tally(&|_| true));
            prop_assert!(!group.weeks.is_empty() && group.weeks.values().all(|week| week.all() > 0));
            for (week, counted) in &group.weeks {
                prop_assert_eq!(*counted, tally(&|record| Week::of(record.when, &zone) == *week));
            }
            prop_assert_eq!(group.weeks.values().map(Tally::all).sum::<u64>(), own.len() as u64);
            // the verdicts: each once, by count and then by the last time
            let counted = |verdict| own.iter().filter(|record| record.verdict == verdict).count() as u64;
            let last = |verdict| own.iter().rposition(|record| record.verdict == verdict);
            prop_assert_eq!(group.verdicts.iter().map(|(_, count)| count).sum::<u64>(), own.len() as u64);
            for (verdict, count) in &group.verdicts {
                prop_assert_eq!(*count, counted(*verdict));
            }
            for pair in group.verdicts.windows(2) {
                prop_assert!((pair[0].1, last(pair[0].0)) > (pair[1].1, last(pair[1].0)));
            }
        }
    }
}

/// Source of the rule: ISO 8601, whose week 1 holds the first Thursday of the year; the dates are worked out by it.
#[test]
fn weeks_are_those_of_the_calendar_and_of_the_place() {
    let week = |moment: &str, hours: i8| Week::of(moment.parse().unwrap(), &TimeZone::fixed(jiff::tz::Offset::constant(hours))).to_string();
    assert_eq!(week("2027-01-03T12:00:00Z", 0), "2026-W53");
    assert_eq!(week("2027-01-04T12:00:00Z", 0), "2027-W01");
    assert_eq!(week("2024-12-30T12:00:00Z", 0), "2025-W01");
    // a Sunday evening here is a Monday morning there
    assert_eq!((week("2031-02-02T22:30:00Z", 0), week("2031-02-02T22:30:00Z", 3)), ("2031-W05".to_owned(), "2031-W06".to_owned()));
}
