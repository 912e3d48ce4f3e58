//! Climbs, rechecks and whole lessons, led with one key.

use super::rig::Rig;
use precentor::app::Action;
use precentor::app::state::State;
use precentor::folders::Folders;
use precentor::standing::{LessonStanding, Store};
use sequencer::plan::PlanKind;
use sequencer::{Motion, Pass, TurnKind};
use std::path::Path;
use std::time::{Duration, SystemTime};
use tempfile::TempDir;

/// A folder with the demo files and a short lesson, and the user's own folders.
struct Class {
    files: TempDir,
    home: TempDir,
}

const SHORT: &str = r#"
version = 1
title = "Short Tuesday"
room = "alder-street.toml"
minutes = 10
[[item]]
title = "Tune"
drone = { concert = "Bb3" }
minutes = 1
advance = "by itself"
[[item]]
talk = { note = "Collect practice sheets" }
minutes = 1
[[item]]
landmarks = { section = "Horns" }
[[item]]
climb = { tempo = 90, bars = 2, meter = "4/4" }
minutes = 6
[[item]]
drill = { file = "nowhere.toml" }
[[item]]
recheck = { piece = "lantern-march.toml", passage = "trio" }
minutes = 2
"#;

impl Class {
    fn new(lesson: &str) -> Self {
        let files = tempfile::tempdir().unwrap();
        for entry in std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("examples")).unwrap() {
            let path = entry.unwrap().path();
            std::fs::copy(&path, files.path().join(path.file_name().unwrap())).unwrap();
        }
        std::fs::write(files.path().join("short.toml"), lesson).unwrap();
        Self { files, home: tempfile::tempdir().unwrap() }
    }

    fn folders(&self) -> Folders {
        Folders::under(self.home.path())
    }

    fn open(&self, name: &str) -> Rig {
        Rig::on(Some(&self.files.path().join(name)), Some(self.folders()))
    }
}

fn kind(state: &State) -> Option<PlanKind> {
    state.plan().map(|plan| plan.kind)
}

fn item(state: &State) -> Option<usize> {
    state.lesson.as_ref().map(|run| run.at)
}

#[test]
fn a_lesson_goes_through_its_items_by_itself_and_waits_where_it_is_told_to() {
    let class = Class::new(SHORT);
    let mut rig = class.open("short.toml");
    assert!(rig.text(120, 30).contains("Short Tuesday: 6 items"), "{}", rig.text(120, 30));
    assert!(rig.state.troubles().contains("nowhere.toml"), "{}", rig.state.troubles());
    rig.keys("SPACE");
    rig.until("the drone", |state| state.pulse.drone);
    rig.run(30.0);
    let screen = rig.text(120, 30);
    assert!(screen.contains("item 1 of 6, Tune: 0 of 1 min") && screen.contains("0 of 10 min, 10 left"), "{screen}");
    // after its minute the drone ends and the talk waits
    rig.until("the talk", |state| kind(state) == Some(PlanKind::Talk));
    rig.until("waiting", |state| state.pulse.motion == Some(Motion::Waiting));
    assert!(!rig.state.pulse.drone && rig.text(100, 30).contains("Collect practice sheets"));
    rig.keys("SPACE");
    rig.until("the landmarks", |state| kind(state) == Some(PlanKind::Landmarks));
    rig.until("their end", |state| state.pulse.motion == Some(Motion::Done));
    let screen = rig.text(100, 30);
    assert!(screen.contains("go starts the next item: climb to 90"), "{screen}");
    rig.keys("SPACE");
    rig.until("the climb", |state| kind(state) == Some(PlanKind::Climb) && state.pulse.is_moving());
    rig.until("its first decision", |state| state.turn() == Some(TurnKind::Ask));
    assert!(rig.text(100, 30).contains("DECIDE"), "{}", rig.text(100, 30));
    rig.keys("SPACE");
    rig.until("its end", |state| state.pulse.motion == Some(Motion::Done));
    // the item at fault is passed by
    rig.keys("SPACE");
    rig.until("the recheck", |state| kind(state) == Some(PlanKind::Recheck) && item(state) == Some(5));
    rig.until("the end", |state| state.pulse.motion == Some(Motion::Done));
    assert!(rig.now().as_secs() > 120);
}

