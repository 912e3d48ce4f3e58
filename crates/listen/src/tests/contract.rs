//! Nothing is allocated or freed once a listener is built.

use super::{player, tone};
use crate::cancel::Canceller;
use crate::room::{Clearing, Meeting, sweep};
use crate::section::entries::SectionEntries;
use crate::{Section, Series};
use assert_no_alloc::{AllocDisabler, assert_no_alloc, violation_count};
use units::{Decibels, FrameInstant, FrameSpan, Hertz, SampleRate};

#[global_allocator]
static GUARD: AllocDisabler = AllocDisabler;

#[test]
fn a_player_is_heard_without_allocating() {
    let mut sound = tone(48_000, 174.6);
    sound.extend(vec![0.0; 48_000]);
    sound.extend(tone(48_000, 261.6));
    sound.extend([f32::NAN; 500]);
    let mut player = player("horn in F", 48_000);
    let target = Some("C4".parse().unwrap());
    let mut told = 0;
    let before = violation_count();
    for block in sound.chunks(64) {
        assert_no_alloc(|| {
            player.expect(target);
            player.hear(block, |_| told += 1);
            std::hint::black_box(player.answer());
        });
    }
    assert_eq!(violation_count() - before, 0);
    assert!(told > 400);
}

#[test]
fn a_section_is_heard_and_told_without_allocating() {
    let series = Series::new(Hertz::new(43.65).unwrap(), &[3, 4, 5, 6, 8]);
    let mut section = Section::new(series, Some(12), SampleRate::DEFAULT);
    let sound = tone(48_000, 174.6);
    let before = violation_count();
    for block in sound[20_000..].chunks(4096) {
        assert_no_alloc(|| section.hear(block));
    }
    let shares = assert_no_alloc(|| section.shares());
    assert_no_alloc(|| section.clear());
    assert_eq!(violation_count() - before, 0);
    assert_eq!(shares.unwrap().largest().unwrap().partial, 4);
}

#[test]
fn a_section_of_woodwinds_is_told_without_allocating() {
    let mut section = Section::new(Series::overblown_from(Hertz::new(174.6).unwrap(), 1), Some(12), SampleRate::DEFAULT);
    section.hear(&tone(48_000, 174.6)[20_000..]);
    let before = violation_count();
    let shares = assert_no_alloc(|| section.shares());
    assert_eq!(violation_count() - before, 0);
    assert_eq!(shares.unwrap().largest().unwrap().partial, 1);
}

#[test]
fn a_section_is_heard_to_come_in_without_allocating() {
    let mut entries = SectionEntries::new(SampleRate::DEFAULT);
    let sound = tone(48_000, 174.6);
    let before = violation_count();
    for block in sound.chunks(64) {
        assert_no_alloc(|| entries.hear(block));
    }
    // the tone begins at 0.3 s
    let told = assert_no_alloc(|| entries.told(FrameInstant(17_300)));
    assert_no_alloc(|| entries.clear());
    assert_eq!(violation_count() - before, 0);
    assert!(told.is_some());
}

#[test]
fn our_own_sound_is_taken_out_without_allocating() {
    let mut canceller = Canceller::new(SampleRate::DEFAULT);
    let sound = tone(48_000, 174.6);
    let before = violation_count();
    let left: f32 = assert_no_alloc(|| sound.iter().map(|x| canceller.step(*x, 0.5 * x)).sum());
    assert_eq!(violation_count() - before, 0);
    assert!(left.is_finite());
}

#[test]
fn a_room_is_cleared_without_allocating() {
    let rate = SampleRate::DEFAULT;
    let mut sent = sweep(rate, Decibels(-20.0));
    sent.resize(sent.len() + 48_000, 0.0);
    let heard: Vec<f32> = (0..sent.len()).map(|n| n.checked_sub(4800).map_or(0.0, |n| 0.5 * sent[n])).collect();
    let mut clearing = Clearing::new(rate, rate);
    let mut told = 0;
    let mut feed = |clearing: &mut Clearing, from: u64| {
        for (n, (sent, heard)) in sent.chunks(500).zip(heard.chunks(500)).enumerate() {
            assert_no_alloc(|| {
                clearing.sent(FrameInstant(from + 500 * n as u64), sent);
                clearing.heard(heard, |cleared| told += cleared.sound.len());
            });
        }
    };
    let before = violation_count();
    feed(&mut clearing, 0);
    assert!(matches!(clearing.meeting(), Meeting::Found { .. }));
    clearing.calibrate(FrameInstant(0)).unwrap();
    assert_no_alloc(|| clearing.lost(FrameSpan(4000)));
    feed(&mut clearing, sent.len() as u64 + 4000);
    assert_no_alloc(|| clearing.freeze(true));
    feed(&mut clearing, 0);
    assert_eq!(violation_count() - before, 0);
    assert!(told > 300_000, "{told}");
}

#[test]
fn the_guard_catches_an_allocation_made_on_purpose() {
    let before = violation_count();
    let kept = assert_no_alloc(|| std::hint::black_box(vec![1_u8; 64]));
    assert!(violation_count() > before);
    drop(kept);
}
