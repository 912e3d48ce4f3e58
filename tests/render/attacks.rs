//! Spoken counts have their beat on the beat, by a method that knows nothing of the voice's tables.
//!
//! A word's beat follows from its sound by Marcus's rule (1981, "Acoustic determinants of perceptual center (P-center) location",
//! Perception & Psychophysics 30; coefficients from memory): 0.35 of the syllable's start, 0.40 of its vowel's onset and 0.25 of its end,
//! at most 0.30 s after the vowel, less a constant that puts it about on the vowel. The vowel's onset is the middle of the rise from 10 to
//! 90 % of the rectified 500-2000 Hz band under 10 Hz, both ways (Scott 1993; Cummins and Port 1998). `assets-synth/voice/attack.py` is the
//! same in Python, for every clip of every pack.

use super::{RATE, Rendering, room};
use engine::Score;
use engine::speech::library;
use std::collections::HashMap;
use std::sync::Arc;
use synth::{Bus, ClipBank};

/// What an attack may be off the beat.
const ALLOWED_MS: f64 = 5.0;
/// Butterworth design for 48 kHz by scipy's `signal.butter(2, ...)`: 500 to 2000 Hz.
const VOWELS: [[f64; 5]; 2] = [
    [0.008442692929079947, 0.016885385858159893, 0.008442692929079947, -1.762851183195071, 0.8108069121897432],
    [1.0, -2.0, 1.0, -1.9289648511187962, 0.934312390644185],
];
fn frames(seconds: f64) -> usize {
    (seconds * f64::from(RATE.hz())) as usize
}

/// Butterworth low-pass of second order, by the bilinear transform.
fn low_pass(hz: f64) -> [f64; 5] {
    let k = (std::f64::consts::PI * hz / f64::from(RATE.hz())).tan();
    let norm = 1.0 / (1.0 + std::f64::consts::SQRT_2 * k + k * k);
    let gain = k * k * norm;
    [gain, 2.0 * gain, gain, 2.0 * (k * k - 1.0) * norm, (1.0 - std::f64::consts::SQRT_2 * k + k * k) * norm]
}

fn both_ways(sections: &[[f64; 5]], x: &mut [f64]) {
    for _ in 0..2 {
        for [b0, b1, b2, a1, a2] in sections {
            let (mut x1, mut x2, mut y1, mut y2) = (0.0, 0.0, 0.0, 0.0);
            for sample in x.iter_mut() {
                let y = b0 * *sample + b1 * x1 + b2 * x2 - a1 * y1 - a2 * y2;
                (x2, x1, y2, y1) = (x1, *sample, y1, y);
                *sample = y;
            }
        }
        x.reverse();
    }
}

/// First frame within 34 dB of the loudest 5 ms, and the last within 30 dB.
fn edges(word: &[f64]) -> (usize, usize) {
    let half = frames(0.0025);
    let level: Vec<f64> = (0..word.len())
        .map(|at| {
            let near = &word[at.saturating_sub(half)..(at + half).min(word.len())];
            (near.iter().map(|x| x * x).sum::<f64>() / (2 * half) as f64).sqrt()
        })
        .collect();
    let loudest = level.iter().copied().fold(0.0, f64::max);
    let over = |db: f64| move |level: &f64| *level > loudest * 10_f64.powf(db / 20.0);
    (level.iter().position(over(-34.0)).unwrap(), level.iter().rposition(over(-30.0)).unwrap() + 1)
}

/// The beat of `word` in seconds from its first frame; of several syllables, the one whose vowel begins near `about` seconds, in a clip
/// shortened to `scale`.
fn p_centre(word: &[f64], about: Option<f64>, later: bool, scale: f64) -> f64 {
    let pad = frames(0.25);
    let mut band = vec![0.0; pad];
    band.extend_from_slice(word);
    band.resize(word.len() + 2 * pad, 0.0);
    both_ways(&VOWELS, &mut band);
    band.iter_mut().for_each(|x| *x = x.abs());
    // a word made shorter has its syllables closer by as much: the low-pass must still tell them apart
    both_ways(&[low_pass(if later { 10.0 / scale } else { 10.0 })], &mut band);
    let (mut start, end) = edges(word);
    let (low, high) = match about {
        Some(about) => (pad as i64 + frames(about) as i64 - frames(0.10 * scale) as i64, pad + frames(about + 0.15 * scale)),
        None => (0, band.len()),
    };
    let mut low = low.max(0) as usize;
    if let Some(about) = about.filter(|_| later) {
        // from the dip before its own peak: the syllable before must not be taken for it
        let near = pad + frames((about - 0.03 * scale).max(0.0));
        low = (near..high).max_by(|a, b| band[*a].total_cmp(&band[*b])).unwrap();
        while low > 0 && band[low - 1] < band[low] {
            low -= 1;
        }
        start = start.max(low.saturating_sub(pad));
    }
    let part = &band[low..high.min(band.len())];
    let highest = part.iter().copied().fold(0.0, f64::max);
    let mut peak = part.iter().position(|x| *x > 0.5 * highest).unwrap();
    while peak + 1 < part.len() && part[peak + 1] >= part[peak] {
        peak += 1;
    }
    let top = part[..=peak].iter().position(|x| *x >= 0.9 * part[peak]).unwrap();
    let lowest = || part[..=top].iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1)).unwrap().0;
    let foot = part[..=top].iter().rposition(|x| *x < 0.1 * part[peak]).unwrap_or_else(lowest);
    let hz = f64::from(RATE.hz());
    let vowel = (low as f64 + (foot + top) as f64 / 2.0 - pad as f64) / hz;
    (0.35 * start as f64 / hz + 0.40 * vowel + 0.25 * (end as f64 / hz).min(vowel + 0.30) - 0.020).max(0.0)
}

