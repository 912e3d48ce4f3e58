//! Two voices a fourth apart can be told apart by a listener that knows nothing of them.

use super::{RATE, room};
use pitch::Tuning;
use realfft::RealFftPlanner;
use sequencer::Section;
use synth::{BLOCK, Band, Bus, ClipBank, Timbre, Tone};
use units::{FrameInstant, Gain, Hertz};

/// A reading of several pitches at once, by A. Klapuri, "Multiple fundamental frequency estimation by summing harmonic amplitudes",
/// Proc. ISMIR 2006, in its iterative form: the spectrum is whitened, the pitch whose harmonics weigh most is taken, its harmonics are
/// taken out, and again.
mod listener {
    use super::*;

    /// Samples looked at, and bins of the spectrum of them and as many zeros.
    const WINDOW: usize = 16384;
    const FFT: usize = 2 * WINDOW;
    const LOWEST: f64 = 40.0;
    const HIGHEST: f64 = 3200.0;
    const HARMONICS: u32 = 20;

    fn hz(bin: f64) -> f64 {
        bin * f64::from(RATE.hz()) / FFT as f64
    }

    fn bin(hz: f64) -> f64 {
        hz * FFT as f64 / f64::from(RATE.hz())
    }

    /// The magnitudes of the Hann-windowed sound.
    fn spectrum(sound: &[f32]) -> Vec<f64> {
        let mut input = vec![0.0; FFT];
        for (index, (place, sample)) in input.iter_mut().zip(&sound[..WINDOW]).enumerate() {
            *place = f64::from(*sample) * (0.5 - 0.5 * (std::f64::consts::TAU * index as f64 / WINDOW as f64).cos());
        }
        let plan = RealFftPlanner::<f64>::new().plan_fft_forward(FFT);
        let mut output = plan.make_output_vec();
        plan.process(&mut input, &mut output).unwrap();
        output.iter().map(|bin| bin.norm()).collect()
    }

    /// The paper's whitening: the level in critical bands, whose centres lie at 229 (10^((b + 1) / 21.4) - 1) Hz, to the power of
    /// 0.33 - 1, joined by straight lines.
    fn whiten(spectrum: &mut [f64]) {
        let centre = |band: i32| 229.0 * (10_f64.powf(f64::from(band + 1) / 21.4) - 1.0);
        let bands: Vec<(f64, f64)> = (1..=30)
            .map(|band| {
                let (from, middle, to) = (centre(band - 1), centre(band), centre(band + 1));
                let weight = |hz: f64| if hz < middle { (hz - from) / (middle - from) } else { (to - hz) / (to - middle) };
                let bins = (bin(from).ceil() as usize)..=(bin(to) as usize);
                let power: f64 = bins.map(|bin| weight(hz(bin as f64)).max(0.0) * spectrum[bin].powi(2)).sum();
                (middle, (power / FFT as f64).sqrt().max(1e-9).powf(0.33 - 1.0))
            })
            .collect();
        for (index, value) in spectrum.iter_mut().enumerate() {
            let hz = hz(index as f64);
            let after = bands.iter().position(|(middle, _)| *middle > hz);
            let factor = match after {
                Some(0) => bands[0].1,
                Some(after) => {
                    let ((from, one), (to, other)) = (bands[after - 1], bands[after]);
                    one + (other - one) * (hz - from) / (to - from)
                }
                None => 0.0,
            };
            *value *= factor;
        }
    }

    /// The paper's weight of a harmonic, for windows of 93 ms and more.
    fn weight(pitch: f64, harmonic: u32) -> f64 {
        (pitch + 52.0) / (f64::from(harmonic) * pitch + 320.0)
    }

    /// The bin with the most near the harmonic, within half a window's resolution.
    fn harmonic(spectrum: &[f64], pitch: f64, harmonic: u32) -> usize {
        let middle = bin(pitch * f64::from(harmonic)).round() as usize;
        (middle - 2..=middle + 2).max_by(|a, b| spectrum[*a].total_cmp(&spectrum[*b])).unwrap_or(middle)
    }

    fn harmonics(pitch: f64) -> impl Iterator<Item = u32> {
        (1..=HARMONICS).take_while(move |harmonic| pitch * f64::from(*harmonic) < 7000.0)
    }

    fn salience(spectrum: &[f64], pitch: f64) -> f64 {
        harmonics(pitch).map(|number| weight(pitch, number) * spectrum[harmonic(spectrum, pitch, number)]).sum()
    }

