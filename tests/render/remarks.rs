//! Words that no plan holds: said in a rest, and nowhere else.

use super::{RATE, clips, drill, run, start};
use engine::Bounce;
use engine::journal::Deed;
use sequencer::words::{Phrase, remark};
use synth::BLOCK;

/// Count, model, echo and rest, a bar of four each, at 72.
pub(super) const RESTS: &str = "version = 1\ntitle = \"Rests\"\ntempo = 72\nrounds = 2\nclick = false\ngroups = [[\"Horns\"]]\n[line]\nHorns = { written = \"G4:4\" }\n\
                     [[turn]]\ncount = {}\n[[turn]]\nmodel = {}\n[[turn]]\necho = {}\n[[turn]]\nrest = {}\n";
/// Frames of a bar, and those before the first.
const BAR: usize = 160_000;
const TOP: usize = 14_400;

fn said(words: &[&str]) -> Phrase {
    remark(words.iter().copied()).unwrap()
}

/// Two rounds, with `remark` said after so many frames, each; and the frames at which the journal has one.
fn played(remarks: &[(usize, Phrase)]) -> (Vec<[f32; 2]>, Vec<u64>) {
    let mut bounce = Bounce::new(RATE, clips());
    start(&mut bounce, &drill(RESTS));
    let mut out = Vec::new();
    for block in 0..(TOP + 8 * BAR) / BLOCK {
        for (_, remark) in remarks.iter().filter(|(at, _)| at / BLOCK == block) {
            bounce.controls.say(*remark);
        }
        out.extend(run(&mut bounce, 1, &mut ()));
        bounce.controls.poll();
    }
    let entries = bounce.controls.take_entries();
    let frames = entries.iter().filter(|entry| matches!(entry.deed, Deed::Say { .. })).map(|entry| entry.frame).collect();
    (out, frames)
}

#[test]
fn a_remark_sounds_in_the_rest_and_all_else_stays() {
    let (plain, _) = played(&[]);
    let rest = TOP + 3 * BAR;
    let at = rest + 24_000;
    for words in [&["on_it"][..], &["two", "partials", "low"], &["octave", "too_low"], &["flat"]] {
        let (spoken, frames) = played(&[(at, said(words))]);
        assert_eq!(frames, [(at / BLOCK * BLOCK) as u64], "{words:?}");
        let differs: Vec<usize> = (0..plain.len()).filter(|frame| plain[*frame] != spoken[*frame]).collect();
        let (first, last) = (differs[0], differs[differs.len() - 1]);
        assert!(first >= at - BLOCK && last < rest + BAR - TOP, "{words:?}: {first} to {last}, the rest from {rest}");
        assert!(spoken[first..last].iter().any(|frame| frame[0].abs() > 0.02), "{words:?}");
        // the drill rests in silence, so this is the words alone
        assert!(plain[first..last].iter().all(|frame| *frame == [0.0, 0.0]), "{words:?}");
    }
    // longer words take longer
    let length = |words: &[&str]| {
        let (spoken, _) = played(&[(at, said(words))]);
        (0..plain.len()).filter(|frame| plain[*frame] != spoken[*frame]).count()
    };
    assert!(length(&["octave", "too_low"]) > length(&["too_low"]) + 9_600);
}

#[test]
fn a_remark_is_refused_everywhere_else_and_too_late() {
    let (plain, _) = played(&[]);
    let bar = |bar: usize| TOP + bar * BAR;
    let on_it = said(&["on_it"]);
    for (at, where_) in [
        (0, "before the first bar"),
        (bar(0) + 48_000, "over a count"),
        (bar(1) + 48_000, "over a model"),
        (bar(2) + 48_000, "over an echo"),
        (bar(4) - 24_000, "too near the next count"),
        (bar(4) + 100, "after the rest"),
    ] {
        let (out, frames) = played(&[(at, on_it)]);
        assert!(frames.is_empty() && out == plain, "{where_}");
    }
    // while one is said, another is not begun; when it is over, it is
    let rest = bar(3) + 12_000;
    let (_, frames) = played(&[(rest, on_it), (rest + 4_800, on_it), (rest + 72_000, on_it)]);
    assert_eq!(frames.len(), 2);
}

#[test]
fn hush_ends_a_remark_at_once() {
    let mut bounce = Bounce::new(RATE, clips());
    start(&mut bounce, &drill(RESTS));
    run(&mut bounce, (TOP + 3 * BAR + 12_000) / BLOCK, &mut ());
    bounce.controls.say(said(&["octave", "too_high"]));
    let before = run(&mut bounce, 12_000 / BLOCK, &mut ());
    assert!(before.iter().any(|frame| frame[0].abs() > 0.02), "it was never said");
    bounce.controls.hush();
    let after = run(&mut bounce, 48_000 / BLOCK, &mut ());
    assert!(after[2_400..].iter().all(|frame| *frame == [0.0, 0.0]));
}

#[test]
fn without_a_voice_a_remark_is_passed_over_as_counts_are() {
    let mut bounce = Bounce::silent(RATE);
    start(&mut bounce, &drill(RESTS));
    run(&mut bounce, (TOP + 3 * BAR + 12_000) / BLOCK, &mut ());
    bounce.controls.say(said(&["on_it"]));
    let out = run(&mut bounce, 48_000 / BLOCK, &mut ());
    assert!(out.iter().all(|frame| *frame == [0.0, 0.0]));
}
