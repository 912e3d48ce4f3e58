//! Clicks and drums: heard through a band, told apart, and no louder than they must be.

use super::measure::{spectrum, true_peak};
use super::*;

/// Mean square, out of a spectrum's bins, of the third of an octave around `centre`.
fn third(bins: &[f64], centre: f64) -> f64 {
    let width = f64::from(RATE) / 2.0 / (bins.len() - 1) as f64;
    let (low, high) = (centre * 2_f64.powf(-1.0 / 6.0) / width, centre * 2_f64.powf(1.0 / 6.0) / width);
    bins.iter().enumerate().filter(|(bin, _)| (low..high).contains(&(*bin as f64))).map(|(_, power)| power).sum()
}

const CENTRES: [f64; 8] = [1_250.0, 1_600.0, 2_000.0, 2_500.0, 3_150.0, 4_000.0, 5_000.0, 6_300.0];

/// Ten sections on the notes of a chord in their registers, as loud as a model of all.
fn band(stage: &mut Stage) {
    let parts = [
        (Timbre::Flute, 466.16),
        (Timbre::Oboe, 349.23),
        (Timbre::Clarinet, 233.08),
        (Timbre::AltoSax, 233.08),
        (Timbre::TenorSax, 174.61),
        (Timbre::Trumpet, 466.16),
        (Timbre::Horn, 293.66),
        (Timbre::Trombone, 233.08),
        (Timbre::Euphonium, 174.61),
        (Timbre::Tuba, 58.27),
    ];
    for (section, (timbre, hz)) in parts.into_iter().enumerate() {
        stage.tone(timbre, hz, 0, 2.0, 1.0 / 10_f32.sqrt(), section as u8);
    }
}

fn click(kind: ClickKind) -> Vec<f32> {
    let mut stage = Stage::new();
    stage.watched = Bus::Click;
    stage.band.click(kind, FrameInstant(stage.now), Gain::UNITY);
    stage.run(0.05);
    stage.stem
}

#[test]
fn a_click_stands_out_of_a_whole_band() {
    let mut stage = Stage::new();
    band(&mut stage);
    stage.run(1.5);
    let tutti: Vec<f32> = stage.out[48_000..48_000 + 2_048].iter().map(|frame| frame[0] + frame[1]).collect();
    let tutti = spectrum(&tutti);
    for kind in [ClickKind::Downbeat, ClickKind::Beat, ClickKind::Subdivision] {
        let mut alone = click(kind);
        alone.truncate(2_048);
        // a centred channel reaches both sides at the cosine of an eighth turn
        alone.iter_mut().for_each(|sample| *sample *= std::f32::consts::SQRT_2);
        let alone = spectrum_flat(&alone);
        let over: Vec<f64> = CENTRES.iter().map(|centre| 10.0 * (third(&alone, *centre) / third(&tutti, *centre)).log10()).collect();
        let best = over.iter().copied().fold(f64::MIN, f64::max);
        // a tone in a band of noise is heard from about 4 dB under the noise's level on; a short one needs ten more (Zwicker and Fastl, from
        // memory)
        assert!(best > 6.0, "{kind:?} stands {best:.1} dB over the band in its best third of an octave: {over:.0?}");
    }
}

#[test]
fn clicks_are_quick_short_and_bounded() {
    for (kind, peak, longest) in [(ClickKind::Downbeat, 0.36, 0.036), (ClickKind::Beat, 0.30, 0.026), (ClickKind::Subdivision, 0.18, 0.014)]
    {
        let wave = click(kind);
        let top = wave.iter().fold(0.0_f32, |top, sample| top.max(sample.abs()));
        assert!(true_peak(&wave) < 1.1 * peak, "{kind:?} peaks at {}", true_peak(&wave));
        let at = wave.iter().position(|sample| sample.abs() > 0.9 * top).unwrap();
        assert!(at < 96, "{kind:?} is there within 2 ms: {at} frames");
        let last = wave.iter().rposition(|sample| *sample != 0.0).unwrap();
        assert!((last as f64) < longest * f64::from(RATE) + 1.0);
        // a tenth of a second at the tone's level holds more energy than any click
        let energy: f32 = wave.iter().map(|sample| sample * sample).sum();
        assert!(energy < 4_800.0 * crate::care::TONE_RMS.powi(2), "{kind:?}: {energy}");
    }
}

