//! Written, concert, instruments.

use super::Desk;
use pitch::{Instrument, Tuning};
use precentor::cli::{concert, written};
use serde::Deserialize;
use serde_json::{Value, json};

/// Whether `found` holds every field of `promised` with its value; it may hold more.
fn holds(found: &Value, promised: &Value) -> bool {
    match (found, promised) {
        (Value::Object(found), Value::Object(promised)) => {
            promised.iter().all(|(name, value)| found.get(name).is_some_and(|found| holds(found, value)))
        }
        (Value::Array(found), Value::Array(promised)) => {
            found.len() == promised.len() && found.iter().zip(promised).all(|(found, promised)| holds(found, promised))
        }
        _ => found == promised,
    }
}

#[test]
fn a_horn_reading_g4_sounds_middle_c() {
    let found = Desk::new().json(&["concert", "G4", "--instrument", "horn_f", "--json"]);
    // 261.625565 Hz: MIDI note 60 in equal temperament with A4 = 440 Hz (ISO 16), as MIDI tables print it
    let promised = json!({"instrument": "horn_f", "written": "G4", "sounding": "C4", "midi": 60, "hz": 261.625565});
    assert!(holds(&found, &promised), "{found}");
}

/// Common practice, no source.
#[test]
fn a_climb_to_152_in_even_steps() {
    let found = Desk::new().json(&["climb", "152", "--json"]);
    let later = json!(["air", "play"]);
    let promised = json!({"goal": 152.0, "stages": [
        {"tempo": 76.0, "passes": ["count", "clap", "air", "play"]},
        {"tempo": 95.0, "passes": later}, {"tempo": 114.0, "passes": later}, {"tempo": 133.0, "passes": later}, {"tempo": 152.0, "passes": later},
    ]});
    assert!(holds(&found, &promised), "{found}");
}

#[test]
fn concert_f4_on_the_pages_of_horn_and_trumpet() {
    let found = Desk::new().json(&["written", "F4", "--instrument", "horn_f", "--instrument", "trumpet_bb", "--json"]);
    let promised = json!({"concert": "F4", "parts": [
        {"section": null, "instrument": "horn_f", "written": "C5", "clef": "treble", "midi": 65, "fingering": "0", "partial": 8, "fits": true},
        {"section": null, "instrument": "trumpet_bb", "written": "G4", "clef": "treble", "midi": 65, "fingering": "0", "partial": 3, "fits": true},
    ]});
    assert!(holds(&found, &promised), "{found}");
}

#[test]
fn in_a_room_every_section_gets_the_octave_that_fits() {
    let desk = Desk::new();
    let found = desk.json(&["written", "F4", "--room", "room.toml", "--json"]);
    let promised = json!({"concert": "F4", "room": "Cedar Lane, first hour", "parts": [
        {"section": "Flutes", "instrument": "flute", "written": "F5", "midi": 77, "fingering": null, "partial": null, "fits": true, "octaves": 1},
        {"section": "Horns", "instrument": "horn_f", "written": "C4", "midi": 53, "fingering": "0", "partial": 4, "fits": true, "octaves": -1},
    ]});
    assert!(holds(&found, &promised), "{found}");
    // the same as what a drill of that note gives
    desk.done(&["render", "drill.toml", "-o", "out.wav", "--cues", "out.json"]);
    let cues: Value = serde_json::from_slice(&desk.read("out.json")).unwrap();
    let tones = cues["cues"].as_array().unwrap().iter().filter(|line| line["kind"] == "tone");
    let read: Vec<_> = tones.map(|line| line["written"].as_str().unwrap()).collect();
    assert_eq!(read, ["F5", "C4"]);
}

#[test]
fn a_note_that_fits_nowhere_is_told_of() {
    let desk = Desk::new();
    let found = desk.json(&["written", "Eb4", "--room", "room.toml", "--json"]);
    assert_eq!(found["parts"][1]["fits"], false, "a horn's comfortable C4..A4 has no B flat");
    assert!(desk.done(&["written", "Eb4", "--room", "room.toml"]).contains("no octave fits C4..A4"));
}

