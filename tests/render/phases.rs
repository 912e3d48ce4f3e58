//! Just drones stand still: no beat for a minute, no drift in a day, against exact arithmetic.

use super::RATE;
use super::held::{chord, held, near};
use pitch::{Concert, Temperament};
use realfft::RealFftPlanner;
use sequencer::StackTone;
use std::collections::BTreeMap;
use std::f64::consts::TAU;
use synth::{DroneChord, DroneTone};
use units::{Gain, Hertz};

/// Partials of a drone tone that are looked at.
const PARTIALS: u32 = 12;
const DAY: u64 = 24 * 3600 * RATE.hz() as u64;

fn triad(root: &str, third: &str, temperament: Temperament) -> DroneChord {
    let root: Concert = root.parse().unwrap();
    chord(root, vec![StackTone::Root, StackTone::Free(third.parse().unwrap()), StackTone::Fifth], temperament)
}

fn tones(chord: &DroneChord) -> impl Iterator<Item = DroneTone> {
    chord.tones.iter().flatten().copied()
}

/// Where partials of two or more tones coincide, as multiples of `1 / denominator` of the root, with how often.
fn coincident(chord: &DroneChord) -> (u32, Vec<u32>) {
    let denominator = tones(chord).map(|tone| tone.ratio.1).product();
    let mut places = BTreeMap::new();
    for tone in tones(chord) {
        for partial in 1..=PARTIALS {
            *places.entry(partial * tone.ratio.0 * (denominator / tone.ratio.1)).or_insert(0) += 1;
        }
    }
    (denominator, places.into_iter().filter(|(_, often)| *often > 1).map(|(place, _)| place).collect())
}

/// The strongest swelling and fading of what `sound` holds near `hz`, at 0.05 to 8 times a second, over its mean level, in decibels.
fn strongest_beat(sound: &[f32], hz: f64) -> f64 {
    // what does not coincide lies 25 Hz away and more
    const HOP: f64 = 0.05;
    let mut envelope: Vec<f64> = near(sound, hz, 0.25, HOP).iter().map(|(re, im)| re.hypot(*im)).collect();
    let count = envelope.len();
    let mean = envelope.iter().sum::<f64>() / count as f64;
    for (index, value) in envelope.iter_mut().enumerate() {
        *value = (*value / mean - 1.0) * (1.0 - (TAU * (index as f64 + 0.5) / count as f64).cos());
    }
    let plan = RealFftPlanner::<f64>::new().plan_fft_forward(count);
    let mut bins = plan.make_output_vec();
    plan.process(&mut envelope, &mut bins).unwrap();
    let seconds = count as f64 * HOP;
    let heard = bins.iter().enumerate().filter(|(bin, _)| (0.05..8.0).contains(&(*bin as f64 / seconds)));
    let strongest = heard.map(|(_, bin)| 2.0 * bin.norm() / count as f64).fold(0.0, f64::max);
    20.0 * strongest.max(1e-12).log10()
}

#[test]
fn a_just_major_triad_does_not_beat_for_a_minute_and_an_equal_one_does() {
    for (root, third) in [("F3", "A3"), ("Bb3", "D4"), ("C4", "E4")] {
        let just = triad(root, third, Temperament::Just);
        assert_eq!(tones(&just).map(|tone| tone.ratio).collect::<Vec<_>>(), [(1, 1), (5, 4), (3, 2)]);
        let (denominator, places) = coincident(&just);
        assert!(places.len() >= 7, "{places:?}");
        let (just_sound, equal_sound) = (held(just, 0, 64.0).1, held(triad(root, third, Temperament::Equal), 0, 64.0).1);
        for place in &places {
            let hz = just.root.hz() * f64::from(*place) / f64::from(denominator);
            let beat = strongest_beat(&just_sound, hz);
            assert!(beat < -80.0, "{root}: what is at {hz:.2} Hz swells and fades by {beat:.1} dB of its level");
        }
        // the fifth's first coincident partial, the slowest beat of the equal triad, is seen by the same measure
        let fifth = strongest_beat(&equal_sound, 3.0 * just.root.hz());
        assert!(fifth > -12.0, "{root}: the equal fifth swells and fades by {fifth:.1} dB of its level");
    }
}

