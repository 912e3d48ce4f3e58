//! Verdicts, written by a process that is killed at any moment, or that meets the end of the disk.

use ::records::{Echo, Filter, HeardBy, NoteShare, Record, SectionRecord, Store, Verdict, Writer};
use std::io::{BufRead, BufReader, Write};
use std::num::NonZeroU16;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Names the folder to the process that writes, which is this test run once more.
const ROOT: &str = "PRECENTOR_RECORDS_ROOT";
const KILLED: &str = "console::records::killed_at_any_moment_at_most_the_verdict_in_flight_is_lost";
const FULL: &str = "console::records::where_a_file_may_not_grow_all_that_was_kept_is_whole";
const TWO: &str = "console::records::two_processes_at_once_lose_nothing";
const DISK: &str = "console::records::on_a_full_disk_all_that_was_kept_is_whole_and_what_waits_is_kept_once_there_is_room";
const KILLS: usize = 100;

fn file(root: &Path) -> PathBuf {
    root.join("data/records.db")
}

/// A verdict in which seat, moment and title tell `number`.
fn record(number: u64) -> Record {
    Record {
        when: jiff::Timestamp::from_second(number as i64).unwrap(),
        room: "Elm Street School".to_owned(),
        section: "Horns".to_owned(),
        seat: NonZeroU16::new((number % 5 + 1) as u16),
        drill: format!("verdict {number}"),
        lesson: None,
        target: Some("G4".parse().unwrap()),
        heard: None,
        verdict: [Verdict::OnIt, Verdict::Low, Verdict::Nothing][number as usize % 3],
        cents: None,
        entry: None,
        by: HeardBy::Ear,
        confidence: None,
    }
}

/// The echo of a section in which title and notes tell `number`.
fn section(number: u64) -> SectionRecord {
    let share = (number % 9) as f64 / 8.0;
    let note = |written: &str, share: f64| NoteShare { written: written.parse().unwrap(), share, low: 0.0, high: 1.0 };
    let Record { when, room, section, drill, lesson, target, .. } = record(number);
    SectionRecord {
        when,
        room,
        section,
        drill,
        lesson,
        target,
        shares: vec![note("C4", 1.0 - share), note("G4", share)],
        players: NonZeroU16::new(8),
        elsewhere: None,
        cents: None,
        entry: None,
        spread: None,
    }
}

/// What the process does that is killed: it hands over a section's echo and a seat's verdict one after another as the console does, and says
/// when both are on the disk.
fn write_until_killed(root: &Path) {
    let first = Store::find(&file(root)).unwrap().map_or(0, |store| store.count(&Filter::default()).unwrap().verdicts);
    let writer = Writer::start(file(root)).unwrap();
    for number in first.. {
        writer.note_section(Echo(number), section(number));
        writer.note(Echo(number), record(number));
        while writer.kept() < 2 * (number - first + 1) {
            if let Some(told) = writer.told() {
                println!("told {told}");
            }
            std::thread::sleep(Duration::from_micros(50));
        }
        println!("kept {number}");
        std::io::stdout().flush().unwrap();
    }
}

/// This test run once more, as a process that writes in `root`; `by` is the program that starts it.
fn writer(mut by: Command, test: &str, root: &Path) -> Child {
    by.args([test, "--exact", "--ignored", "--nocapture"]).env(ROOT, root).stdout(Stdio::piped()).spawn().unwrap()
}

/// What stands in the file: the first so many verdicts, each once and whole.
fn kept(root: &Path) -> u64 {
    let store = Store::open(&file(root)).unwrap();
    let records = store.records(&Filter::default()).unwrap();
    for (number, found) in (0..).zip(&records) {
        assert_eq!(*found, record(number));
    }
    // a section's echo whose verdict was lost is written again: once more, or there with all its notes
    for found in store.section_records(&Filter::default()).unwrap() {
        assert_eq!(found, section(found.when.as_second() as u64));
    }
    records.len() as u64
}

