//! What is remembered between runs, written by a process that is killed at any moment.

use precentor::folders::Folders;
use precentor::standing::climbs::Climbing;
use precentor::standing::{ClimbStanding, ItemStanding, LessonStanding, Place, Store};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, SystemTime};

/// Names the folder to the process that writes, which is this test run once more.
const ROOT: &str = "PRECENTOR_STANDING_ROOT";
/// The test's own name.
const THIS: &str = "console::standing::killed_at_any_moment_it_leaves_whole_files_with_the_last_that_was_kept";
const KILLS: usize = 50;

/// A lesson in which every part tells `number`; of growing and shrinking length.
fn lesson(number: usize) -> LessonStanding {
    let item =
        |name: usize| ItemStanding { name: name.to_string(), spent: Duration::from_secs(number as u64), agreed: Some(number as u16) };
    LessonStanding {
        lesson: PathBuf::from(number.to_string()),
        room: PathBuf::from("room"),
        item: number,
        place: Place { station: number, round: number, bar: number },
        tempo: Some(number as u32),
        items: (0..number % 90).map(item).collect(),
        begun: SystemTime::UNIX_EPOCH,
        written: SystemTime::UNIX_EPOCH + Duration::from_secs(number as u64),
    }
}

fn climb(number: usize) -> ClimbStanding {
    let of = Climbing { room: "room".to_owned(), piece: (number % 7).to_string(), passage: None };
    ClimbStanding { of, tempo: number as u32, written: SystemTime::UNIX_EPOCH }
}

/// What the process does that is killed: it writes one lesson and one climb after another, and says so.
fn write_until_killed(root: &Path) {
    let store = Store::open(&Folders::under(root));
    let first = store.lesson().value.map_or(0, |lesson| lesson.item + 1);
    for number in first.. {
        store.keep_lesson(&lesson(number)).unwrap();
        store.keep_climb(climb(number)).unwrap();
        println!("kept {number}");
        std::io::stdout().flush().unwrap();
    }
}

#[test]
#[ignore = "kills processes for some seconds"]
fn killed_at_any_moment_it_leaves_whole_files_with_the_last_that_was_kept() {
    if let Some(root) = std::env::var_os(ROOT) {
        return write_until_killed(Path::new(&root));
    }
    let root = tempfile::tempdir().unwrap();
    let mut moment = 0x9e37_79b9_u64;
    let mut last = 0;
    for kill in 0..KILLS {
        let mut writer = Command::new(std::env::current_exe().unwrap())
            .args([THIS, "--exact", "--ignored", "--nocapture"])
            .env(ROOT, root.path())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(writer.stdout.take().unwrap()).lines().map_while(Result::ok);
        let mut kept = lines.filter_map(|line| line.strip_prefix("kept ")?.parse::<usize>().ok());
        // it writes; then a moment of up to 30 ms, at random from the same seed every time
        last = kept.next().expect("the writer writes");
        moment = moment.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        std::thread::sleep(Duration::from_micros((moment >> 33) % 30_000));
        writer.kill().unwrap();
        writer.wait().unwrap();
        last = kept.last().unwrap_or(last);

        let store = Store::open(&Folders::under(root.path()));
        let (found, climbs) = (store.lesson(), store.climbs());
        assert_eq!((&found.told, &climbs.told), (&None, &None), "kill {kill}");
        let found = found.value.unwrap();
        // what it said it kept, or the one it was killed over
        assert!((last..=last + 1).contains(&found.item), "kill {kill}: {} after {last}", found.item);
        assert_eq!(found, lesson(found.item), "kill {kill}");
        let climbs = climbs.value.unwrap();
        let newest = climbs.iter().last().unwrap();
        assert!((last..=found.item).contains(&(newest.tempo as usize)), "kill {kill}: {newest:?} after {last}");
        assert_eq!(newest, &climb(newest.tempo as usize), "kill {kill}");
    }
    assert!(last > KILLS, "only {last} were written");
    let state = Folders::under(root.path()).state;
    let odd = std::fs::read_dir(state).unwrap().map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    let odd: Vec<_> =
        odd.filter(|name| !["lesson.json", "climbs.json"].contains(&name.as_str()) && !name.starts_with(".unfinished-")).collect();
    assert_eq!(odd, Vec::<String>::new(), "nothing was set aside");
}

/// A drill whose rounds last half a second, as the first item of a lesson.
const QUICK: [(&str, &str); 2] = [
    (
        "quick.toml",
        "version = 1\ntitle = \"Quick\"\ntempo = 240\nmeter = \"2/4\"\nrounds = 200\n[line]\nall = { concert = \"F4:2\" }\n[[turn]]\nmodel = {}\n",
    ),
    (
        "lesson.toml",
        "version = 1\ntitle = \"Killed Tuesday\"\n[[item]]\ndrill = { file = \"quick.toml\" }\n[[item]]\ntalk = { note = \"Listen\" }\n",
    ),
];

/// The console in lines, on the lesson or on what it stood at, and every line it says.
fn lead(root: &Path, file: Option<&str>) -> (std::process::Child, std::sync::mpsc::Receiver<String>) {
    let mut console = Command::new(env!("CARGO_BIN_EXE_precentor"))
        .args(["lead", "--plain", "--no-sound"])
        .args(file)
        .current_dir(root)
        .env("XDG_STATE_HOME", root.join("state"))
        .env("XDG_CONFIG_HOME", root.join("config"))
        .env("XDG_DATA_HOME", root.join("data"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let (tell, told) = std::sync::mpsc::channel();
    let lines = BufReader::new(console.stdout.take().unwrap()).lines();
    std::thread::spawn(move || lines.map_while(Result::ok).all(|line| tell.send(line).is_ok()));
    (console, told)
}

/// The round a line tells of, from 1: `... group 1 of 1, round 7 of 200. ...`.
fn round(line: &str) -> Option<usize> {
    line.split_once(", round ")?.1.split(' ').next()?.parse().ok()
}

#[test]
#[ignore = "kills the console fifty times"]
fn a_lesson_killed_at_any_moment_is_offered_at_its_item_and_round() {
    let root = tempfile::tempdir().unwrap();
    for (name, text) in QUICK {
        std::fs::write(root.path().join(name), text).unwrap();
    }
    let mut moment = 0x9e37_79b9_u64;
    let mut reached = 0;
    for kill in 0..KILLS {
        let (mut console, told) = lead(root.path(), (kill == 0).then_some("lesson.toml"));
        let mut keys = console.stdin.take().unwrap();
        keys.write_all(b"go\n").unwrap();
        let offered = loop {
            let line = told.recv_timeout(Duration::from_secs(20)).unwrap_or_else(|_| panic!("kill {kill}: it says nothing"));
            if let Some(round) = round(&line) {
                break round;
            }
        };
        if kill > 0 {
            // the round that was told of when it was killed, or the one before if it was killed over remembering it
            assert!((reached.max(2) - 1..=reached).contains(&offered), "kill {kill}: {offered} is offered after {reached}");
        }
        moment = moment.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        std::thread::sleep(Duration::from_micros(700_000 + (moment >> 33) % 900_000));
        console.kill().unwrap();
        console.wait().unwrap();
        reached = told.iter().filter_map(|line| round(&line)).last().unwrap_or(offered).max(offered);
    }
    assert!(reached > KILLS / 2, "only round {reached} was reached");
}
