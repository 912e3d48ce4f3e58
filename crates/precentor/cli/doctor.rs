//! `precentor doctor`: what works, and how to mend what does not.

mod folders;
mod microphone;
mod pedals;
mod sound;
mod terminal;
mod voice;

use clap::Args;
use schemars::JsonSchema;
use serde::Serialize;
use std::process::ExitCode;

use super::{exit, print};

/// What works, and how to mend what does not: sound, microphone, terminal, voice, pedals
///
/// Nothing is played and nothing is changed. The microphone is listened to for a second, for its level alone.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor doctor                        before the first class in a new place
  precentor doctor --json                 for a report

Exit codes: 0 all works, 1 something does not.")]
pub struct DoctorArgs {
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// What `doctor --json` prints.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct DoctorOutput {
    /// The program's version.
    pub version: String,
    /// Whether no check failed.
    pub ok: bool,
    /// Each check, in order.
    pub checks: Vec<CheckUp>,
    /// Every sound device found, in the order in which they would be tried.
    pub devices: Vec<DeviceOutput>,
}

/// One thing that was looked at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct CheckUp {
    /// What was looked at.
    pub name: String,
    /// How it is.
    pub state: Health,
    /// What was found.
    pub found: String,
    /// What to do about it, if there is something to do.
    pub mend: Option<String>,
}

/// How something is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Health {
    /// It works.
    Ok,
    /// It works, but not as well as it could.
    Weak,
    /// It does not work.
    Bad,
}

/// A sound device.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct DeviceOutput {
    /// The sound system it was found through.
    pub host: String,
    /// Its id, which `--device` takes.
    pub id: String,
    /// The name people know it by, which `--device` takes too.
    pub name: String,
    /// Whether its sound system plays on it unless told otherwise.
    pub default: bool,
    /// The common sample rates it takes, in hertz.
    pub rates: Vec<u32>,
    /// The most channels it takes; zero if it would not say.
    pub channels: u16,
}

impl CheckUp {
    fn ok(name: &str, found: impl Into<String>) -> Self {
        Self { name: name.to_owned(), state: Health::Ok, found: found.into(), mend: None }
    }

    fn weak(name: &str, found: impl Into<String>, mend: impl Into<String>) -> Self {
        Self { name: name.to_owned(), state: Health::Weak, found: found.into(), mend: Some(mend.into()) }
    }

    fn bad(name: &str, found: impl Into<String>, mend: impl Into<String>) -> Self {
        Self { name: name.to_owned(), state: Health::Bad, found: found.into(), mend: Some(mend.into()) }
    }
}

/// Looks at everything.
#[must_use]
pub fn look() -> DoctorOutput {
    let survey = sound::survey();
    let mut checks = sound::checks(&survey);
    checks.push(microphone::check());
    checks.extend(terminal::checks(&terminal::Surroundings::find()));
    checks.extend(folders::checks());
    checks.push(voice::check());
    checks.extend(pedals::checks());
    let ok = checks.iter().all(|check| check.state != Health::Bad);
    DoctorOutput { version: env!("CARGO_PKG_VERSION").to_owned(), ok, checks, devices: sound::devices(survey) }
}

pub(super) fn run(args: &DoctorArgs) -> anyhow::Result<ExitCode> {
    let output = look();
    if args.json {
        print::json(&output)?
    } else {
        print::text(&told(&output))?
    }
    Ok(if output.ok { ExitCode::SUCCESS } else { ExitCode::from(exit::FAILED) })
}

fn told(output: &DoctorOutput) -> String {
    let mut text = format!("precentor {}\n\n", output.version);
    let widest = output.checks.iter().map(|check| check.name.len()).max().unwrap_or(0);
    for CheckUp { name, state, found, mend } in &output.checks {
        let state = match state {
            Health::Ok => "ok  ",
            Health::Weak => "weak",
            Health::Bad => "BAD ",
        };
        text += &format!("{state}  {name:widest$}  {found}\n");
        if let Some(mend) = mend {
            text += &format!("      {:widest$}  mend: {mend}\n", "");
        }
    }
    let bad = output.checks.iter().filter(|check| check.state == Health::Bad).count();
    text + &match bad {
        0 => "\nAll that is needed works.\n".to_owned(),
        1 => "\nOne thing does not work.\n".to_owned(),
        bad => format!("\n{bad} things do not work.\n"),
    }
}
