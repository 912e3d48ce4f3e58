//! Listeners from outside: on tones made here, and on a fixed set of clips.

mod clips;
mod contract;

use crate::{Heard, Note, Player, Section, Series, Verdict};
use pitch::{Instrument, Tuning};
use units::{Hertz, SampleRate};

/// A tone of eight harmonics at `hz`, a second and a half long after 0.3 s of silence, at -20 dBFS.
fn tone(rate: u32, hz: f64) -> Vec<f32> {
    let sample = |n: u32| {
        let t = f64::from(n) / f64::from(rate) - 0.3;
        let harmonic = |h: f64| if h * hz < 0.45 * f64::from(rate) { (std::f64::consts::TAU * hz * h * t).sin() / h } else { 0.0 };
        let sum: f64 = (1..=8).map(|h| harmonic(f64::from(h))).sum();
        if t < 0.0 { 0.0 } else { (0.11 * (t / 0.02).min(1.0) * sum) as f32 }
    };
    (0..rate * 18 / 10).map(sample).collect()
}

fn player(name: &str, rate: u32) -> Player {
    Player::new(Instrument::find(name).unwrap(), SampleRate::new(rate).unwrap(), Tuning::default()).unwrap()
}

fn notes(player: &mut Player, sound: &[f32]) -> Vec<Note> {
    let mut notes = Vec::new();
    player.hear(sound, |heard| {
        if let Heard::Note(note) = heard {
            notes.push(note);
        }
    });
    notes
}

#[test]
fn a_note_is_named_as_written_at_every_rate() {
    for rate in [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000, 192_000] {
        let mut player = player("horn in F", rate);
        player.expect(Some("C4".parse().unwrap()));
        // sounding F3, 12 cents sharp
        let notes = notes(&mut player, &tone(rate, 174.614 * (12.0_f64 / 1200.0).exp2()));
        assert_eq!(notes.len(), 1, "{rate}");
        let note = notes[0];
        assert_eq!(note.named.written, "C4".parse().unwrap(), "{rate}");
        assert_eq!(note.named.concert, "F3".parse().unwrap(), "{rate}");
        assert!((note.named.cents.0 - 12.0).abs() < 0.2, "{rate}: {}", note.named.cents.0);
        assert_eq!(note.placed.unwrap().place, crate::Place::Target);
        let entry = note.entry.0 as f64 / f64::from(rate);
        assert!((entry - 0.3).abs() < 0.01, "{rate}: {entry}");
        assert_eq!(player.answer(), player.answer());
        assert!(matches!(player.answer(), Verdict::Note(_)));
    }
}

#[test]
fn blocks_of_any_length_hear_the_same() {
    let sound = tone(48_000, 233.1);
    let whole = notes(&mut player("trumpet", 48_000), &sound);
    assert_eq!(whole.len(), 1);
    for length in [1, 63, 64, 1000] {
        let mut player = player("trumpet", 48_000);
        let pieces: Vec<Note> = sound.chunks(length).flat_map(|block| notes(&mut player, block)).collect();
        assert_eq!(pieces, whole, "{length}");
    }
}

/// Noise of the same power at every frequency, in place of a tone's silence and under it; `level` is its RMS.
fn with_noise(sound: &mut [f32], level: f32) {
    let mut state = 1_u32;
    for x in sound {
        // a linear congruence, by the numbers of Numerical Recipes (from memory); uniform, so its RMS is 1 / sqrt(3)
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        *x += level * 3.0_f32.sqrt() * (state as f32 / u32::MAX as f32 * 2.0 - 1.0);
    }
}

#[test]
fn a_tone_of_hardly_any_overtones_is_heard_in_noise() {
    // as loud as the noise, most of which lies far above it
    let mut sound: Vec<f32> = (0..72_000).map(|n| 0.1 * (n as f32 * 196.0 / 48_000.0 * std::f32::consts::TAU).sin()).collect();
    with_noise(&mut sound, 0.07);
    let mut frames = Vec::new();
    player("euphonium", 48_000).hear(&sound, |heard| {
        if let Heard::Frame(frame) = heard {
            frames.push(frame.tone.map_or(0.0, |tone| tone.frequency.hz()));
        }
    });
    let right = frames[20..].iter().filter(|hz| (*hz / 196.0).log2().abs() < 50.0 / 1200.0).count();
    assert!(100 * right >= 95 * (frames.len() - 20), "{right} of {}", frames.len() - 20);
}