#[test]
fn without_a_room_the_one_used_last_is_taken() {
    let desk = Desk::new();
    assert!(desk.done(&["written", "F4"]).contains("the built-in demo room"));
    std::fs::create_dir_all(desk.path("home/.local/state/precentor")).unwrap();
    desk.write("home/.local/state/precentor/last-room", format!("{}\n", desk.path("room.toml").display()));
    assert!(desk.done(&["written", "F4"]).contains("Cedar Lane, first hour (the room used last"));
    std::fs::remove_file(desk.path("room.toml")).unwrap();
    assert!(desk.done(&["written", "F4"]).contains("the built-in demo room"));
}

#[test]
fn keys_spell_the_page() {
    let part = |key: &[&str]| {
        let args = [&["written", "F#4", "--instrument", "alto sax", "--json"], key].concat();
        Desk::new().json(&args)["parts"][0]["written"].clone()
    };
    assert_eq!(part(&["--key", "D"]), "D#5");
    assert_eq!(part(&["--key", "Gb"]), "Eb5");
}

#[test]
fn tunings_stand_on_their_tonic() {
    let hz =
        |args: &[&str]| Desk::new().json(&[&["concert", "D4", "--instrument", "flute", "--json"], args].concat())["hz"].as_f64().unwrap();
    // a pure major third, 5/4, above equal-tempered Bb3 = 440 * 2^(-11/12)
    let third = 440.0 * (-11.0_f64 / 12.0).exp2() * 1.25;
    assert!((hz(&["--tuning", "just", "--tonic", "Bb"]) - third).abs() < 1e-6);
    assert!((hz(&["--reference", "442"]) / hz(&[]) - 442.0 / 440.0).abs() < 1e-8);
}

#[test]
fn what_leaves_the_instrument_is_told_of() {
    let desk = Desk::new();
    assert_eq!(desk.json(&["concert", "C3", "--instrument", "flute", "--json"])["fits"], false);
    assert!(desk.done(&["concert", "C3", "--instrument", "flute"]).contains("C3 is outside the instrument: C4..D7 written"));
    assert!(desk.refused(&["concert", "C-1", "--instrument", "tuba treble clef"]).contains("not an instrument"));
    assert!(desk.refused(&["concert", "C-1", "--instrument", "horn_f"]).contains("name another octave"));
}

#[test]
fn every_instrument_is_in_the_table() {
    let desk = Desk::new();
    let found = desk.json(&["instruments", "--json"]);
    let ids: Vec<_> = found["instruments"].as_array().unwrap().iter().map(|row| row["id"].as_str().unwrap()).collect();
    assert_eq!(ids, Instrument::all().iter().chain(Instrument::drums()).map(Instrument::id).collect::<Vec<_>>());
    let table = desk.done(&["instruments"]);
    assert!(ids.iter().all(|id| table.lines().any(|line| line.starts_with(id))));
}

/// A row of the table of written and sounding pitches.
#[derive(Deserialize)]
struct Case {
    group: String,
    instrument: String,
    written: String,
    sounding_by_interval: String,
    sounding_simple: String,
    midi: u8,
    hz: f64,
}

/// `outside/written_to_concert_cases.csv` names the source of every row in its head.
#[test]
fn both_commands_agree_with_the_outside_table() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/outside/written_to_concert_cases.csv");
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).unwrap();
    let (mut sounded, mut read) = (0, 0);
    for case in reader.deserialize() {
        let case: Case = case.unwrap();
        let instrument = Instrument::find(&case.instrument).unwrap();
        if case.group == "written_to_sounding" {
            let output = concert::sounding(instrument, case.written.parse().unwrap(), Tuning::default()).unwrap();
            assert_eq!((&output.sounding, output.midi), (&case.sounding_simple, case.midi), "{} {}", case.instrument, case.written);
            assert!((output.hz - case.hz).abs() < 2e-6, "{} {}", output.hz, case.hz);
            sounded += 1;
        }
        if case.group == "concert_to_written" {
            let output = written::for_instruments(&[instrument], case.sounding_by_interval.parse().unwrap(), None);
            let part = &output.parts[0];
            if part.octaves == 0 {
                assert_eq!(
                    (&part.written, part.midi),
                    (&case.written, Some(case.midi)),
                    "{} {}",
                    case.instrument,
                    case.sounding_by_interval
                );
                read += 1;
            }
        }
    }
    assert!(sounded > 300 && read > 150, "{sounded} {read}");
}
