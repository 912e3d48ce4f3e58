//! Words out of one take: cut where it is silent.

use super::signal::{RATE, envelope, quiet, samples};
use std::ops::Range;

/// The shortest silence between two words, in milliseconds.
pub const SILENCE_MS: f64 = 400.0;
/// The shortest word; what is shorter is a knock.
const SHORTEST_MS: f64 = 60.0;
/// How much of the silence around a word goes with it, at most.
const ROOM_MS: f64 = 150.0;
/// A word is this much louder than the room, and no softer than this under the loudest.
const OVER_ROOM: f64 = 4.0;
const UNDER_LOUDEST: f64 = 0.02;
/// A take whose loudest 10 ms are under this holds no words: -50 dBFS.
const NOTHING: f64 = 0.003;

/// The words of a take at [`RATE`], in order, each with some of the silence around it.
#[must_use]
pub fn words(take: &[f64]) -> Vec<Range<usize>> {
    let level = envelope(take, 10.0);
    let loudest = level.iter().copied().fold(0.0, f64::max);
    if loudest < NOTHING {
        return Vec::new();
    }
    let bound = (OVER_ROOM * quiet(&level, 0.1)).clamp(UNDER_LOUDEST * loudest, 0.25 * loudest);
    let mut sounds: Vec<Range<usize>> = Vec::new();
    for at in level.iter().enumerate().filter(|(_, level)| **level > bound).map(|(at, _)| at) {
        match sounds.last_mut() {
            Some(last) if at - last.end < samples(SILENCE_MS) => last.end = at + 1,
            _ => sounds.push(at..at + 1),
        }
    }
    sounds.retain(|sound| sound.len() >= samples(SHORTEST_MS));
    let room = samples(ROOM_MS);
    sounds.iter().map(|sound| sound.start.saturating_sub(room)..(sound.end + room).min(take.len())).collect()
}

/// Which of `words` was said to which prompt: prompt number n was shown at `shown[n]`, in samples, and stood until the next. Each prompt has the
/// longest word that began in its time.
#[must_use]
pub fn by_prompt(words: &[Range<usize>], shown: &[usize]) -> Vec<Option<Range<usize>>> {
    // people who know what comes are a little early
    let early = samples(ROOM_MS) + samples(100.0);
    let mut said: Vec<Option<Range<usize>>> = vec![None; shown.len()];
    for word in words {
        let Some(prompt) = shown.iter().rposition(|shown| word.start + early >= *shown) else { continue };
        if let Some(slot) = said.get_mut(prompt).filter(|slot| slot.as_ref().is_none_or(|other| other.len() < word.len())) {
            *slot = Some(word.clone());
        }
    }
    said
}

/// Seconds of a place in a take.
#[must_use]
pub fn seconds(at: usize) -> f64 {
    at as f64 / f64::from(RATE)
}