#[test]
fn a_partial_is_placed_early_and_a_note_off_the_series_is_not_drawn_to_one() {
    for (hz, place) in [(174.6, crate::Place::Partial { heard: 4, wanted: 6 }), (185.0, crate::Place::OffTheSeries)] {
        let mut sound = tone(48_000, hz);
        with_noise(&mut sound, 0.05);
        let mut horn = player("horn in F", 48_000);
        horn.expect(Some("G4".parse().unwrap()));
        let mut early = None;
        horn.hear(&sound, |heard| {
            if let Heard::Frame(frame) = heard
                && frame.upto.0 <= 48_000 * 42 / 100
            {
                early = frame.placed.map(|placed| placed.place);
            }
        });
        assert_eq!(early, Some(place), "{hz}");
    }
}

#[test]
fn a_horn_two_partials_low_and_a_clarinet_a_twelfth_high_are_told_so() {
    let mut horn = player("horn in F", 48_000);
    horn.expect(Some("G4".parse().unwrap()));
    // the sixth partial asked for, the fourth played: sounding F3
    notes(&mut horn, &tone(48_000, 174.6));
    let Verdict::Note(note) = horn.answer() else { panic!("nothing heard") };
    assert_eq!(note.placed.unwrap().place, crate::Place::Partial { heard: 4, wanted: 6 });
    let mut clarinet = player("clarinet", 48_000);
    clarinet.expect(Some("C4".parse().unwrap()));
    notes(&mut clarinet, &tone(48_000, 3.0 * 233.08));
    let Verdict::Note(note) = clarinet.answer() else { panic!("nothing heard") };
    assert_eq!(note.placed.unwrap().place, crate::Place::Twelfth(1));
}

#[test]
fn a_note_begins_when_it_is_played_though_its_pitch_was_there_before() {
    let hz = 261.6256;
    for before in [0.3, 0.6] {
        let mut player = player("horn in F", 24_000);
        let played = tone(24_000, hz);
        // what is left of our own model at the very pitch, 55 dB under the player
        let left = |n: usize| (std::f64::consts::TAU * hz * n as f64 / 24_000.0).sin() as f32 * 3e-4;
        let sound: Vec<f32> = (0..(before * 24_000.0) as usize).map(left).chain(played[7200..].iter().copied()).collect();
        player.hear(&sound, |_| ());
        let Verdict::Note(note) = player.answer() else { panic!("it was played") };
        let entry = note.entry.0 as f64 / 24_000.0;
        assert!((entry - before).abs() < 0.015, "{before} s: {entry} s");
    }
}

#[test]
fn silence_noise_clicks_and_glides_get_no_verdict() {
    let mut random = 1_u32;
    let mut noise = move || {
        random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (random >> 8) as f32 / f32::from(1_u16 << 15) / 256.0 - 1.0
    };
    let rate = 48_000_u32;
    let white: Vec<f32> = (0..10 * rate).map(|_| 0.1 * noise()).collect();
    let clicks: Vec<f32> = (0..10 * rate).map(|n| if n % 12_000 < 20 { 0.8 } else { 0.0 }).collect();
    // a voice gliding an octave in a second, up and down
    let mut phase = 0.0_f64;
    let glide = (0..10 * rate).map(|n| {
        let octave = (f64::from(n) / f64::from(rate) * std::f64::consts::PI).sin().abs();
        phase += 150.0 * octave.exp2() / f64::from(rate);
        (0.1 * (1..8).map(|h| (std::f64::consts::TAU * phase * f64::from(h)).sin() / f64::from(h)).sum::<f64>()) as f32
    });
    let glide: Vec<f32> = glide.collect();
    for (name, sound) in [("silence", &vec![0.0; 480_000]), ("noise", &white), ("clicks", &clicks), ("a glide", &glide)] {
        for instrument in ["flute", "clarinet", "horn in F", "tuba"] {
            let mut player = player(instrument, rate);
            assert_eq!(notes(&mut player, sound), [], "{name}, {instrument}");
            assert_eq!(player.answer(), Verdict::Nothing);
        }
    }
}

#[test]
fn what_is_no_number_spoils_nothing() {
    let sound = tone(48_000, 233.1);
    for bad in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, f32::MAX, -f32::MAX] {
        let mut player = player("trumpet", 48_000);
        let mut torn = sound.clone();
        torn[..2000].fill(bad);
        let spoilt = notes(&mut player, &torn);
        assert_eq!(spoilt.len(), 1, "{bad}");
        assert!((spoilt[0].frequency.hz() - 233.1).abs() < 0.1, "{bad}");
        notes(&mut player, &[bad; 100_000]);
        player.expect(None);
        notes(&mut player, &[0.0; 48_000]);
        player.expect(None);
        let after = notes(&mut player, &sound);
        assert_eq!(after.len(), 1, "{bad}");
        assert!(after[0].frequency.hz().is_finite() && after[0].confidence.is_finite());
    }
}

#[test]
fn drums_cannot_be_listened_to_and_the_message_says_so() {
    let drum = Player::new(Instrument::find("snare drum").unwrap(), SampleRate::DEFAULT, Tuning::default());
    assert!(drum.unwrap_err().to_string().ends_with("has no pitch to listen for; choose a seat with a pitched instrument"));
}

