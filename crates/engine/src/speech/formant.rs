//! The voice of last resort: words put together from the resonances of a vocal tract, where no recording says them.
//!
//! It is a robot's voice and owes nothing to anyone's recording. Speaking a word takes some milliseconds and allocates: never
//! on the audio thread.

mod finish;
mod lexicon;
mod phones;
mod segments;
mod tracks;
mod tract;

pub use lexicon::{Entry, entries, entry};
pub use phones::{Manner, Phone};
pub use segments::Sound;
pub use tract::RATE;

use super::Tier;
use segments::Segment;

/// Who speaks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Speaker {
    /// The pitch it speaks around, in hertz.
    pub pitch: f64,
    /// The tract's resonances against those of the tables.
    pub size: f64,
    /// The share of each cycle in which the glottis is open.
    pub open: f64,
    /// Breath in the voice.
    pub breath: f64,
}

impl Speaker {
    /// The project's own.
    pub const USUAL: Self = Self { pitch: 118.0, size: 1.0, open: 0.58, breath: 0.02 };
}

/// A word as it was made.
#[derive(Clone, Debug)]
pub struct Utterance {
    /// Mono at [`RATE`], full scale at 1.
    pub samples: Vec<f32>,
    /// From the first sample to the perceptual attack, in milliseconds.
    pub attack_ms: f64,
    /// From the first sample to the vowel that carries the beat, in milliseconds.
    pub vowel_ms: f64,
}

/// Says a word as short as `tier` asks; nothing if the transcription has no vowel to carry a beat.
#[must_use]
pub fn say(sounds: &[Sound], beat: usize, tier: Tier, speaker: &Speaker) -> Option<Utterance> {
    let mut said = at_rate(sounds, beat, 1.0, speaker)?;
    let Some(most) = tier.longest_ms() else { return Some(said) };
    let most = finish::samples(most);
    let (mut slow, mut fast) = (1.0, 6.0);
    // a word that does not get short enough is cut
    for _ in 0..10 {
        if said.samples.len() <= most && fast - slow < 0.05 {
            break;
        }
        let rate = 0.5 * (slow + fast);
        let attempt = at_rate(sounds, beat, rate, speaker)?;
        if attempt.samples.len() <= most {
            fast = rate;
        } else {
            slow = rate;
        }
        said = attempt;
    }
    if said.samples.len() > most {
        said = at_rate(sounds, beat, fast, speaker)?;
        said.samples.truncate(most);
        let fall = finish::samples(20.0);
        for (n, sample) in said.samples.iter_mut().rev().take(fall).enumerate() {
            *sample *= n as f32 / fall as f32;
        }
    }
    Some(said)
}

fn at_rate(sounds: &[Sound], beat: usize, rate: f64, speaker: &Speaker) -> Option<Utterance> {
    let segments = segments::segments(sounds, rate);
    let times = times(sounds, &segments);
    let vowels: Vec<usize> = (0..sounds.len()).filter(|n| sounds.get(*n).is_some_and(|sound| sound.phone.manner.is_vowel())).collect();
    let carrier = *vowels.get(beat.clamp(1, vowels.len().max(1)) - 1)?;
    let onset = vowels.iter().rev().find(|vowel| **vowel < carrier).map_or(0, |before| before + 1);
    let (start, vowel) = (times.get(onset)?.0, times.get(carrier)?.0);
    let voiced = (times.get(*vowels.first()?)?.0, times.get(*vowels.last()?)?.1);
    let sound = tract::sound(&tracks::tracks(&segments, speaker, voiced), speaker);
    let (samples, kept) = finish::finish(&sound);
    let cut_ms = kept.start as f64 * 1000.0 / f64::from(RATE);
    let end = times.last()?.1;
    let within = |ms: f64| (ms - cut_ms).max(0.0);
    let attack_ms = p_centre_ms(within(start), within(vowel), within(end));
    Some(Utterance { samples, attack_ms, vowel_ms: within(vowel) })
}

/// Where each sound begins and ends, in milliseconds.
fn times(sounds: &[Sound], segments: &[Segment]) -> Vec<(f64, f64)> {
    let mut times: Vec<Option<(f64, f64)>> = vec![None; sounds.len()];
    let mut now = 0.0;
    for segment in segments {
        let end = now + segment.lasts;
        if let Some(time) = times.get_mut(segment.sound) {
            *time = Some((time.map_or(now, |(start, _)| start), end));
        }
        now = end;
    }
    times.into_iter().map(|time| time.unwrap_or((now, now))).collect()
}

/// The perceptual attack of a syllable from its start, its vowel and the word's end, all in milliseconds from the clip's
/// start: Marcus, S. M. (1981), "Acoustic determinants of perceptual center (P-center) location", Perception &
/// Psychophysics 30, coefficients from memory, written as weights; less 20 ms, which puts the beat about on the vowel.
#[must_use]
pub fn p_centre_ms(start: f64, vowel: f64, end: f64) -> f64 {
    const BIAS: f64 = -20.0;
    const LONGEST_REST: f64 = 300.0;
    (0.35 * start + 0.40 * vowel + 0.25 * end.min(vowel + LONGEST_REST) + BIAS).max(0.0)
}
