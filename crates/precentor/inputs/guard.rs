//! A bouncing pedal counts once, and a key held down does not run through the class.

use sequencer::Cue;
use std::time::Duration;

use super::{Command, Signal, table};

/// How soon after the last press the same command is taken for a bounce: 250 ms.
pub const BOUNCE: Duration = Duration::from_millis(250);
/// How soon a cue that moves on by one counts as the same press: 700 ms. A key or pedal held down begins to repeat itself after up to
/// 660 ms (the default of X.Org, see `xset`), and one press must not skip a group.
pub const HELD: Duration = Duration::from_millis(700);

/// Swallows repeats, whatever source they come from.
#[derive(Clone, Debug, Default)]
pub struct Guard {
    /// What each signal last did, and when it was last pressed, as far as that matters still.
    last: Vec<(Signal, Command, Duration)>,
}

impl Guard {
    /// Whether `command`, asked for by `signal` at `at`, counts. Only commands the table marks as guarded can be swallowed. The same signal
    /// counts as the same press even where it means something else by now: what chose from a list must not start what was chosen; and the
    /// same command counts as the same whatever asks for it. Every press of a burst moves the window on, so that a burst counts once however
    /// long it lasts and whatever is pressed between.
    pub fn admits(&mut self, signal: Signal, command: Command, at: Duration) -> bool {
        if !table::is_guarded(command) {
            return true;
        }
        let moves_on = matches!(command, Command::Cue(Cue::Go | Cue::Next | Cue::Back));
        self.last.retain(|(_, _, then)| at.saturating_sub(*then) < HELD);
        let same = |(last_signal, last, then): &(Signal, Command, Duration)| {
            let window = if moves_on && *last == command { HELD } else { BOUNCE };
            (*last_signal == signal || *last == command) && at.saturating_sub(*then) < window
        };
        let bounced = self.last.iter().find(|last| same(last)).copied();
        // a swallowed press moves the window on, but what was last done stays what it was
        self.last.retain(|(last_signal, ..)| *last_signal != signal);
        self.last.push((signal, bounced.map_or(command, |(_, last, _)| last), at));
        bounced.is_none()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inputs::{Key, Press};

    fn ms(ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    #[test]
    fn a_burst_counts_once_however_long_it_lasts() {
        let mut guard = Guard::default();
        let go = Command::Cue(Cue::Go);
        let taken: Vec<bool> = (0..20).map(|press| guard.admits(Key::PageDown.into(), go, ms(press * 33))).collect();
        assert_eq!(taken.iter().filter(|taken| **taken).count(), 1);
        assert!(taken[0]);
        assert!(guard.admits(Key::PageDown.into(), go, ms(19 * 33 + 700)));
    }

    #[test]
    fn a_key_held_down_moves_on_once() {
        for (cue, times) in [(Cue::Go, 1), (Cue::Next, 1), (Cue::Back, 1), (Cue::Again, 2)] {
            let mut guard = Guard::default();
            let presses = std::iter::once(0).chain((0..40).map(|repeat| 660 + 33 * repeat));
            let taken = presses.filter(|press| guard.admits(Key::PageDown.into(), Command::Cue(cue), ms(*press))).count();
            // a second `again` asks for the same round and does no harm
            assert_eq!(taken, times, "{cue}");
        }
    }

    #[test]
    fn what_chose_from_a_list_does_not_start_what_was_chosen() {
        let mut guard = Guard::default();
        assert!(guard.admits(Key::Enter.into(), Command::Choose, ms(0)));
        assert!(!guard.admits(Key::Enter.into(), Command::Cue(Cue::Go), ms(60)));
        assert!(guard.admits(Key::Enter.into(), Command::Cue(Cue::Go), ms(400)));
    }

    #[test]
    fn another_cue_comes_through_at_once_and_nudges_and_hush_are_never_swallowed() {
        let mut guard = Guard::default();
        assert!(guard.admits(Key::Space.into(), Command::Cue(Cue::Go), ms(0)));
        assert!(guard.admits(Key::Backspace.into(), Command::Cue(Cue::Again), ms(10)));
        for cue in [Cue::Hush, Cue::Louder, Cue::Softer, Cue::Quicker, Cue::Slower] {
            assert!(guard.admits(Key::Escape.into(), Command::Cue(cue), ms(20)));
            assert!(guard.admits(Key::Escape.into(), Command::Cue(cue), ms(21)), "{cue}");
        }
    }

    #[test]
    fn a_flood_from_several_sources_at_once_gives_each_cue_once() {
        let pedals = [
            (Signal::from(Press::Controller(64)), Cue::Go),
            (Signal::from(Key::Left), Cue::Again),
            (Signal::from(Key::PageDown), Cue::Go),
            (Signal::from(Press::Note(36)), Cue::Next),
        ];
        let mut guard = Guard::default();
        let mut taken = Vec::new();
        // four thousand in four seconds
        for press in 0..4_000_u64 {
            let (signal, cue) = pedals[(press % 4) as usize];
            if guard.admits(signal, Command::Cue(cue), ms(press)) {
                taken.push(cue);
            }
        }
        assert_eq!(taken, [Cue::Go, Cue::Again, Cue::Next]);
        assert!(guard.last.len() <= pedals.len());
        assert!(guard.admits(pedals[0].0, Command::Cue(Cue::Go), ms(4_000 + 700)));
    }
}