#[test]
fn every_pitched_instrument_hears_its_own_comfortable_notes() {
    for instrument in Instrument::all() {
        for written in [instrument.comfortable().low(), instrument.comfortable().high()] {
            let hz = Tuning::default().frequency(instrument.sounding(written)).hz();
            let mut player = Player::new(instrument, SampleRate::DEFAULT, Tuning::default()).unwrap();
            let notes = notes(&mut player, &tone(48_000, hz));
            assert_eq!(notes.len(), 1, "{} {written}", instrument.id());
            assert_eq!(notes[0].named.written.semitone(), written.semitone(), "{} {written}", instrument.id());
        }
    }
}

#[test]
fn a_section_of_tones_is_shared_out_and_a_wrong_note_lies_elsewhere() {
    let mix = |notes: &[f64]| {
        let mut sum = vec![0.0; 48_000 * 18 / 10];
        for hz in notes {
            sum.iter_mut().zip(tone(48_000, *hz)).for_each(|(to, x)| *to += x / 4.0);
        }
        sum
    };
    // partials 3, 4 and 6 over 58.27 Hz, each player a little off the others
    let on_series: Vec<f64> = [3.0, 3.004, 4.0, 3.997].map(|k: f64| 58.27 * k).to_vec();
    let series = Series::new(Hertz::new(58.27).unwrap(), &[2, 3, 4, 5, 6]);
    let mut section = Section::new(series, Some(4), SampleRate::DEFAULT);
    section.set_timbre(crate::section::heads::Timbre::parametric());
    section.hear(&mix(&on_series)[20_000..]);
    let shares = section.shares().unwrap();
    for (partial, truth) in [(2, 0.0), (3, 0.5), (4, 0.5), (5, 0.0), (6, 0.0)] {
        let share = shares.on(partial).unwrap();
        assert!((share.share - truth).abs() < 0.15 && share.bounds.0 <= truth && truth <= share.bounds.1, "{share:?}");
    }
    assert!(shares.elsewhere < 0.1, "{}", shares.elsewhere);
    section.clear();
    assert!(section.shares().is_none());
    section.hear(&mix(&[3.0 * 58.27, 3.0 * 58.27, 3.4 * 58.27, 3.4 * 58.27])[20_000..]);
    assert!(section.shares().unwrap().elsewhere > 0.25, "{}", section.shares().unwrap().elsewhere);
}

#[test]
fn neighbours_of_a_woodwind_are_counted_on_their_side() {
    let mix = |notes: &[f64]| {
        let mut sum = vec![0.0; 48_000 * 18 / 10];
        for (n, hz) in notes.iter().enumerate() {
            // no two of them in tune, and none in step
            let own = tone(48_000, hz * (1.0 + 0.003 * n as f64));
            sum.iter_mut().zip(own).for_each(|(to, x)| *to += x / 4.0);
        }
        sum
    };
    let note = 311.1;
    let semitones = |n: f64| note * (n / 12.0_f64).exp2();
    let series = Series::overblown_from(Hertz::new(note).unwrap(), 1);
    for (notes, on, below, above) in [
        ([note, note, note, note], 1.0, 0.0, 0.0),
        ([note, note, semitones(-2.0), semitones(-1.0)], 0.5, 0.5, 0.0),
        ([note, semitones(2.0), semitones(2.0), semitones(1.0)], 0.25, 0.0, 0.75),
    ] {
        let mut section = Section::new(series, Some(4), SampleRate::DEFAULT);
        // the tones have eight harmonics
        let timbre = std::array::from_fn(|h| if h < 8 { ((h + 1) as f64).powi(-2) } else { 0.0 });
        section.set_timbre(crate::section::heads::Timbre::of(timbre));
        section.hear(&mix(&notes)[20_000..]);
        let shares = section.shares().unwrap();
        let [down, up] = shares.beside().unwrap();
        // tones without noise or room beat with each other, and seem louder or softer than they are: a head may be misplaced
        for (told, truth) in [(shares.on(1).unwrap().share, on), (down.share, below), (up.share, above)] {
            assert!((told - truth).abs() < 0.3, "{truth}: {shares:?}");
        }
        assert!((shares.elsewhere - down.share - up.share).abs() < 1e-9);
    }
    let brass = Series::new(Hertz::new(note).unwrap(), &[2, 3, 4]);
    let mut section = Section::new(brass, Some(4), SampleRate::DEFAULT);
    section.hear(&mix(&[2.0 * note, 2.0 * note, 3.0 * note, 4.0 * note])[20_000..]);
    assert!(section.shares().unwrap().beside().is_none());
    assert_eq!(Series::overblown(Instrument::find("horn in F").unwrap(), &Tuning::default(), "C4".parse().unwrap(), 1), None);
}
