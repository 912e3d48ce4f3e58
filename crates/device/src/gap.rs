//! Finding gaps by counting frames against the clock: some sound servers tell nobody when they run dry.
//!
//! After each callback the frames delivered minus the frames the clock says have passed is a constant, less whatever the callback came
//! late. Lateness is made good by the next callback; a gap never is. So a level that stays low for [`CONFIRM`] is a gap, and how much lower
//! it stays is how many frames were missed. A slow drift between the device's clock and ours is followed.
//!
//! What is not a gap but looks like one: the system moving the sound to a device with a shorter buffer.

/// Nanoseconds a low level must last.
const CONFIRM: u64 = 250_000_000;
/// Nanoseconds after a start, or after the device took up more than ever, before the level counts.
const SETTLE: u64 = 1_000_000_000;
/// Seconds by which the level must be low.
const LOW: f64 = 0.000_75;
/// The shortest gap reported, in seconds; a little under a millisecond, for the callbacks' jitter.
const SHORTEST: f64 = 0.000_9;
/// A rise by this many seconds means that the device changed its buffer.
const RISE: f64 = 0.001;
/// The largest drift followed, as a fraction: 0.1 %.
const DRIFT: f64 = 0.001;
const NANOS: f64 = 1e9;

/// Compares frames delivered with the clock. Runs in the callback.
pub(crate) struct GapDetector {
    rate: f64,
    phase: Phase,
}

enum Phase {
    Unstarted,
    Settling { since: u64, best: f64 },
    Steady { level: f64, at: u64, low: Option<Low> },
}

#[derive(Clone, Copy)]
struct Low {
    since: u64,
    best: f64,
    frame: u64,
}

/// A gap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Gap {
    /// How many frames were missed.
    pub(crate) frames: u64,
    /// What was passed as `frame` with the first late callback.
    pub(crate) frame: u64,
}

impl GapDetector {
    pub(crate) fn new(rate: u32) -> Self {
        Self { rate: f64::from(rate), phase: Phase::Unstarted }
    }

    /// Takes note of a callback: `delivered` frames in all after it, at `at` nanoseconds; `frame` names its first frame.
    pub(crate) fn note(&mut self, delivered: u64, at: u64, frame: u64) -> Option<Gap> {
        let lead = delivered as f64 - at as f64 / NANOS * self.rate;
        match &mut self.phase {
            Phase::Unstarted => {
                self.phase = Phase::Settling { since: at, best: lead };
                None
            }
            Phase::Settling { since, best } => {
                let age = at.saturating_sub(*since);
                // the first half of the wait is left out: a start fills buffers in bursts
                *best = if age < SETTLE / 2 { lead } else { best.max(lead) };
                if age >= SETTLE {
                    self.phase = Phase::Steady { level: *best, at, low: None };
                }
                None
            }
            Phase::Steady { level, at: last, low } => {
                if lead > *level + RISE * self.rate {
                    self.phase = Phase::Settling { since: at, best: lead };
                    return None;
                }
                if lead > *level - LOW * self.rate {
                    let drift = DRIFT * self.rate * at.saturating_sub(*last) as f64 / NANOS;
                    *level = lead.max(*level - drift);
                    *last = at;
                    *low = None;
                    return None;
                }
                let run = low.get_or_insert(Low { since: at, best: lead, frame });
                run.best = run.best.max(lead);
                if at.saturating_sub(run.since) < CONFIRM {
                    return None;
                }
                let missed = *level - run.best;
                let gap = Gap { frames: missed.round() as u64, frame: run.frame };
                self.phase = Phase::Steady { level: run.best, at, low: None };
                (missed >= SHORTEST * self.rate).then_some(gap)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;

    /// A device that takes `period` frames at a time, its clock off by `ppm`, its callbacks late by `late(n)` nanoseconds and dry for
    /// `dry(n)` frames before the n-th.
    fn run(seconds: f64, period: u64, ppm: f64, late: impl Fn(u64) -> u64, dry: impl Fn(u64) -> u64) -> Vec<(u64, Gap)> {
        let mut detector = GapDetector::new(RATE);
        let mut found = Vec::new();
        let (mut delivered, mut device) = (0, 0);
        for n in 0.. {
            device += period + dry(n);
            delivered += period;
            let at = device as f64 / (f64::from(RATE) * (1.0 + ppm / 1e6)) * NANOS;
            if at > seconds * NANOS {
                return found;
            }
            if let Some(gap) = detector.note(delivered, at as u64 + late(n), delivered - period) {
                found.push((n, gap));
            }
        }
        found
    }

    /// Up to `most` nanoseconds, different for each n.
    fn jitter(n: u64, most: u64) -> u64 {
        n.wrapping_mul(0x9E37_79B9_7F4A_7C15).rotate_left(31) % most
    }

    #[test]
    fn a_steady_device_has_no_gaps_whatever_its_clock() {
        for ppm in [-500.0, -50.0, 0.0, 50.0, 500.0] {
            for period in [64, 341, 512, 2048] {
                assert_eq!(run(120.0, period, ppm, |n| jitter(n, 700_000), |_| 0), []);
            }
        }
    }

    #[test]
    fn late_callbacks_that_catch_up_are_not_gaps() {
        let stalls = |n| if n % 200 == 150 { 40_000_000 } else { jitter(n, 300_000) };
        assert_eq!(run(120.0, 512, 20.0, stalls, |_| 0), []);
    }

    #[test]
    fn every_gap_of_a_millisecond_and_more_is_found_with_its_length_and_place() {
        let dry = |n: u64| match n {
            300 => 48,
            600 => 480,
            900 => 2_400,
            1_200 => 9_600,
            _ => 0,
        };
        for ppm in [-100.0, 0.0, 100.0] {
            let found = run(20.0, 512, ppm, |n| jitter(n, 200_000), dry);
            let frames: Vec<_> = found.iter().map(|(_, gap)| gap.frames).collect();
            assert_eq!(found.len(), 4, "{found:?}");
            for (found, dry) in frames.iter().zip([48, 480, 2_400, 9_600_i64]) {
                assert!((*found as i64 - dry).abs() <= 12, "{found} frames for {dry}");
            }
            let places: Vec<_> = found.iter().map(|(_, gap)| gap.frame).collect();
            assert_eq!(places, [300 * 512, 600 * 512, 900 * 512, 1_200 * 512]);
        }
    }

    #[test]
    fn a_gap_is_told_within_a_third_of_a_second() {
        let found = run(20.0, 512, 0.0, |_| 0, |n| if n == 1_000 { 600 } else { 0 });
        let (told, _) = found[0];
        assert!((told - 1_000) * 512 < u64::from(RATE) / 3, "told {} callbacks later", told - 1_000);
    }

    #[test]
    fn shorter_gaps_are_followed_in_silence() {
        assert_eq!(run(60.0, 512, 0.0, |_| 0, |n| if n % 300 == 299 { 24 } else { 0 }), []);
    }

    #[test]
    fn a_device_that_takes_up_more_settles_anew() {
        // twenty periods at once, as after a move to a device with a long buffer
        let mut detector = GapDetector::new(RATE);
        let (mut delivered, mut found) = (0, Vec::new());
        for n in 0..1_000_u64 {
            let at = n * 512 * 1_000_000_000 / u64::from(RATE);
            delivered += if n == 500 { 20 * 512 } else { 512 };
            found.extend(detector.note(delivered, at, 0));
        }
        assert_eq!(found, []);
    }
}
