//! The sound's power in sixty bands, from one short window to the next.

use crate::decimate::Decimator;
use crate::memory::Memory;
use crate::spectrum::Spectrum;
use units::{FrameInstant, FrameSpan, SampleRate};

/// Bands, evenly spaced as the ear hears pitch.
pub(super) const BANDS: usize = 60;
/// The lowest and the highest band's middle, in Hz.
const LOWEST: f64 = 60.0;
const HIGHEST: f64 = 8_000.0;
/// Seconds of one window, and from one to the next.
const WINDOW: f64 = 0.025;
pub(super) const HOP: f64 = 0.005;
/// Seconds that are kept.
const KEPT: f64 = 3.5;

/// One window's power by band; 0 where a band lies beyond the sound.
pub(super) type Instant = [f32; BANDS];

/// Keeps the last seconds; allocates nothing once built.
#[derive(Debug)]
pub(super) struct Bands {
    decimator: Decimator,
    memory: Memory,
    spectrum: Spectrum,
    /// For each band its first bin, and where its weights begin and end.
    bands: Vec<(usize, usize, usize)>,
    weights: Vec<f32>,
    kept: Vec<Instant>,
    /// Windows taken since the last break.
    count: u64,
    hop: f64,
    due: f64,
    now: FrameInstant,
    /// The middle of the first window after the last break.
    first: f64,
}

/// The scale on which bands lie evenly: the mel, by O'Shaughnessy's formula.
fn mel(hz: f64) -> f64 {
    2595.0 * (1.0 + hz / 700.0).log10()
}

impl Bands {
    pub(super) fn new(rate: SampleRate) -> Self {
        let decimator = Decimator::new(rate);
        let spectrum = Spectrum::new(decimator.rate(), (decimator.rate() * WINDOW).round() as usize, 1);
        let step = (mel(HIGHEST) - mel(LOWEST)) / (BANDS - 1) as f64;
        let (mut bands, mut weights) = (Vec::with_capacity(BANDS), Vec::new());
        for band in 0..BANDS {
            let centre = mel(LOWEST) + step * band as f64;
            // a triangle down to the neighbours' middles; never so narrow that it falls between two bins
            let weight = |bin: usize| {
                let hz = bin as f64 * spectrum.bin_hz();
                let reach = step.max(mel(hz + spectrum.bin_hz()) - mel(hz));
                (1.0 - (mel(hz) - centre).abs() / reach).max(0.0)
            };
            let first = (0..spectrum.power().len()).find(|bin| weight(*bin) > 0.0).unwrap_or(spectrum.power().len());
            let begin = weights.len();
            weights.extend((first..spectrum.power().len()).map(weight).take_while(|weight| *weight > 0.0).map(|weight| weight as f32));
            bands.push((first, begin, weights.len()));
        }
        let hop = decimator.rate() * HOP;
        let length = spectrum.length();
        Self {
            memory: Memory::new(length),
            bands,
            weights,
            kept: vec![[0.0; BANDS]; (KEPT / HOP) as usize],
            count: 0,
            hop,
            due: length as f64,
            now: FrameInstant::ZERO,
            first: 0.0,
            decimator,
            spectrum,
        }
    }

    pub(super) const fn now(&self) -> FrameInstant {
        self.now
    }

    /// The next block begins with frame `at`; what was kept is forgotten.
    pub(super) fn resume(&mut self, at: FrameInstant) {
        self.now = at;
        self.count = 0;
        self.due = self.spectrum.length() as f64;
    }

    pub(super) fn hear(&mut self, block: &[f32]) {
        for sample in block {
            self.now += FrameSpan(1);
            let Some(slow) = self.decimator.push(*sample) else { continue };
            self.memory.push(slow);
            self.due -= 1.0;
            if self.due > 0.0 {
                continue;
            }
            if self.count == 0 {
                let back = self.decimator.delay().0 as f64 + 0.5 * (self.spectrum.length() * self.decimator.factor()) as f64;
                // where the window due exactly at this hop lies, not the one rounded to a frame
                self.first = self.now.0 as f64 - back;
            }
            self.due += self.hop;
            self.spectrum.take(self.memory.last(self.spectrum.length()));
            let at = (self.count % self.kept.len() as u64) as usize;
            let power = self.spectrum.power();
            for (to, (first, begin, end)) in self.kept[at].iter_mut().zip(&self.bands) {
                let bins = &power[(*first).min(power.len())..];
                *to = bins.iter().zip(&self.weights[*begin..*end]).map(|(power, weight)| power * weight).sum();
            }
            self.count += 1;
        }
    }

    /// The windows from `from` to `upto`, in seconds after `beat`, each with its own time; nothing unless all of them are kept.
    pub(super) fn between(&self, beat: FrameInstant, from: f64, upto: f64) -> Option<impl Iterator<Item = (f64, &Instant)> + Clone> {
        let each = self.hop * self.decimator.factor() as f64;
        let rate = self.decimator.rate() * self.decimator.factor() as f64;
        let start = beat.0 as f64 - self.first;
        let begin = ((start + from * rate) / each).ceil();
        let end = ((start + upto * rate) / each).floor();
        let oldest = self.count.saturating_sub(self.kept.len() as u64) as f64;
        if begin < oldest || end >= self.count as f64 || end < begin {
            return None;
        }
        let instant = move |n: u64| ((n as f64 * each - start) / rate, &self.kept[(n % self.kept.len() as u64) as usize]);
        Some((begin as u64..=end as u64).map(instant))
    }
}
