//! Words said quicker than they were spoken, their pitch kept.

use super::signal::{fade, samples};

/// Shortens `word` to `length` samples: WSOLA with overlapped windows of 22 ms, each from where it follows the last one best, within 6 ms. Never
/// stretches.
#[must_use]
pub fn shorten(word: &[f64], length: usize) -> Vec<f64> {
    if word.len() <= length || length == 0 {
        return word.to_vec();
    }
    let window = samples(22.0) / 2 * 2;
    let (hop, search) = (window / 2, samples(6.0));
    let taper: Vec<f64> = (0..window).map(|n| 0.5 - 0.5 * (std::f64::consts::TAU * n as f64 / window as f64).cos()).collect();
    // places count from the start of the word and may lie this far outside it
    let pad = window + search;
    let mut padded = vec![0.0; pad];
    padded.extend_from_slice(word);
    padded.resize(word.len() + 3 * pad, 0.0);
    let at = |place: i64| padded.get((place + pad as i64).max(0) as usize..).unwrap_or(&[]);
    let mut out = vec![0.0; length + 2 * window];
    let mut weight = vec![0.0; out.len()];
    let ratio = word.len() as f64 / length as f64;
    let mut chosen: Option<i64> = None;
    for k in 0..=(length + hop) / hop {
        let place = k as i64 * hop as i64 - hop as i64;
        let want = if place > 0 { (place as f64 * ratio).round() as i64 } else { place }.min(word.len() as i64);
        let best = chosen.map_or(want, |chosen| {
            let follow = at(chosen + hop as i64).get(..window).unwrap_or(&[]);
            let (low, high) = ((want - search as i64).max(-(pad as i64)), (want + search as i64).min((word.len() + window) as i64));
            best_follower(follow, &at, low, high)
        });
        let from = at(best);
        for (n, taper) in taper.iter().enumerate() {
            out[k * hop + n] += taper * from.get(n).copied().unwrap_or(0.0);
            weight[k * hop + n] += taper;
        }
        chosen = Some(best);
    }
    let mut short: Vec<f64> = out.iter().zip(&weight).skip(hop).take(length).map(|(out, weight)| out / weight.max(1e-3)).collect();
    fade(&mut short, 2.0, 10.0);
    short
}

/// The place from `low` to `high` whose samples are most like `follow`.
fn best_follower<'a>(follow: &[f64], at: &impl Fn(i64) -> &'a [f64], low: i64, high: i64) -> i64 {
    let mut best = (f64::MIN, low);
    for place in low..=high {
        let Some(here) = at(place).get(..follow.len()) else { break };
        let (mut match_, mut power) = (0.0, 0.0);
        for (a, b) in here.iter().zip(follow) {
            match_ += a * b;
            power += a * a;
        }
        let score = match_ / power.max(1e-9).sqrt();
        if score > best.0 + 1e-9 {
            best = (score, place);
        }
    }
    best.1
}
