//! A private sound server.

use std::fs::File;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A private sound server; stopped when dropped.
pub struct Server {
    dir: TempDir,
}

impl Server {
    /// Only its environment: nothing runs.
    pub fn absent() -> Self {
        let server = Self { dir: tempfile::tempdir().unwrap() };
        server.script("env");
        server
    }

    /// Starts one.
    pub fn start() -> Self {
        let server = Self::absent();
        server.script("start");
        server
    }

    /// Starts it again; returns when a client could connect for the first time.
    pub fn restart(&self) -> Instant {
        let socket = self.dir.path().join("native");
        std::fs::remove_file(&socket).ok();
        thread::scope(|scope| {
            let script = scope.spawn(|| self.script("start"));
            let accepted = loop {
                if UnixStream::connect(&socket).is_ok() {
                    break Instant::now();
                }
                assert!(!script.is_finished(), "the server does not start");
                thread::sleep(Duration::from_millis(1));
            };
            script.join().unwrap();
            accepted
        })
    }

    /// Adds a sink; returns the number to unload it by.
    pub fn add_sink(&self, name: &str) -> String {
        self.add_sink_at(name, 48_000)
    }

    /// Adds a sink that runs at `rate`; returns the number to unload it by.
    pub fn add_sink_at(&self, name: &str, rate: u32) -> String {
        let (name, rate) = (format!("sink_name={name}"), format!("rate={rate}"));
        let module = ["load-module", "module-null-sink", &name, &rate, "channels=2", "format=float32le", "norewinds=1"];
        self.pactl(&module).trim().to_owned()
    }

    /// Runs the script with one of its commands.
    pub fn script(&self, command: &str) {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/device/sound-server.sh");
        let status = Command::new("bash").arg(script).arg(command).arg(self.dir.path()).status().unwrap();
        assert!(status.success(), "sound-server.sh {command} failed");
    }

    /// Asks the server's own control program.
    pub fn pactl(&self, words: &[&str]) -> String {
        let out = Command::new("pactl").args(words).envs(self.environment()).output().unwrap();
        assert!(out.status.success(), "pactl {words:?}: {}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    }

    /// The variables a client of this server needs.
    pub fn environment(&self) -> Vec<(String, String)> {
        let text = std::fs::read_to_string(self.dir.path().join("env")).unwrap();
        text.lines().filter_map(|line| line.split_once('=')).map(|(name, value)| (name.to_owned(), value.to_owned())).collect()
    }

    /// Records what `sink` plays, two channels of 32-bit floats at 48 kHz.
    pub fn record(&self, sink: &str) -> Recording {
        let path = self.dir.path().join("recording.f32");
        let child = Command::new("parec")
            .args(["--raw", "--format=float32le", "--rate=48000", "--channels=2", "--latency-msec=20", "-d"])
            .arg(format!("{sink}.monitor"))
            .envs(self.environment())
            .stdin(Stdio::null())
            .stdout(File::create(&path).unwrap())
            .spawn()
            .unwrap();
        Recording { child, path }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.script("stop");
    }
}

/// A recording that goes on until it is ended.
pub struct Recording {
    child: Child,
    path: PathBuf,
}

impl Recording {
    /// The samples of a channel that have come so far.
    pub fn length(&self) -> usize {
        std::fs::metadata(&self.path).map_or(0, |file| file.len() as usize / 8)
    }

    /// Ends it; returns the left channel.
    pub fn end(mut self) -> Vec<f32> {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        let bytes = std::fs::read(&self.path).unwrap();
        bytes.as_chunks::<8>().0.iter().map(|[a, b, c, d, ..]| f32::from_le_bytes([*a, *b, *c, *d])).collect()
    }
}
