//! A section playing one note together: what share of it sat on which of the candidates.

use anyhow::Context;
use engine::recording::Recording;
use listen::{Section, Series};
use pitch::{Instrument, Tuning, Written};
use schemars::JsonSchema;
use serde::Serialize;
use std::ops::Range;
use units::{Cents, Hertz};

use super::{HearArgs, read_through, rounded};
use crate::cli::exit::Usage;
use crate::hearing;

/// A block this far under the loudest is before or after the note.
const QUIET: f32 = 0.2;
/// How long after the first of them came in all have begun, in seconds.
const ALL_BEGUN: f64 = 0.35;
/// The longest block whose loudness is looked at, in seconds.
const LOOK: f64 = 0.05;
/// How far the candidates may lie off the series of one fundamental: the fifth partial is 14 cents off the equal scale.
const OFF: Cents = Cents(16.0);

/// Who sat where.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SectionOutput {
    /// How many players were counted; nothing if nobody counted.
    pub players: Option<u8>,
    /// The share of each candidate.
    pub shares: Vec<ShareOutput>,
    /// The candidate that most likely has the largest group.
    pub majority: String,
    /// How far the section's mean tuning lies above (negative: below) the notes.
    pub cents: f64,
    /// The share of the sound that lies on none of the candidates.
    pub elsewhere: f64,
    /// How likely it is that the majority is the largest group, 0 to 1.
    pub confidence: f64,
}

/// The share of one candidate.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ShareOutput {
    /// The note as it is read.
    pub written: String,
    /// Which partial of the series it is.
    pub partial: u8,
    /// The share of the section on it, 0 to 1.
    pub share: f64,
    /// It is at least that, in nine of ten cases.
    pub least: f64,
    /// It is at most that, in nine of ten cases.
    pub most: f64,
}

pub(super) fn shares(recording: &mut Recording, args: &HearArgs, instrument: &'static Instrument) -> anyhow::Result<SectionOutput> {
    let rate = recording.rate();
    let tuning = Tuning { reference: args.reference, ..Tuning::default() };
    let (series, names) = series(instrument, &tuning, &args.candidates)?;
    let players = args.section.filter(|players| *players > 0);
    let together = together(recording);
    let mut section = Section::new(series, players, rate);
    // a second time, so that an hour of it is never in memory at once
    let mut at = 0;
    read_through(&mut Recording::open(&args.file)?, |block| {
        let here = |frame: usize| frame.clamp(at, at + block.len()) - at;
        section.hear(block.get(here(together.start)..here(together.end)).unwrap_or_default());
        at += block.len();
    });
    let unheard = || {
        let what = format!("no section is to be heard in {}", args.file.display());
        format!("{what}; it takes 0.8 s of all playing one note together, not too far from the microphone")
    };
    let shares = section.shares().with_context(unheard)?;
    let name = |partial: u8| names.iter().find(|(_, own)| *own == partial).map(|(written, _)| written.to_string()).unwrap_or_default();
    let largest = shares.largest().with_context(unheard)?;
    let output = SectionOutput {
        players,
        shares: shares
            .as_slice()
            .iter()
            .map(|share| ShareOutput {
                written: name(share.partial),
                partial: share.partial,
                share: rounded(share.share, 1e3),
                least: rounded(share.bounds.0, 1e3),
                most: rounded(share.bounds.1, 1e3),
            })
            .collect(),
        majority: name(largest.partial),
        cents: rounded(shares.tuning.0, 1e1),
        elsewhere: rounded(shares.elsewhere, 1e3),
        confidence: rounded(largest.leads, 1e3),
    };
    Ok(output)
}

/// The stretch in which all play: from a moment after the first came in to the last loud block; all of it if that is too short. Reads all of
/// the recording.
fn together(recording: &mut Recording) -> Range<usize> {
    let rate = recording.rate();
    let length = (rate.span(LOOK).0 as usize).max(1);
    let mut loudness = vec![0.0];
    let mut filled = 0;
    read_through(recording, |block| {
        for sample in block {
            if filled == length {
                loudness.push(0.0);
                filled = 0;
            }
            filled += 1;
            if let Some(energy) = loudness.last_mut() {
                *energy += sample * sample;
            }
        }
    });
    let frames = recording.frames() as usize;
    let loudest = loudness.iter().copied().fold(0.0, f32::max).sqrt();
    let loud = |energy: &f32| energy.sqrt() > QUIET * loudest;
    let from = loudness.iter().position(loud).unwrap_or(0) * length + rate.span(ALL_BEGUN).0 as usize;
    let to = loudness.iter().rposition(loud).map_or(0, |last| (last + 1) * length).min(frames);
    if from < to { from..to } else { 0..frames }
}

/// The series that the candidates are partials of, and each with its partial.
fn series(instrument: &'static Instrument, tuning: &Tuning, candidates: &[Written]) -> anyhow::Result<(Series, Vec<(Written, u8)>)> {
    let hertz = |written: &Written| tuning.frequency(instrument.sounding(*written));
    let first = candidates.first().ok_or_else(|| Usage::error("no candidates are named", "write --candidates C4,G4,C5"))?;
    if candidates.len() == 1
        && let Some(around) = hearing::series(instrument, tuning, *first)
    {
        return Ok(around);
    }
    let own = instrument.fingering(*first).map(|fingering| fingering.partial);
    for partial in own.into_iter().chain(1..=8) {
        let fundamental = Hertz::new(hertz(first).hz() / f64::from(partial))?;
        let placed: Vec<(Written, u8)> =
            candidates.iter().filter_map(|written| Some((*written, on(fundamental, hertz(written))?))).collect();
        if placed.len() == candidates.len() {
            let partials: Vec<u8> = placed.iter().map(|(_, partial)| *partial).collect();
            return Ok((Series::new(fundamental, &partials), placed));
        }
    }
    let names: Vec<String> = candidates.iter().map(ToString::to_string).collect();
    Err(Usage::error(
        format!("{} are not notes of one fingering", names.join(", ")),
        "name notes that differ by the partial alone, such as C4,G4,C5",
    ))
}

/// Which partial over `fundamental` a note is, if it is one.
fn on(fundamental: Hertz, note: Hertz) -> Option<u8> {
    let ratio = note.hz() / fundamental.hz();
    let partial = ratio.round();
    let off = Cents(1200.0 * (ratio / partial.max(1.0)).log2());
    ((1.0..=16.0).contains(&partial) && off.0.abs() <= OFF.0).then_some(partial as u8)
}
