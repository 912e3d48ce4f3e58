//! What is done to a recorded word: filtered, trimmed, shaped and brought to a level, as the built-in voice was.

/// Frames per second of everything here; the filters below are for this rate.
pub const RATE: u32 = 24_000;

/// Second-order sections, numerator then denominator.
type Sections<const N: usize> = [[f64; 6]; N];

/// Butterworth designs for 24 kHz, by scipy 1's `signal.butter(2, ...)`: 500 to 2000 Hz, where vowels are; below 10 Hz, for envelopes; above
/// 190 Hz, which leaves the drone's register to the drone.
pub const VOWELS: Sections<2> = [
    [0.029954582208092474, 0.05990916441618495, 0.029954582208092474, 1.0, -1.483593222056644, 0.6582736235325479],
    [1.0, -2.0, 1.0, 1.0, -1.8514153591203437, 0.8720718779575567],
];
pub const SLOW: Sections<1> =
    [[1.7103058908949044e-06, 3.420611781789809e-06, 1.7103058908949044e-06, 1.0, -1.996297601769122, 0.9963044429926857]];
const HIGH_PASS: Sections<1> =
    [[0.9654383719499213, -1.9308767438998427, 0.9654383719499213, 1.0, -1.9296818808419394, 0.9320716069577469]];

/// A shelf that lifts consonants, in decibels above this many hertz.
const PRESENCE: (f64, f64) = (4.0, 1_500.0);
/// Root mean square while speaking, in dBFS; the built-in voice's.
const LEVEL: f64 = -18.0;
/// No sample is larger: other interpolators find up to 0.2 dB more, and -1 dBFS is the bound.
const PEAK: f64 = 0.87;
/// Edges of a word: this far under its loudest 5 ms.
const EDGE: f64 = -34.0;
/// A room louder than this under a word's loudest 5 ms is taken for part of the word.
const LOUDEST_ROOM: f64 = -26.0;
/// A word's end for its beat.
pub const BODY_EDGE: f64 = -30.0;

/// So many samples.
pub fn samples(ms: f64) -> usize {
    (f64::from(RATE) * ms / 1000.0) as usize
}

pub fn decibels(ratio: f64) -> f64 {
    20.0 * ratio.max(1e-10).log10()
}

fn amplitude(db: f64) -> f64 {
    10_f64.powf(db / 20.0)
}

/// Filters in place.
pub fn filter<const N: usize>(sections: &Sections<N>, x: &mut [f64]) {
    for [b0, b1, b2, _, a1, a2] in sections {
        let (mut s1, mut s2) = (0.0, 0.0);
        for x in &mut *x {
            let y = b0 * *x + s1;
            s1 = b1 * *x - a1 * y + s2;
            s2 = b2 * *x - a2 * y;
            *x = y;
        }
    }
}

/// Filters forwards and backwards, which moves nothing in time.
pub fn filter_both_ways<const N: usize>(sections: &Sections<N>, x: &mut [f64]) {
    filter(sections, x);
    x.reverse();
    filter(sections, x);
    x.reverse();
}

/// Running root mean square over `ms`.
pub fn envelope(x: &[f64], ms: f64) -> Vec<f64> {
    let n = samples(ms).max(1);
    let mut total = Vec::with_capacity(x.len() + 1);
    total.push(0.0);
    let mut sum = 0.0;
    for x in x {
        sum += x * x;
        total.push(sum);
    }
    let at = |index: usize| {
        let (from, to) = (index.saturating_sub(n / 2), (index + n - n / 2).min(x.len()));
        ((total[to] - total[from]).max(1e-20) / n as f64).sqrt()
    };
    (0..x.len()).map(at).collect()
}

/// The quiet that `share` of an envelope does not pass.
pub fn quiet(envelope: &[f64], share: f64) -> f64 {
    let mut sorted = envelope.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get((sorted.len() as f64 * share) as usize).copied().unwrap_or(0.0)
}

/// First sample, and one past the last, whose 5 ms level is within `db` of the loudest.
pub fn edges(x: &[f64], db: f64) -> (usize, usize) {
    edges_over(x, |_, loudest| loudest * amplitude(db))
}

/// The same, but clear of the noise of the room around the word.
fn edges_in_room(x: &[f64], db: f64) -> (usize, usize) {
    // of a word that was cut tight, nothing is quiet
    edges_over(x, |level, loudest| (loudest * amplitude(db)).max((2.0 * quiet(level, 0.05)).min(loudest * amplitude(LOUDEST_ROOM))))
}

