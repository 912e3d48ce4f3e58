//! A section playing one note together: what share of it sat on which of the candidates, and how it came in.

use anyhow::Context;
use engine::recording::Recording;
use listen::section::entries::{Entries, SectionEntries};
use listen::{Section, Series, Shares};
use pitch::{Family, Instrument, Tuning, Written};
use schemars::JsonSchema;
use serde::Serialize;
use std::ops::Range;
use units::{Cents, FrameInstant, Hertz, SampleRate};

use super::{HearArgs, read_through, rounded};
use crate::cli::exit::Usage;
use crate::hearing::{self, ALL_BEGUN, COMES_IN};
use crate::text::ear;

/// A block this far under the loudest is before or after the note.
const QUIET: f32 = 0.2;
/// The first of a section came in where the loudness has risen so far from the quietest block to the loudest.
const RISES: f32 = 0.25;
/// How long a section is listened to for its entries after the beat, or after the first of them came in, in seconds.
const CAME_IN: f64 = 1.5;
/// Where the middle of a section's rise lies when it comes in on the beat, in seconds after it.
const RISEN: f64 = 0.06;
/// By how much more the spread is in doubt where the beat is found from the sound alone: the standard deviation, in milliseconds, of what was then
/// told beside what the beat tells, over 235 generated sections.
const UNTIMED_MS: f64 = 9.0;
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
    /// The share that lies on none of the candidates: of the sound, or of a woodwind section's heads.
    pub elsewhere: f64,
    /// How likely it is that the majority is the largest group, 0 to 1.
    pub confidence: f64,
    /// How close the players came in, in a word: `together`, `loose` or `ragged`. Nothing, as in the other fields of the onset, where the
    /// recording holds too little around it.
    pub onset: Option<String>,
    /// The standard deviation of the players' entries, in milliseconds.
    pub onset_spread_ms: Option<f64>,
    /// In two of three cases the true spread lies no further than this from the one told.
    pub onset_spread_doubt_ms: Option<f64>,
    /// The players' mean entry after the beat (negative: before it), in milliseconds; nothing where the beat is unknown.
    pub onset_mean_ms: Option<f64>,
    /// In two of three cases the true mean lies no further than this from the one told.
    pub onset_mean_doubt_ms: Option<f64>,
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

/// How a section came in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Onset {
    pub(super) entries: Entries,
    /// Whether it is known where the beat lies.
    pub(super) beat_known: bool,
}

impl SectionOutput {
    /// What `shares` say, where `names` has the name of every partial; nothing if they say nothing.
    pub(super) fn of(players: Option<u8>, shares: &Shares, names: &[(Written, u8)], onset: Option<Onset>) -> Option<Self> {
        let name = |partial: u8| names.iter().find(|(_, own)| *own == partial).map(|(written, _)| written.to_string()).unwrap_or_default();
        let largest = shares.largest()?;
        let ms = |value: f64| rounded(value, 1e1);
        let mean = onset.filter(|onset| onset.beat_known).map(|onset| onset.entries);
        let entries = onset.map(|onset| onset.entries);
        Some(Self {
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
            onset: entries.map(|entries| ear::together(entries.word).to_lowercase()),
            onset_spread_ms: entries.map(|entries| ms(entries.spread_ms)),
            onset_spread_doubt_ms: entries.map(|entries| ms(entries.doubt_ms)),
            onset_mean_ms: mean.map(|entries| ms(entries.mean_ms)),
            onset_mean_doubt_ms: mean.map(|entries| ms(entries.mean_doubt_ms)),
        })
    }

    /// The share on `written`, 0 to 1, if it is one of the notes.
    pub(super) fn share_on(&self, written: Written) -> Option<f64> {
        let on = |share: &&ShareOutput| share.written.parse().is_ok_and(|own: Written| own.semitone() == written.semitone());
        self.shares.iter().find(on).map(|share| share.share)
    }

