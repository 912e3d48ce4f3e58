//! When instants are a note: the same pitch, held steadily enough to have been played.

use crate::spectrum::HARMONICS;
use crate::track::Instant;

/// Instants of one pitch that begin a note.
const BEGIN: usize = 5;
/// Instants without its pitch that end it.
const END: usize = 8;
/// A pitch further than this from the note's, in cents, is not its own.
const OWN: f64 = 70.0;
/// Instants in which a note must show itself steady.
const STEADY: usize = 36;
/// Instants after which a pitch stands.
pub(crate) const STANDS: usize = 30;
/// Pitches kept of a note: a long one is told by its last ten seconds.
const KEPT: usize = 1000;

/// What a note was, once it stood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sounded {
    /// The median pitch in Hz.
    pub(crate) hz: f64,
    /// The mean share of the sound that is the note, 0 to 1.
    pub(crate) strength: f64,
    /// The instants since it began.
    pub(crate) instants: usize,
}

/// What changes by one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Change {
    /// A pitch has held for [`STANDS`] instants: time to look for its entry. It may still be talk or a drum.
    Stands(Sounded),
    /// A note has stood long enough to be told.
    Settled(Sounded),
    /// A note that had settled is over.
    Ended(Sounded),
}

#[derive(Clone, Copy, Debug)]
struct Run {
    length: usize,
    missed: usize,
    settled: bool,
    likely: usize,
    reference: f64,
}

/// Whether sounds of this instrument last, or are struck and die away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lasting {
    /// Blown or bowed: a sound that falls is none of its own.
    Held,
    /// Struck or plucked.
    Struck,
}

/// Makes notes of instants; allocates nothing once built.
#[derive(Debug)]
pub(crate) struct Notes {
    lasting: Lasting,
    recent: [Option<Instant>; STEADY],
    at: usize,
    run: Option<Run>,
    pitches: Vec<f64>,
    sorted: Vec<f64>,
    strengths: f64,
}

fn cents(a: f64, b: f64) -> f64 {
    1200.0 * (a / b).log2()
}

/// The median of a short list, which is put in order.
fn median(list: &mut [f64]) -> f64 {
    if list.is_empty() {
        return 0.0;
    }
    let at = list.len() / 2;
    *list.select_nth_unstable_by(at, f64::total_cmp).1
}

impl Notes {
    pub(crate) fn new(lasting: Lasting) -> Self {
        Self {
            lasting,
            recent: [None; STEADY],
            at: 0,
            run: None,
            pitches: Vec::with_capacity(KEPT),
            sorted: Vec::with_capacity(KEPT),
            strengths: 0.0,
        }
    }

    /// The last `count` instants, oldest first.
    fn last(&self, count: usize) -> impl Iterator<Item = &Instant> {
        (STEADY - count..STEADY).filter_map(|n| self.recent[(self.at + n) % STEADY].as_ref())
    }

    /// Takes the next instant.
    pub(crate) fn step(&mut self, instant: Instant) -> Option<Change> {
        self.recent[self.at] = Some(instant);
        self.at = (self.at + 1) % STEADY;
        let Some(mut run) = self.run else {
            self.run = self.begun();
            return None;
        };
        let own = instant.hz.filter(|hz| cents(*hz, run.reference).abs() <= OWN);
        run.length += 1;
        if let Some(hz) = own {
            run.missed = 0;
            if self.pitches.len() == KEPT {
                self.pitches.rotate_left(1);
                self.pitches.pop();
            }
            self.pitches.push(hz);
            self.strengths += instant.strength;
            if run.length.is_multiple_of(4) {
                run.reference = self.middle(16);
            }
        } else {
            run.missed += 1;
            if run.missed == END {
                self.run = None;
                let ended = self.sounded(run);
                return run.settled.then_some(Change::Ended(ended));
            }
        }
        let mut change = None;
        if run.length == STANDS {
            change = Some(Change::Stands(self.sounded(run)));
        }
        if !run.settled && run.missed == 0 && run.length >= STEADY {
            let score = Look::at(self.last(STEADY), run.reference).score(self.lasting);
            run.likely = if score > LIKELY { run.likely + 1 } else { 0 };
            if score > SURE || run.likely >= LIKELY_FOR {
                run.settled = true;
                change = Some(Change::Settled(self.sounded(run)));
            }
        }
        self.run = Some(run);
        change
    }

    /// The note that is sounding now, if one has settled.
    pub(crate) fn sounding(&mut self) -> Option<Sounded> {
        let run = self.run.filter(|run| run.settled)?;
        Some(self.sounded(run))
    }

    fn begun(&mut self) -> Option<Run> {
        let mut list = [0.0; BEGIN];
        let mut count = 0;
        for (to, hz) in list.iter_mut().zip(self.last(BEGIN).filter_map(|instant| instant.hz)) {
            *to = hz;
            count += 1;
        }
        if count < BEGIN {
            return None;
        }
        let reference = median(&mut list);
        if list.iter().any(|hz| cents(*hz, reference).abs() > 50.0) {
            return None;
        }
        self.pitches.clear();
        self.pitches.extend_from_slice(&list);
        self.strengths = self.last(BEGIN).map(|instant| instant.strength).sum();
        Some(Run { length: BEGIN, missed: 0, settled: false, likely: 0, reference })
    }

