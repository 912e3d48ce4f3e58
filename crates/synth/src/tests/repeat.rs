//! The same calls give the same samples, and none of them allocates.

use super::*;
use assert_no_alloc::{AllocDisabler, assert_no_alloc, violation_count};

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

/// Every call there is, over two seconds; the sum of the bits of all samples.
fn perform(stage: &mut Stage) -> u64 {
    let mut digest = 0xCBF2_9CE4_8422_2325_u64;
    for block in 0..1_500_u32 {
        let at = stage.now + u64::from(block % 64);
        match block % 97 {
            3 => tutti(stage, 0.3),
            17 => stage.band.set_master(Gain::new(0.5 + f32::from(block as u8 % 4) * 0.1)),
            29 => stage.band.set_level(Bus::Section(3), Gain::new(0.3)),
            41 => stage.band.release_tones(FrameInstant(at)),
            48 => stage.band.set_drone(None),
            53 => stage.band.say(0, FrameInstant(at), Some(FrameInstant(at + 3_000))),
            71 if block % 3 == 0 => stage.band.hush(),
            _ => stage.band.click(ClickKind::Subdivision, FrameInstant(at), Gain::new(0.2)),
        }
        let mut out = [[0.0; 2]; BLOCK];
        stage.band.render(FrameInstant(stage.now), &stage.clips, &mut out, Some(&mut stage.stems));
        stage.now += BLOCK as u64;
        for sample in out.as_flattened() {
            digest = (digest ^ u64::from(sample.to_bits())).wrapping_mul(0x100_0000_01B3);
        }
    }
    digest
}

fn performance() -> Stage {
    Stage::with_clips(vec![(0..20_000).map(|i| (i as f32 * 0.05).sin() * 0.3).collect()])
}

#[test]
fn the_same_calls_give_the_same_bits() {
    assert_eq!(perform(&mut performance()), perform(&mut performance()));
    let mut other = performance();
    other.tone(Timbre::Oboe, 300.0, 0, 0.5, 0.1, 2);
    assert_ne!(perform(&mut performance()), perform(&mut other), "the digest sees a difference");
}

#[test]
fn no_call_allocates_or_frees() {
    let mut stage = performance();
    let before = violation_count();
    assert_no_alloc(|| perform(&mut stage));
    assert_eq!(violation_count(), before, "the audio calls touched the allocator");
    assert_no_alloc(|| drop(vec![1_u8; 100]));
    assert!(violation_count() > before, "the watch works");
}