    /// The note with the largest group beside `target`, if anybody is on it.
    pub(super) fn astray(&self, target: &str) -> Option<&ShareOutput> {
        let others = self.shares.iter().filter(|share| share.written != target && share.share >= 0.005);
        others.max_by(|a, b| a.share.total_cmp(&b.share))
    }

    /// How it came in, in a sentence; nothing where that is not known.
    pub(super) fn came(&self) -> Option<String> {
        let (word, spread, doubt) = (self.onset.as_deref()?, self.onset_spread_ms?, self.onset_spread_doubt_ms?);
        let mean = self.onset_mean_ms.zip(self.onset_mean_doubt_ms).map(|(mean, doubt)| {
            let side = if mean < 0.0 { "before" } else { "after" };
            format!("; {:.0} ms {side} the beat, give or take {doubt:.0}", mean.abs())
        });
        Some(format!("{word}: {spread:.0} ms apart, give or take {doubt:.0}{}", mean.unwrap_or_default()))
    }
}

pub(super) fn shares(recording: &mut Recording, args: &HearArgs, instrument: &'static Instrument) -> anyhow::Result<SectionOutput> {
    let rate = recording.rate();
    let tuning = Tuning { reference: args.reference, ..Tuning::default() };
    let (series, names) = series(instrument, &tuning, &args.candidates)?;
    let players = args.section.filter(|players| *players > 0);
    let (first, together) = together(recording);
    let beat = args.at.map(|at| FrameInstant((at * f64::from(rate.hz())).round() as u64));
    let mut section = Section::new(series, players, rate);
    let mut entries = OnsetEar::new(beat.unwrap_or(FrameInstant(first as u64)), rate);
    // a second time, so that an hour of it is never in memory at once
    let mut at = 0;
    read_through(&mut Recording::open(&args.file)?, |block| {
        let here = |frame: usize| frame.clamp(at, at + block.len()) - at;
        section.hear(block.get(here(together.start)..here(together.end)).unwrap_or_default());
        entries.hear(block.get(here(entries.span.start)..here(entries.span.end)).unwrap_or_default());
        at += block.len();
    });
    let unheard = || {
        let what = format!("no section is to be heard in {}", args.file.display());
        format!("{what}; it takes 0.8 s of all playing one note together, not too far from the microphone")
    };
    let shares = section.shares().with_context(unheard)?;
    SectionOutput::of(players, &shares, &names, entries.told(beat.is_some())).with_context(unheard)
}

/// Listens for entries around one moment of a recording.
struct OnsetEar {
    entries: SectionEntries,
    around: FrameInstant,
    rate: SampleRate,
    /// The frames to be heard.
    span: Range<usize>,
}

impl OnsetEar {
    fn new(around: FrameInstant, rate: SampleRate) -> Self {
        let from = around.back(rate.span(2.0 * COMES_IN));
        let mut entries = SectionEntries::new(rate);
        entries.resume(from);
        Self { entries, around, rate, span: from.0 as usize..(around + rate.span(CAME_IN)).0 as usize }
    }

    fn hear(&mut self, block: &[f32]) {
        self.entries.hear(block);
    }

    /// How the section came in; where the beat is unknown, as if its rise lay where that of a section on the beat does.
    fn told(mut self, beat_known: bool) -> Option<Onset> {
        if !beat_known {
            let (middle, _) = self.entries.numbers(self.around)?;
            let off = self.rate.span((middle - RISEN).abs());
            self.around = if middle < RISEN { self.around.back(off) } else { self.around + off };
        }
        let mut entries = self.entries.told(self.around)?;
        if !beat_known {
            entries.doubt_ms = entries.doubt_ms.hypot(UNTIMED_MS);
        }
        Some(Onset { entries, beat_known })
    }
}

