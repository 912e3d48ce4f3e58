//! The fixed set in `tests/fixtures/listening`: notes of a SoundFont with a player's faults in a room, drums, chairs and clicks.

use super::notes;
use crate::{Player, Verdict};
use pitch::{Instrument, Tuning};
use serde_json::Value;
use units::{Hertz, SampleRate};

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/fixtures/listening");
const PLAYED: &str = include_str!("../../../../tests/fixtures/listening/played/truth.jsonl");
const DRUMS: &str = include_str!("../../../../tests/fixtures/listening/drums/truth.jsonl");
const CLUTTER: &str = include_str!("../../../../tests/fixtures/listening/clutter/truth.jsonl");

fn read(kind: &str, truth: &Value) -> (Vec<f32>, SampleRate) {
    let mut wav = hound::WavReader::open(format!("{FOLDER}/{kind}/{}", truth["file"].as_str().unwrap())).unwrap();
    let sound = wav.samples::<i16>().map(|sample| f32::from(sample.unwrap()) / 32768.0).collect();
    (sound, SampleRate::new(wav.spec().sample_rate).unwrap())
}

fn table(text: &str) -> impl Iterator<Item = Value> {
    text.lines().map(|line| serde_json::from_str(line).unwrap())
}

#[test]
fn every_note_played_is_heard_with_its_pitch_and_entry() {
    let (mut clips, mut wrong) = (0, Vec::new());
    for truth in table(PLAYED) {
        let (sound, rate) = read("played", &truth);
        let mut player = Player::new(Instrument::find(truth["instrument"].as_str().unwrap()).unwrap(), rate, Tuning::default()).unwrap();
        notes(&mut player, &sound);
        let Verdict::Note(note) = player.answer() else {
            clips += 1;
            wrong.push((truth["file"].clone(), f64::NAN));
            continue;
        };
        let off = note.frequency.cents_above(Hertz::new(truth["frequency"].as_f64().unwrap()).unwrap());
        clips += 1;
        if off.0.abs() > 50.0 {
            wrong.push((truth["file"].clone(), off.0));
            continue;
        }
        assert!(off.0.abs() < 15.0, "{}: {:.1} cents", truth["file"], off.0);
        let late = note.entry.0 as f64 / f64::from(rate.hz()) - truth["t10"].as_f64().unwrap();
        assert!(late.abs() < 0.08, "{}: {late:.3} s", truth["file"]);
    }
    assert_eq!(clips, 36);
    // a bassoon whose odd harmonics drown in noise 5 dB down
    assert!(wrong.len() <= 1, "{wrong:?}");
}

#[test]
fn drums_chairs_and_clicks_are_no_notes() {
    let mut seconds = 0.0;
    for (kind, text) in [("drums", DRUMS), ("clutter", CLUTTER)] {
        for truth in table(text) {
            let (sound, rate) = read(kind, &truth);
            for name in ["flute", "clarinet", "horn in F", "trombone", "tuba"] {
                let mut player = Player::new(Instrument::find(name).unwrap(), rate, Tuning::default()).unwrap();
                assert_eq!(notes(&mut player, &sound), [], "{}, {name}", truth["file"]);
                seconds += sound.len() as f64 / f64::from(rate.hz());
            }
        }
    }
    assert!(seconds > 300.0);
}
