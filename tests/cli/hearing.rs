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

#[test]
fn what_cannot_be_heard_is_told() {
    let desk = Desk::new();
    desk.write("talk.txt", "version = 1");
    desk.write("empty.wav", "");
    for (file, told) in [("talk.txt", "is no WAV or FLAC file"), ("empty.wav", "is empty"), ("gone.wav", "cannot be read")] {
        let run = desk.run(&["hear", file, "--instrument", "flute"]);
        assert_eq!(run.code, 2, "{file}");
        assert!(run.err.contains(told), "{}", run.err);
    }
    let run = desk.run(&["hear", "talk.txt", "--instrument", "snare drum"]);
    assert!(run.code == 2 && run.err.contains("has no pitch"), "{}", run.err);
}
