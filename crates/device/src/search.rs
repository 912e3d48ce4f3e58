//! When to look for a device again, and when to ask for larger buffers.

use std::collections::VecDeque;
use std::time::{Duration, Instant};

use crate::output::BUFFER_FRAMES;

const FIRST_DELAY: Duration = Duration::from_millis(5);
/// The longest delay soon after a loss: a server that restarts is found quickly. Trying one that is not there costs next to nothing.
const EARLY_DELAY: Duration = Duration::from_millis(30);
/// The longest delay after [`EARLY`].
const LATE_DELAY: Duration = Duration::from_secs(1);
const EARLY: Duration = Duration::from_secs(30);
/// The way of last resort may take the sound card itself, which a restarting server would then miss: the server comes first.
const SERVER_FIRST: Duration = Duration::from_secs(3);
/// It also costs more, and complains on the standard error output.
///
/// Where it was what played, it is what will play again, so for the time of [`SERVER_FIRST`] it is tried every time.
const LAST_RESORT_DELAY: Duration = Duration::from_secs(1);
const LATE_LAST_RESORT_DELAY: Duration = Duration::from_secs(2);
/// A stream that lived this long was a good one: the next search starts quickly again.
const GOOD_LIFE: Duration = Duration::from_secs(2);

/// What was lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Played {
    Nothing,
    ThroughServer,
    ThroughLastResort,
}

/// The search for a device. Times are given, never read, so that it can be tested.
#[derive(Clone, Debug)]
pub(crate) struct Search {
    since: Instant,
    delay: Duration,
    played: Played,
    last_resort_at: Option<Instant>,
}

impl Search {
    /// The first search.
    pub(crate) fn new(now: Instant) -> Self {
        Self { since: now, delay: Duration::ZERO, played: Played::Nothing, last_resort_at: None }
    }

    /// After a loss at `now` of a stream that lived for `life`. `from_server`: it was not reached by the way of last resort.
    pub(crate) fn after_loss(&mut self, now: Instant, life: Duration, from_server: bool) {
        if life >= GOOD_LIFE {
            self.delay = Duration::ZERO;
            self.since = now;
        }
        self.played = if from_server { Played::ThroughServer } else { Played::ThroughLastResort };
        self.last_resort_at = None;
    }

    /// How long to wait before the next attempt.
    pub(crate) fn next_delay(&mut self, now: Instant) -> Duration {
        let most = if now.saturating_duration_since(self.since) < EARLY { EARLY_DELAY } else { LATE_DELAY };
        self.delay = (self.delay * 2).clamp(FIRST_DELAY, most);
        self.delay
    }

    /// Whether the attempt at `now` may go the way of last resort; if so, that counts as done.
    pub(crate) fn may_try_last_resort(&mut self, now: Instant) -> bool {
        let searching = now.saturating_duration_since(self.since);
        let just_lost = searching < SERVER_FIRST;
        let pause = match self.played {
            Played::ThroughServer if just_lost => return false,
            Played::ThroughLastResort if just_lost => Duration::ZERO,
            _ if searching < EARLY => LAST_RESORT_DELAY,
            _ => LATE_LAST_RESORT_DELAY,
        };
        if self.last_resort_at.is_some_and(|at| now.saturating_duration_since(at) < pause) {
            return false;
        }
        self.last_resort_at = Some(now);
        true
    }
}

/// Frames to ask for: more after too many gaps.
#[derive(Clone, Debug)]
pub(crate) struct Buffer {
    step: usize,
    gaps: VecDeque<Instant>,
}

impl Buffer {
    const TOO_MANY: usize = 3;
    const WITHIN: Duration = Duration::from_secs(30);

    /// Starts with at least `frames`, as far as there are sizes.
    pub(crate) fn new(frames: u32) -> Self {
        let step = BUFFER_FRAMES.iter().position(|size| *size >= frames).unwrap_or(BUFFER_FRAMES.len() - 1);
        Self { step, gaps: VecDeque::new() }
    }