#[test]
#[ignore = "kills processes for some seconds"]
fn killed_at_any_moment_at_most_the_verdict_in_flight_is_lost() {
    if let Some(root) = std::env::var_os(ROOT) {
        return write_until_killed(Path::new(&root));
    }
    let root = tempfile::tempdir().unwrap();
    let mut moment = 0x9e37_79b9_u64;
    let mut in_flight = 0;
    for kill in 0..KILLS {
        let mut process = writer(Command::new(std::env::current_exe().unwrap()), KILLED, root.path());
        let lines = BufReader::new(process.stdout.take().unwrap()).lines().map_while(Result::ok);
        let mut told = lines.filter_map(|line| line.strip_prefix("kept ")?.parse::<u64>().ok());
        let first = told.next().expect("the writer writes");
        // it writes; then a moment of up to 30 ms, at random from the same seed every time
        moment = moment.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        std::thread::sleep(Duration::from_micros((moment >> 33) % 30_000));
        process.kill().unwrap();
        process.wait().unwrap();
        let last = told.last().unwrap_or(first);
        let kept = kept(root.path());
        let sections = Store::open(&file(root.path())).unwrap().section_records(&Filter::default()).unwrap();
        let last_section = sections.last().map(|section| section.when.as_second() as u64);
        assert!(last_section.is_some_and(|number| (last..=last + 1).contains(&number)), "kill {kill}: {last_section:?}, {last} told");
        // all it said it kept, and perhaps the one it was killed over
        assert!((last + 1..=last + 2).contains(&kept), "kill {kill}: {kept} kept, {last} told");
        in_flight += u64::from(kept == last + 2);
    }
    let all = kept(root.path());
    println!("{KILLS} kills, {all} verdicts, {in_flight} on the disk though not yet told");
    assert!(all > KILLS as u64 * 2, "only {all} were written");
}

#[test]
#[ignore = "starts processes"]
fn where_a_file_may_not_grow_all_that_was_kept_is_whole() {
    if let Some(root) = std::env::var_os(ROOT) {
        return write_until_killed(Path::new(&root));
    }
    let root = tempfile::tempdir().unwrap();
    // no file of that process may grow past 512 blocks of 512 bytes; a write that would fails instead of ending it
    let mut shell = Command::new("sh");
    shell.args(["-c", "trap '' XFSZ; ulimit -f 512; exec \"$@\"", "sh"]).arg(std::env::current_exe().unwrap());
    let mut process = writer(shell, FULL, root.path());
    let (mut last, mut trouble, end) = (None, None, Instant::now() + Duration::from_secs(60));
    for line in BufReader::new(process.stdout.take().unwrap()).lines().map_while(Result::ok) {
        if let Some(number) = line.strip_prefix("kept ") {
            last = number.parse::<u64>().ok();
        }
        trouble = line.strip_prefix("told ").map(str::to_owned);
        if trouble.is_some() || Instant::now() > end {
            break;
        }
    }
    process.kill().unwrap();
    process.wait().unwrap();
    let (last, trouble) = (last.expect("some were kept"), trouble.expect("the trouble is told"));
    assert!(trouble.starts_with("Verdicts are not kept: ") && trouble.contains("records.db"), "{trouble}");
    assert_eq!(kept(root.path()), last + 1);
    // with room again it goes on
    Store::open(&file(root.path())).unwrap().keep(&record(last + 1), None).unwrap();
    assert_eq!(kept(root.path()), last + 2);
    println!("{} verdicts kept; then: {trouble}", last + 1);
}

