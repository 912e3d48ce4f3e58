use super::climbs::Climbing;
use super::*;
use crate::folders::Folders;
use proptest::prelude::*;
use proptest::sample::select;
use std::fs;
use std::path::PathBuf;
use std::time::{Duration, SystemTime};
use units::Tempo;

const HOUR: Duration = Duration::from_secs(3600);

fn now() -> SystemTime {
    SystemTime::UNIX_EPOCH + Duration::from_secs(1_900_000_000)
}

fn lesson() -> LessonStanding {
    let item = |name: &str, spent, agreed| ItemStanding { name: name.to_owned(), spent: Duration::from_millis(spent), agreed };
    LessonStanding {
        lesson: PathBuf::from("demo:week-seven"),
        room: PathBuf::from("demo:alder-street"),
        item: 2,
        place: Place { station: 3, round: 1, bar: 41 },
        tempo: Some(95_000),
        items: vec![item("Warm up", 240_500, None), item("drill", 600_000, None), item("climb", 90_250, Some(12)), item("talk", 0, None)],
        begun: now() - HOUR,
        written: now(),
    }
}

fn climbing(passage: &str) -> Climbing {
    Climbing { room: "room.toml".to_owned(), piece: "piece.toml".to_owned(), passage: Some(passage.to_owned()) }
}

fn stands(passage: &str, bpm: u32) -> ClimbStanding {
    ClimbStanding { of: climbing(passage), tempo: bpm * 1000, written: now() }
}

fn tempi(bpm: &[f64]) -> Vec<Tempo> {
    bpm.iter().map(|bpm| Tempo::new(*bpm).unwrap()).collect()
}

#[test]
fn what_is_kept_is_found_again_until_it_is_forgotten() {
    let root = tempfile::tempdir().unwrap();
    let store = Store::open(&Folders::under(root.path()));
    assert_eq!(store.lesson(), Found { value: None, told: None });
    assert_eq!(store.climbs(), Found { value: None, told: None });
    store.forget_lesson().unwrap();
    store.keep_lesson(&lesson()).unwrap();
    for climb in [stands("trio", 95), stands("coda", 72), stands("trio", 114)] {
        assert_eq!(store.keep_climb(climb).unwrap(), None);
    }
    let store = Store::open(&Folders::under(root.path()));
    assert_eq!(store.lesson(), Found { value: Some(lesson()), told: None });
    let climbs: Vec<_> = store.climbs().value.unwrap().iter().cloned().collect();
    assert_eq!(climbs, [stands("coda", 72), stands("trio", 114)]);
    store.forget_lesson().unwrap();
    assert_eq!(store.lesson(), Found { value: None, told: None });
}

#[test]
fn a_lesson_is_offered_for_half_a_day() {
    let offered = |now| lesson().resume(now, &["Warm up", "drill", "climb", "talk"]).is_some();
    let second = Duration::from_secs(1);
    assert!(offered(now()) && offered(now() + 12 * HOUR) && offered(now() - HOUR));
    assert!(!offered(now() + 12 * HOUR + second) && !offered(now() - 12 * HOUR - second) && !offered(SystemTime::UNIX_EPOCH));
    assert_eq!(lesson().resume::<&str>(now(), &[]), None);
}

#[test]
fn a_lesson_edited_meanwhile_goes_on_with_the_item_that_stood() {
    let resume = |names: &[&str]| lesson().resume(now(), names).unwrap();
    let same = resume(&["Warm up", "drill", "climb", "talk"]);
    assert_eq!((same.item, same.place), (2, Some(lesson().place)));
    assert_eq!((same.spent[1], same.agreed), (Duration::from_secs(600), vec![None, None, Some(12), None]));
    let moved = resume(&["climb", "roll", "drill"]);
    assert_eq!((moved.item, moved.place), (0, Some(lesson().place)));
    assert_eq!(moved.spent, [90_250, 0, 600_000].map(Duration::from_millis));
    let gone = resume(&["Warm up", "drill"]);
    assert_eq!((gone.item, gone.place), (1, None));
}

#[test]
fn the_first_of_a_name_stays_the_first() {
    let mut twice = lesson();
    twice.items[0].name = "climb".to_owned();
    let resume = twice.resume(now(), &["climb", "drill", "climb"]).unwrap();
    assert_eq!((resume.item, resume.spent[0]), (2, twice.items[0].spent));
}

