//! Pictures of whole screens with their styles.

use super::Rig;
use super::rig::{LOOKS, RICH, dump, letters};
use sequencer::TurnKind;

fn playing() -> Rig {
    let mut rig = Rig::demo();
    rig.keys("SPACE");
    rig.until("the echo", |state| state.turn() == Some(TurnKind::Echo) && state.pulse.beat == 3);
    rig
}

#[test]
fn the_stage() {
    let rig = playing();
    insta::assert_snapshot!("stage_80x24", dump(&rig.buffer(80, 24, RICH)));
    insta::assert_snapshot!("stage_80x24_no_colour", dump(&rig.buffer(80, 24, LOOKS[1])));
    insta::assert_snapshot!("stage_80x24_ascii", dump(&rig.buffer(80, 24, LOOKS[3])));
    insta::assert_snapshot!("stage_60x16", letters(&rig.buffer(60, 16, RICH)));
    insta::assert_snapshot!("stage_160x45", letters(&rig.buffer(160, 45, RICH)));
}

#[test]
fn a_line_of_many_notes() {
    let mut rig = Rig::demo();
    rig.keys("d DOWN DOWN ENTER SPACE");
    rig.until("the echo", |state| state.turn() == Some(TurnKind::Echo) && state.pulse.beat == 2);
    insta::assert_snapshot!("five_notes_80x24", letters(&rig.buffer(80, 24, RICH)));
}

#[test]
fn the_room_view() {
    let mut rig = playing();
    rig.keys("v");
    insta::assert_snapshot!("room_view_80x24", letters(&rig.buffer(80, 24, RICH)));
    insta::assert_snapshot!("room_view_160x45", letters(&rig.buffer(160, 45, RICH)));
    insta::assert_snapshot!("room_view_80x24_ascii", letters(&rig.buffer(80, 24, LOOKS[3])));
}

#[test]
fn flats_are_drawn_in_the_room_view() {
    let mut rig = Rig::demo();
    rig.keys("l ENTER");
    rig.until("B flat", |state| state.bar().is_some_and(|bar| bar.station == 2 && bar.turn == TurnKind::Model));
    rig.keys("v");
    insta::assert_snapshot!("room_view_b_flat", letters(&rig.buffer(80, 24, RICH)));
}

#[test]
fn lists_and_pages() {
    let mut rig = playing();
    for (name, keys) in [("drills", "d"), ("drone", "o"), ("keys", "?"), ("landmarks", "l")] {
        rig = {
            let mut rig = rig;
            rig.keys("ESC");
            rig.keys(keys);
            rig
        };
        insta::assert_snapshot!(format!("{name}_80x24"), letters(&rig.buffer(80, 24, RICH)));
    }
}

#[test]
fn the_ears_table() {
    let mut rig = Rig::demo();
    rig.keys("e DOWN DOWN DOWN DOWN DOWN DOWN DOWN DOWN ENTER SPACE");
    for (seat, key) in [(1, "1"), (2, "2"), (3, "4")] {
        rig.until("the echo", |state| {
            state.turn() == Some(TurnKind::Echo) && state.station().and_then(|station| station.seat) == Some(seat)
        });
        rig.keys(key);
    }
    rig.until("the table", |state| matches!(state.over, Some(precentor::app::state::Over::Ear(_))));
    insta::assert_snapshot!("ear_80x24", letters(&rig.buffer(80, 24, RICH)));
}

#[test]
fn the_cautions() {
    let mut rig = Rig::demo();
    rig.state.over = Some(precentor::app::state::Over::Cautions);
    let text = letters(&rig.buffer(60, 16, RICH));
    // the last line is there: nothing was pushed off the smallest screen
    assert!(text.contains("understood"), "{text}");
    insta::assert_snapshot!("cautions_80x24", letters(&rig.buffer(80, 24, RICH)));
}
