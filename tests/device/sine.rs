//! Measuring a steady tone in a recording: its frequency from the slope of its phase, and the silences in it.

use std::f64::consts::TAU;
use std::ops::Range;

/// The sample rate of every recording.
pub const RATE: f64 = 48_000.0;

/// The runs of at least `shortest` samples in which nothing sounds, between the first sound and the last.
pub fn silences(samples: &[f32], shortest: usize) -> Vec<Range<usize>> {
    let sounds = |sample: &f32| sample.abs() > 1e-7;
    let (Some(first), Some(last)) = (samples.iter().position(sounds), samples.iter().rposition(sounds)) else { return Vec::new() };
    let mut runs = Vec::new();
    let mut start = first;
    for at in (first..=last).filter(|at| sounds(&samples[*at])) {
        if at - start > shortest {
            runs.push(start + 1..at);
        }
        start = at;
    }
    runs
}

/// The longest stretch without a silence in it.
pub fn longest_sound(samples: &[f32], silences: &[Range<usize>]) -> Range<usize> {
    let sounds = |sample: &f32| sample.abs() > 1e-7;
    let first = samples.iter().position(sounds).unwrap_or(0);
    let last = samples.iter().rposition(sounds).map_or(0, |last| last + 1);
    let starts = std::iter::once(first).chain(silences.iter().map(|silence| silence.end));
    let ends = silences.iter().map(|silence| silence.start).chain(std::iter::once(last));
    starts.zip(ends).map(|(start, end)| start..end).max_by_key(Range::len).unwrap_or(0..0)
}

/// What a tone's phase says.
#[derive(Debug)]
pub struct Tone {
    /// Cents above the frequency asked about.
    pub cents: f64,
    /// The largest departure from a steady phase, in cycles.
    pub wander: f64,
}

/// Measures the tone near `hz` by a regression over its phase. Each window holds a whole number of the tone's periods, so that its harmonics
/// fall out exactly.
pub fn measure(samples: &[f32], hz: f64) -> Tone {
    let window = window(hz);
    let phases: Vec<f64> = samples.chunks_exact(window).enumerate().map(|(n, chunk)| phase(chunk, n * window, hz)).collect();
    tone_of(&phases, hz)
}

/// The samples of a window of about a tenth of a second that holds whole periods of `hz`.
fn window(hz: f64) -> usize {
    let periods = (hz * 0.1).round();
    let window = (periods / hz * RATE).round() as usize;
    assert!((periods / hz * RATE - window as f64).abs() < 1e-6, "no whole number of samples holds whole periods of {hz} Hz");
    window
}

/// The way from one phase to the next, the short way round.
fn step(pair: &[f64]) -> f64 {
    let step = pair[1] - pair[0];
    step - step.round()
}

/// What the phases of windows that follow on each other say.
fn tone_of(phases: &[f64], hz: f64) -> Tone {
    let window = window(hz);
    let mut turns = vec![phases[0]];
    for pair in phases.windows(2) {
        turns.push(turns[turns.len() - 1] + step(pair));
    }
    let seconds = window as f64 / RATE;
    let n = turns.len() as f64;
    let (mean_x, mean_y) = ((n - 1.0) / 2.0, turns.iter().sum::<f64>() / n);
    let offset = |i: usize| i as f64 - mean_x;
    let covariance: f64 = turns.iter().enumerate().map(|(i, turn)| offset(i) * (turn - mean_y)).sum();
    let slope = covariance / (0..turns.len()).map(|i| offset(i).powi(2)).sum::<f64>();
    let wander = turns.iter().enumerate().map(|(i, turn)| (turn - mean_y - slope * offset(i)).abs()).fold(0.0, f64::max);
    Tone { cents: 1200.0 * ((hz + slope / seconds) / hz).log2(), wander }
}

/// The phase in cycles against a tone of exactly `hz` that started at sample zero.
fn phase(chunk: &[f32], start: usize, hz: f64) -> f64 {
    let (mut real, mut imaginary) = (0.0, 0.0);
    for (i, sample) in chunk.iter().enumerate() {
        let angle = (hz * (start + i) as f64 / RATE).fract() * TAU;
        real += f64::from(*sample) * angle.cos();
        imaginary -= f64::from(*sample) * angle.sin();
    }
    imaginary.atan2(real) / TAU
}

/// Hears a steady tone for as long as it likes, and keeps a number for each window of it.
pub struct Listener {
    hz: f64,
    window: Vec<f32>,
    phases: Vec<f64>,
    begun: bool,
    /// Silent samples in a row, just now.
    run: usize,
    silences: usize,
    silent_samples: usize,
}

