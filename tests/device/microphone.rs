//! The microphone: what is said into it becomes the voice's folder, and what goes wrong is told.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use super::server::Server;
use crate::cli::recording::{beats_off, said, silence, write};
use engine::speech::own::Own;

/// What is asked for: three counts, a long word and a soft one.
const WORDS: [&str; 6] = ["one", "seven", "eight", "your_turn", "rest", "listen"];

/// `precentor record words` as a client of `server`.
fn recorder(server: &Server, home: &Path, more: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_precentor"))
        .args(["record", "words", "maple", "--prompts", &WORDS.join(",")])
        .args(more)
        .envs(server.environment())
        .env("HOME", home)
        .env_remove("XDG_DATA_HOME")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Plays a file into the microphone.
fn say(server: &Server, path: &Path) -> Child {
    Command::new("paplay").args(["-d", "micfeed", "--latency-msec=20"]).arg(path).envs(server.environment()).spawn().unwrap()
}

/// What came of a recorder: its code, and all it said.
fn outcome(mut recorder: Child, said: &str) -> (i32, String) {
    let mut told = said.to_owned();
    for line in BufReader::new(recorder.stderr.take().unwrap()).lines().map_while(Result::ok) {
        told.push_str(&line);
        told.push('\n');
    }
    (recorder.wait().unwrap().code().unwrap_or(-1), told)
}

/// Presses ENTER and gives every line with the moment it came.
fn begin(recorder: &mut Child) -> impl Iterator<Item = String> + use<> {
    recorder.stdin.take().unwrap().write_all(b"\n").unwrap();
    BufReader::new(recorder.stdout.take().unwrap()).lines().map_while(Result::ok)
}

/// A take in which word number n begins `first + n * step` seconds in; an empty word is silence.
fn timed_take(path: &Path, words: &[&str], first: f64, step: f64) {
    let mut sound = Vec::new();
    for (n, word) in words.iter().enumerate().filter(|(_, word)| !word.is_empty()) {
        sound.resize(silence(first + n as f64 * step).len(), 0.0);
        sound.extend(said(word));
    }
    sound.extend(silence(step));
    write(path, &sound);
}

/// Records while `words` are said at the times of their prompts, an empty one being silence; gives the code and all that was told.
fn record(server: &Server, home: &Path, words: &[&str]) -> (i32, String) {
    let path = home.join("take.wav");
    // a second of quiet comes before the first prompt, and a prompt stands for two
    timed_take(&path, words, 1.3, 2.0);
    let mut recorder = recorder(server, home, &[]);
    let mut told = String::new();
    let mut saying = None;
    for line in begin(&mut recorder) {
        if line.contains("quiet, please") {
            saying = Some(say(server, &path));
        }
        told.push_str(&line);
        told.push('\n');
    }
    assert!(saying.unwrap().wait().unwrap().success());
    outcome(recorder, &told)
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn words_said_to_their_prompts_become_a_voice() {
    let server = Server::start();
    let home = tempfile::tempdir().unwrap();
    let (code, told) = record(&server, home.path(), &WORDS);
    println!("{told}");
    assert_eq!(code, 0, "{told}");
    assert!(told.contains("6 of 6 prompts found"), "{told}");
    let own = Own::read(&home.path().join(".local/share/precentor/voices/maple")).unwrap();
    assert_eq!(own.troubles, [], "{told}");
    let off = beats_off(&own);
    println!("beats off by {off:.1?} ms");
    assert_eq!(off.len(), WORDS.len());
    // the same words from a file land as near: these six are within 40 ms
    assert!(off.iter().all(|ms| ms.abs() < 40.0), "{off:?}");
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_prompt_nobody_answered_is_named() {
    let server = Server::start();
    let home = tempfile::tempdir().unwrap();
    let words = WORDS.map(|word| if word == "eight" { "" } else { word });
    let (code, told) = record(&server, home.path(), &words);
    assert_eq!(code, 1, "{told}");
    assert!(told.contains("5 of 6 prompts found") && told.contains("eight not heard"), "{told}");
    assert!(told.contains("precentor record words maple --prompts eight"), "{told}");
    let clips = home.path().join(".local/share/precentor/voices/maple/clips");
    assert!(clips.join("rest.wav").exists() && !clips.join("eight.wav").exists());
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_microphone_that_is_not_there_or_gives_nothing_is_told_in_time() {
    let home = tempfile::tempdir().unwrap();
    let ends = |server: &Server, more: &[&str], says: &str| {
        let start = Instant::now();
        let mut recorder = recorder(server, home.path(), more);
        let told: Vec<String> = begin(&mut recorder).collect();
        let (code, told) = outcome(recorder, &told.join("\n"));
        assert_eq!(code, 1, "{told}");
        assert!(told.contains(says), "{says}: {told}");
        assert!(start.elapsed() < Duration::from_secs(12), "took {:?}", start.elapsed());
    };
    let server = Server::start();
    ends(&server, &["--microphone", "the organ loft"], "there is no microphone called \"the organ loft\"");
    // a sound system that hangs
    server.script("hang");
    ends(&server, &[], "; ");
    server.script("wake");
    // a microphone that never delivers: opening its stream never returns
    let mut silent = Command::new("pactl").args(["suspend-source", "mic", "1"]).envs(server.environment()).spawn().unwrap();
    assert!(silent.wait().unwrap().success());
    ends(&server, &["--microphone", "mic"], "; ");
    drop(server);
    let absent = Server::absent();
    ends(&absent, &[], "; ");
    thread::sleep(Duration::from_millis(10));
    assert!(!home.path().join(".local/share/precentor/voices/maple/clips/one.wav").exists());
}

#[test]
#[ignore = "needs a private sound server; run by .ci/run"]
fn a_microphone_lost_on_the_way_ends_the_recording() {
    let server = Server::start();
    let home = tempfile::tempdir().unwrap();
    let mut recorder = recorder(&server, home.path(), &[]);
    let mut told = Vec::new();
    for line in begin(&mut recorder) {
        if line.contains("2 of 6") {
            server.script("kill");
        }
        told.push(line);
    }
    let (code, told) = outcome(recorder, &told.join("\n"));
    assert_eq!(code, 1, "{told}");
    assert!(told.contains("the microphone was lost"), "{told}");
}
