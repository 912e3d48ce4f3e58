use super::*;
use proptest::prelude::*;

const fn slot(minutes: u16) -> Slot {
    Slot { minutes: Some(minutes), least: None, advance: Advance::OnGo, kept: false }
}

/// Warm-up 3, drill 8, roll 6, climb 20, recheck 8, talk 5: the fifty minutes of an hour from 10:15.
fn lesson() -> (Hour, Vec<Slot>) {
    let mut slots: Vec<_> = [3, 8, 6, 20, 8].map(slot).into();
    slots.push(Slot { kept: true, ..slot(5) });
    (Hour::Timed { starts: "10:15".parse().unwrap(), minutes: 50 }, slots)
}

const fn clock_time(hours: u64, minutes: u64) -> Duration {
    Duration::from_secs(60 * (60 * hours + minutes))
}

fn min(minutes: u64) -> Duration {
    Duration::from_secs(60 * minutes)
}

fn begun_at(begun: Duration) -> Clock {
    let (hour, slots) = lesson();
    hour.clock(&slots, &Progress { begun, ago: Duration::ZERO, item: 0, spent: &[] })
}

#[test]
fn a_lesson_on_time_fits() {
    let clock = begun_at(clock_time(10, 15));
    assert_eq!((clock.hour.left, clock.planned, clock.needed), (Some(min(50)), min(50), min(50)));
    assert_eq!((clock.behind, clock.misfits, clock.proposal), (Duration::ZERO, vec![], None));
}

#[test]
fn a_late_start_says_what_no_longer_fits_and_shortens_the_longest_first() {
    let clock = begun_at(clock_time(10, 21));
    assert_eq!((clock.hour.run, clock.hour.left, clock.behind), (min(6), Some(min(44)), min(6)));
    assert_eq!(clock.misfits, [4, 5]);
    let shorter = |item, from, to| Shorter { item, from, to };
    assert_eq!(clock.proposal, Some(Proposal { shorten: vec![shorter(3, 20, 14)], ..Proposal::default() }));
    // 20 down to 10, its half, then 8, 8 and 6 evenly, of two as long the later first
    let clock = begun_at(clock_time(10, 28));
    let shorten = vec![shorter(1, 8, 7), shorter(3, 20, 10), shorter(4, 8, 6)];
    assert_eq!(clock.proposal, Some(Proposal { shorten, ..Proposal::default() }));
}

#[test]
fn what_cannot_be_shortened_enough_is_left_out_from_the_end_but_for_talk() {
    // 20 minutes left: talk 5 stays, recheck and climb go, and the rest is shortened no more than it must
    let clock = begun_at(clock_time(10, 45));
    let proposal = clock.proposal.unwrap();
    assert_eq!((proposal.leave_out, proposal.still_over), (vec![4, 3], Duration::ZERO));
    assert_eq!(proposal.shorten, [Shorter { item: 1, from: 8, to: 6 }]);
    // 2 minutes left: not even talk fits
    let proposal = begun_at(clock_time(11, 3)).proposal.unwrap();
    assert_eq!((proposal.leave_out, proposal.still_over), (vec![4, 3, 2, 1], min(5)));
}

#[test]
fn a_lesson_begun_early_has_the_time_until_the_hour_ends_and_one_at_home_its_length() {
    let early = begun_at(clock_time(10, 5));
    assert_eq!((early.hour.run, early.hour.left), (Duration::ZERO, Some(min(60))));
    for at_home in [clock_time(9, 59), clock_time(20, 0), clock_time(11, 5)] {
        assert_eq!(begun_at(at_home).hour.left, Some(min(50)), "{at_home:?}");
    }
    let midnight = Hour::Timed { starts: "23:50".parse().unwrap(), minutes: 30 };
    let clock = midnight.clock(&[], &Progress { begun: clock_time(0, 5), ago: min(1), item: 0, spent: &[] });
    assert_eq!((clock.hour.run, clock.hour.left), (min(16), Some(min(14))));
    let early = midnight.clock(&[], &Progress { begun: clock_time(23, 45), ago: min(20), item: 0, spent: &[] });
    assert_eq!((early.hour.run, early.hour.left), (min(15), Some(min(15))));
}

#[test]
fn without_a_length_nothing_is_short() {
    let (_, slots) = lesson();
    let spent = [min(30)];
    let clock = Hour::Open.clock(&slots, &Progress { begun: Duration::ZERO, ago: min(300), item: 0, spent: &spent });
    assert_eq!((clock.hour.left, clock.behind, clock.proposal), (None, Duration::ZERO, None));
    assert_eq!((clock.item.over, clock.needed), (min(27), min(47)));
}

#[test]
fn an_item_that_goes_on_by_itself_says_when() {
    let (hour, mut slots) = lesson();
    slots[0].advance = Advance::ByItself;
    let at = |ago, item| hour.clock(&slots, &Progress { begun: clock_time(10, 15), ago, item, spent: &[ago] }).goes_on_in;
    assert_eq!((at(min(1), 0), at(min(9), 0), at(min(3), 1)), (Some(min(2)), Some(Duration::ZERO), None));
}

