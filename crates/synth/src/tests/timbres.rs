//! Timbres are told apart, equally loud, and known by their instruments.

use super::measure::follow;
use super::*;

/// Levels in dB of the first sixteen harmonics relative to the strongest, not under -50, and the attack's length in ms.
fn fingerprint(timbre: Timbre, hz: f64) -> [f64; 16] {
    let mut stage = Stage::new();
    stage.tone(timbre, hz, 0, 2.0, 1.0, 0);
    stage.run(1.5);
    let held = &stage.stem[24_000..48_000];
    let amplitudes: [f64; 16] = std::array::from_fn(|k| follow(held, f64::from(RATE), (k + 1) as f64 * hz, 0.25).amplitudes[0]);
    let top = amplitudes.iter().copied().fold(0.0, f64::max);
    amplitudes.map(|a| (20.0 * (a / top + 1e-9).log10()).max(-50.0))
}

#[test]
fn sustained_timbres_differ() {
    // relatives share a measurement, or are one instrument in several sizes
    let families: [&[Timbre]; 5] = [
        &[Timbre::SopranoSax, Timbre::AltoSax, Timbre::TenorSax, Timbre::BaritoneSax],
        &[Timbre::Horn, Timbre::Euphonium],
        &[Timbre::Clarinet, Timbre::BassClarinet],
        &[Timbre::Trumpet, Timbre::Cornet, Timbre::Flugelhorn],
        &[Timbre::Trombone, Timbre::Baritone],
    ];
    let prints: Vec<(Timbre, [f64; 16])> =
        Timbre::ALL.into_iter().take(19).map(|timbre| (timbre, fingerprint(timbre, 233.081_88))).collect();
    for (i, (a, first)) in prints.iter().enumerate() {
        for (b, second) in &prints[i + 1..] {
            let distance = (first.iter().zip(second).map(|(x, y)| (x - y).powi(2)).sum::<f64>() / 16.0).sqrt();
            let relatives = families.iter().any(|family| family.contains(a) && family.contains(b));
            let bound = if relatives { 1.5 } else { 4.0 };
            assert!(distance > bound, "{a:?} and {b:?} differ by only {distance:.1} dB");
        }
    }
}

#[test]
fn a_clarinet_lacks_its_even_harmonics_and_a_trumpet_does_not() {
    // common practice, no source: what tells the two apart in the low register
    let clarinet = fingerprint(Timbre::Clarinet, 146.832);
    assert!(clarinet[1] < clarinet[0] - 15.0 && clarinet[1] < clarinet[2] - 15.0, "{clarinet:?}");
    let trumpet = fingerprint(Timbre::Trumpet, 233.082);
    assert!(trumpet[1] > -12.0 && trumpet[5] > -15.0, "{trumpet:?}");
}

#[test]
fn softer_is_darker() {
    for timbre in [Timbre::Flute, Timbre::Clarinet, Timbre::Trumpet, Timbre::Tuba] {
        let brightness = |level: f32| {
            let mut stage = Stage::new();
            stage.tone(timbre, 233.081_88, 0, 2.0, level, 0);
            stage.run(1.0);
            let amplitude = |k: f64| follow(&stage.stem[24_000..36_000], f64::from(RATE), k * 233.081_88, 0.25).amplitudes[0];
            amplitude(5.0) / amplitude(1.0)
        };
        assert!(brightness(0.25) < 0.8 * brightness(1.0), "{timbre:?}");
    }
}

#[test]
fn every_instrument_of_the_table_has_a_timbre() {
    let ids = "piccolo flute oboe bassoon clarinet_eb clarinet_bb clarinet_alto_eb bass_clarinet_treble bass_clarinet_bass sax_soprano \
        sax_alto sax_tenor sax_baritone trumpet_bb cornet_bb flugelhorn_bb horn_f horn_f_bass_new horn_f_bass_old trombone baritone_bc \
        baritone_tc euphonium_bc euphonium_tc tuba double_bass glockenspiel xylophone marimba vibraphone timpani";
    for id in ids.split_whitespace() {
        assert!(Timbre::for_instrument(id).is_some(), "{id}");
    }
    assert_eq!(Timbre::for_instrument("ocarina"), None);
    let names: std::collections::HashSet<_> = Timbre::ALL.iter().map(|timbre| timbre.name()).collect();
    assert_eq!(names.len(), Timbre::ALL.len());
}