    /// The median of the last `count` pitches of the note.
    fn middle(&mut self, count: usize) -> f64 {
        self.sorted.clear();
        self.sorted.extend_from_slice(&self.pitches[self.pitches.len().saturating_sub(count)..]);
        median(&mut self.sorted)
    }

    fn sounded(&mut self, run: Run) -> Sounded {
        // the attack and what is left of the note before do not count
        let attack = (self.pitches.len() / 4).min(10);
        let hz = self.middle(self.pitches.len() - attack);
        Sounded { hz, strength: self.strengths / self.pitches.len().max(1) as f64, instants: run.length }
    }
}

/// How steady some instants are.
#[derive(Clone, Copy, Debug)]
struct Look {
    /// Instants with the note's pitch.
    voiced: usize,
    /// From the tenth to the ninetieth part of the pitches, in cents.
    spread: f64,
    /// From the middle of the first half to that of the second, in cents.
    drift: f64,
    /// By how much the level falls from the first third to the last, in dB.
    fall: f64,
    /// How much each harmonic changes against the others within a tenth of a second, in dB.
    flicker: f64,
    strength: f64,
}

impl Look {
    fn at<'a>(instants: impl Iterator<Item = &'a Instant>, reference: f64) -> Self {
        let mut pitches = [0.0; STEADY];
        let mut shapes = [[0.0_f64; HARMONICS]; STEADY];
        let mut levels = [0.0; STEADY];
        let (mut count, mut strength) = (0, 0.0);
        for instant in instants {
            let Some(off) = instant.hz.map(|hz| cents(hz, reference)).filter(|off| off.abs() <= OWN) else { continue };
            pitches[count] = off;
            let sum: f32 = instant.harmonics.iter().sum::<f32>().max(1e-20);
            levels[count] = 10.0 * f64::from(sum).log10();
            for (to, power) in shapes[count].iter_mut().zip(instant.harmonics) {
                *to = 10.0 * f64::from((power / sum).max(1e-4)).log10();
            }
            strength += instant.strength;
            count += 1;
        }
        let third = count / 3;
        let mean = |list: &[f64]| list.iter().sum::<f64>() / list.len().max(1) as f64;
        let fall = mean(&levels[..third]) - mean(&levels[count - third..count]);
        let (mut change, mut weight) = (0.0, 1e-9);
        const APART: usize = 8;
        for n in APART..count {
            for (before, after) in shapes[n - APART].iter().zip(&shapes[n]) {
                let counts = 10.0_f64.powf(before.max(*after) / 20.0);
                change += counts * (after - before).abs();
                weight += counts;
            }
        }
        let (first, second) = pitches[..count].split_at_mut(count / 2);
        let drift = median(second) - median(first);
        let pitches = &mut pitches[..count];
        pitches.sort_unstable_by(f64::total_cmp);
        let part = |share: f64| if count == 0 { 0.0 } else { pitches[((count - 1) as f64 * share).round() as usize] };
        Self {
            voiced: count,
            spread: part(0.9) - part(0.1),
            drift,
            fall,
            flicker: change / weight,
            strength: strength / count.max(1) as f64,
        }
    }

    /// The logarithm of how many times likelier a played note is than talk, a drum or a chair: a logistic
    /// regression on players (seeds 1, 2, 4, 5, 6 of `benches/listening/clips.py`) against talk, drums and clutter (seed 1).
    fn score(&self, lasting: Lasting) -> f64 {
        if self.voiced + 2 < STEADY || (lasting == Lasting::Held && self.fall > FALL) {
            return f64::NEG_INFINITY;
        }
        let figures = [
            (self.spread.max(STILLEST.0) + 3.0).ln(),
            (self.drift.abs().max(STILLEST.1) + 2.0).ln(),
            self.fall.clamp(-10.0, FALL),
            (self.flicker.max(STILLEST.2) + 0.3).ln(),
            self.strength,
        ];
        let mut weights = GATE.iter();
        let mut weigh = |figure: f64| weights.next().map_or(0.0, |weight| weight * figure);
        let lines: f64 = figures.iter().map(|figure| weigh(*figure)).sum();
        let squares: f64 =
            (0..figures.len()).flat_map(|i| (i..figures.len()).map(move |j| (i, j))).map(|(i, j)| weigh(figures[i] * figures[j])).sum();
        GATE_BASE + lines + squares
    }
}

/// A blown note that falls by more dB than this within [`STEADY`] is dying away, as what is struck does.
const FALL: f64 = 3.5;
/// The score from which a note is told at once.
const SURE: f64 = 6.0;
/// The score which must last for [`LIKELY_FOR`] instants: a note in much noise.
const LIKELY: f64 = 2.0;
const LIKELY_FOR: usize = 25;
/// Spread, drift and flicker under which no player comes; a machine that does counts as this still.
const STILLEST: (f64, f64, f64) = (9.0, 2.0, 0.6);
/// Weights of the five figures and of their products, two by two.
const GATE: [f64; 20] = [
    18.7825, 3.2494, -0.948, 3.2787, 14.91, -3.2796, -0.595, -0.0525, -1.4307, 0.2962, -0.0063, -0.054, 0.2904, -3.2286, -0.0793, 0.3849,
    0.4613, -2.8228, -1.1275, 10.9642,
];
const GATE_BASE: f64 = -31.2516;
