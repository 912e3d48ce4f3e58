//! The program as its users run it: real arguments, real files, real exit codes.

mod checking;
mod doctoring;
mod endings;
mod flac;
pub(crate) mod hearing;
mod importing;
mod mistakes;
mod pages;
mod pitches;
mod readme;
pub(crate) mod recording;
mod recordings;
mod rendering;
mod replaying;
mod schemas;
mod verdicts;

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

/// Every command, as the program lists them.
const COMMANDS: [&str; 15] = [
    "lead",
    "written",
    "concert",
    "instruments",
    "climb",
    "render",
    "replay",
    "hear",
    "record",
    "import",
    "records",
    "check",
    "doctor",
    "completions",
    "man",
];

/// Two sections, one of each sort of trouble: brass with fingerings, and none.
const ROOM: &str = r#"version = 1
name = "Cedar Lane, first hour"
[[section]]
name = "Flutes"
instrument = "flute"
seats = 3
[[section]]
name = "Horns"
instrument = "horn in F"
seats = 2
landmarks = ["G4", "C4"]
"#;

/// A short drill for that room: without click or call, so that some moments hold one tone alone.
const DRILL: &str = r#"version = 1
title = "One note each"
tempo = 120
rounds = 1
click = false
groups = [["Flutes"], ["Horns"]]
[line]
all = { concert = "F4:4" }
[[turn]]
count = {}
[[turn]]
model = {}
[[turn]]
echo = {}
"#;

/// A folder of its own, in which the program finds its home.
pub(crate) struct Desk {
    folder: TempDir,
}

/// What came of a run.
struct Run {
    code: i32,
    out: String,
    err: String,
}

impl Desk {
    /// A desk with the room and the drill above on it.
    pub(crate) fn new() -> Self {
        let desk = Self { folder: tempfile::tempdir().unwrap() };
        desk.write("room.toml", ROOM);
        desk.write("drill.toml", DRILL);
        desk
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, text: impl AsRef<[u8]>) {
        std::fs::write(self.path(name), text).unwrap();
    }

    pub(crate) fn read(&self, name: &str) -> Vec<u8> {
        std::fs::read(self.path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    /// What lies on the desk besides room, drill and home.
    fn made(&self) -> Vec<String> {
        let names = std::fs::read_dir(self.folder.path()).unwrap().map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
        let mut names: Vec<_> = names.filter(|name| !["room.toml", "drill.toml", "home"].contains(&name.as_str())).collect();
        names.sort();
        names
    }

    /// The program, ready to be run here.
    pub(crate) fn program(&self) -> Command {
        self.here(Command::new(env!("CARGO_BIN_EXE_precentor")))
    }

    /// Any program, in this folder and home.
    fn here(&self, mut command: Command) -> Command {
        command.current_dir(self.folder.path()).env("HOME", self.path("home"));
        for name in ["XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "NO_COLOR"] {
            command.env_remove(name);
        }
        command
    }

    fn run(&self, args: &[&str]) -> Run {
        Run::of(&self.program().args(args).output().unwrap())
    }

    /// What a run that must go well prints.
    pub(crate) fn done(&self, args: &[&str]) -> String {
        let run = self.run(args);
        assert_eq!(run.code, 0, "{args:?}: {}", run.err);
        run.out
    }

    /// The JSON that a run that must go well prints, on one line.
    pub(crate) fn json(&self, args: &[&str]) -> Value {
        let out = self.done(args);
        assert_eq!(out.matches('\n').count(), 1, "{out}");
        serde_json::from_str(&out).unwrap()
    }

    /// What a run that must be refused for what the user wrote says.
    fn refused(&self, args: &[&str]) -> String {
        let run = self.run(args);
        assert_eq!(run.code, 2, "{args:?}: {}{}", run.out, run.err);
        assert_eq!(run.out, "", "{args:?}");
        run.err
    }
}

impl Run {
    fn of(output: &Output) -> Self {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        Self { code: output.status.code().unwrap_or(-1), out: text(&output.stdout), err: text(&output.stderr) }
    }
}

/// The frames of a WAV file in the engine's own format, interleaved, with its channels and rate.
pub(crate) fn samples(path: &Path) -> (Vec<f32>, u16, u32) {
    let mut reader = hound::WavReader::open(path).unwrap();
    let spec = reader.spec();
    assert_eq!((spec.bits_per_sample, spec.sample_format), (32, hound::SampleFormat::Float));
    (reader.samples::<f32>().map(Result::unwrap).collect(), spec.channels, spec.sample_rate)
}