#[test]
fn items_are_skipped_come_back_to_and_chosen() {
    let class = Class::new(SHORT);
    let mut rig = class.open("short.toml");
    rig.keys("SPACE").run(2.0);
    rig.keys("x x x");
    assert_eq!((item(&rig.state), kind(&rig.state)), (Some(3), Some(PlanKind::Climb)));
    rig.keys("SPACE");
    rig.until("the second pass", |state| state.bar().is_some_and(|bar| bar.round == 1));
    let left_at = rig.state.bar().unwrap().round;
    rig.keys("x");
    assert_eq!(item(&rig.state), Some(5), "the item at fault is passed by");
    rig.keys("z");
    assert_eq!((item(&rig.state), rig.state.bar().unwrap().round), (Some(3), left_at), "taken up where it was left");
    rig.keys("a");
    let list = rig.text(100, 30);
    assert!(list.contains("Tune") && list.contains("now:") && list.contains("has faults"), "{list}");
    rig.keys("PGUP PGUP PGUP ENTER");
    assert_eq!(item(&rig.state), Some(0));
}

#[test]
fn what_was_interrupted_is_offered_at_its_item_and_round() {
    let class = Class::new(SHORT);
    let mut rig = class.open("short.toml");
    rig.keys("SPACE").run(2.0);
    rig.keys("x x x SPACE");
    rig.until("the third pass", |state| state.bar().is_some_and(|bar| bar.round == 2) && state.pulse.beat > 0);
    rig.run(1.0);
    let bar = rig.state.plan().unwrap().round_top(rig.state.pulse.bar);
    // the keeper writes on a thread of its own
    drop(rig);
    let mut rig = Rig::on(None, Some(class.folders()));
    assert_eq!((item(&rig.state), kind(&rig.state)), (Some(3), Some(PlanKind::Climb)));
    assert_eq!(rig.state.pulse.bar, bar);
    let told = rig.state.told.clone().map(|(told, _)| told).unwrap_or_default();
    assert!(told.contains("Short Tuesday stood at climb to 90") && told.contains("go takes it up there"), "{told}");
    rig.keys("SPACE");
    rig.until("going on", |state| state.pulse.is_moving() && state.bar().is_some_and(|bar| bar.round == 2));
}

#[test]
fn a_piece_climbs_is_rechecked_when_it_gets_sloppy_and_its_stage_is_offered_next_time() {
    let class = Class::new(SHORT);
    let mut rig = class.open("lantern-march.toml");
    assert_eq!(kind(&rig.state), Some(PlanKind::Climb));
    assert!(rig.state.plan().unwrap().title.contains("second strain"));
    rig.keys("SPACE");
    rig.until("the count pass", |state| state.turn() == Some(TurnKind::Pass(Pass::Count)));
    let screen = rig.text(100, 30);
    assert!(screen.contains("SAY IT") && screen.contains("bar 21") && screen.contains("[count]"), "{screen}");
    // on to the next stage, and in it to half tempo
    rig.keys("n");
    rig.until("stage 2", |state| state.bar().is_some_and(|bar| bar.station == 1) && state.pulse.beat > 0);
    rig.keys("k");
    rig.until("the recheck", |state| kind(state) == Some(PlanKind::Recheck) && state.pulse.is_moving());
    assert_eq!(rig.state.pulse.tempo.unwrap().bpm(), 76.0);
    rig.keys("n");
    rig.run(10.0);
    rig.keys("n");
    rig.run(10.0);
    rig.keys("n");
    rig.run(10.0);
    rig.keys("n");
    rig.run(5.0);
    rig.keys("n");
    rig.until("its end", |state| state.pulse.motion == Some(Motion::Done));
    rig.keys("SPACE");
    assert_eq!((kind(&rig.state), rig.state.bar().unwrap().station), (Some(PlanKind::Climb), 1), "back to the climb where it stood");
    drop(rig);
    let rig = class.open("lantern-march.toml");
    assert_eq!(rig.state.bar().unwrap().station, 1);
    assert_eq!(rig.state.pulse.tempo.unwrap().bpm(), 95.0);
    let told = rig.state.told.clone().map(|(told, _)| told).unwrap_or_default();
    assert!(told.contains("stood at 95 last time. go starts at 95"), "{told}");
}

#[test]
fn a_late_start_says_what_no_longer_fits_and_p_agrees() {
    let late = SHORT.replace("minutes = 10\n", "minutes = 8\n");
    let class = Class::new(&late);
    let mut rig = class.open("short.toml");
    let told = rig.state.told.clone().map(|(told, _)| told).unwrap_or_default();
    assert!(told.contains("p would shorten climb to 90 from 6 to 4 min"), "{told}");
    rig.keys("p");
    assert_eq!(rig.state.lesson.as_ref().unwrap().items[3].slot.minutes, Some(4));
    rig.keys("p");
    assert!(rig.text(120, 30).contains("All that is left fits the hour"));
}

