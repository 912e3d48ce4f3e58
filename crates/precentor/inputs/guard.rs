//! A bouncing pedal counts once, and a key held down does not run through the class.

use sequencer::Cue;
use std::time::Duration;

use super::{Command, Key, table};

/// How soon after the last press the same command is taken for a bounce: 250 ms.
pub const BOUNCE: Duration = Duration::from_millis(250);
/// How soon a cue that moves on by one counts as the same press: 700 ms. A key or pedal held down begins to repeat itself after up to
/// 660 ms (the default of X.Org, see `xset`), and one press must not skip a group.
pub const HELD: Duration = Duration::from_millis(700);

/// Swallows repeats.
#[derive(Clone, Debug, Default)]
pub struct Guard {
    last: Option<(Key, Command, Duration)>,
}

impl Guard {
    /// Whether `command`, asked for by `key` at `at`, counts. Only commands the table marks as guarded can be swallowed. The same key counts
    /// as the same press even where it means something else by now: what chose from a list must not start what was chosen. Every press of a
    /// burst moves the window on, so that a burst counts once however long it lasts.
    pub fn admits(&mut self, key: Key, command: Command, at: Duration) -> bool {
        if !table::is_guarded(command) {
            return true;
        }
        let same = |(last_key, last, then): (Key, Command, Duration)| {
            let moves_on = last == command && matches!(command, Command::Cue(Cue::Go | Cue::Next | Cue::Back));
            let window = if moves_on { HELD } else { BOUNCE };
            (last_key == key || last == command) && at.saturating_sub(then) < window
        };
        let bounced = self.last.filter(|last| same(*last));
        // a swallowed press moves the window on, but what was last done stays what it was
        self.last = Some((key, bounced.map_or(command, |(_, last, _)| last), at));
        bounced.is_none()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    #[test]
    fn a_burst_counts_once_however_long_it_lasts() {
        let mut guard = Guard::default();
        let go = Command::Cue(Cue::Go);
        let taken: Vec<bool> = (0..20).map(|press| guard.admits(Key::PageDown, go, ms(press * 33))).collect();
        assert_eq!(taken.iter().filter(|taken| **taken).count(), 1);
        assert!(taken[0]);
        assert!(guard.admits(Key::PageDown, go, ms(19 * 33 + 700)));
    }

    #[test]
    fn a_key_held_down_moves_on_once() {
        for (cue, times) in [(Cue::Go, 1), (Cue::Next, 1), (Cue::Back, 1), (Cue::Again, 2)] {
            let mut guard = Guard::default();
            let presses = std::iter::once(0).chain((0..40).map(|repeat| 660 + 33 * repeat));
            let taken = presses.filter(|press| guard.admits(Key::PageDown, Command::Cue(cue), ms(*press))).count();
            // a second `again` asks for the same round and does no harm
            assert_eq!(taken, times, "{cue}");
        }
    }

    #[test]
    fn what_chose_from_a_list_does_not_start_what_was_chosen() {
        let mut guard = Guard::default();
        assert!(guard.admits(Key::Enter, Command::Choose, ms(0)));
        assert!(!guard.admits(Key::Enter, Command::Cue(Cue::Go), ms(60)));
        assert!(guard.admits(Key::Enter, Command::Cue(Cue::Go), ms(400)));
    }

    #[test]
    fn another_cue_comes_through_at_once_and_nudges_and_hush_are_never_swallowed() {
        let mut guard = Guard::default();
        assert!(guard.admits(Key::Space, Command::Cue(Cue::Go), ms(0)));
        assert!(guard.admits(Key::Backspace, Command::Cue(Cue::Again), ms(10)));
        for cue in [Cue::Hush, Cue::Louder, Cue::Softer, Cue::Quicker, Cue::Slower] {
            assert!(guard.admits(Key::Escape, Command::Cue(cue), ms(20)));
            assert!(guard.admits(Key::Escape, Command::Cue(cue), ms(21)), "{cue}");
        }
    }
}