    /// Frames to ask for now.
    pub(crate) fn frames(&self) -> u32 {
        BUFFER_FRAMES.get(self.step).copied().unwrap_or(2048)
    }

    /// Takes note of a gap; returns the old and new size if that was one too many.
    pub(crate) fn gap(&mut self, now: Instant) -> Option<(u32, u32)> {
        self.gaps.push_back(now);
        while self.gaps.front().is_some_and(|first| now.saturating_duration_since(*first) > Self::WITHIN) {
            self.gaps.pop_front();
        }
        if self.gaps.len() < Self::TOO_MANY || self.step + 1 >= BUFFER_FRAMES.len() {
            return None;
        }
        let from = self.frames();
        self.step += 1;
        self.gaps.clear();
        Some((from, self.frames()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MS: Duration = Duration::from_millis(1);

    /// The moments of the attempts in the first `seconds` of a search.
    fn attempts(search: &mut Search, start: Instant, seconds: u64) -> Vec<Duration> {
        let mut now = start;
        let mut all = Vec::new();
        while now < start + Duration::from_secs(seconds) {
            now += search.next_delay(now);
            all.push(now - start);
        }
        all
    }

    #[test]
    fn attempts_thin_out_from_5_ms_to_a_second() {
        let start = Instant::now();
        let mut search = Search::new(start);
        let all = attempts(&mut search, start, 300);
        assert_eq!(all[..6], [5, 15, 35, 65, 95, 125].map(|ms| MS * ms));
        let late: Vec<_> = all.windows(2).map(|w| w[1] - w[0]).rev().take(200).collect();
        assert_eq!(late, vec![MS * 1000; 200]);
        assert!(all.windows(2).all(|w| w[1] - w[0] <= MS * 1000 && w[1] - w[0] >= MS * 5));
    }

    #[test]
    fn a_good_life_starts_the_search_afresh_and_a_short_one_does_not() {
        let start = Instant::now();
        let mut search = Search::new(start);
        attempts(&mut search, start, 60);
        let now = start + Duration::from_secs(60);
        search.after_loss(now, MS * 100, true);
        assert_eq!(search.next_delay(now), MS * 1000);
        search.after_loss(now, MS * 2000, true);
        assert_eq!(search.next_delay(now), MS * 5);
    }

    #[test]
    fn the_last_resort_waits_for_the_server_after_a_loss_and_is_tried_rarely() {
        let start = Instant::now();
        let mut search = Search::new(start);
        assert!(search.may_try_last_resort(start));
        assert!(!search.may_try_last_resort(start + MS * 999));
        assert!(search.may_try_last_resort(start + MS * 1000));
        let loss = start + Duration::from_secs(10);
        search.after_loss(loss, MS * 5000, true);
        assert!(!search.may_try_last_resort(loss + MS * 2999));
        assert!(search.may_try_last_resort(loss + MS * 3000));
        search.after_loss(loss, MS * 5000, false);
        assert!(search.may_try_last_resort(loss) && search.may_try_last_resort(loss + MS * 5));
        assert!(search.may_try_last_resort(loss + MS * 3000) && !search.may_try_last_resort(loss + MS * 3999));
    }

    #[test]
    fn three_gaps_in_thirty_seconds_double_the_buffer_up_to_2048() {
        let start = Instant::now();
        let at = |seconds| start + Duration::from_secs(seconds);
        let mut buffer = Buffer::new(512);
        assert_eq!(buffer.frames(), 512);
        assert_eq!([0, 20, 40, 60].map(|s| buffer.gap(at(s))), [None; 4]);
        assert_eq!(buffer.gap(at(62)), Some((512, 1024)));
        assert_eq!([63, 64, 65].map(|s| buffer.gap(at(s))), [None, None, Some((1024, 2048))]);
        assert_eq!([66, 67, 68, 69].map(|s| buffer.gap(at(s))), [None; 4]);
        assert_eq!(buffer.frames(), 2048);
    }
}
