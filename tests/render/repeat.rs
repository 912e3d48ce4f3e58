//! The same plan with the same cues at the same frames gives the same samples, whatever the device asks for.

use super::{RATE, Rendering, clips, demo, demo_once, room, score};
use engine::Controls;
use engine::journal::Recipe;
use sequencer::Cue;

/// What the director does, and the frame at which.
type Direction = (usize, fn(&mut Controls));

/// A run's directions, at frames that are whole blocks.
fn directions() -> Vec<Direction> {
    let block = synth::BLOCK;
    vec![
        (0, |controls| controls.clips(clips())),
        (0, |controls| controls.load(score(demo(1).compile(&room()).unwrap()), None, Recipe::default())),
        (10 * block, |controls| controls.drone(Some((&room().drone, &room())))),
        (100 * block, |controls| controls.cue(Cue::Go)),
        (3_000 * block, |controls| controls.cue(Cue::Quicker)),
        (4_000 * block, |controls| controls.cue(Cue::Louder)),
        (6_000 * block, |controls| controls.cue(Cue::Next)),
        (9_000 * block, |controls| controls.hush()),
        (9_400 * block, |controls| controls.cue(Cue::Go)),
        (11_000 * block, |controls| controls.cue(Cue::Hold)),
    ]
}

/// Fills `frames` frames by callbacks of the sizes `next` gives, each direction at its very frame.
fn played(frames: usize, mut next: impl FnMut() -> usize) -> Vec<f32> {
    let (mut controls, mut renderer) = engine::pair(RATE);
    let mut directions = directions().into_iter().peekable();
    let mut out = vec![0.0; 2 * frames];
    let mut at = 0;
    while at < frames {
        while let Some((_, direct)) = directions.next_if(|(when, _)| *when == at) {
            direct(&mut controls);
        }
        let until = directions.peek().map_or(frames, |(when, _)| *when);
        let size = next().min(until - at);
        renderer.fill(&mut out[2 * at..2 * (at + size)], 2);
        controls.poll();
        at += size;
    }
    out
}

#[test]
fn callback_sizes_change_nothing() {
    let frames = 16 * RATE.hz() as usize;
    let reference = played(frames, || 64);
    assert!(reference.iter().any(|sample| sample.abs() > 0.05), "something sounds");
    for size in [1, 17, 127, 441, 682, 1024] {
        assert!(played(frames, || size) == reference, "callbacks of {size} frames change samples");
    }
    // mixtures, from a small generator of our own so that a failure repeats
    for seed in 1..=3_u64 {
        let mut state = seed;
        let mixed = played(frames, || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            1 + (state >> 33) as usize % 2_000
        });
        assert!(mixed == reference, "mixture {seed} changes samples");
    }
}

#[test]
fn a_rendering_repeats_bit_for_bit() {
    let score = demo_once(3);
    let (one, two) = (Rendering::of(&score), Rendering::of(&score));
    assert!(one.out == two.out);
    assert_eq!(one.listing, two.listing);
}

#[test]
fn one_channel_gets_the_mean_and_more_than_two_get_silence() {
    let fill = |channels: usize| {
        let (mut controls, mut renderer) = engine::pair(RATE);
        controls.drone(Some((&room().drone, &room())));
        let mut out = vec![9.0; 48_000 * channels];
        renderer.fill(&mut out, channels);
        out
    };
    let (mono, stereo, six) = (fill(1), fill(2), fill(6));
    for ((mono, stereo), six) in mono.iter().zip(stereo.chunks(2)).zip(six.chunks(6)) {
        assert_eq!(*mono, 0.5 * (stereo[0] + stereo[1]));
        assert_eq!(six, [stereo[0], stereo[1], 0.0, 0.0, 0.0, 0.0]);
    }
}