fn edges_over(x: &[f64], bound: impl Fn(&[f64], f64) -> f64) -> (usize, usize) {
    let level = envelope(x, 5.0);
    let bound = bound(&level, level.iter().copied().fold(0.0, f64::max));
    let first = level.iter().position(|level| *level > bound).unwrap_or(0);
    let last = level.iter().rposition(|level| *level > bound).map_or(x.len(), |last| last + 1);
    (first, last)
}

/// A linear rise and a softer fall.
pub fn fade(x: &mut [f64], in_ms: f64, out_ms: f64) {
    let quarter = x.len() / 4;
    let (rise, fall) = (samples(in_ms).min(quarter), samples(out_ms).min(quarter));
    for (index, x) in x.iter_mut().take(rise).enumerate() {
        *x *= index as f64 / rise as f64;
    }
    for (index, x) in x.iter_mut().rev().take(fall).enumerate() {
        *x *= (std::f64::consts::FRAC_PI_2 * index as f64 / fall as f64).sin().powi(2);
    }
}

/// Where a word begins and ends, with a little of what surrounds it. Its head is judged with the consonants lifted, or a soft f would be lost.
pub fn bounds(x: &[f64]) -> (usize, usize) {
    let mut lifted = x.to_vec();
    equalise(&mut lifted);
    let (first, _) = edges_in_room(&lifted, EDGE);
    let (_, last) = edges_in_room(x, EDGE);
    (first.saturating_sub(samples(5.0)), (last + samples(12.0)).min(x.len()))
}

/// The word alone.
pub fn trim(x: &[f64]) -> Vec<f64> {
    let (first, last) = bounds(x);
    let mut word = x.get(first..last.max(first)).unwrap_or_default().to_vec();
    fade(&mut word, 3.0, 12.0);
    word
}

/// High-pass below the voice, then a shelf of slope 1 (Bristow-Johnson's audio equaliser cookbook).
fn equalise(x: &mut [f64]) {
    filter(&HIGH_PASS, x);
    let (gain_db, hertz) = PRESENCE;
    let gain = 10_f64.powf(gain_db / 40.0);
    let w = std::f64::consts::TAU * hertz / f64::from(RATE);
    let (c, q) = (w.cos(), gain.sqrt() * w.sin() * std::f64::consts::SQRT_2);
    let (up, down) = (gain + 1.0, gain - 1.0);
    let a0 = up - down * c + q;
    let shelf = [
        gain * (up + down * c + q) / a0,
        -2.0 * gain * (down + up * c) / a0,
        gain * (up + down * c - q) / a0,
        1.0,
        2.0 * (down - up * c) / a0,
        (up - down * c - q) / a0,
    ];
    filter(&[shelf], x);
}

/// Root mean square where a word is within 20 dB of its loudest 20 ms.
pub fn speaking(x: &[f64]) -> f64 {
    let level = envelope(x, 20.0);
    let bound = 0.1 * level.iter().copied().fold(0.0, f64::max);
    let (mut sum, mut count) = (0.0, 0_u32);
    for (x, level) in x.iter().zip(&level) {
        if *level > bound {
            sum += x * x;
            count += 1;
        }
    }
    (sum / f64::from(count.max(1))).sqrt()
}

/// Equalises, halves the range of levels, so that soft consonants survive under held chords, and brings the word to the voice's level.
pub fn shape(word: &[f64]) -> Vec<f32> {
    let mut x = word.to_vec();
    equalise(&mut x);
    let level = envelope(&x, 15.0);
    let loudest = level.iter().copied().fold(1e-12, f64::max);
    for (x, level) in x.iter_mut().zip(&level) {
        *x *= (level / loudest + 1e-3).powf(-0.5).min(6.0);
    }
    let gain = amplitude(LEVEL) / speaking(&x).max(1e-9);
    x.iter_mut().for_each(|x| *x *= gain);
    duck_spikes(&mut x);
    x.into_iter().map(|x| x as f32).collect()
}

/// Ducks the bursts of d, g and l for a few milliseconds, so that they do not hold the whole word down.
fn duck_spikes(x: &mut [f64]) {
    let reach = samples(2.0);
    let wanted: Vec<f64> = x.iter().map(|x| (PEAK / x.abs().max(1e-9)).min(1.0)).collect();
    // the least gain within reach, smoothed over the same reach, is nowhere over the gain wanted
    let around = |gains: &[f64], at: usize| (at.saturating_sub(reach), (at + reach + 1).min(gains.len()));
    let least = |at: usize| {
        let (from, to) = around(&wanted, at);
        wanted[from..to].iter().copied().fold(1.0, f64::min)
    };
    let least: Vec<f64> = (0..x.len()).map(least).collect();
    for (at, x) in x.iter_mut().enumerate() {
        let (from, to) = around(&least, at);
        *x *= least[from..to].iter().sum::<f64>() / (to - from) as f64;
    }
}
