//! The grid of a harmonic series: how much power a section puts on each multiple of one fundamental.
//!
//! Every note of one fingering is a multiple of the fundamental of its tube, so that whatever partials are played, all power lies on
//! one grid: a player on partial k feeds lines k, 2k, 3k ...

use crate::decimate::Decimator;
use crate::memory::Memory;
use crate::spectrum::Spectrum;
use units::{Cents, Hertz, SampleRate};

/// Lines of the grid.
pub const LINES: usize = 24;
/// How far around a line power counts as its own, in cents.
const AROUND: f64 = 40.0;
/// The least half width of a line, in bins of the unpadded transform.
const LEAST: f64 = 2.2;
/// The most, as a share of the fundamental.
const MOST: f64 = 0.46;
/// How far the section's mean tuning is sought, in cents, and in what steps.
const TUNED: i32 = 50;
const TUNED_STEP: i32 = 5;
/// Seconds of one window, and from one to the next.
const WINDOW: f64 = 0.34;
const HOP: f64 = 0.085;

/// The power on each line, over the floor beside it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    /// Power of lines 1 to 24; 0 where a line lies beyond the sound.
    pub power: [f64; LINES],
    /// Power the noise puts on each.
    pub floor: [f64; LINES],
    /// How far the section's tuning lies above (negative: below) the fundamental it was read for.
    pub tuning: Cents,
    /// What the lines are multiples of: the fundamental moved by the tuning.
    pub fundamental: Hertz,
    /// How long the section was heard.
    pub seconds: f64,
}

/// The mean spectrum of what was heard since it was cleared; allocates nothing once built.
#[derive(Debug)]
pub(crate) struct Lines {
    decimator: Decimator,
    memory: Memory,
    spectrum: Spectrum,
    sum: Vec<f64>,
    windows: usize,
    hop: usize,
    fill: usize,
    padding: f64,
}

