//! The silent clock: runs the renderer at the right pace when no stream does.

use crossbeam_channel::{Receiver, RecvTimeoutError};
use std::sync::Arc;
use std::time::Duration;
use units::SampleRate;

use crate::custody::{Custody, User};

const NANOS: u64 = 1_000_000_000;
/// How often the clock renders, in nanoseconds.
const TICK: u64 = 10_000_000;
/// A debt longer than this is let go: the machine slept.
const MOST_DEBT: u64 = NANOS;
/// How many frames are rendered at a time.
const CHUNK: u64 = 512;

/// How many frames are due when. Times are nanoseconds of any steady clock; nothing is added up in rounded pieces.
#[derive(Clone, Debug)]
pub(crate) struct Pace {
    rate: u64,
    origin: u64,
    given: u64,
    deadline: u64,
}

impl Pace {
    pub(crate) fn new(rate: SampleRate, now: u64) -> Self {
        Self { rate: u64::from(rate.hz()), origin: now, given: 0, deadline: now }
    }

    /// The frames due at `now`, which count as given.
    pub(crate) fn due(&mut self, now: u64) -> u64 {
        let passed = now.saturating_sub(self.origin);
        let owed = (u128::from(passed) * u128::from(self.rate) / u128::from(NANOS)) as u64;
        let due = owed.saturating_sub(self.given);
        if due > self.rate * MOST_DEBT / NANOS {
            *self = Self { rate: self.rate, origin: now, given: 0, deadline: now };
            return 0;
        }
        self.given += due;
        due
    }

    /// When to look again: on a fixed grid, so that late wake-ups do not add up.
    pub(crate) fn next(&mut self, now: u64) -> u64 {
        self.deadline += TICK;
        if self.deadline <= now {
            self.deadline = now + TICK - (now - self.deadline) % TICK;
        }
        self.deadline
    }
}

/// What the watcher tells the clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Bell {
    /// The renderer is back.
    Run,
    /// The end.
    Stop,
}

/// The clock's thread: runs whenever the renderer is idle, until told to stop or until nobody can tell it any more.
pub(crate) fn run(custody: &Arc<Custody>, rate: SampleRate, bell: &Receiver<Bell>) {
    let mut unheard = [0.0; CHUNK as usize * 2];
    while let Ok(Bell::Run) = bell.recv() {
        let mut pace = Pace::new(rate, custody.clock());
        while custody.is_idle() {
            let deadline = pace.next(custody.clock());
            match bell.recv_timeout(Duration::from_nanos(deadline.saturating_sub(custody.clock()))) {
                Ok(Bell::Run) => {}
                Err(RecvTimeoutError::Timeout) => {}
                Ok(Bell::Stop) | Err(RecvTimeoutError::Disconnected) => return,
            }
            let mut due = pace.due(custody.clock());
            while due > 0 {
                let frames = due.min(CHUNK);
                let part = unheard.get_mut(..2 * frames as usize).unwrap_or_default();
                custody.lend(User::SilentClock, |renderer| renderer.fill(part, 2));
                due -= frames;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frames_after(seconds: u64, rate: u32, late: impl Fn(u64) -> u64) -> u64 {
        let mut pace = Pace::new(SampleRate::new(rate).unwrap(), 77);
        let (mut now, mut frames, mut n) = (77, 0, 0);
        while now < 77 + seconds * NANOS {
            now = pace.next(now) + late(n);
            n += 1;
            frames += pace.due(now);
        }
        assert!(n <= seconds * 100 + 2, "{n} wake-ups");
        frames - (u128::from(now - 77 - seconds * NANOS) * u128::from(rate) / u128::from(NANOS)) as u64
    }

    #[test]
    fn ten_hours_are_right_to_the_frame_at_any_rate_however_late_the_wake_ups() {
        for rate in [8_000, 11_025, 44_100, 48_000, 96_000] {
            let frames = frames_after(36_000, rate, |n| n.wrapping_mul(7_919) % 4_000_000);
            assert!(frames.abs_diff(36_000 * u64::from(rate)) <= 1, "{frames} at {rate} Hz");
        }
    }

    #[test]
    fn a_stall_is_made_good() {
        let frames = frames_after(10, 48_000, |n| if n == 300 { 400_000_000 } else { 0 });
        assert!(frames.abs_diff(480_000) <= 1, "{frames}");
    }

    #[test]
    fn a_machine_that_slept_does_not_play_it_all_at_once() {
        let mut pace = Pace::new(SampleRate::DEFAULT, 0);
        assert_eq!(pace.due(NANOS / 10), 4_800);
        assert_eq!(pace.due(3_600 * NANOS), 0);
        assert_eq!(pace.due(3_600 * NANOS + NANOS / 10), 4_800);
    }
}
