//! `hear`: recordings of known truth, and files that are none.

use super::Desk;
use serde_json::Value;
use std::fs;

fn fixtures() -> std::path::PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/listening/played")
}

#[test]
fn what_was_played_is_heard_with_its_name_and_tuning() {
    let desk = Desk::new();
    let truth = fs::read_to_string(fixtures().join("truth.jsonl")).unwrap();
    let mut heard = 0;
    for line in truth.lines().step_by(5) {
        let truth: Value = serde_json::from_str(line).unwrap();
        let path = fixtures().join(truth["file"].as_str().unwrap());
        let output = desk.done(&["hear", path.to_str().unwrap(), "--instrument", truth["instrument"].as_str().unwrap(), "--json"]);
        let output: Value = serde_json::from_str(&output).unwrap();
        super::schemas::pleases("hear", &output);
        let notes = output["notes"].as_array().unwrap();
        let longest = notes
            .iter()
            .max_by(|a, b| {
                let length = |note: &Value| note["end_s"].as_f64().unwrap() - note["start_s"].as_f64().unwrap();
                length(a).total_cmp(&length(b))
            })
            .unwrap_or_else(|| panic!("nothing in {}", path.display()));
        let cents = 1200.0 * (longest["hz"].as_f64().unwrap() / truth["frequency"].as_f64().unwrap()).log2();
        assert!(cents.abs() < 20.0, "{}: {cents} cents off, {longest}", path.display());
        heard += 1;
    }
    assert!(heard >= 7, "{heard} clips");
}

/// A drill of one bar, and the same with another note.
pub(crate) const ROLL: &str = "version = 1\ntitle = \"One note\"\ntempo = 72\nclick = false\n[line]\nHorns = { written = \"G4:4\" }\n[[turn]]\nmodel = {}\n[[turn]]\necho = {}\n";

/// The model tone of a drill's first seat, and where the echo turns of the roll begin.
pub(crate) fn tone(desk: &Desk, name: &str, text: &str) -> (Vec<f32>, Vec<usize>) {
    desk.write(name, text);
    desk.done(&[
        "render",
        name,
        "--room",
        "room.toml",
        "--roll",
        "Horns",
        "-o",
        "out.wav",
        "--cues",
        "out.json",
        "--stems",
        "stems",
        "--force",
    ]);
    let list: Value = serde_json::from_slice(&desk.read("out.json")).unwrap();
    let cues = list["cues"].as_array().unwrap();
    let at = |kind: &str, turn: &str| -> Vec<usize> {
        let of = |cue: &&Value| cue["kind"] == kind && cue["turn"] == turn;
        cues.iter().filter(of).map(|cue| cue["at"].as_u64().unwrap() as usize).collect()
    };
    let (model, echoes) = (at("tone", "model")[0], at("turn", "echo"));
    let stem =
        fs::read_dir(desk.path("stems")).unwrap().map(|entry| entry.unwrap().path()).find(|path| path.to_str().unwrap().contains("orns"));
    let (stem, channels, _) = super::samples(&stem.unwrap());
    let mono: Vec<f32> = stem.iter().step_by(usize::from(channels)).copied().collect();
    (mono[model..model + 150_000].to_vec(), echoes)
}

#[test]
fn a_roll_is_heard_seat_by_seat() {
    let desk = Desk::new();
    let (right, echoes) = tone(&desk, "roll.toml", ROLL);
    let (low, _) = tone(&desk, "low.toml", &ROLL.replace("G4:4", "C4:4"));
    assert_eq!(echoes.len(), 2, "two horns");
    // the first seat plays the note, 40 ms late; the second two partials low
    let lead = 48_000;
    let mut sound = vec![0.0_f32; lead + echoes[1] + 200_000];
    for (at, tone) in [(echoes[0] + 1_920, &right), (echoes[1], &low)] {
        sound[lead + at..lead + at + tone.len()].copy_from_slice(tone);
    }
    super::recording::write(&desk.path("class.wav"), &sound);
    let args = ["hear", "class.wav", "--drill", "roll.toml", "--room", "room.toml", "--roll", "Horns", "--starts", "1", "--json"];
    let output: Value = serde_json::from_str(&desk.done(&args)).unwrap();
    super::schemas::pleases("hear", &output);
    let verdicts = output["verdicts"].as_array().unwrap();
    assert_eq!(verdicts.len(), 2, "{output}");
    assert_eq!(
        (&verdicts[0]["seat"], &verdicts[0]["verdict"], &verdicts[0]["heard"]),
        (&1.into(), &"on it".into(), &"G4".into()),
        "{output}"
    );
    // 40 ms, and what a horn's tone takes to rise
    assert!((40.0..120.0).contains(&verdicts[0]["entry_ms"].as_f64().unwrap()), "{output}");
    let second = &verdicts[1];
    assert_eq!(
        (&second["verdict"], &second["heard"], &second["partials_off"]),
        (&"low partial".into(), &"C4".into(), &(-2).into()),
        "{output}"
    );
    // where the list of sounds says the echoes are, they are
    let cued = [
        "hear",
        "class.wav",
        "--drill",
        "roll.toml",
        "--room",
        "room.toml",
        "--roll",
        "Horns",
        "--starts",
        "1",
        "--cues",
        "out.json",
        "--json",
    ];
    assert_eq!(serde_json::from_str::<Value>(&desk.done(&cued)).unwrap(), output);
}

#[test]
fn a_section_on_two_partials_is_told_apart() {
    let desk = Desk::new();
    let (high, _) = tone(&desk, "roll.toml", ROLL);
    let (low, _) = tone(&desk, "low.toml", &ROLL.replace("G4:4", "C4:4"));
    // three on the note and one two partials low, by power
    let section: Vec<f32> = high.iter().zip(&low).map(|(high, low)| 0.5 * (3.0_f32.sqrt() * high + low)).collect();
    super::recording::write(&desk.path("horns.wav"), &section);
    let heard = |candidates: &str| -> Value {
        let args = ["hear", "horns.wav", "--instrument", "horn_f", "--section", "4", "--candidates", candidates, "--json"];
        serde_json::from_str(&desk.done(&args)).unwrap()
    };
    let output = heard("C4,G4,C5");
    super::schemas::pleases("hear", &output);
    assert_eq!(output["section"]["majority"], "G4", "{output}");
    let of = |output: &Value, written: &str, key: &str| -> f64 {
        let shares = output["section"]["shares"].as_array().unwrap();
        shares.iter().find(|share| share["written"] == written).unwrap()[key].as_f64().unwrap()
    };
    // shares of a known section are in whole heads: one may be misplaced, but the bounds know of it
    let told = |output: &Value| {
        for (written, truth) in [("C4", 0.25), ("G4", 0.75), ("C5", 0.0)] {
            let [share, least, most] = ["share", "least", "most"].map(|key| of(output, written, key));
            assert!((share - truth).abs() <= 0.25 && least <= truth && truth <= most, "{written}: {output}");
        }
        assert_eq!(of(output, "C5", "share"), 0.0, "{output}");
        assert!(of(output, "C4", "share") > 0.0, "{output}");
    };
    told(&output);
    told(&heard("G4"));
    let run = desk.run(&["hear", "horns.wav", "--instrument", "horn_f", "--section", "4", "--candidates", "C4,F#4"]);
    assert!(run.code == 2 && run.err.contains("not notes of one fingering"), "{}", run.err);
}

#[test]
fn an_instrument_without_a_pitch_is_told() {
    let desk = Desk::new();
    let told = desk.refused(&["hear", "talk.wav", "--instrument", "snare drum"]);
    assert!(told.contains("has no pitch"), "{told}");
}
