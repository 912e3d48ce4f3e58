//! Drums without a pitch take the rhythm of a line: on its frames, with the others, and nothing of theirs pretends to be a note.

use super::{RATE, clips, pack};
use assert_no_alloc::{assert_no_alloc, violation_count};
use engine::listing::Lister;
use engine::{Bounce, Score};
use sequencer::Cue;
use std::sync::Arc;
use synth::{Bus, Stems};

const ROOM: &str = r#"version = 1
name = "Room 12"
[[section]]
name = "Flutes"
instrument = "flute"
seats = 3
[[section]]
name = "Snares"
instrument = "snare drum"
seats = 2
[[section]]
name = "Bass drum"
instrument = "bass drum"
seats = 1
"#;
const DRILL: &str = r#"version = 1
title = "Rhythm"
tempo = 60
meter = "4/4"
groups = [["all"]]
click = false
call = false
[line]
all = { concert = "Bb4:1 C5:1/2 Bb4:1/2 -:1 Bb4:1" }
"Bass drum" = { written = "C3:2 C3:2" }
[[turn]]
model = {}
"#;

fn score() -> (sequencer::Room, Arc<Score>) {
    let room = book::read_room("room.toml", ROOM).unwrap();
    let plan = book::read_drill("drill.toml", DRILL).unwrap().compile(&room).unwrap();
    let score = Arc::new(Score::new(plan, &room, pack(), RATE));
    (room, score)
}

#[test]
fn a_drum_plays_the_rhythm_of_a_line_and_no_pitch() {
    let (room, score) = score();
    let mut lister = Lister::new(&room);
    let mut stems = Stems::new();
    let mut heard = [Vec::new(), Vec::new(), Vec::new()];
    let mut frames = 0;
    let played: Result<(), ()> = Bounce::new(RATE, clips()).play(&score, &mut lister, Some(&mut stems), |block, stems| {
        frames += block.len() as u64;
        for (section, heard) in heard.iter_mut().enumerate() {
            heard.extend_from_slice(stems.unwrap().get(Bus::Section(section as u8)));
        }
        Ok(())
    });
    played.unwrap();
    let listing = lister.finish(&score, RATE, frames);
    let lines = |name: &str| {
        let of = |line: &&engine::listing::Line| line.kind == "tone" && line.section.as_deref() == Some(name);
        listing.cues.iter().filter(of).cloned().collect::<Vec<_>>()
    };
    let (flutes, snares, bass) = (lines("Flutes"), lines("Snares"), lines("Bass drum"));
    assert_eq!(snares.iter().map(|line| line.at).collect::<Vec<_>>(), flutes.iter().map(|line| line.at).collect::<Vec<_>>());
    assert_eq!((snares.len(), bass.len()), (4, 2));
    assert!(snares.iter().chain(&bass).all(|line| line.written.is_none() && line.concert.is_none() && line.hz.is_none()));
    assert!(flutes.iter().all(|line| line.hz.is_some()));
    // every stroke begins on its frame: silence up to it, or the end of the stroke before, and a rise after
    for line in &snares {
        let at = line.at as usize;
        let energy = |range: std::ops::Range<usize>| heard[1][range].iter().map(|sample| sample * sample).sum::<f32>();
        assert!(energy(at..at + 480) > 20.0 * energy(at - 480..at), "stroke at {at}");
    }
    let first = heard[2].iter().position(|sample| sample.abs() > 1e-9).unwrap() as u64;
    assert!((bass[0].at..bass[0].at + 3).contains(&first), "{first}, not {}", bass[0].at);
}

#[test]
fn a_concert_pitch_in_turn_passes_the_drums_by() {
    let room = book::read_room("room.toml", ROOM).unwrap();
    let plan = sequencer::compile::in_turn(&room, "Bb3".parse().unwrap()).unwrap();
    let labels: Vec<&str> = plan.stations.iter().map(|station| station.label.as_str()).collect();
    assert_eq!(labels, ["Flutes"]);
    let drill = book::read_drill("drill.toml", DRILL).unwrap();
    assert_eq!(drill.in_turn(&room).unwrap().stations.len(), 3);
}

#[test]
fn a_drum_allocates_nothing() {
    let (_, score) = score();
    let (mut controls, mut renderer) = engine::pair(RATE);
    controls.load(score, None, engine::journal::Recipe::default());
    controls.cue(Cue::Go);
    let mut out = vec![0.0; 960];
    let before = violation_count();
    for _ in 0..500 {
        assert_no_alloc(|| renderer.fill(&mut out, 2));
    }
    assert_eq!(violation_count(), before);
}

#[test]
fn what_only_pitches_have_is_refused_for_a_drum() {
    let text = ROOM.replace("seats = 1", "seats = 1\nlandmarks = [\"C5\"]\ncomfortable = \"C4..C5\"");
    let faults = book::read_room("room.toml", &text).unwrap_err().to_string();
    assert!(faults.contains("the bass drum has no pitch, so no landmarks") && faults.contains("so no comfortable"), "{faults}");
}
