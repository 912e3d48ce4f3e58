//! What reaches the loudspeaker while the console leads.

use serde_json::Value;
use std::ops::Range;
use std::path::Path;
use std::process::Command;

use super::terminal::Terminal;
use super::write_files;
use crate::device::server::Server;
use crate::device::sine::silences;
use crate::render::frequency;

const RATE: f64 = 48_000.0;
/// A silence of this many samples inside a tone is a fault: a millisecond.
const FAULT: usize = 48;
/// So little may a recorded tone differ from the rendered one, as a share of it: the breath in a tone depends on when it starts.
const SAME: f64 = 0.15;
/// So little may it differ from the run played again from its journal: 32-bit floats are rounded on the way, nothing else.
const EXACT: f64 = 1e-6;
/// So little may a recording differ from the first tone where that is looked for roughly.
const ALIKE: f64 = 0.4;
/// The samples around which it is then looked for finely: several of its periods.
const PERIODS: usize = 2_400;

/// A tone of the list that `render --cues` writes.
struct Tone {
    at: usize,
    end: usize,
    hz: f64,
}

/// The rendering of the drill in `folder`: its tones and its left channel.
fn rendering(folder: &Path) -> (Vec<Tone>, Vec<f32>) {
    precentor(folder, &["render", "down-and-up.toml", "-o", "rendered.wav", "--cues", "cues.json"]);
    let cues: Value = serde_json::from_str(&std::fs::read_to_string(folder.join("cues.json")).unwrap()).unwrap();
    let number = |line: &Value, name: &str| line[name].as_u64().unwrap() as usize;
    let tones = cues["cues"].as_array().unwrap().iter().filter(|line| line["kind"] == "tone");
    let tones = tones.map(|line| Tone { at: number(line, "at"), end: number(line, "end"), hz: line["hz"].as_f64().unwrap() }).collect();
    (tones, left_channel(&folder.join("rendered.wav")))
}

/// Runs the program in `folder`.
fn precentor(folder: &Path, words: &[&str]) {
    let out = Command::new(env!("CARGO_BIN_EXE_precentor")).args(words).current_dir(folder).output().unwrap();
    assert!(out.status.success(), "{words:?}: {}", String::from_utf8_lossy(&out.stderr));
}

fn left_channel(wav: &Path) -> Vec<f32> {
    hound::WavReader::open(wav).unwrap().samples().step_by(2).map(Result::unwrap).collect()
}

/// How much is left of `tone` when what was recorded from `start` on is taken away, as a share of the tone.
fn difference(tone: &[f32], recorded: &[f32], start: usize) -> f64 {
    let Some(heard) = recorded.get(start..start + tone.len()) else { return f64::INFINITY };
    let power = |samples: &mut dyn Iterator<Item = f64>| samples.map(|sample| sample * sample).sum::<f64>();
    let whole = power(&mut tone.iter().map(|sample| f64::from(*sample)));
    (power(&mut tone.iter().zip(heard).map(|(a, b)| f64::from(*a) - f64::from(*b))) / whole).sqrt()
}

/// Where in `range` of the recording the onset of `tone` fits best, and how well.
fn find(tone: &[f32], recorded: &[f32], range: Range<usize>) -> (usize, f64) {
    let fits = range.map(|start| (start, difference(tone, recorded, start)));
    fits.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap()
}

/// Where the first tone starts whose onset is `onset`.
fn begin(onset: &[f32], samples: &[f32]) -> usize {
    let alike = |start: &usize| difference(&onset[..4_800], samples, *start) < ALIKE;
    let rough = (0..samples.len()).step_by(4).find(alike).expect("the first tone is there");
    find(onset, samples, rough.saturating_sub(PERIODS)..rough + PERIODS).0
}

