use super::*;
use crate::app::shelf::{Shelf, Source};
use crate::inputs::Place;

fn state() -> State {
    State::new(Arc::new(book::demo::room()), Source::Demo(book::demo::ROOM.0.to_owned()))
}

fn sound(standing: Standing) -> Action {
    Action::Sound(Sound { standing, name: "Desk".to_owned(), says: "unplugged".to_owned(), mend: String::new() })
}

#[test]
fn go_without_a_drill_opens_the_drills() {
    let mut state = state();
    assert_eq!(update(&mut state, Action::Do(Command::Cue(Cue::Go))), [Effect::Look]);
    assert_eq!(state.place(), Place::Chooser);
    let effects = update(&mut state, Action::Do(Command::Choose));
    let Shelf { drills, .. } = Shelf::demo();
    assert_eq!(effects, [Effect::Lead(Errand::drill(drills[0].source.clone()))]);
    assert_eq!(state.place(), Place::Stage);
}

#[test]
fn other_cues_without_a_drill_do_nothing_but_say_so() {
    for cue in [Cue::Again, Cue::Hold, Cue::Next, Cue::Back, Cue::Quicker, Cue::Slower] {
        let mut state = state();
        assert_eq!(update(&mut state, Action::Do(Command::Cue(cue))), []);
        assert_eq!(state.told.map(|(told, _)| told).as_deref(), Some(told::NOTHING_LED), "{cue}");
    }
}

#[test]
fn hush_always_reaches_the_engine() {
    for over in [None, Some(Over::Faults(0)), Some(Over::DroneDesk(DeskRow::Root)), Some(Over::Keys(Finder::new(Place::Stage)))] {
        let mut state = state();
        state.over = over;
        assert_eq!(update(&mut state, Action::Do(Command::Cue(Cue::Hush))), [Effect::Cue(Cue::Hush)]);
        assert_eq!(state.over, None);
    }
    let mut state = state();
    state.over = Some(Over::Cautions);
    assert_eq!(update(&mut state, Action::Do(Command::Cue(Cue::Hush))), [Effect::Cue(Cue::Hush), Effect::CautionsRead]);
}

#[test]
fn only_the_loss_itself_halts_the_plan() {
    let mut state = state();
    assert_eq!(update(&mut state, sound(Standing::Silent)), [], "a console that never had sound plays on in silence");
    let back = [Effect::MeetAgain(Loudspeaker::PerhapsAnother)];
    assert_eq!(update(&mut state, sound(Standing::Playing)), back, "what the microphone hears meets other frames");
    assert_eq!(update(&mut state, sound(Standing::Lost)), [Effect::Halt("unplugged".to_owned())]);
    assert_eq!(update(&mut state, sound(Standing::Lost)), []);
    assert_eq!(update(&mut state, sound(Standing::Silent)), []);
    update(&mut state, sound(Standing::Playing));
    assert_eq!(state.told.map(|(told, _)| told).as_deref(), Some(told::DEVICE_BACK));
}

#[test]
fn a_roll_needs_a_drill_and_asks_for_one() {
    let mut state = state();
    update(&mut state, Action::Do(Command::Roll));
    assert!(matches!(state.over, Some(Over::Chooser(Chooser { of: ChooserOf::Drills, .. }))));
}

#[test]
fn sections_in_turn_take_the_drones_root_where_there_is_no_drill() {
    let mut state = state();
    let root = state.desk.root;
    assert_eq!(update(&mut state, Action::Do(Command::InTurn)), [Effect::Lead(Errand::in_turn(root))]);
}

#[test]
fn marks_stay_inside_their_lists() {
    let mut state = state();
    update(&mut state, Action::Do(Command::Landmarks));
    update(&mut state, Action::Do(Command::Up));
    assert!(matches!(state.over, Some(Over::Chooser(Chooser { mark: 0, .. }))));
    for _ in 0..40 {
        update(&mut state, Action::Do(Command::Down));
    }
    assert!(matches!(state.over, Some(Over::Chooser(Chooser { mark: 12, .. }))));
    update(&mut state, Action::Do(Command::Keys));
    for _ in 0..200 {
        update(&mut state, Action::Do(Command::Down));
    }
    let Some(Over::Keys(finder)) = &state.over else { panic!("no keys") };
    assert!(finder.marked().is_some());
}

#[test]
fn an_edit_is_read_and_a_message_fades() {
    let mut state = state();
    assert_eq!(update(&mut state, Action::Edited), [Effect::Reread(None)]);
    update(&mut state, Action::Tell("something".to_owned()));
    let snapshot = engine::Snapshot::initial();
    let mut tick = |seconds| update(&mut state, Action::Tick { snapshot, in_force: None, now: Duration::from_secs(seconds) });
    tick(5);
    tick(6);
    assert_eq!(state.told, None);
}
