//! Reading between samples: a windowed sinc from a table, cut lower where a wave is read faster than it was recorded.

#![allow(clippy::needless_range_loop, reason = "loops over lanes of the very length they count to become vector code")]

/// Frames a reading looks at.
pub(super) const TAPS: usize = 32;
/// Of them after the place that is read.
pub(super) const HALF: usize = TAPS / 2;
/// Places between two frames that the table has; between those it is read along a straight line.
const PHASES: usize = 256;
/// The most each table is read faster than recorded. What is above half the rate then is cut away, not folded down.
const FASTEST: [f64; 7] = [1.0, 1.19, 1.42, 1.69, 2.0, 2.83, 4.0];
/// The shape of the Kaiser window: 80 dB of rejection (Kaiser 1974: 0.1102 (A - 8.7)).
const KAISER: f64 = 0.1102 * (80.0 - 8.7);

type Row = [f32; TAPS];

/// One table for each share of the band.
#[derive(Clone, Debug)]
pub(super) struct Kernels(Box<[[Row; PHASES + 1]]>);

impl Kernels {
    pub(super) fn new() -> Self {
        Self(FASTEST.iter().map(|fastest| std::array::from_fn(|phase| row(phase as f64 / PHASES as f64, 1.0 / fastest))).collect())
    }

    /// The number of the table for reading `speed` frames at each step.
    pub(super) fn choose(speed: f64) -> u8 {
        FASTEST.iter().position(|fastest| speed <= fastest + 1e-9).unwrap_or(FASTEST.len() - 1) as u8
    }

    /// The table's rows.
    pub(super) fn table(&self, number: u8) -> Option<&[Row; PHASES + 1]> {
        self.0.get(usize::from(number))
    }
}

/// What lies at `fraction` (of 2^32) of the way from the frame in the middle of `window` to the next.
pub(super) fn read(table: &[Row; PHASES + 1], window: &Row, fraction: u32) -> f32 {
    let phase = (fraction >> 24) as usize;
    let between = (fraction & 0xFF_FFFF) as f32 * (1.0 / 16_777_216.0);
    let (Some(row), Some(next)) = (table.get(phase), table.get(phase + 1)) else { return 0.0 };
    let mut products = [0.0_f32; 8];
    for chunk in 0..TAPS / 8 {
        for lane in 0..8 {
            let tap = chunk * 8 + lane;
            products[lane] += window[tap] * (row[tap] + (next[tap] - row[tap]) * between);
        }
    }
    products.iter().sum()
}

/// The weights of the frames around a place `fraction` after the frame number `HALF - 1`, for a band cut at `band` of half the rate.
fn row(fraction: f64, band: f64) -> Row {
    let weight = |tap: usize| {
        let x = tap as f64 - (HALF - 1) as f64 - fraction;
        let share = x / HALF as f64;
        let window = if share.abs() < 1.0 { bessel(KAISER * (1.0 - share * share).sqrt()) / bessel(KAISER) } else { 0.0 };
        let turn = std::f64::consts::PI * x * band;
        let sinc = if turn.abs() < 1e-9 { 1.0 } else { turn.sin() / turn };
        band * sinc * window
    };
    let weights: [f64; TAPS] = std::array::from_fn(weight);
    // a steady level stays exactly as it is
    let sum: f64 = weights.iter().sum();
    weights.map(|weight| (weight / sum) as f32)
}

/// The modified Bessel function of the first kind and order zero, by its series.
fn bessel(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let mut term = 1.0;
    let mut sum = 1.0;
    for k in 1..40 {
        term *= quarter / f64::from(k * k);
        sum += term;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reads a sine of `hz` recorded at 1 Hz at `speed`, and returns the rms of what is not that sine, against the sine's own.
    fn error_of(share: f64, speed: f64) -> f64 {
        let kernels = Kernels::new();
        let table = kernels.table(Kernels::choose(speed)).unwrap();
        let sine = |at: f64| (std::f64::consts::TAU * share * at).sin();
        let mut error = 0.0;
        for step in 0..2_000 {
            let at = 100.0 + f64::from(step) * speed;
            let whole = at.floor();
            let window: Row = std::array::from_fn(|tap| sine(whole + tap as f64 - (HALF - 1) as f64) as f32);
            let found = f64::from(read(table, &window, ((at - whole) * 4_294_967_296.0) as u32));
            error += (found - sine(at)).powi(2);
        }
        10.0 * (error / 2_000.0 / 0.5).log10()
    }

    #[test]
    fn a_sine_is_read_between_its_samples() {
        for (share, speed) in [(0.01, 0.7), (0.1, 0.943), (0.25, 0.999), (0.4, 0.5)] {
            let error = error_of(share, speed);
            assert!(error < -70.0, "{share} of the rate at speed {speed}: {error} dB");
        }
    }

    #[test]
    fn what_would_fold_down_is_cut_away() {
        // read twice as fast, 0.45 of the rate would sound at 0.1 of it
        let kernels = Kernels::new();
        let table = kernels.table(Kernels::choose(2.0)).unwrap();
        let loudest = (0..200).fold(0.0_f32, |loudest, step| {
            let window: Row = std::array::from_fn(|tap| (std::f64::consts::TAU * 0.45 * (f64::from(step) * 2.0 + tap as f64)).sin() as f32);
            loudest.max(read(table, &window, 0).abs())
        });
        assert!(loudest < 1e-3, "{loudest}");
    }
}