/// The phase, in turns, of the partial numbered `partial` of `ratio` over `root` on the frame numbered `frame`: exact, as the root's
/// frequency is a whole number over a power of two, and its multiples are reduced before they are rounded.
fn exact_phase(root: Hertz, ratio: (u32, u32), partial: u32, frame: u64) -> f64 {
    let bits = root.hz().to_bits();
    let whole = u128::from(bits & ((1 << 52) - 1) | 1 << 52);
    let halvings = 1075 - (bits >> 52);
    let turns = whole * u128::from(frame) % (u128::from(RATE.hz() * ratio.1) << halvings);
    let unit = u128::from(RATE.hz() * ratio.1) << halvings;
    let rest = turns * u128::from(partial * ratio.0) % unit;
    rest as f64 / unit as f64
}

/// The phase, in turns, of a sine at `hz` on the first sample of a second of `sound`, and its amplitude.
fn phase(sound: &[f32], hz: f64) -> (f64, f64) {
    let (re, im) = near(sound, hz, 1.0, 1.0)[0];
    ((im.atan2(re) / TAU + 0.25).rem_euclid(1.0), re.hypot(im))
}

/// How far two phases lie apart, at most half a turn.
fn apart(one: f64, other: f64) -> f64 {
    (one - other + 0.5).rem_euclid(1.0) - 0.5
}

#[test]
fn phases_are_exact_to_a_millionth_of_a_turn_after_a_day() {
    let mut measured = 0;
    for (root, third) in [("Bb2", "D3"), ("Bb3", "D4"), ("A3", "C4")] {
        let whole = triad(root, third, Temperament::Just);
        let (denominator, places) = coincident(&whole);
        for from in [0, DAY] {
            // each tone alone, the others silent but there, so that the family's clock is the chord's
            let mut phases: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
            for (number, tone) in tones(&whole).enumerate() {
                let mut alone = whole;
                for (other, place) in alone.tones.iter_mut().enumerate().filter(|(other, _)| *other != number) {
                    assert!(place.is_none() || other < 3);
                    place.iter_mut().for_each(|tone| tone.level = Gain::SILENCE);
                }
                let (first, sound) = held(alone, from, 1.0);
                for partial in 1..=PARTIALS {
                    let hz = whole.root.hz() * f64::from(tone.ratio.0 * partial) / f64::from(tone.ratio.1);
                    let (found, amplitude) = phase(&sound, hz);
                    if amplitude < 1e-4 {
                        continue; // so soft that rounding of the samples counts
                    }
                    let off = apart(found, exact_phase(whole.root, tone.ratio, partial, first));
                    assert!(off.abs() <= 1e-6, "{root}, from {from}: partial {partial} of {:?} is {off:e} turns off", tone.ratio);
                    phases.entry(partial * tone.ratio.0 * (denominator / tone.ratio.1)).or_default().push(found);
                    measured += 1;
                }
            }
            // partials that coincide have one phase, and have it in the chord
            let (first, sound) = held(whole, from, 1.0);
            for place in &places {
                let hz = whole.root.hz() * f64::from(*place) / f64::from(denominator);
                let (together, amplitude) = phase(&sound, hz);
                let exact = exact_phase(whole.root, (*place, denominator), 1, first);
                for found in phases.get(place).into_iter().flatten().chain([&together]).filter(|_| amplitude > 1e-4) {
                    assert!(apart(*found, exact).abs() <= 1e-6, "{root}, from {from}: {hz:.2} Hz at {found}, not {exact}");
                }
            }
        }
    }
    assert!(measured > 100, "{measured} partials");
}

#[test]
fn equal_tones_keep_their_phase_for_a_day_too() {
    let root: Concert = "Bb3".parse().unwrap();
    let upper: Concert = "F4".parse().unwrap();
    let whole = chord(root, vec![StackTone::Root, StackTone::Free(upper)], Temperament::Equal);
    let fifth = whole.root.moved(tones(&whole).nth(1).unwrap().detune);
    let mut alone = whole;
    alone.tones[0] = None;
    for from in [0, DAY] {
        let (first, sound) = held(alone, from, 1.0);
        for partial in 1..=8 {
            let (found, _) = phase(&sound, fifth.hz() * f64::from(partial));
            let off = apart(found, exact_phase(fifth, (1, 1), partial, first));
            assert!(off.abs() <= 1e-6, "from {from}: partial {partial} is {off:e} turns off");
        }
    }
}
