//! One pitch through the candidates of instant after instant: the path that costs least so far, looking back only.

use crate::periods::{CANDIDATES, Candidates, OCTAVE_COST};

/// What silence gains in an instant: candidates weaker than this are taken for none.
const SILENCE: f64 = 0.17;
/// What it costs to go from one pitch to another.
const LEAP: f64 = 0.30;
/// What it costs to begin or to end.
const EDGE: f64 = 0.07;
/// Pitches no further apart than this, in octaves, are the same note going on.
const SAME: f64 = 0.6 / 12.0;

#[derive(Clone, Copy, Debug)]
struct Path {
    octave: f64,
    score: f64,
}

/// The best paths up to now, one for each candidate and one for silence.
#[derive(Debug)]
pub(crate) struct Follower {
    paths: [Path; CANDIDATES],
    count: usize,
    silent: f64,
}

impl Follower {
    pub(crate) const fn new() -> Self {
        Self { paths: [Path { octave: 0.0, score: 0.0 }; CANDIDATES], count: 0, silent: 0.0 }
    }

    /// Goes on by one instant; tells which of its candidates the best path ends in, if in any.
    pub(crate) fn step(&mut self, candidates: &Candidates) -> Option<usize> {
        let before = &self.paths[..self.count];
        let mut next = [Path { octave: 0.0, score: 0.0 }; CANDIDATES];
        for (to, candidate) in next.iter_mut().zip(candidates.as_slice()) {
            let octave = candidate.hz.log2();
            let reached = before.iter().map(|path| path.score - leap(path.octave, octave)).fold(self.silent - EDGE, f64::max);
            *to = Path { octave, score: reached + candidate.score + OCTAVE_COST * (octave - MIDDLE) };
        }
        let ended = before.iter().map(|path| path.score - EDGE).fold(self.silent, f64::max);
        self.count = candidates.as_slice().len();
        self.paths = next;
        self.silent = ended + SILENCE;
        let best = (0..self.count).max_by(|a, b| next[*a].score.total_cmp(&next[*b].score));
        let top = best.map_or(self.silent, |at| next[at].score.max(self.silent));
        for path in &mut self.paths[..self.count] {
            path.score -= top;
        }
        self.silent -= top;
        best.filter(|at| self.paths[*at].score >= self.silent)
    }
}

/// Octaves above 1 Hz of a pitch that gains or loses nothing by its octave.
const MIDDLE: f64 = 8.0;

fn leap(from: f64, to: f64) -> f64 {
    let apart = (from - to).abs();
    if apart <= SAME { 0.3 * apart / SAME * LEAP } else { LEAP }
}
