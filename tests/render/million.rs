//! A day of sounds on their exact frames: a million and more. The sequencer alone runs with the other tests; the renderer with all its sound,
//! in some five minutes, by `cargo test --release --test tests render::million -- --ignored --nocapture`.

use super::{RATE, clips, drill, start};
use engine::{Bounce, LaidSound, Observer, Score};
use sequencer::cursor::{LaidBar, Step};
use sequencer::plan::Follow;
use sequencer::{Cue, Cursor};
use std::sync::Arc;
use synth::{BLOCK, Bus, Stems};
use units::{Beats, FrameInstant};

/// Tenths of a beat a minute: no whole number of frames to anything.
const TEMPO: u128 = 1_637;
const DAY: u64 = 24 * 3600;

/// A drill of one bar in which everybody plays, and which goes on for ever.
fn endless() -> Arc<Score> {
    let text = "version = 1\ntitle = \"Day\"\ntempo = 163.7\nrounds = 2\ngroups = [[\"Horns\", \"Flutes\", \"Tubas\"]]\n[line]\n\
                Horns = { written = \"G4:1 E4:1/3 -:1/3 C4:1/3 E4:1.5 G4:1/2\" }\nFlutes = { written = \"C5:1 D5:1/7 E5:6/7 C5:2\" }\n\
                Tubas = { written = \"C3:1/2 D3:1/2 E3:1 C3:2\" }\n[[turn]]\nmodel = {}\n";
    let mut score = (*drill(text)).clone();
    let last = score.plan.bars.last_mut().unwrap();
    last.follow = Follow::Jump(0);
    Arc::new(score)
}

/// The frame nearest to a moment `beats` after frame `first`, by whole numbers alone.
fn exact(first: u64, beats: Beats) -> u64 {
    let upper = beats.numerator() as u128 * 600 * u128::from(RATE.hz());
    let lower = beats.denominator() as u128 * TEMPO;
    first + ((2 * upper + lower) / (2 * lower)) as u64
}

/// Holds every sound to its frame as it comes.
#[derive(Default)]
struct Exact {
    first: Option<u64>,
    bars: i64,
    sounds: u64,
    /// Clicks to be listened for.
    clicks: std::collections::VecDeque<u64>,
}

impl Exact {
    fn hold(&mut self, at: FrameInstant, beat: Beats) {
        let first = self.first.expect("a bar came first");
        assert_eq!(at.0, exact(first, Beats::whole(4 * (self.bars - 1)) + beat), "sound {} in bar {}", self.sounds, self.bars);
        self.sounds += 1;
    }
}

impl Observer for Exact {
    fn bar(&mut self, _score: &Score, bar: &LaidBar) {
        self.first.get_or_insert(bar.start.0);
        self.bars += 1;
    }

    fn sound(&mut self, _bar: &LaidBar, sound: &LaidSound) {
        match *sound {
            LaidSound::Word { at, beat, .. } | LaidSound::Breath { at, beat, .. } => self.hold(at, beat),
            // a tone's end is as exact as its start
            LaidSound::Tone { at, beat, .. } => self.hold(at, beat),
            LaidSound::Click { at, beat, .. } => {
                self.hold(at, beat);
                self.clicks.push_back(at.0);
            }
        }
    }
}

#[test]
fn a_million_sounds_in_a_day_are_laid_on_their_frames() {
    let score = endless();
    let plan = &score.plan;
    let mut cursor = Cursor::new(plan, RATE);
    let mut exact = Exact::default();
    cursor.cue(plan, Cue::Go, FrameInstant::ZERO);
    let mut now = FrameInstant::ZERO;
    while now.0 < DAY * u64::from(RATE.hz()) {
        while let Some(step) = cursor.step(plan, now) {
            let Step::Bar(bar) = step else { panic!("it stops") };
            exact.bar(&score, &bar);
            for sound in plan.sounds_of(plan.bar(bar.index).unwrap()) {
                exact.hold(bar.frame_of(sound.beat), sound.beat);
            }
        }
        now.0 += BLOCK as u64;
    }
    println!("{} sounds in {} bars of 24 hours", exact.sounds, exact.bars);
    assert!(exact.sounds > 1_000_000, "{} sounds", exact.sounds);
}

/// Renders for `seconds`; every click is silent in front of its frame and sounds on it.
fn rendered(seconds: u64) -> Exact {
    let mut bounce = Bounce::new(RATE, clips());
    let mut exact = Exact::default();
    let mut stems = Stems::new();
    start(&mut bounce, &endless());
    let mut heard = 0_u64;
    while bounce.now().0 < seconds * u64::from(RATE.hz()) {
        let block = bounce.now().0;
        bounce.block(&mut exact, Some(&mut stems), |_| {});
        while let Some(click) = exact.clicks.front().copied().filter(|click| *click < block + BLOCK as u64) {
            exact.clicks.pop_front();
            let stem = stems.get(Bus::Click);
            let at = (click - block) as usize;
            assert!(at == 0 || stem[at - 1] == 0.0, "the click at {click} is early");
            assert!(at > BLOCK - 3 || stem[at..at + 3].iter().any(|sample| *sample != 0.0), "the click at {click} is late");
            heard += 1;
        }
    }
    println!("{} sounds rendered in {} bars of {seconds} s, {heard} clicks heard on their frames", exact.sounds, exact.bars);
    assert!(heard as f64 > 0.99 * seconds as f64 * TEMPO as f64 / 600.0);
    exact
}

#[test]
fn sounds_are_heard_on_their_frames() {
    assert!(rendered(120).sounds > 1_300);
}

#[test]
#[ignore = "renders a whole day: a release build takes some five minutes"]
fn a_million_sounds_in_a_day_are_rendered_on_their_frames() {
    assert!(rendered(DAY).sounds > 1_000_000);
}