fn stroke(drum: Drum) -> Vec<f32> {
    let mut stage = Stage::new();
    stage.band.strike(drum, FrameInstant(stage.now + 10), Gain::UNITY, Bus::Section(0));
    stage.run(1.0);
    assert!(stage.band.is_silent(), "{drum:?} is over within a second");
    stage.stem
}

#[test]
fn a_stroke_begins_on_its_frame_and_dies_away() {
    for drum in Drum::ALL {
        let wave = stroke(drum);
        let first = wave.iter().position(|sample| sample.abs() > 1e-9).unwrap();
        assert!((10..13).contains(&first), "{drum:?} at {first}");
        let loudest = wave.iter().position(|sample| sample.abs() > 0.3).unwrap();
        assert!(loudest < 10 + 480, "{drum:?} is there within 10 ms: {loudest}");
        let rms = |from: usize| wave[from..from + 2_400].iter().map(|x| x * x).sum::<f32>();
        assert!(rms(0) > 4.0 * rms(9_600), "{drum:?}");
    }
}

#[test]
fn the_drums_lie_far_apart() {
    let share = |drum: Drum, low: f64, high: f64| {
        let wave = stroke(drum);
        let bins = spectrum(&wave[..9_600]);
        let width = f64::from(RATE) / 9_600.0;
        let within: f64 =
            bins.iter().enumerate().filter(|(bin, _)| (low..high).contains(&(*bin as f64 * width))).map(|(_, power)| power).sum();
        within / bins.iter().sum::<f64>()
    };
    assert!(share(Drum::Bass, 0.0, 300.0) > 0.8, "{}", share(Drum::Bass, 0.0, 300.0));
    assert!(share(Drum::Snare, 1_500.0, 12_000.0) > 0.3, "{}", share(Drum::Snare, 1_500.0, 12_000.0));
    assert!(share(Drum::Snare, 0.0, 120.0) < 0.1);
}

/// The lowest mode lies where it should, and others in the ratios of the Bessel zeros 3.8317 and 6.3802 to 2.4048 (Abramowitz and Stegun, table 9.5).
#[test]
fn a_skins_partials_stand_in_the_ratios_of_bessel_zeros() {
    let wave = stroke(Drum::Bass);
    let late = &wave[4_800..28_800];
    let amplitude = |hz: f64| super::measure::follow(late, f64::from(RATE), hz, 0.3).amplitudes[0];
    for ratio in [1.0, 1.593_34, 2.653_07] {
        let here = amplitude(58.0 * ratio);
        assert!(here > 2.0 * amplitude(58.0 * ratio + 9.0) && here > 2.0 * amplitude(58.0 * ratio - 9.0), "{ratio}");
    }
}

#[test]
fn a_stroke_is_about_as_loud_as_a_tone() {
    for drum in Drum::ALL {
        let wave = stroke(drum);
        // an eighth of a second, as a level meter's fast weighting takes it (IEC 61672-1), behind the K weighting
        let power = crate::loudness::loudest(&wave, 0.125, SampleRate::DEFAULT);
        let level = 10.0 * power.log10() - 20.0 * f64::from(crate::care::TONE_RMS).log10();
        assert!((-7.0..3.0).contains(&level), "{drum:?} is {level:.1} dB over a tone");
    }
}

/// Power in each bin without a window: a stroke or a click begins and ends by itself.
fn spectrum_flat(samples: &[f32]) -> Vec<f64> {
    let mut input: Vec<f64> = samples.iter().map(|sample| f64::from(*sample)).collect();
    let n = input.len() as f64;
    let plan = realfft::RealFftPlanner::<f64>::new().plan_fft_forward(input.len());
    let mut output = plan.make_output_vec();
    plan.process(&mut input, &mut output).unwrap();
    output.iter().map(|bin| 2.0 * bin.norm_sqr() / (n * n)).collect()
}