#[test]
fn what_was_skipped_or_done_needs_nothing_and_what_is_come_back_to_needs_the_rest() {
    let (hour, slots) = lesson();
    let spent = [min(3), Duration::ZERO, min(2), min(20), Duration::ZERO];
    let progress = Progress { begun: clock_time(10, 15), ago: min(25), item: 2, spent: &spent };
    let clock = hour.clock(&slots, &progress);
    // 4 of the roll, nothing of the climb, 8 and 5
    assert_eq!((clock.needed, clock.hour.left, clock.behind), (min(17), Some(min(25)), Duration::ZERO));
}

#[test]
fn times_of_day_are_read_and_written() {
    for text in ["0:00", "9:05", "10:15", "23:59"] {
        assert_eq!(text.parse::<WallTime>().unwrap().to_string(), text);
    }
    assert_eq!("09:05".parse::<WallTime>(), "9:05".parse());
    for text in ["", "10", "10:5", "10:60", "24:00", "-1:00", "+1:00", "10:015", "1o:15", "10:15:00"] {
        let message = text.parse::<WallTime>().unwrap_err().to_string();
        assert!(message.ends_with("such as 10:15"), "{message}");
    }
}

fn any_slot() -> impl Strategy<Value = Slot> {
    (prop::option::of(0..40_u16), prop::option::of(0..50_u16), any::<bool>(), prop::bool::weighted(0.2)).prop_map(
        |(minutes, least, by_itself, kept)| Slot {
            minutes,
            least,
            advance: if by_itself { Advance::ByItself } else { Advance::OnGo },
            kept,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_proposal_fits_when_it_can_and_asks_no_more_than_it_must(
        slots in prop::collection::vec(any_slot(), 0..14),
        item in 0..16_usize,
        length in 0..120_u16,
        ago in 0..10_000_u64,
        begun in 0..90_000_u64,
        starts in 0..24_u16,
        timed in any::<bool>(),
        spent in prop::collection::vec(0..2_000_000_u64, 0..14),
    ) {
        let spent: Vec<_> = spent.into_iter().map(Duration::from_millis).collect();
        let starts = WallTime { minutes: 60 * starts };
        let hour = if timed { Hour::Timed { starts, minutes: length } } else { Hour::Long { minutes: length } };
        let progress = Progress { begun: Duration::from_secs(begun), ago: Duration::from_secs(ago), item, spent: &spent };
        let clock = hour.clock(&slots, &progress);
        prop_assert_eq!(&clock, &hour.clock(&slots, &progress));
        let left = clock.hour.left.unwrap();
        prop_assert!(left == Duration::ZERO || clock.hour.over == Duration::ZERO);
        prop_assert_eq!(clock.behind, clock.needed.saturating_sub(left));
        prop_assert!(clock.misfits.is_sorted() && clock.misfits.iter().all(|misfit| *misfit > item));
        let Some(proposal) = &clock.proposal else {
            prop_assert!(clock.needed <= left);
            prop_assert!(clock.misfits.is_empty() || clock.hour.over > Duration::ZERO);
            return Ok(());
        };
        prop_assert!(clock.needed > left);
        let spent = |item: usize| spent.get(item).copied().unwrap_or_default();
        for Shorter { item: which, from, to } in &proposal.shorten {
            let slot = slots[*which];
            prop_assert!(*which >= item && !slot.kept && slot.minutes == Some(*from) && to < from);
            prop_assert!(*to >= slot.least.unwrap_or(from.div_ceil(2)).min(*from));
            prop_assert!(minutes(*to) >= spent(*which).min(minutes(*from)));
        }
        // last first, never talk, never the one that stands
        prop_assert!(proposal.leave_out.is_sorted_by(|a, b| a > b));
        prop_assert!(proposal.leave_out.iter().all(|out| *out > item && !slots[*out].kept));
        let agreed = hour.clock(&proposal.agreed(&slots), &progress);
        prop_assert_eq!(agreed.behind, proposal.still_over);
        if proposal.still_over > Duration::ZERO {
            // everything that may give has given all it can
            for (index, slot) in slots.iter().enumerate().skip(item + 1) {
                prop_assert!(slot.kept || slot.needs(spent(index)) == Duration::ZERO || proposal.leave_out.contains(&index));
            }
        } else {
            // no whole minute more than it takes, unless something was left out
            let spare = left.saturating_sub(agreed.needed);
            prop_assert!(proposal.shorten.is_empty() || spare < min(1), "{:?}", spare);
            // one item fewer left out would not have been enough
            if let Some((_, kept)) = proposal.leave_out.split_last() {
                let least: Duration = slots
                    .iter()
                    .enumerate()
                    .skip(item)
                    .filter(|(index, _)| !kept.contains(index))
                    .map(|(index, slot)| minutes(slot.least(spent(index))).saturating_sub(spent(index)))
                    .sum();
                prop_assert!(least > left);
            }
        }
        // even: what was shortened is not left longer, by more than a minute, than anything else that could have given
        let remains = |index: usize, length: u16| minutes(length).saturating_sub(spent(index));
        for shorter in &proposal.shorten {
            for (index, slot) in slots.iter().enumerate().skip(item).filter(|(index, _)| !proposal.leave_out.contains(index)) {
                let to = proposal.shorten.iter().find(|other| other.item == index).map_or(slot.minutes.unwrap_or(0), |other| other.to);
                if to > slot.least(spent(index)) {
                    prop_assert!(remains(index, to) <= remains(shorter.item, shorter.to) + min(1));
                }
            }
        }
    }
}
