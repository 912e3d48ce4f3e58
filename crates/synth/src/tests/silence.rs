//! What ends is silent, exactly and in time.

use super::*;

#[test]
fn every_timbre_is_silent_exactly_from_its_end() {
    for timbre in Timbre::ALL {
        // starts and ends off the block grid
        let mut stage = Stage::new();
        let length = 0.30;
        stage.tone(timbre, 311.127, 29, length, 1.0, 0);
        stage.run(0.5);
        let end = 29 + SampleRate::DEFAULT.span(length).0 as usize;
        assert!(stage.stem[..29].iter().all(|s| *s == 0.0), "{timbre:?} sounds before its start");
        assert!(stage.stem[end..].iter().all(|s| *s == 0.0), "{timbre:?} sounds after its end");
        assert!(stage.stem[end - 4_800..end - 3_000].iter().any(|s| s.abs() > 1e-4), "{timbre:?} sounds until its release");
        let last = stage.stem[end - 10..end].iter().fold(0.0_f32, |m, s| m.max(s.abs()));
        assert!(last < 1e-5, "{timbre:?} ends with a step of {last}");
        let latency = stage.band.latency().0 as usize;
        assert!(stage.out[end + latency..].iter().all(|frame| *frame == [0.0; 2]), "{timbre:?} leaves the limiter late");
        assert!(stage.band.is_silent());
    }
}

#[test]
fn hush_silences_a_full_band_within_40_ms() {
    let noise: Vec<f32> = (0..96_000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 8) as f32 / 8_388_608.0 - 1.0).collect();
    let mut stage = Stage::with_clips(vec![noise; 8]);
    tutti(&mut stage, 1.0);
    stage.run(1.0);
    assert!(!stage.band.is_silent());
    stage.forget();
    stage.band.hush();
    stage.run(0.2);
    let last = stage.out.iter().rposition(|frame| *frame != [0.0; 2]).unwrap();
    assert!(stage.out[0] != [0.0; 2]);
    assert!(last < 1_920, "sound until frame {last}, {} ms", last as f64 / 48.0);
    assert!(stage.band.is_silent());
    // and it starts anew
    stage.tone(Timbre::Flute, 440.0, 0, 0.5, 1.0, 0);
    stage.forget();
    stage.run(0.3);
    assert!(stage.stem.iter().any(|s| s.abs() > 0.05));
}

#[test]
fn what_is_asked_for_after_a_hush_sounds_and_what_was_waiting_does_not() {
    let mut stage = Stage::new();
    stage.run(0.1);
    stage.forget();
    stage.tone(Timbre::Flute, 440.0, 10, 0.5, 1.0, 0);
    stage.band.hush();
    stage.watched = Bus::Section(0);
    assert!(stage.band.is_silent());
    stage.run(0.1);
    assert!(stage.stem.iter().all(|s| *s == 0.0));
    stage.tone(Timbre::Flute, 440.0, 0, 0.5, 1.0, 0);
    stage.run(0.1);
    stage.band.hush();
    stage.tone(Timbre::Flute, 550.0, 0, 0.5, 1.0, 0);
    stage.run(0.1);
    stage.forget();
    stage.run(0.1);
    let new = super::measure::follow(&stage.stem, f64::from(RATE), 550.0, 0.05);
    let old = super::measure::follow(&stage.stem, f64::from(RATE), 440.0, 0.05);
    assert!(new.amplitudes[0] > 0.02 && old.amplitudes[0] < 1e-3, "{} {}", new.amplitudes[0], old.amplitudes[0]);
}

#[test]
fn released_tones_are_gone_in_30_ms_and_the_drone_stays() {
    let mut stage = Stage::new();
    stage.band.set_drone(Some(chord(110.0, &[(1, 1, 0.0)])));
    stage.tone(Timbre::Clarinet, 233.08, 0, 9.0, 1.0, 0);
    stage.tone(Timbre::Vibraphone, 466.16, 0, 9.0, 1.0, 0);
    stage.run(1.5);
    stage.forget();
    let at = FrameInstant(stage.now + 40);
    stage.band.release_tones(at);
    stage.tone(Timbre::Horn, 311.127, 40, 1.0, 1.0, 1);
    stage.run(0.2);
    let last = stage.stem.iter().rposition(|s| *s != 0.0).unwrap();
    assert!((40..40 + 1_440).contains(&last), "sound until frame {last}");
    assert_eq!(stage.band.sounding_tones(), 1, "the tone that starts as the others are released goes on");
    assert!(stage.out[stage.out.len() - 1] != [0.0; 2]);
    stage.watched = Bus::Drone;
    stage.forget();
    stage.run(0.1);
    assert!(stage.stem.iter().any(|s| s.abs() > 0.05));
}

#[test]
fn a_cut_word_fades_in_20_ms_and_ends_on_the_frame() {
    let mut stage = Stage::with_clips(vec![vec![0.4; 24_000]]);
    stage.watched = Bus::Voice;
    stage.band.say(0, FrameInstant(stage.now + 13), Some(FrameInstant(stage.now + 9_013)));
    stage.run(0.5);
    let stem = &stage.stem;
    assert!(stem[..=13].iter().all(|s| *s == 0.0) && stem[14] > 0.0);
    assert!((stem[200] - 0.4).abs() < 1e-6 && (stem[9_013 - 960] - 0.4).abs() < 1e-6 && stem[9_013 - 900] < 0.4);
    assert!(stem[9_012] > 0.0 && stem[9_013..].iter().all(|s| *s == 0.0));
}

#[test]
fn a_word_ends_by_itself_and_an_unknown_word_is_silence() {
    let mut stage = Stage::with_clips(vec![vec![0.4; 1_000]]);
    stage.watched = Bus::Voice;
    stage.band.say(0, FrameInstant(stage.now), None);
    stage.band.say(7, FrameInstant(stage.now), None);
    stage.run(0.1);
    assert!(stage.stem[500] > 0.39 && stage.stem[999] < 1e-3 && stage.stem[1_000..].iter().all(|s| *s == 0.0));
    assert!(stage.band.is_silent());
}

#[test]
fn a_breath_swells_and_stops_at_the_entry() {
    let mut stage = Stage::new();
    stage.watched = Bus::Breath;
    let (start, end) = (FrameInstant(stage.now + 5), FrameInstant(stage.now + 72_005));
    stage.band.breath(Breath { start, end }, Gain::UNITY);
    stage.run(2.0);
    let rms = |from: usize, to: usize| (stage.stem[from..to].iter().map(|s| s * s).sum::<f32>() / (to - from) as f32).sqrt();
    let (early, late) = (rms(5_000, 15_000), rms(50_000, 60_000));
    assert!(late > 10.0 * early && (0.05..0.2).contains(&late), "{early} {late}");
    assert!(stage.stem[72_005..].iter().all(|s| *s == 0.0));
    assert!(rms(71_000, 72_005) < 0.2 * late);
}

#[test]
fn sounds_that_are_late_start_with_the_block() {
    let mut stage = Stage::with_clips(vec![vec![0.4; 1_000]]);
    stage.run(0.1);
    stage.forget();
    stage.watched = Bus::Voice;
    stage.band.say(0, FrameInstant(stage.now - 300), None);
    stage.run(0.1);
    assert!(stage.stem[1] > 0.0 && stage.stem[999] > 0.0 && stage.stem[1_000] == 0.0);
}