#[test]
#[ignore = "starts processes"]
fn two_processes_at_once_lose_nothing() {
    const EACH: u64 = 200;
    if let Some(root) = std::env::var_os(ROOT) {
        let writer = Writer::start(file(Path::new(&root))).unwrap();
        let seat = NonZeroU16::new((std::process::id() % 60_000) as u16 + 1);
        for number in 0..EACH {
            writer.note(Echo(number), Record { seat, ..record(number) });
            // while the other writes, not before or after it
            while writer.kept() <= number {
                std::thread::sleep(Duration::from_micros(50));
            }
        }
        assert_eq!(writer.end(), None);
        return;
    }
    let root = tempfile::tempdir().unwrap();
    let mut both = [(); 2].map(|()| writer(Command::new(std::env::current_exe().unwrap()), TWO, root.path()));
    assert!(both.iter_mut().all(|process| process.wait().unwrap().success()));
    let records = Store::open(&file(root.path())).unwrap().records(&Filter::default()).unwrap();
    let mut seats: Vec<_> = records.iter().map(|record| record.seat).collect();
    seats.sort();
    seats.dedup();
    assert_eq!((records.len() as u64, seats.len()), (2 * EACH, 2));
    for seat in seats {
        let own: Vec<_> = records.iter().filter(|record| record.seat == seat).map(|record| record.drill.clone()).collect();
        assert_eq!(own, (0..EACH).map(|number| format!("verdict {number}")).collect::<Vec<_>>(), "each once and in order");
    }
}

/// What the process on the full disk does: it fills it, makes room, and is through once all it handed over is kept.
fn fill_and_mend(root: &Path) {
    let ballast = root.join("ballast");
    let mut full = std::fs::File::create(&ballast).unwrap();
    while full.write_all(&[1; 4096]).is_ok() {}
    // room for some verdicts, not for many
    full.set_len(full.metadata().unwrap().len().saturating_sub(256 * 1024)).unwrap();
    let writer = Writer::start(file(root)).unwrap();
    let mut handed = 0;
    let trouble = loop {
        writer.note(Echo(handed), record(handed));
        handed += 1;
        std::thread::sleep(Duration::from_millis(1));
        if let Some(told) = writer.told() {
            break told;
        }
        assert!(handed < 20_000, "the disk is never full");
    };
    println!("told {trouble}");
    let whole = kept(root);
    assert!(whole > 3 && whole < handed, "{whole} of {handed}");
    println!("whole {whole}");
    // the class goes on meanwhile
    for number in handed..handed + 20 {
        writer.note(Echo(number), record(number));
    }
    handed += 20;
    drop(full);
    std::fs::remove_file(ballast).unwrap();
    let end = Instant::now() + Duration::from_secs(30);
    while writer.kept() < handed {
        assert!(Instant::now() < end, "{} of {handed}", writer.kept());
        std::thread::sleep(Duration::from_millis(10));
    }
    println!("told {}", writer.told().unwrap());
    assert_eq!(writer.end(), None);
    assert_eq!(kept(root), handed);
    println!("through {handed}");
}

#[cfg(target_os = "linux")]
#[test]
#[ignore = "mounts a small disk in a namespace of its own"]
fn on_a_full_disk_all_that_was_kept_is_whole_and_what_waits_is_kept_once_there_is_room() {
    if let Some(root) = std::env::var_os(ROOT) {
        return fill_and_mend(Path::new(&root));
    }
    let root = tempfile::tempdir().unwrap();
    let may = Command::new("unshare").args(["-rm", "true"]).output().is_ok_and(|run| run.status.success());
    if !may {
        println!("NOT TESTED: this system lets nobody mount a disk of their own");
        return;
    }
    let mut shell = Command::new("unshare");
    shell.args(["-rm", "sh", "-c", "mount -t tmpfs -o size=1m tmpfs \"$PRECENTOR_RECORDS_ROOT\" && exec \"$@\"", "sh"]);
    shell.arg(std::env::current_exe().unwrap());
    let run = writer(shell, DISK, root.path()).wait_with_output().unwrap();
    let text = String::from_utf8_lossy(&run.stdout);
    let told: Vec<_> = text.lines().filter_map(|line| line.strip_prefix("told ")).collect();
    println!("{text}");
    assert!(run.status.success() && text.contains("through "), "{text}");
    assert!(told[0].starts_with("Verdicts are not kept: the disk is full: ") && told[0].contains("free some space there"), "{text}");
    assert_eq!(told[1], "The records are kept again.");
}
