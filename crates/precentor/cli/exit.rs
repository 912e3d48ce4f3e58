//! Exit codes, and errors as a person reads them: one cause a line, each with its mend.

use book::Faults;
use engine::recording::RecordingError;
use records::RecordsError;
use std::fmt::Write as _;
use std::process::ExitCode;
use thiserror::Error;

use super::print::Closed;
use crate::workshop::MakeError;

/// The work failed.
pub const FAILED: u8 = 1;
/// Bad usage or a bad file.
pub const BAD: u8 = 2;

/// Something on the command line that cannot be done; says how to mend it.
#[derive(Debug, Error)]
#[error("{0}")]
pub struct Usage(pub String);

impl Usage {
    /// An error that says `what` is wrong and how to `mend` it.
    pub fn error(what: impl std::fmt::Display, mend: impl std::fmt::Display) -> anyhow::Error {
        Self(format!("{what}; {mend}")).into()
    }
}

/// The code to leave with because of `error`: nobody reading on is no failure, what the user wrote is [`BAD`], all else [`FAILED`].
#[must_use]
pub fn code(error: &anyhow::Error) -> u8 {
    let bad = |cause: &(dyn std::error::Error + 'static)| {
        let file =
            matches!(cause.downcast_ref(), Some(RecordsError::Newer { .. } | RecordsError::Foreign { .. } | RecordsError::Record { .. }));
        file || cause.is::<Usage>() || cause.is::<Faults>() || cause.is::<MakeError>() || cause.is::<RecordingError>()
    };
    if error.chain().any(|cause| cause.is::<Closed>()) {
        0
    } else if error.chain().any(bad) {
        BAD
    } else {
        FAILED
    }
}

/// The lines that tell of `error`.
#[must_use]
pub fn lines(error: &anyhow::Error) -> String {
    let mut told = Vec::<String>::new();
    for cause in error.chain() {
        // faults have lines of their own, which say in which file they are
        let faults = cause.is::<Faults>() || matches!(cause.downcast_ref(), Some(MakeError::File(_)));
        let text = cause.to_string();
        if told.iter().any(|line| line.contains(&text)) {
            continue;
        }
        told.push(match (faults, told.is_empty()) {
            (true, _) => text,
            (false, true) => format!("precentor: {text}"),
            (false, false) => format!("  because: {text}"),
        });
    }
    told.join("\n")
}

/// Tells of `error` on the standard error output and gives the code to leave with.
#[must_use]
pub fn with(error: &anyhow::Error) -> ExitCode {
    let code = code(error);
    if code != 0 {
        super::print::note(&lines(error));
    }
    ExitCode::from(code)
}

/// A panic told in one sentence, without a backtrace: it is the program's fault, and nothing the user can mend.
pub fn plain_panics() {
    std::panic::set_hook(Box::new(|panic| {
        let mut line = String::from("precentor: the program failed");
        if let Some(place) = panic.location() {
            let _ = write!(line, " at {}:{}", place.file(), place.line());
        }
        let payload = panic.payload();
        if let Some(message) = payload.downcast_ref::<&str>().copied().or_else(|| payload.downcast_ref::<String>().map(String::as_str)) {
            let _ = write!(line, " ({message})");
        }
        super::print::note(&format!("{line}; please report this, with what you did before"));
    }));
}

#[cfg(test)]
mod tests {
    use super::*;
    use anyhow::Context;

    #[test]
    fn codes_follow_the_blame() {
        let bad = Usage::error("there is no such thing", "name another");
        assert_eq!(code(&bad), BAD);
        assert_eq!(code(&Err::<(), _>(bad).context("cannot go on").unwrap_err()), BAD);
        assert_eq!(code(&anyhow::anyhow!("the disk is full")), FAILED);
        assert_eq!(code(&Closed.into()), 0);
        assert_eq!(code(&MakeError::NoDrill.into()), BAD);
        let faults = book::read_room("room.toml", "").unwrap_err();
        assert_eq!(code(&MakeError::File(faults).into()), BAD);
    }

    #[test]
    fn each_cause_has_its_line_and_none_is_told_twice() {
        let error = anyhow::anyhow!("no space left").context("out.wav cannot be written").context("nothing was kept");
        assert_eq!(lines(&error), "precentor: nothing was kept\n  because: out.wav cannot be written\n  because: no space left");
        let faults = book::read_room("room.toml", "version = 2").unwrap_err();
        assert_eq!(lines(&MakeError::File(faults.clone()).into()), faults.to_string());
    }
}
