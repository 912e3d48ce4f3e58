//! What a naive program gets wrong, by the numbers of `traps.csv`, which names the source of each.

use super::{assert_close, table};
use pitch::{
    Concert, Fingering, HornSide, Instrument, Interval, Key, Pitch, Temperament, Tuning, UnknownInstrument, Written, fit_line, partials,
};

/// The numbers in the check values of trap `n`.
fn numbers(n: u32) -> Vec<i32> {
    let rows = table("traps.csv", 28);
    let row = rows.iter().find(|row| row.read::<u32>("n") == n).unwrap();
    row.get("check_values").split([' ', '/']).filter_map(|word| word.parse().ok()).collect()
}

fn instrument(name: &str) -> &'static Instrument {
    Instrument::find(name).unwrap()
}

fn sounds(name: &str, written: &str) -> i32 {
    instrument(name).sounding(written.parse().unwrap()).semitone()
}

fn semitone(name: &str) -> i32 {
    name.parse::<Pitch>().unwrap().semitone()
}

fn line(notes: &str) -> Vec<Option<Concert>> {
    notes.split(' ').map(|note| Some(note.parse().unwrap())).collect()
}

fn page(notes: &str) -> Vec<Option<Written>> {
    notes.split(' ').map(|note| Some(note.parse().unwrap())).collect()
}

fn valves(name: &str, written: &str) -> Fingering {
    instrument(name).fingering(written.parse().unwrap()).unwrap()
}

fn hz(name: &str) -> f64 {
    Tuning::default().frequency(name.parse().unwrap()).hz()
}

#[test]
fn trap_01_bass_clarinet_sounds_by_its_clef() {
    assert_eq!([sounds("bass_clarinet_treble", "C4"), sounds("bass_clarinet_bass", "C4")], numbers(1)[..]);
}

#[test]
fn trap_02_tenor_saxophone_sounds_a_ninth_lower() {
    assert_eq!([sounds("tenor sax", "C4")], numbers(2)[..]);
    assert_eq!(instrument("tenor sax").writing("Bb3".parse().unwrap()).to_string(), "C5");
}

#[test]
fn trap_03_baritone_saxophone_sounds_an_octave_below_the_alto() {
    assert_eq!([sounds("baritone sax", "C4")], numbers(3)[..]);
    assert_eq!(sounds("alto sax", "C4"), 51);
}

#[test]
fn trap_04_treble_clef_baritone_sounds_a_ninth_lower_and_bass_clef_as_written() {
    for (treble, bass) in [("baritone_tc", "baritone_bc"), ("euphonium_tc", "euphonium_bc")] {
        assert_eq!([sounds(treble, "C4"), sounds(bass, "C4")], numbers(4)[..]);
    }
}

#[test]
fn trap_05_e_flat_clarinet_sounds_up_and_alto_saxophone_down() {
    assert_eq!([sounds("E-flat clarinet", "C4"), sounds("alto sax", "C4")], numbers(5)[..]);
    assert_eq!(instrument("Eb clarinet"), instrument("E-flat Clarinet"));
}

#[test]
fn trap_06_horn_in_bass_clef_is_asked_about_and_not_guessed() {
    assert_eq!([sounds("horn_f_bass_new", "C3"), sounds("horn_f_bass_old", "C3")], numbers(6)[..]);
    for name in ["horn in F, bass clef", "French horn bass clef"] {
        let error = Instrument::find(name).unwrap_err();
        let UnknownInstrument::TwoReadings { readings, .. } = &error else { panic!("{error}") };
        assert_eq!(readings.map(|(name, _)| instrument(name).id()), ["horn_f_bass_new", "horn_f_bass_old"]);
    }
}

#[test]
fn trap_07_the_octave_number_goes_with_the_letter() {
    assert_eq!([semitone("Cb4"), semitone("B#3"), semitone("B#4"), semitone("Cb5")], numbers(7)[..]);
}

#[test]
fn trap_08_e_sharp_and_c_flat_are_real_notes() {
    let spelled = |key: &str, sound: &str| key.parse::<Key>().unwrap().spell(semitone(sound)).to_string();
    assert_eq!(spelled("F#", "F4"), "E#4");
    assert_eq!(spelled("Gb", "B4"), "Cb5");
    assert_eq!(spelled("C# minor", "C5"), "B#4");
    let seventh = instrument("trumpet").written_for("D#4".parse().unwrap(), "E".parse().unwrap());
    assert_eq!(seventh.to_string(), "E#4");
}