/// About where the vowel that carries the beat begins in each natural clip, in seconds: which syllable of several is meant.
fn vowels(voice: &str) -> HashMap<String, f64> {
    let table = std::fs::read_to_string(format!("{}/assets-synth/voice/packs/{voice}/align.tsv", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let fields = table.lines().map(|line| line.split('\t').collect::<Vec<_>>());
    fields
        .filter(|fields| fields.get(3) == Some(&"F"))
        .map(|fields| (fields[0].to_owned(), fields[6].parse::<f64>().unwrap() / 1000.0))
        .collect()
}

/// The syllable that carries the beat of counts that have several, from 1. One of one syllable needs no hint of where its beat is.
fn syllable(voice: &str, word: &str) -> Option<usize> {
    match (voice, word) {
        ("en-slt", "eleven") => Some(2),
        ("en-slt", "seven") => Some(1),
        ("es-formant", "two" | "three" | "six" | "ten") => None,
        ("es-formant", _) => Some(1),
        _ => None,
    }
}

#[test]
fn every_count_has_its_beat_on_the_beat_in_every_length() {
    for voice in library::built_in() {
        let pack = library::find(Some(voice), None).pack;
        let clips = Arc::new(ClipBank::new(pack.decode(RATE).unwrap()));
        let vowels = vowels(voice);
        let (mut measured, mut worst, mut lengths) = (0, 0.0_f64, std::collections::BTreeSet::new());
        // from the natural length to the shortest
        for tempo in [66, 132, 180, 240] {
            let text = format!(
                "version = 1\ntitle = \"Counting\"\ntempo = {tempo}\nmeter = \"12/8 in 12\"\nrounds = 2\nclick = false\n[line]\n\
                 all = {{ concert = \"-:12\" }}\n[[turn]]\ncount = {{ bars = 1 }}\n[[turn]]\necho = {{}}\n"
            );
            let plan = book::read_drill("counting.toml", &text).unwrap().compile(&room()).unwrap();
            let rendering = Rendering::with(&Arc::new(Score::new(plan, &room(), &pack, RATE)), Arc::clone(&clips));
            let stem = rendering.stem(Bus::Voice);
            for line in rendering.lines("word") {
                let (id, start) = (line.word.unwrap(), line.start.unwrap());
                let word: Vec<f64> = stem[start as usize..line.end as usize].iter().map(|sample| f64::from(*sample)).collect();
                let meant = (line.at - start) as f64 / f64::from(RATE.hz());
                let natural = pack.word(pack.index_of(id).unwrap()).tiers[0].unwrap().duration_ms / 1000.0;
                let scale = (word.len() as f64 / f64::from(RATE.hz()) / natural).min(1.0);
                let syllable = syllable(voice, id);
                let found = p_centre(&word, syllable.map(|_| vowels[id] * scale), syllable.is_some_and(|syllable| syllable > 1), scale);
                let off = (found - meant) * 1000.0;
                assert!(off.abs() <= ALLOWED_MS, "{voice} at {tempo}: the beat of \"{id}\" lies {off:+.1} ms off");
                worst = worst.max(off.abs());
                lengths.insert((id, word.len()));
                measured += 1;
            }
        }
        println!("{voice}: {measured} counts, worst {worst:.2} ms");
        assert_eq!(measured, 4 * 2 * 12);
        assert!(lengths.len() > 30, "{} lengths of twelve words", lengths.len());
    }
}

/// The method sees a word that is put off by what it allows and a little more.
#[test]
fn a_late_word_is_seen() {
    let hum = |n: usize| (n as f64 * 700.0 * std::f64::consts::TAU / f64::from(RATE.hz())).sin() * 0.3;
    let word: Vec<f64> = (0..frames(0.3)).map(|n| if n < frames(0.02) { 0.0 } else { hum(n) }).collect();
    let late = frames(ALLOWED_MS / 1000.0 + 0.001);
    let mut later = vec![0.0; late];
    later.extend(&word);
    let moved = (p_centre(&later, None, false, 1.0) - p_centre(&word, None, false, 1.0)) * 1000.0;
    assert!((moved - 6.0).abs() < 0.2, "{moved} ms");
}
