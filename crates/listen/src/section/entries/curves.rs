//! What is read from the rise of a section's sound, band by band, to tell when its players came in.

use super::bands::{BANDS, Bands, HOP};
use units::FrameInstant;

/// The stretches around the beat, in seconds: where nobody plays yet, all that is looked at, and where everybody plays. They move with a
/// section that is late or early as a whole: as far as the middle of the rise lies more than [`NEAR`] from [`RISEN`] after the beat, but no
/// further than [`MOVED`].
const BEFORE: (f64, f64) = (-0.34, -0.2);
const RISE: (f64, f64) = (-0.34, 0.7);
const PLATEAU: (f64, f64) = (0.6, 1.0);
const RISEN: f64 = 0.06;
const NEAR: f64 = 0.08;
const MOVED: (f64, f64) = (-0.08, 0.12);
/// A band whose plateau is no more than this many times what was there before says nothing.
const OVER: f64 = 2.5;
/// A band counts at most this far over its plateau.
const MOST: f64 = 1.5;
/// So many bands must say something.
const FEWEST: usize = 3;
/// Windows of the rise.
const LENGTH: usize = ((RISE.1 - RISE.0) / HOP) as usize + 1;

/// Shares of the plateau whose crossing is looked for in every band, and which bands of all are told: from the earliest to the latest.
const CROSSED: [f64; 9] = [0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95];
const AMONG: [f64; 5] = [0.1, 0.3, 0.5, 0.7, 0.9];
/// Points of the curves, and the seconds from the middle of the rise to the first and the last.
const POINTS: usize = 24;
const AROUND: (f64, f64) = (-0.26, 0.34);

/// Crossings of a curve whose distance is told: which of [`CROSSED`].
const PAIRS: [(usize, usize); 9] = [(0, 5), (1, 5), (2, 7), (3, 6), (3, 7), (5, 7), (5, 8), (2, 5), (4, 6)];
/// What is told of each crossing: when the bands [`AMONG`] all cross, when their mean does, and when their sum does.
const TOLD: usize = AMONG.len() + 2;

/// How many numbers are read.
pub(super) const NUMBERS: usize = 5 * POINTS + POINTS + 2 * TOLD * CROSSED.len() + 2 * CROSSED.len() + TOLD * PAIRS.len() + 8;

/// Reads the numbers; allocates nothing once built.
#[derive(Debug)]
pub(super) struct Curves {
    /// The rise of each band that says something, plateau 1.
    rises: Vec<[f64; LENGTH]>,
    sorted: Vec<f64>,
    told: Told,
}

/// A number below which times, in seconds, and shares of the plateau are not told apart by their logarithms.
const LEAST_TIME: f64 = 0.003;
const LEAST_SHARE: f64 = 0.03;

impl Curves {
    pub(super) fn new() -> Self {
        Self { rises: Vec::with_capacity(BANDS), sorted: Vec::with_capacity(BANDS), told: Told { numbers: [0.0; NUMBERS], count: 0 } }
    }

    /// Reads what `bands` kept around `beat`: the middle of the rise in seconds after it, and the numbers, which do not move with it.
    /// Nothing before all of it is heard, or if nobody came in.
    pub(super) fn read(&mut self, bands: &Bands, beat: FrameInstant) -> Option<(f64, &[f64; NUMBERS])> {
        let mut rise = self.rise(bands, beat, 0.0)?;
        let late = rise.middle - RISEN;
        if late.abs() > NEAR {
            let shift = (late - NEAR.copysign(late)).clamp(MOVED.0, MOVED.1);
            // where the moved stretches were not heard, those around the beat must do
            rise = self.rise(bands, beat, shift).or_else(|| self.rise(bands, beat, 0.0))?;
        }
        self.tell(&rise);
        Some((rise.middle, &self.told.numbers))
    }

