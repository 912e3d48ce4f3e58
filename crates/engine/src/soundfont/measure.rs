//! What pitch a sample has, how steady it is and how strong its harmonics are.

use realfft::RealFftPlanner;
use std::ops::Range;
use synth::sampled::PARTIALS;

/// A pitch is looked for this far from where the font puts it, in cents; further off is another note.
const REACH: f64 = 60.0;
/// What of the sound's energy must lie in the harmonics of a pitch for it to count as found.
const TRUSTED: f64 = 0.5;
/// With fewer turns than this in a loop, the next whole number of turns is out of reach anyway.
const FEW_TURNS: f64 = 10.0;
/// The part of a sample that is not looped by which it is measured, in seconds: after its attack, before it has died away.
const HEARD: Range<f64> = 0.03..0.53;
/// The most frames of a loop that are looked at whole.
const LONGEST_LOOP: usize = 1 << 20;

/// What was found in a sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Found {
    /// The pitch in hertz that it has where the font says one, or that times a power of two; nothing if there is none near.
    pub(super) hz: Option<f64>,
    /// How much lower than that its first partial lies: 1, a half or a quarter. Fonts shift samples by octaves.
    pub(super) ratio: f32,
    /// Its vibrato, rms in cents.
    pub(super) sway: f64,
    /// Amplitudes of the harmonics of its pitch, or of the pitch the font says.
    pub(super) partials: [f32; PARTIALS],
}

/// Measures `samples` of `rate` frames in a second, whose font says that they sound at `claimed` hertz.
pub(super) fn measure(samples: &[f32], rate: f64, looped: Option<Range<usize>>, claimed: f64) -> Found {
    let held = looped.and_then(|range| samples.get(range)).filter(|held| held.len() <= LONGEST_LOOP);
    let near = |ratio: f64| {
        let found = match held {
            Some(held) => in_loop(held, rate, claimed * ratio),
            None => in_spectrum(samples, rate, claimed * ratio),
        };
        Found { hz: found.hz.map(|hz| hz / ratio), ratio: ratio as f32, ..found }
    };
    let found = near(1.0);
    if found.hz.is_some() {
        return found;
    }
    [0.5, 0.25].into_iter().map(near).find(|lower| lower.hz.is_some()).unwrap_or(found)
}

/// A loop repeats for ever, so that all it holds lies on multiples of its own frequency: a pitch is a whole number of turns.
fn in_loop(held: &[f32], rate: f64, claimed: f64) -> Found {
    let bins = power(held.iter().map(|sample| f64::from(*sample)).collect());
    let own = rate / held.len() as f64;
    let guess = claimed / own;
    let turns = if guess < FEW_TURNS { guess.round().max(1.0) } else { centre(&bins, guess).round() };
    let (share, sway) = (share_in_harmonics(&bins, turns), sway(&bins, turns));
    let near = cents(turns / guess).abs() <= if guess < FEW_TURNS { 100.0 } else { REACH };
    let trusted = share >= TRUSTED && near;
    let partials = partials(&bins, if trusted { turns } else { guess });
    Found { hz: trusted.then_some(turns * own), ratio: 1.0, sway, partials }
}