#[test]
fn a_climb_is_offered_the_stage_it_stood_at() {
    let mut climbs = ClimbStandings::default();
    climbs.note(stands("trio", 114));
    let stages = tempi(&[76.0, 95.0, 114.0, 133.0, 152.0]);
    assert_eq!(climbs.offer(&climbing("trio"), &stages), Some(2));
    // other steps by now: the nearest below
    assert_eq!(climbs.offer(&climbing("trio"), &tempi(&[76.0, 101.0, 126.0, 152.0])), Some(1));
    assert_eq!(climbs.offer(&climbing("trio"), &tempi(&[120.0, 140.0])), None);
    assert_eq!(climbs.offer(&climbing("coda"), &stages), None);
    assert_eq!(climbs.offer(&Climbing { room: "other.toml".to_owned(), ..climbing("trio") }, &stages), None);
    climbs.note(stands("trio", 76));
    assert_eq!(climbs.offer(&climbing("trio"), &stages), None, "the first stage needs no offer");
}

#[test]
fn the_climb_longest_untouched_is_forgotten_first() {
    let mut climbs = ClimbStandings::default();
    for number in 0..climbs::MOST + 3 {
        climbs.note(stands(&number.to_string(), 100));
    }
    assert_eq!(climbs.iter().count(), climbs::MOST);
    assert_eq!(climbs.iter().next().map(|climb| &climb.of), Some(&climbing("3")));
}

/// What `bytes` in place of both files come to; whatever cannot be understood must be kept aside, byte for byte.
fn survives(bytes: &[u8]) -> bool {
    let root = tempfile::tempdir().unwrap();
    let folders = Folders::under(root.path());
    folders.create().unwrap();
    let store = Store::open(&folders);
    let mut sound = true;
    for name in ["lesson", "climbs"] {
        let path = folders.state.join(format!("{name}.json"));
        fs::write(&path, bytes).unwrap();
        let told = if name == "lesson" { store.lesson().told } else { store.climbs().told };
        let Some(told) = told else { continue };
        sound = false;
        let aside = folders.state.join(format!("{name}.broken-1.json"));
        assert_eq!(fs::read(&aside).unwrap(), bytes);
        assert!(told.contains(aside.to_str().unwrap()) && !path.exists(), "{told}");
    }
    sound
}

fn written() -> (Vec<u8>, Vec<u8>) {
    let root = tempfile::tempdir().unwrap();
    let folders = Folders::under(root.path());
    let store = Store::open(&folders);
    store.keep_lesson(&lesson()).unwrap();
    store.keep_climb(stands("trio", 95)).unwrap();
    (fs::read(folders.state.join("lesson.json")).unwrap(), fs::read(folders.state.join("climbs.json")).unwrap())
}

#[test]
fn no_part_of_a_file_is_taken_for_the_whole() {
    let (lesson, climbs) = written();
    for bytes in [lesson, climbs] {
        for length in (0..bytes.len()).step_by(7) {
            assert!(!survives(&bytes[..length]), "{length}");
        }
    }
}

#[test]
fn a_file_of_another_version_is_kept_aside() {
    let (lesson, _) = written();
    let newer = String::from_utf8(lesson).unwrap().replace("\"version\":1", "\"version\":2");
    assert!(newer.contains(":2") && !survives(newer.as_bytes()));
}

#[test]
fn a_broken_file_is_told_when_a_climb_is_written_over_it_too() {
    let root = tempfile::tempdir().unwrap();
    let folders = Folders::under(root.path());
    folders.create().unwrap();
    let store = Store::open(&folders);
    for number in 1..=3 {
        fs::write(folders.state.join("climbs.json"), "{").unwrap();
        let told = store.keep_climb(stands("trio", 95)).unwrap().unwrap();
        assert!(told.contains(&format!("climbs.broken-{number}.json")), "{told}");
        assert_eq!(store.climbs().value.unwrap().iter().count(), 1, "the next is kept as ever");
    }
}

#[test]
fn a_file_that_cannot_be_read_is_not_written_over() {
    let root = tempfile::tempdir().unwrap();
    let folders = Folders::under(root.path());
    fs::create_dir_all(folders.state.join("climbs.json")).unwrap();
    let store = Store::open(&folders);
    assert!(store.climbs().told.unwrap().contains("climbs.json"));
    assert!(store.keep_climb(stands("trio", 95)).is_err());
}

#[test]
fn what_a_killed_run_left_is_swept_away_and_nothing_else() {
    let root = tempfile::tempdir().unwrap();
    let folders = Folders::under(root.path());
    folders.create().unwrap();
    let old = SystemTime::now() - HOUR;
    for (name, age) in [(".unfinished-a", Some(old)), (".unfinished-b", None), ("last-room", Some(old))] {
        let file = fs::File::create(folders.state.join(name)).unwrap();
        age.map_or(Ok(()), |age| file.set_modified(age)).unwrap();
    }
    let _ = Store::open(&folders);
    let mut left: Vec<_> = fs::read_dir(&folders.state).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    left.sort();
    assert_eq!(left, [".unfinished-b", "journals", "last-room"]);
}