    /// Looks at the rise in stretches moved by `shift` seconds, and keeps that of every band that says something.
    fn rise(&mut self, bands: &Bands, beat: FrameInstant, shift: f64) -> Option<Rise> {
        let between = |(from, upto): (f64, f64)| bands.between(beat, from + shift, upto + shift);
        let mean = |stretch| {
            let (mut sum, mut count) = ([0.0; BANDS], 0.0);
            for (_, instant) in between(stretch)? {
                sum.iter_mut().zip(instant).for_each(|(sum, power)| *sum += f64::from(*power));
                count += 1.0;
            }
            Some(sum.map(|sum| sum / count))
        };
        let (before, plateau) = (mean(BEFORE)?, mean(PLATEAU)?);
        let start = between(RISE)?.next()?.0;
        let mut rise = Rise { mean: [0.0; LENGTH], total: [0.0; LENGTH], middle: 0.0, over: 0.0, unrest: 0.0, before, plateau };
        let mut whole = 1e-20;
        self.rises.clear();
        for band in 0..BANDS {
            let height = plateau[band] - before[band];
            if plateau[band] <= OVER * before[band].max(1e-12) {
                continue;
            }
            let (mut own, mut last) = ([0.0; LENGTH], 0.0);
            let mut instants = between(RISE)?;
            for (own, total) in own.iter_mut().zip(&mut rise.total) {
                last = instants.next().map_or(last, |(_, instant)| f64::from(instant[band]) - before[band]);
                *total += last;
                *own = (last / height).clamp(0.0, MOST);
            }
            whole += height;
            rise.over += (plateau[band] / before[band].max(1e-12)).log10().min(5.0);
            let (mut waver, mut count) = (0.0, 0.0);
            for (_, instant) in between(PLATEAU)? {
                waver += ((f64::from(instant[band]) - before[band]) / height - 1.0).powi(2);
                count += 1.0;
            }
            rise.unrest += (waver / count).sqrt();
            self.rises.push(own);
        }
        let count = self.rises.len();
        if count < FEWEST {
            return None;
        }
        for own in &self.rises {
            rise.mean.iter_mut().zip(own).for_each(|(mean, own)| *mean += own / count as f64);
        }
        rise.total.iter_mut().for_each(|total| *total = (*total / whole).clamp(0.0, MOST));
        rise.middle = start + first_over(&rise.mean, 0.5) * HOP;
        rise.over /= count as f64;
        rise.unrest /= count as f64;
        Some(rise)
    }

    fn tell(&mut self, rise: &Rise) {
        let mut told = Told { numbers: [0.0; NUMBERS], count: 0 };
        let middle = first_over(&rise.mean, 0.5);
        let point = |n: usize| middle + (AROUND.0 + (AROUND.1 - AROUND.0) * n as f64 / (POINTS - 1) as f64) / HOP;
        for curve in [&rise.mean, &rise.total] {
            for n in 0..POINTS {
                let share = at(curve, point(n));
                told.add(share);
                told.add((share + LEAST_SHARE).ln());
            }
        }
        self.flux(&mut told, point);
        self.crossings(&mut told, middle, &rise.mean, &rise.total);
        told.add(rise.over);
        told.add(self.rises.len() as f64 / BANDS as f64);
        told.add(rise.unrest);
        // where the power lies: low notes speak slowly
        let whole: f64 = rise.plateau.iter().sum();
        for share in [0.1, 0.5, 0.9] {
            let mut below = 0.0;
            let lies = rise.plateau.iter().position(|power| {
                below += power;
                below >= share * whole
            });
            told.add(lies.unwrap_or(BANDS) as f64 / BANDS as f64);
        }
        let lowest = rise.plateau.iter().zip(&rise.before).position(|(plateau, before)| *plateau > 10.0 * before.max(1e-12));
        told.add(lowest.unwrap_or(BANDS) as f64 / BANDS as f64);
        told.add((first_over(&rise.total, 0.5) - middle) * HOP);
        debug_assert_eq!(told.count, NUMBERS);
        self.told = told;
    }