#[test]
fn trap_09_no_double_flats_on_a_beginners_page() {
    let simple = |name: &str, written: &str| instrument(name).sounding_simple(written.parse().unwrap()).to_string();
    assert_eq!(simple("alto sax", "Gb4"), "A3");
    assert_eq!(simple("trumpet", "Cb5"), "A4");
    // the other way: concert B#3 would be C##4 for a trumpet
    let b_sharp: Concert = "B#3".parse().unwrap();
    assert_eq!(instrument("trumpet").writing(b_sharp).to_string(), "C##4");
    assert_eq!(instrument("trumpet").written_for(b_sharp, Key::default()).to_string(), "D4");
}

#[test]
fn trap_10_keys_flip_past_six_accidentals_and_ties_stay() {
    let read = |key: &str, name: &str| {
        let key = key.parse::<Key>().unwrap().transposed_for(instrument(name));
        (key.to_string(), key.fifths())
    };
    let expected = |name: &str, fifths: i32| (name.to_owned(), fifths);
    assert_eq!(read("B", "alto sax"), expected("Ab major", -4));
    assert_eq!(read("B", "trumpet"), expected("Db major", -5));
    assert_eq!(read("F#", "trumpet"), expected("Ab major", -4));
    assert_eq!(read("F#", "alto sax"), expected("Eb major", -3));
    assert_eq!(read("F#", "horn"), expected("Db major", -5));
    assert_eq!(read("F#", "flute"), expected("F# major", 6));
    assert_eq!(read("Gb", "flute"), expected("Gb major", -6));
    assert_eq!(read("E", "trumpet"), expected("F# major", 6));
}

#[test]
fn trap_11_glockenspiel_and_xylophone_sound_higher() {
    let found = ["glockenspiel", "xylophone", "marimba", "vibraphone"].map(|name| sounds(name, "C4"));
    assert_eq!(found, numbers(11)[..]);
}

#[test]
fn trap_12_piccolo_and_double_bass_sound_an_octave_away() {
    assert_eq!([sounds("piccolo", "C4"), sounds("double bass", "C4")], numbers(12)[..]);
}

#[test]
fn trap_13_the_seventh_partial_is_flat_and_only_the_trombone_uses_it() {
    assert_close(partials::cents_above_fundamental(7).0 - 2400.0, 968.826, 1e-3, &13);
    assert_close(partials::deviation(7).0, -31.17, 5e-3, &13);
    for instrument in Instrument::all() {
        for note in 20..100 {
            let written = Written::new(Key::default().spell(note));
            let found = [instrument.fingering(written), instrument.fingering_on(HornSide::BFlat, written)];
            if found.into_iter().flatten().any(|fingering| fingering.partial == 7) {
                assert_eq!(instrument.id(), "trombone");
                assert!([semitone("Gb4"), semitone("G4")].contains(&note), "{written}");
            }
        }
    }
}

#[test]
fn trap_14_the_eleventh_and_thirteenth_partials_lie_between_notes() {
    let above_octaves = |n: u8| partials::cents_above_fundamental(n).0 - 3600.0;
    assert_close(above_octaves(11) - 600.0, -48.68, 5e-3, &14);
    assert_close(above_octaves(11) - 500.0, 51.32, 5e-3, &14);
    assert_close(partials::deviation(13).0, 40.53, 5e-3, &14);
    assert_eq!(partials::nearest_semitones(13) % 12, 8, "nearest to the minor sixth");
}

#[test]
fn trap_15_pythagorean_fifths_are_stacked_both_ways() {
    assert_close(Temperament::Pythagorean.cents(5).0, 498.045, 1e-3, &15);
    assert_close(Temperament::Pythagorean.cents(3).0, 294.135, 1e-3, &15);
}

#[test]
fn trap_16_the_just_minor_seventh_is_nine_to_five() {
    assert_eq!(Temperament::Just.ratio(10), Some((9, 5)));
    assert_close(Temperament::Just.cents(10).0, 1017.596, 1e-3, &16);
}

#[test]
fn trap_17_a_third_beats_between_its_fifth_and_fourth_partials() {
    let beats = |low: &str, high: &str| (5.0 * hz(low) - 4.0 * hz(high)).abs();
    assert_close(beats("C4", "E4"), 10.38, 5e-3, &17);
    assert_close(beats("F3", "A3"), 6.93, 5e-3, &17);
    let tuning = Tuning { temperament: Temperament::Just, ..Tuning::default() };
    let just = |name: &str| tuning.frequency(name.parse().unwrap()).hz();
    assert_close(5.0 * just("C4") - 4.0 * just("E4"), 0.0, 1e-9, &17);
}

