//! A terminal of its own, held by tmux, with a shell in a home of its own.

use std::cell::Cell;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::thread;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// How often the screen is looked at.
const LOOK: Duration = Duration::from_millis(20);

/// A terminal; gone with everything in it when dropped.
pub struct Terminal {
    home: TempDir,
    /// How many command lines were typed.
    runs: Cell<u32>,
}

impl Terminal {
    /// Opens one, `columns` by `rows`, with more variables for the shell in it.
    pub fn open((columns, rows): (u16, u16), more: &[(String, String)]) -> Self {
        let terminal = Self { home: tempfile::tempdir().unwrap(), runs: Cell::new(0) };
        let programs = Path::new(env!("CARGO_BIN_EXE_precentor")).parent().unwrap();
        let path = std::env::join_paths(
            std::iter::once(programs.to_owned()).chain(std::env::split_paths(&std::env::var_os("PATH").unwrap_or_default())),
        );
        let home = terminal.home();
        let status = terminal
            .command()
            .args(["-u", "-f", "/dev/null", "new-session", "-d", "-x", &columns.to_string(), "-y", &rows.to_string(), "exec sh -i"])
            .current_dir(home)
            .env("PATH", path.unwrap())
            .env("HOME", home)
            .env("XDG_CONFIG_HOME", home.join("config"))
            .env("XDG_STATE_HOME", home.join("state"))
            .env("SHELL", "/bin/sh")
            .env("PS1", "prompt> ")
            .env("LC_ALL", "C.UTF-8")
            .envs(["NO_COLOR", "ENV", "TMUX", "TMUX_PANE"].map(|name| (name, "")))
            .envs(more.iter().map(|(name, value)| (name, value)))
            .status()
            .unwrap();
        assert!(status.success(), "tmux does not start");
        terminal.shows("prompt>");
        terminal
    }

    /// The home of the shell in it, where it stands.
    pub fn home(&self) -> &Path {
        self.home.path()
    }

    fn command(&self) -> Command {
        let mut command = Command::new("tmux");
        command.arg("-S").arg(self.home().join("tmux"));
        command
    }

    fn tmux(&self, words: &[&str]) -> String {
        let out = self.command().args(words).output().unwrap();
        assert!(out.status.success(), "tmux {words:?}: {}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    }

    /// Types a command line; what it left with is told by [`Terminal::left_with`].
    pub fn run(&self, line: &str) {
        self.runs.set(self.runs.get() + 1);
        self.tmux(&["send-keys", "-l", &format!("{line}; echo run {} left with $?", self.runs.get())]);
        self.key("Enter");
    }

    /// Waits for the end of what was run: its exit code.
    pub fn left_with(&self) -> u8 {
        let told = format!("run {} left with ", self.runs.get());
        let code = |screen: &str| screen.lines().find_map(|line| line.strip_prefix(&told)?.trim().parse().ok());
        code(&self.wait("the program's end", |screen| code(screen).is_some())).unwrap()
    }

    /// Presses a key, by the name tmux has for it.
    pub fn key(&self, key: &str) {
        self.tmux(&["send-keys", key]);
    }

    /// Gives the window another size.
    pub fn resize(&self, (columns, rows): (u16, u16)) {
        self.tmux(&["resize-window", "-x", &columns.to_string(), "-y", &rows.to_string()]);
    }

    /// What stands on the screen.
    pub fn screen(&self) -> String {
        self.tmux(&["capture-pane", "-p"])
    }

    /// The same with all that has gone up out of sight.
    pub fn screen_from_the_start(&self) -> String {
        self.tmux(&["capture-pane", "-p", "-S", "-"])
    }

    /// The same with every colour and attribute as escape sequences.
    pub fn screen_with_styles(&self) -> String {
        self.tmux(&["capture-pane", "-p", "-e"])
    }

    /// What tmux knows by `name`, such as `alternate_on`.
    pub fn value(&self, name: &str) -> String {
        self.tmux(&["display-message", "-p", &format!("#{{{name}}}")]).trim().to_owned()
    }

    /// Waits until the screen fulfils `condition`; fails with the screen after `limit`.
    pub fn wait_for(&self, what: &str, limit: Duration, condition: impl Fn(&str) -> bool) -> String {
        let deadline = Instant::now() + limit;
        loop {
            let screen = self.screen();
            if condition(&screen) {
                return screen;
            }
            assert!(Instant::now() < deadline, "waited {limit:?} for {what}; the screen:\n{screen}");
            thread::sleep(LOOK);
        }
    }

    /// Waits a while until the screen fulfils `condition`.
    pub fn wait(&self, what: &str, condition: impl Fn(&str) -> bool) -> String {
        self.wait_for(what, Duration::from_secs(20), condition)
    }

    /// Waits until all of `texts` stand on the screen at once.
    pub(crate) fn shows_all(&self, texts: &[&str]) -> String {
        self.wait(&texts.join(", "), |screen| texts.iter().all(|text| screen.contains(text)))
    }

    /// Waits until `text` stands on the screen.
    pub fn shows(&self, text: &str) -> String {
        self.wait(&format!("{text:?}"), |screen| screen.contains(text))
    }

    /// Starts the program on a first run and reads the cautions; waits for the stage.
    pub fn lead(&self, line: &str) -> String {
        self.run(line);
        self.shows("Before the first sound");
        self.key("Enter");
        self.wait("the stage", |screen| screen.contains("READY") && !screen.contains("Before the first sound"))
    }

    /// The terminal's settings, asked by the shell into a file.
    pub fn settings(&self, name: &str) -> String {
        let file = self.home().join(name);
        self.run(&format!("clear; stty -g >{name}"));
        self.left_with();
        std::fs::read_to_string(file).unwrap()
    }

    /// Fails unless a program that ended has left the terminal as it was: `before`.
    pub fn is_given_back(&self, before: &str) {
        self.wait("the end of the alternate screen", |_| self.value("alternate_on") == "0");
        assert_eq!(self.value("cursor_flag"), "1", "the cursor is hidden");
        assert_eq!(self.settings("after"), before, "the terminal's settings");
    }

    /// The process that runs in front.
    pub fn program(&self) -> String {
        let shell = self.value("pane_pid");
        let children = std::fs::read_to_string(format!("/proc/{shell}/task/{shell}/children")).unwrap();
        children.split_whitespace().last().expect("a program runs").to_owned()
    }

    /// The journal of the last run.
    pub fn journal_file(&self) -> PathBuf {
        let folder = self.home().join("state/precentor/journals");
        let mut journals: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
        journals.sort();
        journals.pop().expect("a journal")
    }

    /// Its lines.
    pub fn journal(&self) -> Vec<String> {
        std::fs::read_to_string(self.journal_file()).unwrap().lines().map(str::to_owned).collect()
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        // nothing to be done if it has ended by itself
        let _ = self.command().arg("kill-server").output();
    }
}
