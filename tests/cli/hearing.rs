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

/// Several players for three seconds, each on a frequency and so many milliseconds after 1 s, in a room that is not quite silent.
fn section_of(players: &[(f64, f64)]) -> Vec<f32> {
    let mut random = 1_u32;
    let mut noise = || {
        random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        0.001 * ((random >> 8) as f32 / 8_388_608.0 - 1.0)
    };
    let sample = |n: usize, (hz, ms): &(f64, f64)| {
        let t = n as f64 / 48_000.0 - 1.0 - ms / 1000.0;
        let rise = (t / 0.04).clamp(0.0, 1.0) * ((3.0 - t) / 0.05).clamp(0.0, 1.0);
        0.04 * rise * (1..=10).map(f64::from).map(|h| (std::f64::consts::TAU * hz * h * t).sin() / h).sum::<f64>()
    };
    (0..4 * 48_000).map(|n| noise() + players.iter().map(|player| sample(n, player)).sum::<f64>() as f32).collect()
}

/// `hz` so many cents higher.
fn moved(hz: f64, cents: f64) -> f64 {
    hz * (cents / 1200.0).exp2()
}

/// Horns on their written G4, a little out of tune with each other.
fn horns_of(entries_ms: &[f64]) -> Vec<f32> {
    let player = |(number, ms): (usize, &f64)| (moved(261.6256, 4.0 * number as f64 - 6.0), *ms);
    section_of(&entries_ms.iter().enumerate().map(player).collect::<Vec<_>>())
}

#[test]
fn how_a_section_came_in_is_told_and_its_mean_only_of_a_known_beat() {
    let desk = Desk::new();
    let heard = |name: &str, more: &[&str]| -> Value {
        let args = [&["hear", name, "--instrument", "horn_f", "--section", "4", "--candidates", "G4", "--json"], more].concat();
        let output = desk.json(&args);
        super::schemas::pleases("hear", &output);
        output["section"].clone()
    };
    for (name, entries, word, spread) in
        [("tidy.wav", [0.0, 6.0, -5.0, 4.0], "together", 4.0), ("ragged.wav", [-90.0, -20.0, 50.0, 110.0], "ragged", 75.0)]
    {
        super::recording::write(&desk.path(name), &horns_of(&entries));
        let timed = heard(name, &["--at", "1"]);
        assert_eq!(timed["onset"], word, "{timed}");
        let number = |output: &Value, key: &str| output[key].as_f64().unwrap_or(f64::NAN);
        let (told, doubt) = (number(&timed, "onset_spread_ms"), number(&timed, "onset_spread_doubt_ms"));
        assert!((told - spread).abs() < 2.0 * doubt, "{timed}");
        assert!(number(&timed, "onset_mean_ms").abs() < 60.0 && number(&timed, "onset_mean_doubt_ms") > 2.0, "{timed}");
        let untimed = heard(name, &[]);
        assert_eq!((&untimed["onset"], &untimed["onset_mean_ms"]), (&word.into(), &Value::Null), "{untimed}");
        assert!((number(&untimed, "onset_spread_ms") - told).abs() < doubt, "{timed} {untimed}");
        assert!(number(&untimed, "onset_spread_doubt_ms") > 10.0, "{untimed}");
    }
    let told = desk.done(&["hear", "ragged.wav", "--instrument", "horn_f", "--section", "4", "--candidates", "G4", "--at", "1"]);
    assert!(told.contains("ragged: ") && told.contains(" ms apart, give or take ") && told.contains(" the beat, give or take "), "{told}");
    // cut off where the tone begins
    super::recording::write(&desk.path("late.wav"), &horns_of(&[0.0, 6.0, -5.0, 4.0])[47_000..]);
    assert_eq!(heard("late.wav", &[])["onset"], Value::Null);
    let told = desk.done(&["hear", "late.wav", "--instrument", "horn_f", "--section", "4", "--candidates", "G4"]);
    assert!(told.contains("how they came in is not to be heard"), "{told}");
    assert!(
        desk.refused(&["hear", "late.wav", "--instrument", "horn_f", "--section", "4", "--candidates", "G4", "--at=-1"]).contains("--at")
    );
}