/// What was heard.
#[derive(Debug)]
pub struct Heard {
    /// How long.
    pub seconds: f64,
    /// Runs of more than eight silent samples since the first sound.
    pub silences: usize,
    /// Samples in them.
    pub silent_samples: usize,
    /// How often the phase jumped by more than a hundredth of a cycle from one window to the next.
    pub jumps: usize,
    /// Cents above the frequency asked about, in the longest stretch without a jump.
    pub cents: f64,
    /// How long that is, in seconds.
    #[allow(dead_code, reason = "told with the rest")]
    pub stretch: f64,
}

impl Listener {
    /// Listens for a tone near `hz`.
    pub fn new(hz: f64) -> Self {
        Self { hz, window: Vec::with_capacity(window(hz)), phases: Vec::new(), begun: false, run: 0, silences: 0, silent_samples: 0 }
    }

    /// Hears what comes next.
    pub fn hear(&mut self, samples: impl Iterator<Item = f32>) {
        for sample in samples {
            let sounds = sample.abs() > 1e-7;
            self.begun |= sounds;
            if !self.begun {
                continue;
            }
            if sounds {
                if self.run > 8 {
                    self.silences += 1;
                    self.silent_samples += self.run;
                }
                self.run = 0;
            } else {
                self.run += 1;
            }
            self.window.push(sample);
            if self.window.len() == window(self.hz) {
                self.phases.push(phase(&self.window, self.phases.len() * self.window.len(), self.hz));
                self.window.clear();
            }
        }
    }

    /// What was heard in all.
    pub fn end(self) -> Heard {
        let length = window(self.hz) as f64 / RATE;
        let jumps: Vec<usize> = (1..self.phases.len()).filter(|at| step(&self.phases[at - 1..=*at]).abs() > 0.01).collect();
        let starts = std::iter::once(0).chain(jumps.iter().copied());
        let ends = jumps.iter().copied().chain(std::iter::once(self.phases.len()));
        let stretch = starts.zip(ends).max_by_key(|(start, end)| end - start).unwrap_or((0, 0));
        let phases = &self.phases[stretch.0..stretch.1];
        Heard {
            seconds: self.phases.len() as f64 * length,
            silences: self.silences,
            silent_samples: self.silent_samples,
            jumps: jumps.len(),
            cents: if phases.len() > 2 { tone_of(phases, self.hz).cents } else { f64::INFINITY },
            stretch: phases.len() as f64 * length,
        }
    }
}

fn tone(hz: f64, seconds: f64) -> Vec<f32> {
    let samples = (seconds * RATE) as usize;
    (0..samples)
        .map(|n| (0..4).map(|k| (TAU * hz * f64::from(k + 1) * n as f64 / RATE).sin() / f64::from(8 << k)).sum::<f64>() as f32)
        .collect()
}

#[test]
fn a_tone_with_harmonics_is_measured_to_a_ten_thousandth_of_a_cent() {
    for cents in [-3.0, -0.01, 0.0, 0.25, 2.0] {
        let tone = measure(&tone(440.0 * 2_f64.powf(cents / 1200.0), 5.0), 440.0);
        assert!((tone.cents - cents).abs() < 1e-4, "{} for {cents}", tone.cents);
    }
}

#[test]
fn a_listener_hears_what_is_silent_and_what_is_missing() {
    let mut samples = tone(440.05, 6.0);
    samples[48_000..48_100].fill(0.0);
    samples.drain(240_000..240_050);
    let mut listener = Listener::new(440.0);
    listener.hear(samples.into_iter());
    let heard = listener.end();
    assert_eq!((heard.silences, heard.silent_samples), (1, 100));
    assert!((1..=2).contains(&heard.jumps), "{heard:?}");
    assert!((heard.cents - 1200.0 * (440.05_f64 / 440.0).log2()).abs() < 1e-2, "{heard:?}");
}

#[test]
fn lost_samples_show_as_silence_and_as_a_jump_of_phase() {
    let mut samples = tone(440.0, 4.0);
    samples[96_000..96_480].fill(0.0);
    assert_eq!(silences(&samples, 24), vec![Range { start: 96_000, end: 96_480 }]);
    assert_eq!(longest_sound(&samples, &silences(&samples, 24)).len(), 96_000 - 1);
    samples.drain(48_000..48_050);
    assert!(measure(&samples, 440.0).wander > 0.1);
}