    /// The `count` pitches heard most in `sound`.
    pub(super) fn pitches(sound: &[f32], count: usize) -> Vec<f64> {
        let mut left = spectrum(sound);
        whiten(&mut left);
        let mut found = Vec::new();
        for _ in 0..count {
            let steps = (1200.0 * (HIGHEST / LOWEST).log2() / 5.0) as u32;
            let tried = (0..steps).map(|step| LOWEST * 2_f64.powf(f64::from(step) / 240.0));
            let best = tried.map(|pitch| (salience(&left, pitch), pitch)).fold((0.0, 0.0), |a, b| if b.0 > a.0 { b } else { a }).1;
            found.push(best);
            // a harmonic is taken out whole, as the hump a window makes: the paper leaves a share, which a second reading may take for a pitch
            for number in harmonics(best) {
                let top = harmonic(&left, best, number);
                let level = left[top];
                let hump = 2 * FFT / WINDOW;
                for (bin, value) in left.iter_mut().enumerate().skip(top - hump).take(2 * hump + 1) {
                    let x = (bin as f64 - top as f64) / hump as f64;
                    *value = (*value - level * (0.5 + 0.5 * (std::f64::consts::PI * x).cos())).max(0.0);
                }
            }
        }
        found
    }
}

/// Whether `note` may be asked of the section, and how far from its comfortable notes it lies, in semitones.
fn reach(section: &Section, note: i32) -> i32 {
    let sounding = |written| section.instrument.sounding(written).semitone();
    let (low, high) = (sounding(section.comfortable.low()), sounding(section.comfortable.high()));
    (low - note).max(note - high).max(0)
}

/// A second of the two sections' voices, the one on `low`, the other a fourth over it, both on their places in the room, as two ears hear them.
fn model(sections: [(u8, &Section); 2], low: i32) -> ([Vec<f32>; 2], [f64; 2]) {
    let key = pitch::Key::default();
    let mut band = Band::new(RATE);
    let mut frequencies = [0.0; 2];
    for ((number, section), (place, note)) in sections.into_iter().zip(frequencies.iter_mut().zip([low, low + 5])) {
        let frequency: Hertz = Tuning::default().frequency(pitch::Concert::new(key.spell(note)));
        *place = frequency.hz();
        let timbre = Timbre::for_instrument(section.instrument.id()).unwrap();
        let (start, end) = (FrameInstant::ZERO, FrameInstant(u64::from(RATE.hz())));
        band.tone(Tone { timbre, frequency, start, end, level: Gain::UNITY, bus: Bus::Section(number), slide: None });
    }
    let mut ears = [Vec::new(), Vec::new()];
    for start in (0..u64::from(RATE.hz())).step_by(BLOCK) {
        let mut block = [[0.0; 2]; BLOCK];
        band.render(FrameInstant(start), &ClipBank::default(), &mut block, None);
        for (ear, side) in ears.iter_mut().zip(0..2) {
            ear.extend(block.map(|frame| frame[side]));
        }
    }
    (ears, frequencies)
}

/// The middle of what a section plays in comfort, sounding.
fn middle(section: &Section) -> i32 {
    let sounding = |written| section.instrument.sounding(written).semitone();
    (sounding(section.comfortable.low()) + sounding(section.comfortable.high())) / 2
}

#[test]
fn both_pitches_of_every_pair_of_sections_a_fourth_apart_are_found() {
    let room = room();
    let sections: Vec<(u8, &Section)> = room.indexed().map(|(index, section)| (index.0, section)).collect();
    let (mut pairs, mut missed) = (0, Vec::new());
    for (place, one) in sections.iter().enumerate() {
        for other in &sections[place + 1..] {
            // the deeper section takes the lower note, and the fourth lies where it asks the least of both
            let [lower, upper] = if middle(one.1) <= middle(other.1) { [one, other] } else { [other, one] };
            let asks =
                |low: &i32| (reach(lower.1, *low) + reach(upper.1, low + 5), (2 * low + 5 - middle(lower.1) - middle(upper.1)).abs());
            let low = (36..84).min_by_key(asks).unwrap();
            let (ears, sounding) = model([*lower, *upper], low);
            let found: Vec<f64> = ears.iter().flat_map(|ear| listener::pitches(&ear[16_000..], 3)).collect();
            let heard = |hz: &f64| found.iter().any(|found| 1200.0 * (found / hz).log2().abs() < 50.0);
            pairs += 1;
            if !sounding.iter().all(heard) {
                missed.push(format!("{} {:.1} + {} {:.1}: {found:.1?}", lower.1.name, sounding[0], upper.1.name, sounding[1]));
            }
        }
    }
    assert_eq!(pairs, 78);
    assert!(missed.is_empty(), "{} of {pairs}:\n{}", missed.len(), missed.join("\n"));
}