#[test]
fn trap_18_the_formula_wins_over_misprinted_examples() {
    // the steps of 100/2^14 cents are the standard's
    let step = 100.0 / f64::from(1 << 14);
    let moved = |name: &str, steps: f64| Tuning::default().frequency(name.parse().unwrap()).moved(units::Cents(steps * step)).hz();
    assert_close(moved("C-1", 1.0), 8.1758, 5e-5, &18);
    assert_close(moved("G9", f64::from((1 << 14) - 2)), 13289.6566, 5e-5, &18);
    assert_close(moved("C9", 0.0), 8372.0181, 5e-5, &18);
}

#[test]
fn trap_19_only_the_totals_of_a_transposition_count() {
    let splits = [(-1, -2, -1), (-8, -14, 0), (6, 10, -2)];
    for (diatonic, chromatic, octaves) in splits {
        assert_eq!(Interval::new(diatonic, chromatic).plus_octaves(octaves), instrument("tenor sax").transposition());
    }
}

#[test]
fn trap_20_the_third_valve_alone_is_never_the_first_choice() {
    for instrument in Instrument::all().iter().filter(|instrument| instrument.id() != "trombone") {
        for note in 20..100 {
            let written = Written::new(Key::default().spell(note));
            for found in [instrument.fingering(written), instrument.fingering_on(HornSide::BFlat, written)].into_iter().flatten() {
                assert!(!["3", "T3"].contains(&found.text), "{} {written}", instrument.id());
            }
        }
    }
    assert_eq!(valves("trumpet", "A4").text, "1-2");
}

#[test]
fn trap_21_the_horn_has_its_own_fingerings() {
    let d = valves("horn", "D4");
    assert_eq!((d.text, d.partial), ("1", 5));
    assert_eq!(valves("trumpet", "D4").text, "1-3");
    let g = valves("horn", "G4");
    assert_eq!((g.text, g.partial, g.side), ("0", 6, Some(HornSide::F)));
    assert_eq!(instrument("horn").fingering_on(HornSide::BFlat, "G4".parse().unwrap()).unwrap().text, "T1");
}

#[test]
fn trap_22_low_trombone_notes_have_one_position() {
    assert_eq!(["B2", "E2", "Bb2"].map(|note| valves("trombone", note).text), ["7", "7", "1"]);
}

#[test]
fn trap_23_three_valves_together_are_sharp() {
    let rows = table("valve_physics.csv", 8);
    let sharp = |valves: &str| rows.iter().find(|row| row.get("valves") == valves).unwrap().read::<f64>("sharp_by_cents");
    assert_close(sharp("1-2-3"), 54.0, 0.5, &23);
    assert_close(sharp("1-3"), 30.0, 0.5, &23);
    assert_eq!((valves("tuba", "E1").text, valves("tuba", "F1").text), ("1-2-3", "1-3"));
}

#[test]
fn trap_25_middle_c_is_c4() {
    assert_eq!(semitone("C4"), 60);
    assert_close(hz("C4"), 261.625565, 1e-6, &25);
}

#[test]
fn trap_26_the_bands_first_notes_crowd_the_horns_partials() {
    let partials = |notes: &str| -> Vec<u8> { notes.split(' ').map(|note| valves("horn", note).partial).collect() };
    assert_eq!(partials("F4 G4 A4 Bb4 C5"), [6, 6, 8, 8, 8]);
    assert_eq!(partials("C4 D4 E4 F4 G4"), [4, 5, 5, 6, 6]);
    let horn = instrument("horn");
    let band = fit_line(horn, horn.comfortable(), &line("Bb3 C4 D4 Eb4 F4"), "Bb".parse().unwrap()).unwrap_err();
    assert_eq!(band.unison.unwrap().written, page("F4 G4 A4 Bb4 C5"));
    let kinder = fit_line(horn, horn.comfortable(), &line("F4 G4 A4 Bb4 C5"), "F".parse().unwrap()).unwrap();
    assert_eq!(kinder.written, page("C4 D4 E4 F4 G4"));
}

#[test]
fn trap_27_a_first_year_clarinet_line_stays_below_the_break() {
    let clarinet = instrument("clarinet");
    assert!(!clarinet.comfortable().contains("B4".parse().unwrap()));
    let b_flat = fit_line(clarinet, clarinet.comfortable(), &line("Bb4 C5 D5 Eb5 F5"), "Bb".parse().unwrap()).unwrap();
    assert_eq!(b_flat.written, page("C4 D4 E4 F4 G4"));
    // the concert F start leaves the comfortable range either way: the octave offered is the one below the break
    let f = fit_line(clarinet, clarinet.comfortable(), &line("F4 G4 A4 Bb4 C5"), "F".parse().unwrap()).unwrap_err();
    assert_eq!(f.unison.unwrap().written, page("G3 A3 B3 C4 D4"));
}
