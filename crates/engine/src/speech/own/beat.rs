//! Where in a recorded word its beat falls.

use super::signal::{BODY_EDGE, RATE, SLOW, VOWELS, edges, filter_both_ways, samples};

/// Seconds added to every beat: puts it about on the vowel's onset. The built-in voice's own choice.
const BIAS: f64 = -0.020;
/// Seconds of the rest of a word that count.
const REST: f64 = 0.30;

/// A word's beat and the onset of its vowel, in milliseconds from the word's first sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beat {
    /// The perceptual attack, what sits on the beat.
    pub p_centre_ms: f64,
    /// Where the vowel begins.
    pub vowel_ms: f64,
}

/// The beat of syllable number `syllable` (from 1) of a trimmed word at [`RATE`].
///
/// The rule is Marcus's (1981, "Acoustic determinants of perceptual center (P-center) location"; coefficients from memory), written as weights
/// on syllable start, vowel onset and end. The vowel onset is the middle of the rise from 10 to 90 % of the rectified 500 to 2000 Hz band under
/// 10 Hz, both ways (Scott 1993; Cummins and Port 1998).
#[must_use]
pub fn beat(word: &[f64], syllable: usize) -> Beat {
    let band = vowel_band(word);
    let peaks = peaks(&band, if syllable <= 1 { 0.35 } else { 0.3 });
    let k = syllable.max(1).min(peaks.len()) - 1;
    let top = peaks[k];
    let low = if k == 0 { 0 } else { lowest(&band, peaks[k - 1], top) };
    let rise = band.get(low..=top).unwrap_or(&[]);
    let height = rise.last().copied().unwrap_or(0.0);
    let ninety = rise.iter().position(|level| *level > 0.9 * height).unwrap_or(0);
    let ten = rise.iter().take(ninety + 1).rposition(|level| *level < 0.1 * height).map_or(0, |at| at + 1);
    let vowel = low as f64 + (ten + ninety) as f64 / 2.0;
    let start = if k == 0 { edges(word, -34.0).0 } else { low } as f64;
    let rate = f64::from(RATE);
    let end = (edges(word, BODY_EDGE).1 as f64).min(vowel + REST * rate);
    let p_centre = (0.35 * start + 0.40 * vowel + 0.25 * end) / rate + BIAS;
    Beat { p_centre_ms: p_centre.max(0.0) * 1000.0, vowel_ms: vowel / rate * 1000.0 }
}

/// How strongly vowels sound, over time.
fn vowel_band(word: &[f64]) -> Vec<f64> {
    let pad = samples(250.0);
    let mut x = vec![0.0; pad];
    x.extend_from_slice(word);
    x.resize(word.len() + 2 * pad, 0.0);
    filter_both_ways(&VOWELS, &mut x);
    x.iter_mut().for_each(|x| *x = x.abs());
    filter_both_ways(&SLOW, &mut x);
    x.iter().skip(pad).take(word.len()).map(|x| x.max(0.0)).collect()
}

/// The syllables' peaks: maxima with a real dip between. Never empty.
fn peaks(band: &[f64], share: f64) -> Vec<usize> {
    let highest = band.iter().copied().fold(0.0, f64::max);
    let mut found: Vec<usize> = Vec::new();
    for (at, three) in band.windows(3).enumerate() {
        let [before, here, after] = three else { continue };
        let at = at + 1;
        if here >= before && here > after && *here > share * highest {
            match found.last_mut() {
                Some(last) if band[lowest(band, *last, at)] > 0.75 * band[*last].min(*here) => {
                    if *here > band[*last] {
                        *last = at;
                    }
                }
                _ => found.push(at),
            }
        }
    }
    if found.is_empty() {
        found.push(band.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(at, _)| at));
    }
    found
}

fn lowest(band: &[f64], from: usize, to: usize) -> usize {
    let dip = band.get(from..to).unwrap_or(&[]).iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1));
    from + dip.map_or(0, |(at, _)| at)
}