#[test]
fn a_section_of_flutes_is_told_apart_by_octaves() {
    let desk = Desk::new();
    let (high, low) = (698.4565, 349.2282);
    let section = section_of(&[(moved(high, -5.0), 0.0), (moved(high, 2.0), 10.0), (moved(low, 4.0), -10.0), (moved(high, 7.0), 5.0)]);
    super::recording::write(&desk.path("flutes.wav"), &section);
    let hear = ["hear", "flutes.wav", "--instrument", "flute", "--section", "4", "--candidates"];
    let output = desk.json(&[&hear[..], &["F5", "--json"]].concat());
    super::schemas::pleases("hear", &output);
    let shares = output["section"]["shares"].as_array().unwrap();
    let notes: Vec<_> = shares.iter().map(|share| (share["written"].as_str().unwrap(), share["partial"].as_u64().unwrap())).collect();
    assert_eq!(notes, [("F4", 1), ("F5", 2), ("C6", 3)], "{output}");
    let share = |at: usize| shares[at]["share"].as_f64().unwrap();
    assert_eq!(output["section"]["majority"], "F5", "{output}");
    assert!((share(1) - 0.75).abs() < 0.25 && share(0) > 0.05 && share(2) < 0.2, "{output}");
    let refused = |candidates: &str| desk.refused(&[&hear[..], &[candidates]].concat());
    assert!(refused("E6").contains("E6 is not in the first two registers of \"Flute\"; name a written note from C4 to C#6"));
    assert!(
        refused("F5,G5").contains("F5, G5 are not notes of one fingering; name the note that was asked for; its neighbours are F4, F5, C6")
    );
}

#[test]
fn whole_sections_of_a_drill_are_told_by_shares() {
    let desk = Desk::new();
    let (right, _) = tone(&desk, "roll.toml", ROLL);
    let (low, _) = tone(&desk, "low.toml", &ROLL.replace("G4:4", "C4:4"));
    let bells = "[[section]]\nname = \"Bells\"\ninstrument = \"orchestra bells\"\nseats = 2\n";
    desk.write("band.toml", format!("{}{bells}", super::ROOM));
    let drill = ROLL.replace("click = false", "click = false\ngroups = [[\"Horns\"], [\"Flutes\"], [\"Bells\"]]");
    desk.write("band-drill.toml", drill.replace("[line]\n", "[line]\nall = { concert = \"F4:4\" }\n"));
    let files = ["band-drill.toml", "--room", "band.toml"];
    desk.done(&[&["render"], &files[..], &["--rounds", "1", "-o", "out.wav", "--cues", "out.json", "--force"]].concat());
    let list: Value = serde_json::from_slice(&desk.read("out.json")).unwrap();
    let turns = list["cues"].as_array().unwrap().iter().filter(|cue| cue["kind"] == "turn" && cue["turn"] == "echo");
    let echoes: Vec<usize> = turns.map(|cue| cue["at"].as_u64().unwrap() as usize).collect();
    assert_eq!(echoes.len(), 3);
    // one horn on its note and one two partials low, together; nobody else plays
    let lead = 48_000;
    let mut sound = vec![0.0_f32; lead + echoes[2] + 200_000];
    for (n, (right, low)) in right.iter().zip(&low).enumerate() {
        sound[lead + echoes[0] + n] = 0.5 * (right + low);
    }
    super::recording::write(&desk.path("class.wav"), &sound);
    let hear = ["hear", "class.wav", "--drill", "band-drill.toml", "--room", "band.toml", "--starts", "1"];
    let output = desk.json(&[&hear[..], &["--json"]].concat());
    super::schemas::pleases("hear", &output);
    assert_eq!(output["verdicts"], Value::Null);
    let sections = output["sections"].as_array().unwrap();
    let names: Vec<_> = sections.iter().map(|echo| echo["section"].as_str().unwrap()).collect();
    assert_eq!(names, ["Horns", "Flutes", "Bells"]);
    let horns = &sections[0];
    assert_eq!((&horns["target"], &horns["heard"]["players"], &horns["round"]), (&"G4".into(), &2.into(), &1.into()), "{horns}");
    assert!((horns["on_target"].as_f64().unwrap() - 0.5).abs() < 0.25, "{horns}");
    // a model horn speaks slowly, which looks a little like players apart
    assert!(horns["heard"]["onset_spread_ms"].as_f64().unwrap() < 46.0, "{horns}");
    assert!(horns["heard"]["onset_mean_ms"].as_f64().unwrap().abs() < 60.0, "{horns}");
    assert_eq!((&sections[1]["heard"], &sections[1]["untold"]), (&Value::Null, &"no section was to be heard".into()));
    assert!(sections[2]["untold"].as_str().unwrap().contains("has no neighbours"), "{}", sections[2]);
    let told = desk.done(&hear);
    assert!(told.contains("% on C4") && told.contains(" ms apart, give or take ") && told.contains("no section was to be heard"), "{told}");
    // where the list of sounds says the echoes are, they are
    assert_eq!(desk.json(&[&hear[..], &["--cues", "out.json", "--json"]].concat()), output);
}

#[test]
fn an_instrument_without_a_pitch_is_told() {
    let desk = Desk::new();
    let told = desk.refused(&["hear", "talk.wav", "--instrument", "snare drum"]);
    assert!(told.contains("has no pitch"), "{told}");
}
