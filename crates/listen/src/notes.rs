//! When instants are a note: the same pitch, held steadily enough to have been played.

use crate::gate::{self, Look};
use crate::memory::Memory;
use crate::settled::LongLook;
use crate::track::Instant;

/// Instants of one pitch that begin a note.
const BEGIN: usize = 5;
/// Instants without its pitch that end it.
const END: usize = 8;
/// A pitch further than this from the note's, in cents, is not its own.
pub(crate) const OWN: f64 = 70.0;
/// Instants in which a note must show itself steady.
pub(crate) const STEADY: usize = 36;
/// Instants from one look at a pitch that may be told to the next.
const LOOKS: usize = 2;
/// Instants after which a pitch stands.
pub(crate) const STANDS: usize = 30;
/// By so many dB a sound rises over its slow mean that is another: no player swells so fast within a note. Found on the clips of players.
const OUTSHONE: f64 = 18.0;
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
    /// What the looks at it have told in sum; see [`gate::ENOUGH`].
    evidence: f64,
    reference: f64,
    /// The most the harmonics together have had, as a slow mean in dB, and have now.
    loudest: f64,
    level: f64,
}

impl Run {
    /// Whether so much more sounds at once that something else has begun.
    fn is_outshone(&self, instant: &Instant) -> bool {
        self.level > f64::MIN && instant.level() > self.level + OUTSHONE
    }

    fn listen(&mut self, instant: &Instant) {
        let level = instant.level();
        self.level = if self.level == f64::MIN { level } else { self.level + 0.25 * (level - self.level) };
        self.loudest = self.loudest.max(self.level);
    }
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
    long: LongLook,
    recent: [Option<Instant>; STEADY],
    at: usize,
    run: Option<Run>,
    pitches: Vec<f64>,
    sorted: Vec<f64>,
    strengths: f64,
}

pub(crate) fn cents(a: f64, b: f64) -> f64 {
    1200.0 * (a / b).log2()
}

/// The median of a short list, which is put in order.
pub(crate) fn median(list: &mut [f64]) -> f64 {
    if list.is_empty() {
        return 0.0;
    }
    let at = list.len() / 2;
    *list.select_nth_unstable_by(at, f64::total_cmp).1
}

impl Notes {
    pub(crate) fn new(lasting: Lasting, rate: f64) -> Self {
        Self {
            lasting,
            long: LongLook::new(rate),
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
    pub(crate) fn step(&mut self, instant: Instant, memory: &Memory) -> Option<Change> {
        self.recent[self.at] = Some(instant);
        self.at = (self.at + 1) % STEADY;
        let Some(mut run) = self.run else {
            self.run = self.begun();
            return None;
        };
        if run.is_outshone(&instant) {
            // what held this pitch before was not the player: the end of our own model, the room, somebody far away
            self.run = None;
            self.recent.fill(None);
            self.recent[(self.at + STEADY - 1) % STEADY] = Some(instant);
            let ended = self.sounded(run);
            return run.settled.then_some(Change::Ended(ended));
        }
        let own = instant.hz.filter(|hz| cents(*hz, run.reference).abs() <= OWN);
        run.length += 1;
        run.listen(&instant);
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
        if !run.settled && run.missed == 0 && run.length >= STEADY && run.length.is_multiple_of(LOOKS) {
            let look = Look::at(self.last(STEADY), run.reference);
            let possible = look.is_whole() && (self.lasting == Lasting::Struck || !look.dies_away(run.loudest - run.level));
            let score = if possible { look.score(self.lasting, &self.long.look(memory, run.reference)) } else { f64::NEG_INFINITY };
            run.evidence = (run.evidence + score.min(gate::MOST)).max(0.0);
            if score > gate::SURE || run.evidence > gate::ENOUGH {
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
        Some(Run { length: BEGIN, missed: 0, settled: false, evidence: 0.0, reference, loudest: f64::MIN, level: f64::MIN })
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
