//! Whether a stream lives. Errors are not believed, in either direction: its callbacks are the judge.

use std::time::Duration;

/// Longest wait for a callback of a stream that reported an error.
const SUSPECT_LIMIT: Duration = Duration::from_millis(40);
/// Longest wait for a callback otherwise.
const LIMIT: Duration = Duration::from_millis(300);
/// A new stream may complain a lot and then play.
const NEW_SUSPECT_LIMIT: Duration = Duration::from_millis(300);
/// How long a new stream may take until it consumes sound: a server's idle device may render two seconds ahead.
const PROOF_LIMIT: Duration = Duration::from_secs(4);

/// What is known of a stream.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Signs {
    /// Since its last callback, or since it was opened, or since the watcher itself could look again.
    pub(crate) quiet: Duration,
    /// It reported an error and there was no callback since.
    pub(crate) suspect: bool,
    /// It has played.
    pub(crate) proven: bool,
    /// How long one of its periods lasts.
    pub(crate) period: Duration,
    /// Since it was opened.
    pub(crate) age: Duration,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Health {
    Alive,
    /// It asks for no more sound.
    Silent,
    /// It reported an error and asks for no more sound.
    Failed,
    /// It never consumed any.
    Mute,
}

pub(crate) fn judge(signs: Signs) -> Health {
    if !signs.proven {
        if signs.suspect && signs.quiet >= NEW_SUSPECT_LIMIT {
            return Health::Failed;
        }
        return if signs.age >= PROOF_LIMIT { Health::Mute } else { Health::Alive };
    }
    if signs.suspect && signs.quiet >= SUSPECT_LIMIT.max(signs.period * 3) {
        Health::Failed
    } else if signs.quiet >= LIMIT.max(signs.period * 8) {
        Health::Silent
    } else {
        Health::Alive
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MS: Duration = Duration::from_millis(1);

    fn signs(quiet: u32, period: u32, suspect: bool) -> Signs {
        Signs { quiet: MS * quiet, suspect, proven: true, period: MS * period, age: Duration::from_secs(60) }
    }

    #[test]
    fn a_stream_that_reported_nothing_may_be_quiet_for_300_ms_or_eight_periods() {
        assert_eq!(judge(signs(299, 11, false)), Health::Alive);
        assert_eq!(judge(signs(300, 11, false)), Health::Silent);
        assert_eq!(judge(signs(343, 43, false)), Health::Alive);
        assert_eq!(judge(signs(344, 43, false)), Health::Silent);
    }

    #[test]
    fn a_suspect_may_be_quiet_for_40_ms_or_three_periods() {
        assert_eq!(judge(signs(39, 11, true)), Health::Alive);
        assert_eq!(judge(signs(40, 11, true)), Health::Failed);
        assert_eq!(judge(signs(128, 43, true)), Health::Alive);
        assert_eq!(judge(signs(129, 43, true)), Health::Failed);
    }

    #[test]
    fn a_new_stream_has_time_to_start() {
        let new = |quiet, age, suspect| Signs { proven: false, age: MS * age, ..signs(quiet, 11, suspect) };
        assert_eq!(judge(new(1_990, 1_990, false)), Health::Alive);
        assert_eq!(judge(new(200, 250, true)), Health::Alive);
        assert_eq!(judge(new(300, 320, true)), Health::Failed);
        assert_eq!(judge(new(10, 4_000, false)), Health::Mute);
    }
}