#[test]
fn a_keeper_that_is_dropped_has_written_the_last() {
    let root = tempfile::tempdir().unwrap();
    let folders = Folders::under(root.path());
    let keeper = Keeper::start(Store::open(&folders)).unwrap();
    for bar in 0..200 {
        keeper.lesson(LessonStanding { place: Place { bar, ..Place::default() }, ..lesson() });
        if bar % 50 == 0 {
            keeper.climb(stands(&bar.to_string(), 100));
        }
    }
    assert_eq!(keeper.told(), None);
    drop(keeper);
    let store = Store::open(&folders);
    assert_eq!(store.lesson().value.unwrap().place.bar, 199);
    assert_eq!(store.climbs().value.unwrap().iter().count(), 4);
    let keeper = Keeper::start(store.clone()).unwrap();
    keeper.lesson(lesson());
    keeper.forget_lesson();
    drop(keeper);
    assert_eq!(store.lesson().value, None);
}

#[test]
fn a_keeper_tells_what_it_cannot_write() {
    let root = tempfile::tempdir().unwrap();
    let folders = Folders::under(root.path());
    fs::write(&folders.state, "a file in the way").unwrap();
    let keeper = Keeper::start(Store::open(&folders)).unwrap();
    keeper.lesson(lesson());
    let told = std::iter::repeat_with(|| {
        std::thread::sleep(Duration::from_millis(5));
        keeper.told()
    });
    let told = told.take(1000).flatten().next().unwrap();
    assert!(told.contains("XDG_STATE_HOME"), "{told}");
}

/// Pieces that our files are made of, and some that they should not be.
const PIECES: [&str; 20] = [
    "{",
    "}",
    "[",
    "]",
    ":",
    ",",
    "\"",
    "version",
    "standing",
    "1",
    "-1",
    "1e999",
    "null",
    "\"spent\":{\"secs\":18446744073709551615,\"nanos\":4294967295}",
    "\\ud800",
    "\u{0}",
    "secs_since_epoch",
    "item",
    "{\"version\":1,\"standing\":",
    "[]}",
];

static WRITTEN: std::sync::OnceLock<(Vec<u8>, Vec<u8>)> = std::sync::OnceLock::new();

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_survived(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        survives(&bytes);
    }

    #[test]
    fn any_pieces_are_survived(pieces in prop::collection::vec(select(&PIECES[..]), 0..30)) {
        survives(pieces.concat().as_bytes());
    }

    #[test]
    fn any_change_is_survived(of_lesson in any::<bool>(), at in any::<prop::sample::Index>(), length in 0..20_usize, piece in select(&PIECES[..])) {
        let (lesson, climbs) = WRITTEN.get_or_init(written);
        let mut bytes = if of_lesson { lesson.clone() } else { climbs.clone() };
        let start = at.index(bytes.len());
        let end = (start + length).min(bytes.len());
        bytes.splice(start..end, piece.bytes());
        survives(&bytes);
    }

    #[test]
    fn a_resumed_item_is_one_of_the_lesson(
        standing in (0..9_usize, prop::collection::vec("[ab]", 0..6)),
        names in prop::collection::vec("[ab]", 0..6),
    ) {
        let (item, before) = standing;
        let items = before.iter().map(|name| ItemStanding { name: name.clone(), spent: HOUR, agreed: Some(3) }).collect();
        let standing = LessonStanding { item, items, ..lesson() };
        let Some(resume) = standing.resume(now(), &names) else {
            prop_assert!(names.is_empty());
            return Ok(());
        };
        prop_assert!(resume.item < names.len());
        prop_assert_eq!((resume.spent.len(), resume.agreed.len()), (names.len(), names.len()));
        if resume.place.is_some() {
            prop_assert_eq!(&before[item], &names[resume.item]);
        }
        let known = |name: &str| names.iter().filter(|other| *other == name).count().min(before.iter().filter(|other| *other == name).count());
        prop_assert_eq!(resume.spent.iter().filter(|spent| **spent == HOUR).count(), known("a") + known("b"));
    }

    #[test]
    fn an_offered_stage_is_no_quicker_than_the_one_that_stood(stood in 30_000..240_000_u32, stages in prop::collection::vec(30.0..240.0, 0..8)) {
        let mut climbs = ClimbStandings::default();
        climbs.note(ClimbStanding { tempo: stood, ..stands("trio", 0) });
        let mut stages = tempi(&stages);
        stages.sort();
        match climbs.offer(&climbing("trio"), &stages) {
            Some(stage) => {
                prop_assert!(stage > 0 && stages[stage].thousandths() <= stood);
                prop_assert!(stages.get(stage + 1).is_none_or(|next| next.thousandths() > stood));
            }
            None => prop_assert!(stages.get(1).is_none_or(|second| second.thousandths() > stood)),
        }
    }
}
