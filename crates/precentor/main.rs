//! The program.

use precentor::cli;
use std::panic;
use std::process::ExitCode;

fn main() -> ExitCode {
    cli::exit::plain_panics();
    match panic::catch_unwind(cli::run) {
        Ok(Ok(code)) => code,
        Ok(Err(error)) => cli::exit::with(&error),
        // the hook has told of it
        Err(_) => ExitCode::from(cli::exit::FAILED),
    }
}