    /// How much the bands rise from point to point, by the logarithm, as shares of all they rise.
    fn flux(&self, told: &mut Told, point: impl Fn(usize) -> f64) {
        let mut flux = [0.0; POINTS];
        let low = point(0);
        let each = point(1) - point(0);
        for rise in &self.rises {
            for n in 1..LENGTH {
                let up = ((rise[n] + 0.03).ln() - (rise[n - 1] + 0.03).ln()).max(0.0);
                let at = ((n as f64 - low) / each).round();
                if (0.0..POINTS as f64).contains(&at) {
                    flux[at as usize] += up;
                }
            }
        }
        let all: f64 = flux.iter().sum::<f64>().max(1e-9);
        for flux in flux {
            told.add(flux / all);
            told.add((flux / all).sqrt());
        }
    }

    /// When the bands cross shares of their plateaus: in seconds after the middle, and how far apart.
    fn crossings(&mut self, told: &mut Told, middle: f64, mean: &[f64; LENGTH], total: &[f64; LENGTH]) {
        let mut crossings = [[0.0; TOLD]; CROSSED.len()];
        for (crossings, share) in crossings.iter_mut().zip(CROSSED) {
            self.sorted.clear();
            for rise in &self.rises {
                self.sorted.push(first_over(rise, share));
            }
            self.sorted.sort_unstable_by(f64::total_cmp);
            for (crossing, among) in crossings.iter_mut().zip(AMONG) {
                *crossing = self.sorted[(among * (self.sorted.len() - 1) as f64).round() as usize];
            }
            crossings[AMONG.len()] = first_over(mean, share);
            crossings[AMONG.len() + 1] = first_over(total, share);
            for crossing in crossings {
                *crossing = (*crossing - middle) * HOP;
                told.add(*crossing);
                told.add(crossing.signum() * (1.0 + crossing.abs() / 0.01).ln());
            }
        }
        let mut apart = |early: f64, late: f64| told.add(((late - early).abs() + LEAST_TIME).ln());
        for crossings in &crossings {
            apart(crossings[0], crossings[4]);
            apart(crossings[1], crossings[3]);
        }
        for (low, high) in PAIRS {
            for (early, late) in crossings[low].iter().zip(&crossings[high]) {
                apart(*early, *late);
            }
        }
    }
}

/// How a section's sound rises.
struct Rise {
    /// The mean over the bands that say something, each brought to plateau 1.
    mean: [f64; LENGTH],
    /// Their sum, brought to plateau 1.
    total: [f64; LENGTH],
    /// Where the mean comes to a half, in seconds after the beat.
    middle: f64,
    /// How far the plateaus lie over what was there before, and how much they waver.
    over: f64,
    unrest: f64,
    before: [f64; BANDS],
    plateau: [f64; BANDS],
}

#[derive(Debug)]
struct Told {
    numbers: [f64; NUMBERS],
    count: usize,
}

impl Told {
    fn add(&mut self, number: f64) {
        if let Some(to) = self.numbers.get_mut(self.count) {
            *to = number;
        }
        self.count += 1;
    }
}

/// Where `curve` first rises over `level`; its end if it does not.
fn first_over(curve: &[f64; LENGTH], level: f64) -> f64 {
    let Some(over) = curve.iter().position(|x| *x >= level) else { return LENGTH as f64 };
    if over == 0 {
        return 0.0;
    }
    let (low, high) = (curve[over - 1], curve[over]);
    over as f64 - 1.0 + (level - low) / (high - low).max(1e-12)
}

/// `curve` between its points; level before and after.
fn at(curve: &[f64; LENGTH], at: f64) -> f64 {
    let at = at.clamp(0.0, (LENGTH - 1) as f64);
    let below = (at as usize).min(LENGTH - 2);
    let part = at - below as f64;
    curve[below] * (1.0 - part) + curve[below + 1] * part
}
