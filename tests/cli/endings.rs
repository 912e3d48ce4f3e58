//! Ends that come from outside: a closed pipe, a full disk, an interruption.

use super::{Desk, Run};
use std::process::Command;

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let desk = Desk::new();
    for args in [&["instruments"][..], &["written", "F4", "--json"], &["man"], &["completions", "bash"]] {
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let output = desk.program().args(args).stdout(writer).output().unwrap();
        let run = Run::of(&output);
        assert_eq!((run.code, run.err.as_str()), (0, ""), "{args:?}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn an_output_that_takes_nothing_is_a_failure() {
    let desk = Desk::new();
    let full = std::fs::File::options().write(true).open("/dev/full").unwrap();
    let run = Run::of(&desk.program().arg("instruments").stdout(full).output().unwrap());
    assert_eq!(run.code, 1);
    assert!(run.err.starts_with("precentor: the standard output cannot be written\n  because: "), "{}", run.err);
}

/// The file size is limited to 400 KiB, so that a write fails in the middle as on a full disk.
#[cfg(unix)]
#[test]
fn a_disk_that_fills_up_leaves_no_half_file() {
    let desk = Desk::new();
    let script = "trap '' XFSZ; ulimit -f 400 && exec \"$0\" render drill.toml -o out.wav --cues out.json --stems stems";
    let mut shell = desk.here(Command::new("bash"));
    let run = Run::of(&shell.args(["-c", script, env!("CARGO_BIN_EXE_precentor")]).output().unwrap());
    assert_eq!(run.code, 1, "{}", run.err);
    let lines: Vec<_> = run.err.lines().collect();
    assert!(lines[0].contains("cannot be written, and nothing is kept of it; free some space"), "{}", run.err);
    assert!(lines[1].starts_with("  because: "), "{}", run.err);
    assert_eq!(desk.made(), ["stems"]);
    assert_eq!(std::fs::read_dir(desk.path("stems")).unwrap().count(), 0);
}

#[cfg(unix)]
#[test]
fn an_interruption_leaves_no_half_file() {
    use std::time::{Duration, Instant};
    let desk = Desk::new();
    for signal in ["-INT", "-TERM"] {
        let mut program = desk.program();
        program.args(["render", "drill.toml", "-o", "out.wav", "--rounds", "200", "--format", "pcm16"]);
        let child = program.stdout(std::process::Stdio::piped()).stderr(std::process::Stdio::piped()).spawn().unwrap();
        let begun = Instant::now();
        let growing = || {
            std::fs::read_dir(desk.folder.path()).unwrap().flatten().any(|entry| {
                entry.file_name().to_string_lossy().ends_with(".part") && entry.metadata().is_ok_and(|data| data.len() > 100_000)
            })
        };
        while !growing() {
            assert!(begun.elapsed() < Duration::from_secs(60), "nothing is written");
            std::thread::sleep(Duration::from_millis(5));
        }
        assert!(Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap().success());
        let run = Run::of(&child.wait_with_output().unwrap());
        assert_eq!((run.code, run.err.as_str()), (1, "precentor: interrupted; nothing was written\n"));
        assert_eq!(desk.made(), [""; 0]);
    }
}
