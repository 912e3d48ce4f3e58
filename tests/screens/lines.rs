//! Line mode tells a run in numbered lines.

use precentor::view::plain::Speaker;
use sequencer::Motion;

use super::Rig;

#[test]
fn a_run_is_told_one_event_a_line() {
    let mut rig = Rig::demo();
    rig.keys("d DOWN ENTER");
    let mut speaker = Speaker::default();
    let mut lines = speaker.news(&rig.state);
    assert_eq!(speaker.news(&rig.state), Vec::<String>::new(), "nothing is told twice");
    rig.keys("SPACE");
    while rig.state.pulse.motion != Some(Motion::Waiting) {
        if rig.state.pulse.motion == Some(Motion::Running)
            && rig.state.bar().is_some_and(|bar| bar.station == 3)
            && rig.state.asked.is_none()
        {
            rig.keys("h");
        }
        rig.run(0.1);
        lines.extend(speaker.news(&rig.state));
        assert!(rig.now().as_secs() < 300);
    }
    insta::assert_snapshot!("a_run_in_lines", lines.join("\n"));
    for (index, line) in lines.iter().enumerate() {
        assert!(line.starts_with(&format!("{} ", index + 1)), "{line}");
        assert!(line.is_ascii(), "{line}");
    }
}

#[test]
fn a_word_nobody_knows_is_answered_with_the_nearest() {
    use precentor::inputs::Place;
    assert!(precentor::view::plain::unknown(Place::Stage, "husch").contains("did you mean \"hush\"?"));
    assert!(precentor::view::plain::unknown(Place::Stage, "xylophone").contains("there are: hush"));
}