impl Lines {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let decimator = Decimator::new(rate);
        let length = (decimator.rate() * WINDOW).round() as usize;
        let spectrum = Spectrum::new(decimator.rate(), length, 1);
        Self {
            memory: Memory::new(length),
            sum: vec![0.0; spectrum.power().len()],
            windows: 0,
            hop: (decimator.rate() * HOP).round() as usize,
            fill: 0,
            padding: spectrum.size() as f64 / length as f64,
            decimator,
            spectrum,
        }
    }

    pub(crate) fn clear(&mut self) {
        self.sum.fill(0.0);
        self.windows = 0;
        self.fill = 0;
    }

    /// How many windows are summed.
    pub(crate) const fn windows(&self) -> usize {
        self.windows
    }

    pub(crate) fn hear(&mut self, block: &[f32]) {
        for sample in block {
            let Some(slow) = self.decimator.push(*sample) else { continue };
            self.memory.push(slow);
            self.fill += 1;
            let length = self.spectrum.length();
            if self.fill < length {
                continue;
            }
            self.fill = length - self.hop;
            self.spectrum.take(self.memory.last(length));
            for (sum, power) in self.sum.iter_mut().zip(self.spectrum.power()) {
                *sum += f64::from(*power);
            }
            self.windows += 1;
        }
    }

    /// The grid of `fundamental`, moved to where the section's tuning has most power on the lines that are multiples of `partials`.
    pub(crate) fn read(&self, fundamental: Hertz, partials: &[u8]) -> Grid {
        let score = |cents: i32| {
            let grid = self.grid(fundamental.moved(Cents(f64::from(cents))).hz(), 18.0);
            let mine = |line: usize| partials.iter().any(|k| (line + 1).is_multiple_of(usize::from(*k).max(1)));
            // the root keeps one loud line from deciding alone
            (0..LINES).filter(|line| mine(*line)).map(|line| (grid.0[line] + grid.1[line]).sqrt()).sum::<f64>()
        };
        let steps = -TUNED / TUNED_STEP..=TUNED / TUNED_STEP;
        let best = steps.map(|n| n * TUNED_STEP).max_by(|a, b| score(*a).total_cmp(&score(*b))).unwrap_or(0);
        let [left, middle, right] = [best - TUNED_STEP, best, best + TUNED_STEP].map(score);
        let bend = left - 2.0 * middle + right;
        let shift = if bend < 0.0 { (0.5 * (left - right) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        let tuning = Cents(f64::from(best) + shift * f64::from(TUNED_STEP));
        let fundamental = fundamental.moved(tuning);
        let (power, floor) = self.grid(fundamental.hz(), AROUND);
        let seconds = WINDOW + HOP * self.windows.saturating_sub(1) as f64;
        Grid { power, floor, tuning, fundamental, seconds }
    }

    /// The power over the noise that lies on no line from `first` on, and the power on all those lines.
    pub(crate) fn aside(&self, grid: &Grid, fundamental: Hertz, first: usize) -> (f64, f64) {
        let step = fundamental.moved(grid.tuning).hz() / self.spectrum.bin_hz();
        let own: f64 = grid.power[first - 1..].iter().sum();
        let range = ((first as f64 - 0.5) * step) as usize..(((LINES as f64) + 0.5) * step).min(self.sum.len() as f64) as usize;
        let Some(bins) = self.sum.get(range) else { return (0.0, own) };
        let each = 1.0 / self.windows.max(1) as f64;
        let all: f64 = bins.iter().sum::<f64>() * each;
        // the floor by line is that of its own bins; the whole span has as many times more
        let heard = (first..=LINES).filter(|line| grid.floor[line - 1] > 0.0);
        let widths: f64 = heard.map(|line| self.half(step, line, AROUND) * 2.0 + 1.0).sum();
        let noise = grid.floor[first - 1..].iter().sum::<f64>() * bins.len() as f64 / widths.max(1.0);
        ((all - noise - own).max(0.0), own)
    }

    /// How many bins `hz` is.
    pub(super) fn bins(&self, hz: Hertz) -> f64 {
        hz.hz() / self.spectrum.bin_hz()
    }

    /// Half the width of what lies at `line` times `step` bins.
    pub(super) fn half_line(&self, step: f64, line: f64) -> f64 {
        (step * line * ((AROUND / 1200.0).exp2() - 1.0)).max(LEAST * self.padding).min(MOST * step)
    }

    /// The power within `half` bins around `centre`, and how many bins that is.
    pub(super) fn sum_around(&self, centre: f64, half: f64) -> (f64, f64) {
        let range = (centre - half).ceil().max(1.0) as usize..(centre + half).floor() as usize + 1;
        let bins = self.sum.get(range).unwrap_or(&[]);
        (bins.iter().sum::<f64>() / self.windows.max(1) as f64, bins.len() as f64)
    }

    /// Half the width of a line, in bins.
    fn half(&self, step: f64, line: usize, around: f64) -> f64 {
        (step * line as f64 * ((around / 1200.0).exp2() - 1.0)).max(LEAST * self.padding).min(MOST * step)
    }

    fn grid(&self, fundamental: f64, around: f64) -> ([f64; LINES], [f64; LINES]) {
        let bin = self.spectrum.bin_hz();
        let step = fundamental / bin;
        let (mut power, mut floor) = ([0.0; LINES], [0.0; LINES]);
        let each = 1.0 / self.windows.max(1) as f64;
        for line in 0..LINES {
            let centre = step * (line + 1) as f64;
            let half = self.half(step, line + 1, around);
            let range = (centre - half).ceil().max(1.0) as usize..(centre + half).floor() as usize + 1;
            if range.end + step as usize >= self.sum.len() {
                break;
            }
            let sum: f64 = self.sum[range.clone()].iter().sum();
            // between the lines on either side, where nobody plays
            let gap = |at: f64| {
                let wide = (0.12 * step).max(1.0);
                let gap = &self.sum[(at - wide).max(1.0) as usize..(at + wide) as usize + 1];
                gap.iter().sum::<f64>() / gap.len() as f64
            };
            let noise = gap(centre - 0.5 * step).min(gap(centre + 0.5 * step)) * range.len() as f64;
            power[line] = (sum - noise).max(0.0) * each;
            floor[line] = noise * each;
        }
        (power, floor)
    }
}
