//! Whole renderings, measured: what the class would hear.

mod attacks;
mod contract;
mod cues;
mod devices;
mod drums;
mod hearing;
pub(crate) mod held;
mod lesson;
mod levels;
mod loudness;
mod million;
mod phases;
mod remarks;
mod repeat;
mod sent;
mod soak;
mod timing;
mod two_voices;
mod whims;

use book::DrillFile;
use engine::journal::Recipe;
use engine::listing::{Line, Lister, Listing};
use engine::speech::Pack;
use engine::{Bounce, Observer, Score};
use sequencer::{ClimbSettings, Piece, Plan, RecheckSettings, Room};
use std::convert::Infallible;
use std::sync::{Arc, OnceLock};
use synth::{Bus, ClipBank, Stems};
use units::SampleRate;

pub(crate) const RATE: SampleRate = SampleRate::DEFAULT;

pub(crate) fn pack() -> &'static Pack {
    static PACK: OnceLock<Pack> = OnceLock::new();
    PACK.get_or_init(|| Pack::builtin().unwrap())
}

pub(crate) fn clips() -> Arc<ClipBank> {
    static CLIPS: OnceLock<Arc<ClipBank>> = OnceLock::new();
    Arc::clone(CLIPS.get_or_init(|| Arc::new(ClipBank::new(pack().decode(RATE).unwrap()))))
}

pub(crate) fn room() -> Room {
    book::demo::room()
}

pub(crate) fn score(plan: Plan) -> Arc<Score> {
    Arc::new(Score::new(plan, &room(), pack(), RATE))
}

/// A drill file's text, compiled for the demo room.
pub(crate) fn drill(text: &str) -> Arc<Score> {
    score(book::read_drill("test.toml", text).unwrap().compile(&room()).unwrap())
}

/// Demo drill number `index`.
pub(crate) fn demo(index: usize) -> DrillFile {
    book::demo::drills().swap_remove(index)
}

/// Demo drill number `index`, each group going through it once.
pub(crate) fn demo_once(index: usize) -> Arc<Score> {
    let drill = sequencer::Drill { rounds: 1, ..demo(index).drill };
    score(sequencer::compile::drill(&room(), &drill).unwrap())
}

/// Eight bars to climb on.
pub(crate) fn march() -> Piece {
    Piece::bare("Lantern March".to_owned(), units::Tempo::new(152.0).unwrap(), sequencer::Meter::COMMON, 8)
}

/// One plan of every kind.
pub(crate) fn every_kind() -> Vec<Arc<Score>> {
    let room = room();
    let drill = demo(0);
    let mut plans: Vec<Plan> = book::demo::drills().iter().map(|drill| drill.compile(&room).unwrap()).collect();
    let horns = room.find("Horns").unwrap();
    plans.push(drill.roll(&room, horns).unwrap());
    plans.push(drill.in_turn(&room).unwrap());
    plans.push(sequencer::compile::landmarks(&room, horns).unwrap());
    plans.push(sequencer::compile::in_turn(&room, "Bb3".parse().unwrap()).unwrap());
    let march = march();
    plans.push(sequencer::compile::climb(&room, &march, &march.whole(), &ClimbSettings::default()).unwrap());
    plans.push(sequencer::compile::recheck(&room, &march, &march.whole(), &RecheckSettings::default()).unwrap());
    plans.push(sequencer::compile::hold(&room, &room.drone, None).unwrap());
    plans.push(sequencer::compile::hold(&room, &room.drone, Some(0.1)).unwrap());
    plans.push(sequencer::compile::talk(&room, "Collect practice sheets").unwrap());
    plans.into_iter().map(score).collect()
}

/// The memory this program has resident, in KiB (proc_pid_statm(5), pages of 4 KiB).
#[cfg(target_os = "linux")]
pub(crate) fn resident() -> u64 {
    let pages = std::fs::read_to_string("/proc/self/statm").unwrap();
    pages.split_whitespace().nth(1).unwrap().parse::<u64>().unwrap() * 4
}

#[cfg(not(target_os = "linux"))]
pub(crate) fn resident() -> u64 {
    0
}

/// A rendering from top to end with its listing and its stems.
pub(crate) struct Rendering {
    pub(crate) out: Vec<[f32; 2]>,
    pub(crate) listing: Listing,
    /// Per bus; sample `n` is frame `n`. A bus that never sounds is left empty.
    stems: Vec<Vec<f32>>,
}

impl Rendering {
    pub(crate) fn of(score: &Arc<Score>) -> Self {
        Self::with(score, clips())
    }