/// When the first came in, and the stretch in which all play: from a moment after that to the last loud block; all of it if that is too
/// short. Reads all of the recording.
fn together(recording: &mut Recording) -> (usize, Range<usize>) {
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
    // in a noisy room all of it is loud by that measure; the last block may not be full
    let quietest = loudness.iter().rev().skip(1).copied().fold(f32::MAX, f32::min).sqrt().min(loudest);
    let risen = |energy: &f32| energy.sqrt() > quietest + RISES * (loudest - quietest);
    let first = loudness.iter().position(risen).unwrap_or(0) * length;
    let to = loudness.iter().rposition(loud).map_or(0, |last| (last + 1) * length).min(frames);
    (first, if from < to { from..to } else { 0..frames })
}

/// The series that the candidates are partials of, and each with its partial.
fn series(instrument: &'static Instrument, tuning: &Tuning, candidates: &[Written]) -> anyhow::Result<(Series, Vec<(Written, u8)>)> {
    let hertz = |written: &Written| tuning.frequency(instrument.sounding(*written));
    let first = candidates.first().ok_or_else(|| Usage::error("no candidates are named", "write --candidates C4,G4,C5"))?;
    let around = hearing::series(instrument, tuning, *first);
    if instrument.family() == Family::Woodwind {
        return overblown(instrument, around, candidates);
    }
    if let Some(around) = around.filter(|_| candidates.len() == 1) {
        return Ok(around);
    }
    let own = instrument.fingering(*first).map(|fingering| fingering.partial);
    for partial in own.into_iter().chain(1..=8) {
        let fundamental = Hertz::new(hertz(first).hz() / f64::from(partial))?;
        let placed: Vec<(Written, u8)> =
            candidates.iter().filter_map(|written| Some((*written, on(fundamental, hertz(written))?))).collect();
        if placed.len() == candidates.len() && placed.len() > 1 {
            let partials: Vec<u8> = placed.iter().map(|(_, partial)| *partial).collect();
            return Ok((Series::new(fundamental, &partials), placed));
        }
    }
    Err(not_one_fingering(candidates, "name notes that differ by the partial alone, such as C4,G4,C5"))
}

fn not_one_fingering(candidates: &[Written], mend: &str) -> anyhow::Error {
    let names: Vec<String> = candidates.iter().map(ToString::to_string).collect();
    let are = if names.len() == 1 { "is alone and has no neighbours" } else { "are not notes" };
    Usage::error(format!("{} {are} of one fingering", names.join(", ")), mend)
}

/// The series of a woodwind's first candidate, `around`, if all of them are on it.
fn overblown(
    instrument: &'static Instrument,
    around: Option<(Series, Vec<(Written, u8)>)>,
    candidates: &[Written],
) -> anyhow::Result<(Series, Vec<(Written, u8)>)> {
    let Some((series, names)) = around else {
        let first = candidates.first().map(ToString::to_string).unwrap_or_default();
        let high = instrument.overblown_up_to().unwrap_or(instrument.full().high());
        return Err(Usage::error(
            format!("{first} is not in the first two registers of \"{}\"", instrument.label()),
            format!("name a written note from {} to {high}", instrument.full().low()),
        ));
    };
    if candidates.iter().any(|written| names.iter().all(|(name, _)| name.semitone() != written.semitone())) {
        let own: Vec<String> = names.iter().map(|(name, _)| name.to_string()).collect();
        return Err(not_one_fingering(candidates, &format!("name the note that was asked for; its neighbours are {}", own.join(", "))));
    }
    Ok((series, names))
}

/// Which partial over `fundamental` a note is, if it is one.
fn on(fundamental: Hertz, note: Hertz) -> Option<u8> {
    let ratio = note.hz() / fundamental.hz();
    let partial = ratio.round();
    let off = Cents(1200.0 * (ratio / partial.max(1.0)).log2());
    ((1.0..=16.0).contains(&partial) && off.0.abs() <= OFF.0).then_some(partial as u8)
}
