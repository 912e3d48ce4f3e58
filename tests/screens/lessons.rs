//! Climbs, rechecks and whole lessons, led with one key.

use super::rig::Rig;
use precentor::app::state::State;
use precentor::folders::Folders;
use sequencer::plan::PlanKind;
use sequencer::{Motion, Pass, TurnKind};
use std::path::Path;
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