/// What is not looped is measured by the peak of its strongest low harmonic.
fn in_spectrum(samples: &[f32], rate: f64, claimed: f64) -> Found {
    let range = |seconds: f64| ((seconds * rate) as usize).min(samples.len());
    let heard = samples.get(range(HEARD.start)..range(HEARD.end)).filter(|heard| heard.len() >= 512).unwrap_or(samples);
    let n = heard.len().max(1);
    let window = |i: usize| 0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / n as f64).cos();
    let size = (4 * n).next_power_of_two();
    let mut padded: Vec<f64> = heard.iter().enumerate().map(|(i, sample)| f64::from(*sample) * window(i)).collect();
    padded.resize(size, 0.0);
    // a window of this shape keeps three eighths of the power
    let scale = (size as f64 / n as f64) / 0.375;
    let bins: Vec<f64> = power(padded).into_iter().map(|power| power * scale * size as f64 / n as f64).collect();
    let own = rate / size as f64;
    let guess = claimed / own;
    let peak = |harmonic: f64| {
        let (low, high) = around(guess * harmonic, REACH);
        let top = (low..=high).filter(|bin| *bin > 0).max_by(|a, b| at(&bins, *a).total_cmp(&at(&bins, *b)))?;
        Some((interpolate(&bins, top), at(&bins, top)))
    };
    let peaks: Vec<_> = (1..=4).filter_map(|k| peak(f64::from(k)).map(|(bin, power)| (bin / f64::from(k), power))).collect();
    let loudest = peaks.iter().map(|(_, power)| *power).fold(0.0, f64::max);
    // bars and skins have no true harmonics: their first partial is their pitch if it can be heard at all
    let turns = peaks.iter().find(|(_, power)| *power > 0.01 * loudest).map_or(guess, |(bin, _)| *bin);
    let trusted = share_in_harmonics(&bins, turns) >= TRUSTED && cents(turns / guess).abs() < REACH - 5.0;
    Found { hz: trusted.then_some(turns * own), ratio: 1.0, sway: 0.0, partials: partials(&bins, if trusted { turns } else { guess }) }
}

/// Mean square in each bin.
fn power(mut samples: Vec<f64>) -> Vec<f64> {
    let n = samples.len() as f64;
    let plan = RealFftPlanner::<f64>::new().plan_fft_forward(samples.len());
    let mut bins = plan.make_output_vec();
    // a length that is the plan's own cannot be refused
    if plan.process(&mut samples, &mut bins).is_err() {
        return Vec::new();
    }
    bins.iter().map(|bin| 2.0 * bin.norm_sqr() / (n * n)).collect()
}

fn at(bins: &[f64], bin: usize) -> f64 {
    bins.get(bin).copied().unwrap_or(0.0)
}

/// The bins within some cents of a place, at least one.
fn around(place: f64, cents: f64) -> (usize, usize) {
    let reach = 2_f64.powf(cents / 1200.0);
    let (low, high) = ((place / reach).ceil() as usize, (place * reach).floor() as usize);
    if low <= high { (low, high) } else { (place.round() as usize, place.round() as usize) }
}

fn sum(bins: &[f64], place: f64, cents: f64) -> f64 {
    let (low, high) = around(place, cents);
    (low..=high).map(|bin| at(bins, bin)).sum()
}

/// The centre of power around the strongest of the first eight harmonics, as a number of turns.
fn centre(bins: &[f64], guess: f64) -> f64 {
    let strongest = (1..=8).map(f64::from).max_by(|a, b| sum(bins, guess * a, REACH).total_cmp(&sum(bins, guess * b, REACH)));
    let harmonic = strongest.unwrap_or(1.0);
    let (low, high) = around(guess * harmonic, REACH);
    let total = sum(bins, guess * harmonic, REACH).max(f64::MIN_POSITIVE);
    (low..=high).map(|bin| at(bins, bin) * bin as f64).sum::<f64>() / total / harmonic
}

/// How much of all power lies near the harmonics of a pitch: within a tenth of their distance, so that noise comes to a fifth.
fn share_in_harmonics(bins: &[f64], turns: f64) -> f64 {
    let total: f64 = bins.iter().skip(1).sum::<f64>().max(f64::MIN_POSITIVE);
    let most = ((bins.len() as f64 / turns.max(1.0)) as usize).min(4 * PARTIALS);
    let near = |harmonic: f64| {
        let place = turns * harmonic;
        let (low, high) = around(place, REACH);
        let widest = (0.1 * turns) as usize;
        let middle = place.round() as usize;
        (low.max(middle.saturating_sub(widest))..=high.min(middle + widest)).map(|bin| at(bins, bin)).sum::<f64>()
    };
    (1..=most).map(|k| near(k as f64)).sum::<f64>() / total
}

/// The spread of the strongest harmonic's power, rms in cents.
fn sway(bins: &[f64], turns: f64) -> f64 {
    let strongest = (1..=8).map(f64::from).max_by(|a, b| sum(bins, turns * a, REACH).total_cmp(&sum(bins, turns * b, REACH)));
    let place = turns * strongest.unwrap_or(1.0);
    let (low, high) = around(place, REACH);
    let total = sum(bins, place, REACH).max(f64::MIN_POSITIVE);
    let spread = (low..=high).map(|bin| at(bins, bin) * cents(bin as f64 / place).powi(2)).sum::<f64>() / total;
    spread.sqrt()
}

