//! Broken numbers in what a band is given: silence or bounded sound, counted, and nothing else disturbed.

use super::*;

/// A second of a drone with a clip of `samples` said over it: what came out, and how many samples were no numbers.
fn said(samples: Vec<f32>) -> (Vec<[f32; 2]>, u64) {
    let mut stage = Stage::with_clips(vec![samples]);
    stage.band.set_drone(Some(chord(220.0, &[(1, 1, 0.0)])));
    stage.band.say(0, FrameInstant(9_600), None);
    for _ in 0..RATE as usize / BLOCK {
        stage.block();
    }
    (stage.out, stage.band.non_finite())
}

#[test]
fn samples_that_are_no_numbers_become_silence_and_are_counted() {
    for broken in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        let (out, counted) = said(vec![broken; 4_800]);
        // its fades at both ends multiply by zero somewhere: no less than nearly all are counted
        assert!((4_700..=4_800).contains(&counted), "{counted} of {broken} counted");
        assert!(out.as_flattened().iter().all(|sample| sample.is_finite() && sample.abs() <= 1.0));
        assert!(out[40_000..].iter().any(|frame| frame[0].abs() > 1e-3), "the drone is gone");
    }
}

#[test]
fn samples_beyond_all_measure_are_held_under_the_ceiling() {
    for huge in [1e30, f32::MAX, -f32::MAX] {
        let (out, _) = said((0..4_800).map(|n| if n % 7 < 3 { huge } else { -huge }).collect());
        assert!(out.as_flattened().iter().all(|sample| sample.is_finite() && sample.abs() <= 1.0));
        assert!(out[47_000..].iter().any(|frame| frame[0].abs() > 1e-3), "the drone does not come back");
    }
}

#[test]
#[cfg(target_arch = "x86_64")]
fn numbers_too_small_for_full_precision_are_silence_inside_and_untouched_outside() {
    let tiny = f32::from_bits(1 << 20);
    let mut stage = Stage::with_clips(vec![vec![tiny; 4_800]]);
    stage.band.say(0, FrameInstant::ZERO, None);
    for _ in 0..100 {
        stage.block();
    }
    assert!(stage.out.as_flattened().iter().all(|sample| *sample == 0.0));
    assert!(std::hint::black_box(tiny) * 0.5 > 0.0, "the caller's own arithmetic is changed");
}