/// The gaps that the program told in its journal, in seconds.
fn told_gaps(journal: &[String]) -> Vec<f64> {
    let told = journal.iter().filter_map(|line| line.split_once("dropped out for ")?.1.split_once(" ms")?.0.parse::<f64>().ok());
    told.map(|milliseconds| milliseconds / 1000.0).collect()
}

#[test]
#[ignore = "needs tmux and a private sound server; run by .ci/run"]
fn every_model_tone_reaches_the_loudspeaker_in_tune_and_in_time() {
    let server = Server::start();
    let terminal = Terminal::open((80, 24), &server.environment());
    write_files(terminal.home());
    let (tones, rendered) = rendering(terminal.home());
    assert_eq!(tones.len(), 6, "three rounds of two notes");
    terminal.lead("precentor lead room.toml");
    terminal.wait("the sound", |screen| screen.contains("SOUND on room"));
    let recording = server.record("room");
    terminal.wait_for("a recording under way", super::SECOND * 5, |_| recording.length() > 4_800);
    terminal.key("Space");
    terminal.wait_for("the end of the drill", super::SECOND * 40, |screen| screen.contains("DONE"));
    let recorded = recording.end();
    terminal.key("q");
    assert_eq!(terminal.left_with(), 0);

    let journal = terminal.journal_file();
    precentor(terminal.home(), &["replay", journal.to_str().unwrap(), "-o", "again.wav"]);
    let again = left_channel(&terminal.home().join("again.wav"));

    // a busy machine makes gaps of its own; the program tells them, and nothing else may be missing
    let gaps = told_gaps(&terminal.journal());
    let lost: f64 = gaps.iter().map(|seconds| seconds + 0.001).sum();
    if !gaps.is_empty() {
        println!("the machine made gaps of its own, told by the program: {gaps:?} s; as much silence is allowed for");
    }

    // the onset of the first tone is looked for from the top, every other one where the list says it must be
    let onset = |tone: &Tone| &rendered[tone.at..tone.at + (RATE / 4.0) as usize];
    let first = begin(onset(&tones[0]), &recorded);
    let again_first = begin(onset(&tones[0]), &again);
    let reach = ((lost + 0.005) * RATE) as usize;
    let mut worst: (usize, f64) = (0, 0.0);
    for (index, tone) in tones.iter().enumerate() {
        let expected = first + tone.at - tones[0].at;
        let (start, left) = find(onset(tone), &recorded, expected.saturating_sub(reach)..expected + reach);
        let late = start.abs_diff(expected);
        let sound = &recorded[start..start + tone.end - tone.at];
        let same = again_first + tone.at - tones[0].at;
        let other = difference(&again[same..same + sound.len()], &recorded, start);
        let holes: Vec<_> = silences(sound, FAULT);
        let hz = frequency(&sound[(RATE / 4.0) as usize..sound.len() - (RATE / 8.0) as usize], tone.hz);
        let cents = 1200.0 * (hz / tone.hz).log2();
        println!(
            "tone {index}: {late} samples off its time, {left:.1e} unlike the rendering, {other:.1e} unlike the replay, {cents:+.5} cents off {:.3} Hz, silences {holes:?}",
            tone.hz
        );
        worst = (worst.0.max(late), worst.1.max(cents.abs()));
        assert!(late as f64 <= (0.001 + lost) * RATE, "tone {index} is {late} samples off its time, with {lost} s of gaps told");
        let silent: usize = holes.iter().map(ExactSizeIterator::len).sum();
        assert!(silent as f64 <= lost * RATE, "tone {index}: silences {holes:?}, but only {lost} s told");
        if holes.is_empty() {
            assert!(cents.abs() <= 0.1, "tone {index} is {cents} cents off");
        }
        if gaps.is_empty() {
            assert!(left < SAME, "tone {index} differs from the rendering by {left}");
            assert!(other < EXACT, "tone {index} differs from its replay by {other}");
        }
    }
    println!("at worst {} samples and {:.5} cents off", worst.0, worst.1);
}