fn partials(bins: &[f64], turns: f64) -> [f32; PARTIALS] {
    std::array::from_fn(|k| {
        let harmonic = (k + 1) as f64;
        (2.0 * sum(bins, turns * harmonic, REACH.min(400.0 / harmonic))).sqrt() as f32
    })
}

/// The place of a peak between bins, by a parabola through the logarithms.
fn interpolate(bins: &[f64], top: usize) -> f64 {
    let log = |bin: usize| at(bins, bin).max(1e-300).ln();
    let (before, here, after) = (log(top.saturating_sub(1)), log(top), log(top + 1));
    let bend = before - 2.0 * here + after;
    let aside = if bend < 0.0 { 0.5 * (before - after) / bend } else { 0.0 };
    top as f64 + aside.clamp(-0.5, 0.5)
}

fn cents(ratio: f64) -> f64 {
    1200.0 * ratio.log2()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn tone(frames: usize, phase: impl Fn(usize) -> f64) -> Vec<f32> {
        (0..frames).map(|frame| (0.3 * (TAU * phase(frame)).sin() + 0.2 * (TAU * 2.0 * phase(frame)).sin()) as f32).collect()
    }

    #[test]
    fn a_loops_pitch_is_exact() {
        // 5 turns in 500 frames, said to be 20 cents off
        let samples = tone(500, |frame| frame as f64 * 5.0 / 500.0);
        let found = measure(&samples, 44_100.0, Some(0..500), 441.0 * 2_f64.powf(20.0 / 1200.0));
        assert_eq!(found.hz, Some(441.0));
        assert!((found.partials[0] - 0.3).abs() < 1e-4 && (found.partials[1] - 0.2).abs() < 1e-4 && found.partials[2] < 1e-4);
        assert!(found.sway < 0.01);
    }

    #[test]
    fn a_long_loop_with_vibrato_is_tuned_to_its_average() {
        // 450 turns in 45 000 frames, swaying by 15 cents up and down five times
        let (turns, frames, depth) = (450.0, 45_000.0, 15.0);
        let swing = turns * (2_f64.powf(depth / 1200.0) - 1.0) / (TAU * 5.0);
        let samples = tone(45_000, |frame| {
            let at = frame as f64 / frames;
            turns * at + swing * (TAU * 5.0 * at).sin()
        });
        let found = measure(&samples, 44_100.0, Some(0..45_000), 441.0 * 2_f64.powf(-25.0 / 1200.0));
        assert_eq!(found.hz, Some(441.0));
        // a sine's rms is its height over the root of two
        assert!((found.sway - depth / 2_f64.sqrt()).abs() < 2.0, "{}", found.sway);
    }

    #[test]
    fn what_is_not_looped_is_measured_to_a_cent() {
        for hz in [98.3, 443.7, 1_760.9] {
            let fall = |frame: usize| (-(frame as f32) / 30_000.0).exp();
            let samples: Vec<f32> =
                tone(44_100, |frame| frame as f64 * hz / 44_100.0).iter().enumerate().map(|(n, x)| x * fall(n)).collect();
            let found = measure(&samples, 44_100.0, None, hz * 2_f64.powf(-18.0 / 1200.0));
            assert!(cents(found.hz.unwrap() / hz).abs() < 0.5, "{hz}: {:?}", found.hz);
        }
    }

    #[test]
    fn noise_and_another_note_have_no_pitch_here() {
        let mut state = 1_u32;
        let mut chance = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / 8_388_608.0 - 1.0
        };
        let noise: Vec<f32> = (0..20_000).map(|_| chance()).collect();
        assert_eq!(measure(&noise, 44_100.0, None, 441.0).hz, None);
        assert_eq!(measure(&noise, 44_100.0, Some(0..20_000), 441.0).hz, None);
        let samples = tone(45_000, |frame| frame as f64 / 100.0);
        assert_eq!(measure(&samples, 44_100.0, Some(0..45_000), 441.0 * 1.5).hz, None);
    }
}