    /// With another voice's clips.
    pub(crate) fn with(score: &Arc<Score>, clips: Arc<ClipBank>) -> Self {
        let room = room();
        let mut lister = Lister::new(&room);
        let mut bounce = Bounce::new(RATE, clips);
        let mut stems = Stems::new();
        let mut kept: Vec<Vec<f32>> = Bus::all().map(|_| Vec::new()).collect();
        let mut out = Vec::new();
        let mut blocks = 0;
        let _: Result<(), Infallible> = bounce.play(score, &mut lister, Some(&mut stems), |frames, stems| {
            out.extend_from_slice(frames);
            if let Some(stems) = stems {
                for (kept, bus) in kept.iter_mut().zip(Bus::all()) {
                    let block = stems.get(bus);
                    if !kept.is_empty() || block.iter().any(|sample| *sample != 0.0) {
                        kept.resize(blocks * synth::BLOCK, 0.0);
                        kept.extend_from_slice(block);
                    }
                }
            }
            blocks += 1;
            Ok(())
        });
        let frames = out.len() as u64;
        for stem in kept.iter_mut().filter(|stem| !stem.is_empty()) {
            stem.resize(blocks * synth::BLOCK, 0.0);
        }
        Self { out, listing: lister.finish(score, RATE, frames), stems: kept }
    }

    pub(crate) fn stem(&self, bus: Bus) -> &[f32] {
        &self.stems[bus.index()]
    }

    /// Whether nothing sounds on `bus` in these frames.
    pub(crate) fn is_silent(&self, bus: Bus, frames: std::ops::Range<u64>) -> bool {
        let stem = self.stem(bus);
        stem.is_empty() || stem[frames.start as usize..frames.end as usize].iter().all(|sample| *sample == 0.0)
    }

    pub(crate) fn lines<'a>(&'a self, kind: &'a str) -> impl Iterator<Item = &'a Line> {
        self.listing.cues.iter().filter(move |line| line.kind == kind)
    }

    /// The stem of the section called `name`.
    pub(crate) fn section(&self, name: &str) -> &[f32] {
        self.stem(Bus::Section(room().find(name).unwrap().0))
    }
}

/// Loads `score` and presses `go`.
pub(crate) fn start(bounce: &mut Bounce, score: &Arc<Score>) {
    bounce.controls.load(Arc::clone(score), None, Recipe::default());
    bounce.controls.cue(sequencer::Cue::Go);
}

/// Renders `blocks` blocks.
pub(crate) fn run(bounce: &mut Bounce, blocks: usize, observer: &mut impl Observer) -> Vec<[f32; 2]> {
    let mut out = Vec::with_capacity(blocks * synth::BLOCK);
    for _ in 0..blocks {
        bounce.block(observer, None, |frames| out.extend_from_slice(frames));
    }
    out
}

/// The frequency of the strongest tone near `guess` in `signal`, by the slope of its phase (least squares over overlapping windows).
/// Shares nothing with the code that made the sound.
pub(crate) fn frequency(signal: &[f32], guess: f64) -> f64 {
    frequency_at(f64::from(RATE.hz()), signal, guess)
}

/// The same for a signal at `rate`.
fn frequency_at(rate: f64, signal: &[f32], guess: f64) -> f64 {
    // windows of whole periods keep the other harmonics out
    let window = (((rate * 0.06) * guess / rate).round() * rate / guess).round() as usize;
    let hop = window / 4;
    let mut phases = Vec::new();
    let mut start = 0;
    while start + window <= signal.len() {
        let (mut re, mut im) = (0.0_f64, 0.0_f64);
        for (offset, sample) in signal[start..start + window].iter().enumerate() {
            let hann = 0.5 - 0.5 * (std::f64::consts::TAU * offset as f64 / window as f64).cos();
            let turn = std::f64::consts::TAU * guess * (start + offset) as f64 / rate;
            re += f64::from(*sample) * hann * turn.cos();
            im -= f64::from(*sample) * hann * turn.sin();
        }
        phases.push(((start + window / 2) as f64 / rate, im.atan2(re)));
        start += hop;
    }
    assert!(phases.len() > 4, "too short to measure");
    for index in 1..phases.len() {
        let turns = ((phases[index].1 - phases[index - 1].1) / std::f64::consts::TAU).round();
        for phase in &mut phases[index..] {
            phase.1 -= turns * std::f64::consts::TAU;
        }
    }
    let count = phases.len() as f64;
    let (mean_t, mean_p) = (phases.iter().map(|p| p.0).sum::<f64>() / count, phases.iter().map(|p| p.1).sum::<f64>() / count);
    let slope =
        phases.iter().map(|p| (p.0 - mean_t) * (p.1 - mean_p)).sum::<f64>() / phases.iter().map(|p| (p.0 - mean_t).powi(2)).sum::<f64>();
    guess + slope / std::f64::consts::TAU
}

/// The largest step from sample to sample in either channel.
pub(crate) fn largest_step(frames: &[[f32; 2]]) -> f32 {
    frames.windows(2).flat_map(|pair| [(pair[1][0] - pair[0][0]).abs(), (pair[1][1] - pair[0][1]).abs()]).fold(0.0, f32::max)
}

/// A drill in which everyone plays for many bars.
pub(crate) const LONG: &str = "version = 1\ntitle = \"Long\"\ntempo = 132\nrounds = 40\n[line]\nall = { concert = \"F4:1 G4:1 F4:2\" }\n\
                               [[turn]]\ncount = { bars = 1 }\n[[turn]]\nmodel = {}\n[[turn]]\necho = {}\n";
