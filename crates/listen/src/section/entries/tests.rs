use super::*;
use units::FrameSpan;

/// Players on some partials of 58.27 Hz, none in tune with another, whose tones begin `entries` seconds after 0.5 s.
fn section(rate: u32, entries: &[f64]) -> Vec<f32> {
    let mut sum = vec![0.0; rate as usize * 18 / 10];
    for (n, entry) in entries.iter().enumerate() {
        let hz = 58.27 * [4.0, 5.0, 3.0, 6.0, 4.03, 8.0][n];
        for (at, to) in sum.iter_mut().enumerate() {
            let t = at as f64 / f64::from(rate) - 0.5 - entry;
            let harmonic = |h: f64| if h * hz < 0.4 * f64::from(rate) { (std::f64::consts::TAU * hz * h * t).sin() / h } else { 0.0 };
            let tone: f64 = (1..=10).map(|h| harmonic(f64::from(h))).sum();
            *to += if t < 0.0 { 0.0 } else { (0.05 * (t / 0.04).min(1.0) * tone) as f32 };
        }
    }
    let mut random = 1_u32;
    for to in &mut sum {
        random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        *to += 0.002 * ((random >> 8) as f32 / 8_388_608.0 - 1.0);
    }
    sum
}

const TIDY: [f64; 6] = [0.0, 0.005, -0.005, 0.01, -0.01, 0.0];
const RAGGED: [f64; 6] = [-0.1, 0.13, 0.0, 0.08, -0.06, 0.02];

fn told(rate: u32, sound: &[f32], beat: f64) -> Option<Entries> {
    let rate = SampleRate::new(rate).unwrap();
    let mut entries = SectionEntries::new(rate);
    entries.hear(sound);
    entries.told(FrameInstant(rate.span(beat).0))
}

#[test]
fn a_tidy_and_a_ragged_entry_are_told_apart_at_every_rate() {
    for rate in [16_000, 22_050, 44_100, 48_000, 96_000, 192_000] {
        let tidy = told(rate, &section(rate, &TIDY), 0.5).unwrap();
        let ragged = told(rate, &section(rate, &RAGGED), 0.5).unwrap();
        assert_eq!(tidy.word, Word::Together, "{rate}: {tidy:?}");
        assert_ne!(ragged.word, Word::Together, "{rate}: {ragged:?}");
        assert!(ragged.spread_ms > tidy.spread_ms + 25.0, "{rate}: {tidy:?}, {ragged:?}");
        assert!(tidy.mean_ms.abs() < 35.0 && tidy.doubt_ms > 5.0 && tidy.mean_doubt_ms > 2.0, "{rate}: {tidy:?}");
    }
}

#[test]
fn the_spread_does_not_depend_on_where_the_beat_lies_and_a_late_section_is_told_late() {
    let ragged = section(48_000, &RAGGED);
    let spreads = [0.42, 0.5, 0.56].map(|beat| told(48_000, &ragged, beat).unwrap().spread_ms);
    assert!(spreads.iter().all(|spread| (spread - spreads[1]).abs() < 8.0), "{spreads:?}");
    let late = told(48_000, &section(48_000, &TIDY.map(|entry| entry + 0.12)), 0.5).unwrap();
    assert!((90.0..150.0).contains(&late.mean_ms), "{late:?}");
    assert_eq!(late.word, Word::Together);
}

#[test]
fn blocks_of_any_length_and_a_later_count_hear_the_same() {
    let sound = section(48_000, &RAGGED);
    let whole = told(48_000, &sound, 0.5).unwrap();
    for length in [1, 63, 64, 1000] {
        let mut entries = SectionEntries::new(SampleRate::DEFAULT);
        entries.resume(FrameInstant(7_000_000));
        for block in sound.chunks(length) {
            entries.hear(block);
        }
        assert_eq!(entries.told(FrameInstant(7_024_000)), Some(whole), "{length}");
        assert_eq!(entries.now(), FrameInstant(7_000_000) + FrameSpan(sound.len() as u64));
    }
}

#[test]
fn nothing_is_told_of_silence_of_steady_sound_and_of_what_is_not_all_heard() {
    let sound = section(48_000, &TIDY);
    assert!(told(48_000, &[0.0; 96_000], 0.5).is_none());
    assert!(told(48_000, &[f32::NAN; 96_000], 0.5).is_none());
    assert!(told(48_000, &sound, 0.2).is_none(), "the time before the beat was not heard");
    assert!(told(48_000, &sound[..70_000], 0.5).is_none(), "the note has only begun");
    let steady: Vec<f32> = (0..96_000).map(|n| (0.1 * (f64::from(n) * 0.03).sin()) as f32).collect();
    assert!(told(48_000, &steady, 1.0).is_none(), "it sounded before");
    let mut entries = SectionEntries::new(SampleRate::DEFAULT);
    entries.hear(&sound);
    entries.clear();
    assert!(entries.told(FrameInstant(24_000)).is_none());
}

#[test]
fn a_mean_far_from_the_beat_is_believed_and_one_near_it_leans_to_it() {
    let (near, doubt) = expected(USUAL + 0.02, 0.02);
    assert!(near > USUAL && near < USUAL + 0.015 && doubt < HEARD);
    let (far, doubt) = expected(0.3, 0.02);
    assert!((0.22..0.3).contains(&far) && doubt < HEARD);
    assert_eq!(expected(1e3, 0.0), (1e3, HEARD));
}
