//! Which pitches a spectrum could be: the peaks of its autocorrelation.

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner};
use std::fmt;
use std::sync::Arc;

use crate::floor::Floor;
use crate::prior::Prior;
use crate::spectrum::{Spectrum, own_harmonics};

/// A pitch the sound could have.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Candidate {
    pub(crate) hz: f64,
    /// The share of the sound that repeats with its period, 0 to about 1.
    pub(crate) strength: f64,
    /// How far it is to be believed: its strength, by how much there is to go by, and by what is expected.
    pub(crate) score: f64,
}

/// Candidates kept of an instant.
pub(crate) const CANDIDATES: usize = 8;

/// The candidates of one instant, strongest first after the octave's cost.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Candidates {
    list: [Candidate; CANDIDATES],
    count: usize,
}

impl Candidates {
    pub(crate) fn as_slice(&self) -> &[Candidate] {
        &self.list[..self.count]
    }

    fn keep(&mut self, new: Candidate, cost: impl Fn(&Candidate) -> f64) {
        let at = self.as_slice().iter().position(|c| cost(c) < cost(&new)).unwrap_or(self.count);
        if at < CANDIDATES {
            self.count = (self.count + 1).min(CANDIDATES);
            self.list[at..self.count].rotate_right(1);
            self.list[at] = new;
        }
    }
}

/// What an octave lower must gain in strength to be believed.
pub(crate) const OCTAVE_COST: f64 = 0.03;
/// The share of the power itself in what is asked for its period; the rest is how far each bin stands out of the noise, which keeps a
/// rumble from hiding the harmonics above it.
const LOUDNESS: f32 = 0.2;
/// A bin stands out from this many times the floor on.
const OVER: f32 = 4.5;
/// How fast standing out counts.
const STANDING: f32 = 0.3;

/// The floor rises by so many times from a band to the one below it, half an octave lower, and no more: the lowest bands are narrower than
/// the harmonics in them, and would take a tone for the noise.
const STEEPEST: f32 = 2.0;
/// What stands out of plain noise, in bins as far apart as the window tells tones apart: where no more does than that, the peaks of the
/// autocorrelation are chance, however high.
const CHANCE: f64 = 3.0;

/// What a pitch loses whose own harmonics do not stand out, so that it borrows those of a higher one.
const BORROWED: f64 = 0.12;
/// Own harmonics stand out from this many dB on; it loses the whole where they are [`STANDS_WIDTH`] lower.
const STANDS: f64 = 6.0;
const STANDS_WIDTH: f64 = 4.0;

/// Lags to a frame: the period of a piccolo is some twenty frames, and its peak would fall between them.
const FINER: usize = 2;

/// Finds periods between two pitches; allocates nothing once built.
pub(crate) struct Periods {
    plan: Arc<dyn ComplexToReal<f32>>,
    bins: Vec<Complex<f32>>,
    lags: Vec<f32>,
    scratch: Vec<Complex<f32>>,
    /// 1 over the window's own autocorrelation.
    own: Vec<f32>,
    rate: f64,
    low: f64,
    high: f64,
    /// The bins in which sound counts.
    band: std::ops::Range<usize>,
    floor: Floor,
    bin_hz: f64,
    /// What stands out of the noise by chance alone; see [`CHANCE`].
    chance: f64,
}

impl fmt::Debug for Periods {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Periods").field("low", &self.low).field("high", &self.high).finish_non_exhaustive()
    }
}

/// Nothing above this is asked for its period, in Hz: more noise than harmonics.
const TOP: f64 = 8000.0;

impl Periods {
    /// Looks from `low` to `high` Hz in spectra like `spectrum` of sound at `rate`.
    pub(crate) fn new(spectrum: &Spectrum, rate: f64, low: f64, high: f64) -> Self {
        let plan = RealFftPlanner::new().plan_fft_inverse(FINER * spectrum.size());
        let mut bins = plan.make_input_vec();
        for (bin, power) in bins.iter_mut().zip(spectrum.of_window()) {
            *bin = Complex::new(power, 0.0);
        }
        let mut lags = plan.make_output_vec();
        let mut scratch = plan.make_scratch_vec();
        if plan.process_with_scratch(&mut bins, &mut lags, &mut scratch).is_err() {
            unreachable!("the buffers are the plan's own");
        }
        let first = lags[0];
        let own = lags.iter().map(|lag| first / lag.max(1e-3 * first)).collect();
        let band = (0.7 * low / spectrum.bin_hz()) as usize..((TOP / spectrum.bin_hz()) as usize).min(spectrum.size() / 2 + 1);
        Self {
            plan,
            bins,
            lags,
            scratch,
            own,
            rate: FINER as f64 * rate,
            low,
            high,
            bin_hz: spectrum.bin_hz(),
            floor: Floor::new(band.clone(), STEEPEST),
            band,
            chance: CHANCE * spectrum.size() as f64 / spectrum.length() as f64,
        }
    }

    /// The candidates in `power`, where `prior` says what to expect. Harmonics that stand out of what was `held` for longer are a pitch's own
    /// even where noise hides them for the moment.
    pub(crate) fn find(&mut self, power: &[f32], held: &[f32], prior: &Prior) -> Candidates {
        self.bins.fill(Complex::new(0.0, 0.0));
        self.floor.read(power);
        let (mut sum, mut relief) = (1e-20, 1e-9);
        for at in self.band.clone() {
            let stands_out = (STANDING * (power[at] / self.floor.at(at) - OVER).max(0.0)).ln_1p();
            self.bins[at].im = stands_out;
            sum += power[at];
            relief += stands_out;
        }
        let evident = f64::from(relief) / (f64::from(relief) + self.chance);
        for at in self.band.clone() {
            let bin = &mut self.bins[at];
            *bin = Complex::new(LOUDNESS * power[at] / sum + (1.0 - LOUDNESS) * bin.im / relief, 0.0);
        }
        if self.plan.process_with_scratch(&mut self.bins, &mut self.lags, &mut self.scratch).is_err() {
            unreachable!("the buffers are the plan's own");
        }
        let mut found = Candidates::default();
        let whole = self.lags[0];
        if whole <= 0.0 {
            return found;
        }
        let shortest = (self.rate / self.high).floor().max(2.0) as usize;
        let longest = ((self.rate / self.low).ceil() as usize).min(self.lags.len() / 2 - 2);
        let at = |lag: usize| f64::from(self.lags[lag] * self.own[lag] / whole);
        let (low, octave) = (self.low, OCTAVE_COST);
        for lag in shortest..=longest {
            let [left, middle, right] = [at(lag - 1), at(lag), at(lag + 1)];
            if middle <= 0.0 || middle < left || middle <= right {
                continue;
            }
            let bend = left - 2.0 * middle + right;
            let shift = if bend < 0.0 { (0.5 * (left - right) / bend).clamp(-0.5, 0.5) } else { 0.0 };
            let hz = self.rate / (lag as f64 + shift);
            let strength = middle - 0.25 * (left - right) * shift;
            found.keep(Candidate { hz, strength, score: evident * strength + prior.gain(hz) }, |c| c.score + octave * (c.hz / low).log2());
        }
        for candidate in &mut found.list[..found.count] {
            let mut own = own_harmonics(power, self.bin_hz, candidate.hz);
            if own < STANDS {
                own = own.max(own_harmonics(held, self.bin_hz, candidate.hz));
            }
            let lost = BORROWED * ((STANDS - own) / STANDS_WIDTH).clamp(0.0, 1.0);
            candidate.strength -= lost;
            candidate.score -= lost;
        }
        found
    }
}