#[test]
fn a_lesson_whose_room_is_gone_is_led_in_the_room_that_is_open() {
    let class = Class::new(&SHORT.replace("alder-street.toml", "gone.toml"));
    let mut rig = class.open("short.toml");
    let told = rig.state.told.clone().map(|(told, _)| told).unwrap_or_default();
    assert!(told.contains("led in the one that is open"), "{told}");
    assert!(rig.state.troubles().contains("gone.toml"), "{}", rig.state.troubles());
    rig.keys("SPACE");
    rig.until("the drone", |state| state.pulse.drone);
}

#[test]
fn a_tempo_climbs_with_no_piece() {
    let mut rig = Rig::demo();
    rig.keys("c");
    let list = rig.text(100, 30);
    assert!(list.contains("up to 152") && list.contains("no piece"), "{list}");
    rig.keys("UP");
    for _ in 0..20 {
        rig.keys("DOWN");
    }
    rig.keys("ENTER SPACE");
    assert_eq!(rig.state.plan().unwrap().title, "Up to 160");
    rig.until("its first pass", |state| matches!(state.turn(), Some(TurnKind::Pass(_))));
}

/// What was told last.
fn told(rig: &Rig) -> String {
    rig.state.told.clone().map(|(told, _)| told).unwrap_or_default()
}

/// A lesson of one item after another by itself, in the demo room.
fn by_itself(items: &[&str]) -> String {
    let items = items.iter().map(|item| format!("[[item]]\n{item}\nadvance = \"by itself\"\n"));
    format!("version = 1\ntitle = \"By itself\"\nroom = \"alder-street.toml\"\nminutes = 10\n{}", items.collect::<String>())
}

#[test]
fn the_first_items_minutes_run_from_the_first_go_however_long_the_console_stood_ready() {
    let class =
        Class::new(&by_itself(&["drill = { file = \"middle-note.toml\" }\nminutes = 2", "talk = { note = \"Sheets\" }\nminutes = 1"]));
    let mut rig = class.open("short.toml");
    rig.run(180.0);
    rig.keys("SPACE");
    rig.until("the second group", |state| state.bar().is_some_and(|bar| bar.station == 1));
    assert_eq!(item(&rig.state), Some(0));
    rig.until("the talk, after two minutes", |state| item(state) == Some(1));
    let spent = rig.now().as_secs();
    assert!((180 + 120..180 + 150).contains(&spent), "{spent}");
}

#[test]
fn an_edited_lesson_keeps_its_clock_and_the_item_that_stands() {
    let class = Class::new(SHORT);
    let mut rig = class.open("short.toml");
    rig.keys("SPACE").run(61.0);
    rig.until("the talk", |state| kind(state) == Some(PlanKind::Talk));
    rig.run(70.0);
    let before = rig.state.lesson.as_ref().unwrap().clock();
    let more = SHORT.replacen("[[item]]", "[[item]]\nlandmarks = { section = \"Trumpets\" }\nminutes = 1\n[[item]]", 1);
    std::fs::write(class.files.path().join("short.toml"), &more).unwrap();
    rig.apply(Action::Edited);
    rig.idle();
    let run = rig.state.lesson.as_ref().unwrap();
    assert_eq!((run.items.len(), run.at, kind(&rig.state)), (7, 2, Some(PlanKind::Talk)));
    assert!(rig.state.plan().unwrap().title.contains("practice sheets"));
    let after = run.clock();
    assert!(after.hour.run >= before.hour.run && after.item.run >= before.item.run && after.item.run.as_secs() >= 60, "{after:?}");
    // saved with a mistake, it goes on as it was, and says so
    std::fs::write(class.files.path().join("short.toml"), more.replace("minutes = 10", "minutes = ten")).unwrap();
    rig.apply(Action::Edited);
    rig.idle();
    assert_eq!(rig.state.lesson.as_ref().unwrap().items.len(), 7);
    assert!(rig.state.troubles().contains("ten"), "{}", rig.state.troubles());
    rig.keys("SPACE");
    rig.until("the landmarks", |state| kind(state) == Some(PlanKind::Landmarks));
}

#[test]
fn a_drill_chosen_in_between_leaves_the_item_where_it_stands_and_z_comes_back_to_it() {
    let class = Class::new(SHORT);
    let mut rig = class.open("short.toml");
    rig.keys("SPACE").run(2.0);
    rig.keys("x x x SPACE");
    rig.until("the second pass", |state| state.bar().is_some_and(|bar| bar.round == 1));
    rig.keys("d ENTER SPACE").run(5.0);
    assert_eq!(kind(&rig.state), Some(PlanKind::Drill));
    rig.keys("z");
    assert_eq!((item(&rig.state), kind(&rig.state), rig.state.bar().unwrap().round), (Some(3), Some(PlanKind::Climb), 1));
    // nor does a drill's place or tempo become that of an item
    rig.keys("d ENTER ] SPACE").run(5.0);
    rig.keys("x z");
    assert_eq!((item(&rig.state), rig.state.bar().unwrap().round), (Some(3), 1));
    assert_eq!(rig.state.pulse.tempo.unwrap().bpm(), 72.0);
}

