//! The fixed set in `tests/fixtures/listening`: notes of a SoundFont with a player's faults in a room, drums, chairs and clicks.

use super::notes;
use crate::section::entries::SectionEntries;
use crate::{Player, Section, Series, Shares, Verdict};
use pitch::{Instrument, Tuning};
use serde_json::Value;
use units::{FrameInstant, Hertz, SampleRate};

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/fixtures/listening");
const PLAYED: &str = include_str!("../../../../tests/fixtures/listening/played/truth.jsonl");
const DRUMS: &str = include_str!("../../../../tests/fixtures/listening/drums/truth.jsonl");
const SECTIONS: &str = include_str!("../../../../tests/fixtures/listening/sections/truth.jsonl");
const WOODWINDS: &str = include_str!("../../../../tests/fixtures/listening/woodwinds/truth.jsonl");
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

fn heard(section: &mut Section, sound: &[f32], rate: SampleRate, lead: f64) -> Shares {
    let begin = rate.span(lead + 0.35).0 as usize;
    section.hear(&sound[begin..begin + rate.span(1.4).0 as usize]);
    section.shares().unwrap()
}

#[test]
fn sections_are_shared_out_and_their_entries_told() {
    let (mut clips, mut wrong, mut late) = (0.0, 0.0, 0.0);
    for (kind, text) in [("sections", SECTIONS), ("woodwinds", WOODWINDS)] {
        for truth in table(text) {
            let (sound, rate) = read(kind, &truth);
            let number = |key: &str| truth[key].as_f64().unwrap();
            let list = |key: &str| truth[key].as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect::<Vec<_>>();
            let fundamental = Hertz::new(number("fundamental")).unwrap();
            let partials: Vec<u8> = list("partials").into_iter().map(|k| k as u8).collect();
            let series = match kind {
                "woodwinds" => Series::overblown_from(fundamental, number("target") as u8),
                _ => Series::new(fundamental, &partials),
            };
            let heads = number("heads");
            let shares = heard(&mut Section::new(series, Some(heads as u8), rate), &sound, rate, number("lead"));
            let told = shares.as_slice().iter().map(|share| share.share);
            let off: f64 = told.zip(list("counts")).map(|(told, heads_on)| (told - heads_on / heads).abs()).sum();
            let beside =
                if kind == "woodwinds" { (shares.elsewhere - (1.0 - list("counts").iter().sum::<f64>() / heads)).abs() } else { 0.0 };
            let all = shares.as_slice().iter().map(|share| share.share).sum::<f64>();
            let besides: f64 = shares.beside().map_or(0.0, |both| both[0].share + both[1].share);
            assert!((all + besides - 1.0).abs() < 1e-6, "{}", truth["file"]);
            wrong += 0.5 * (off + beside);
            let mut entries = SectionEntries::new(rate);
            entries.hear(&sound);
            // the players breathe for 50 ms before their tones
            let told = entries.told(FrameInstant(rate.span(number("lead") + 0.05).0)).unwrap();
            late += (told.spread_ms - 1000.0 * number("entry_sd")).abs();
            clips += 1.0;
        }
    }
    assert_eq!(clips, 11.0);
    assert!(wrong / clips < 0.2, "{}", wrong / clips);
    assert!(late / clips < 20.0, "{}", late / clips);
}