#[test]
fn a_talk_begins_the_hour_and_goes_on_by_itself_when_its_minutes_are_up() {
    let class = Class::new(&by_itself(&["talk = { note = \"Welcome\" }\nminutes = 1", "landmarks = { section = \"Horns\" }"]));
    let mut rig = class.open("short.toml");
    rig.keys("SPACE").run(30.0);
    assert!(rig.text(100, 30).contains("go starts the next item: landmarks Horns"), "{}", rig.text(100, 30));
    rig.until("the landmarks", |state| kind(state) == Some(PlanKind::Landmarks) && state.pulse.is_moving());
    let begun = rig.now().as_secs();
    assert!((60..63).contains(&begun), "{begun}");
}

#[test]
fn a_drone_goes_on_from_its_second_after_a_hush_and_says_when_it_ends() {
    let class = Class::new(&by_itself(&["drone = { concert = \"Bb3\" }\nminutes = 2", "talk = { note = \"Sheets\" }\nminutes = 1"]));
    let mut rig = class.open("short.toml");
    rig.keys("SPACE").run(70.0);
    let screen = rig.text(100, 30);
    assert!(screen.contains("next: the next item, talk, in ") && screen.contains(" s\n"), "{screen}");
    rig.keys("ESC").run(5.0);
    rig.keys("SPACE");
    rig.until("the drone again", |state| state.pulse.drone);
    rig.until("the talk", |state| kind(state) == Some(PlanKind::Talk));
    let ended = rig.now().as_secs();
    assert!((120..128).contains(&ended), "{ended}");
}

#[test]
fn a_next_item_that_cannot_be_made_is_passed_by() {
    let drone = "drone = { concert = \"Bb3\" }\nminutes = 1";
    let class = Class::new(&by_itself(&[drone, "drill = { file = \"five-notes.toml\" }", "talk = { note = \"Sheets\" }\nminutes = 1"]));
    let drill = class.files.path().join("five-notes.toml");
    let good = std::fs::read_to_string(&drill).unwrap();
    let mut rig = class.open("short.toml");
    std::fs::remove_file(&drill).unwrap();
    rig.keys("SPACE").run(2.0);
    rig.apply(Action::Edited);
    rig.idle();
    assert!(rig.state.troubles().contains("five-notes.toml"), "{}", rig.state.troubles());
    assert_eq!(rig.state.lesson.as_ref().unwrap().queued, Some(2));
    // put right, it comes after all
    std::fs::write(&drill, good).unwrap();
    rig.apply(Action::Edited);
    rig.idle();
    assert_eq!(rig.state.lesson.as_ref().unwrap().queued, Some(1));
    rig.until("the drill", |state| kind(state) == Some(PlanKind::Drill) && state.pulse.is_moving());
    // an item that came by itself is known by its own files: touched and not changed they are nothing new
    rig.run(10.0);
    rig.apply(Action::Edited);
    rig.idle();
    assert!(!told(&rig).contains("Saved changes"), "{}", told(&rig));
}

#[test]
fn an_edit_starts_nothing_behind_an_item_that_is_through() {
    let lesson = by_itself(&["landmarks = { section = \"Horns\" }", "talk = { note = \"Sheets\" }\nminutes = 1"]);
    let class = Class::new(&lesson.replacen("advance = \"by itself\"\n", "", 1));
    let mut rig = class.open("short.toml");
    rig.keys("SPACE");
    rig.until("their end", |state| state.pulse.motion == Some(Motion::Done));
    std::fs::write(class.files.path().join("short.toml"), &lesson).unwrap();
    rig.apply(Action::Edited);
    rig.run(3.0);
    assert_eq!(item(&rig.state), Some(0));
    rig.keys("SPACE");
    assert_eq!(item(&rig.state), Some(1));
}

#[test]
fn a_lesson_whose_hour_is_over_is_taken_from_its_top() {
    let class = Class::new(SHORT);
    let mut rig = class.open("short.toml");
    rig.keys("SPACE").run(2.0);
    rig.keys("x SPACE").run(1.0);
    drop(rig);
    let store = Store::open(&class.folders());
    let stood = store.lesson().value.unwrap();
    assert_eq!(stood.item, 2);
    store.keep_lesson(&LessonStanding { begun: SystemTime::now() - Duration::from_secs(11 * 60), ..stood }).unwrap();
    let rig = class.open("short.toml");
    assert_eq!(item(&rig.state), Some(0));
    assert!(told(&rig).contains("go starts the first"), "{}", told(&rig));
}
