//! The commands: what each takes, and the module that does it.
//!
//! - `lead`, `written`, `concert`, `instruments`, `climb`, `render`, `replay`, `hear`, `record`, `import`, `records`, `check`, `doctor`, `pages`: a
//!   command each
//! - [`exit`]: exit codes, and errors as a person reads them
//! - [`print`](mod@print): tables and JSON on the standard output
//! - `sources`: files named on the command line, and the built-in ones
//! - `output`, `wav`: files that are whole or not there at all
//! - [`schema`]: the JSON Schema of everything printed as JSON

pub mod check;
pub mod climb;
pub mod concert;
pub mod doctor;
pub mod exit;
pub mod hear;
pub mod import;
pub mod instruments;
mod lead;
mod output;
mod pages;
pub mod print;
mod record;
pub mod records;
mod render;
pub mod replay;
pub mod schema;
mod sources;
mod wav;
pub mod written;

use clap::{CommandFactory, Parser, Subcommand};
use std::path::Path;
use std::process::ExitCode;

/// The command line.
#[derive(Debug, Parser)]
#[command(
    name = "precentor",
    version,
    about = "Leads a wind band class: a drone to tune to, lines to echo, everyone's own note by their name",
    long_about = "Leads a wind band class from one key: a drone to tune to, a voice that counts, model and echo turns, every section's own written \
                  note by its name.\n\nWithout a command it opens the console on the room used last, or on a built-in demo room.",
    after_help = EXAMPLES,
    args_conflicts_with_subcommands = true,
    max_term_width = 100
)]
pub struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
    #[command(flatten)]
    lead: lead::LeadArgs,
}

const EXAMPLES: &str = "\
Examples:
  precentor                                    the console on the last room
  precentor middle-note.toml                   the console on a drill
  precentor written F4 --instrument horn_f     what a horn reads for concert F4
  precentor render demo -o demo.wav            the first built-in drill as a WAV file
  precentor doctor                             what works, and how to mend what does not

Exit codes: 0 done, 1 the work failed, 2 bad usage or a bad file.";

#[derive(Debug, Subcommand)]
enum Command {
    /// The console: leads the class, on a room or a drill
    #[command(after_help = lead::EXAMPLES)]
    Lead(lead::LeadArgs),
    Written(written::WrittenArgs),
    Concert(concert::ConcertArgs),
    Instruments(instruments::InstrumentsArgs),
    Climb(climb::ClimbArgs),
    Render(render::RenderArgs),
    Replay(replay::ReplayArgs),
    Hear(hear::HearArgs),
    Record(record::RecordArgs),
    Import(import::ImportArgs),
    Records(records::RecordsArgs),
    Check(check::CheckArgs),
    Doctor(doctor::DoctorArgs),
    Completions(pages::CompletionsArgs),
    Man(pages::ManArgs),
}

/// Does what the command line says. Bad usage ends the process here, with clap's own message.
///
/// # Errors
/// Whatever kept the command from being done; see [`exit`].
pub fn run() -> anyhow::Result<ExitCode> {
    let cli = Cli::parse();
    let done = |()| ExitCode::SUCCESS;
    match cli.command {
        None => {
            not_a_command(cli.lead.file())?;
            lead::run(cli.lead)
        }
        Some(Command::Lead(args)) => lead::run(args),
        Some(Command::Written(args)) => written::run(&args).map(done),
        Some(Command::Concert(args)) => concert::run(&args).map(done),
        Some(Command::Instruments(args)) => instruments::run(&args).map(done),
        Some(Command::Climb(args)) => climb::run(&args).map(done),
        Some(Command::Render(args)) => render::run(&args).map(done),
        Some(Command::Replay(args)) => replay::run(&args).map(done),
        Some(Command::Hear(args)) => hear::run(&args).map(done),
        Some(Command::Record(args)) => record::run(&args).map(done),
        Some(Command::Import(args)) => import::run(&args).map(done),
        Some(Command::Records(args)) => records::run(&args).map(done),
        Some(Command::Check(args)) => check::run(&args),
        Some(Command::Doctor(args)) => doctor::run(&args),
        Some(Command::Completions(args)) => pages::completions(&args).map(done),
        Some(Command::Man(args)) => pages::man(&args).map(done),
    }
}

/// A first word that is no file but nearly a command was meant as one.
fn not_a_command(file: Option<&Path>) -> anyhow::Result<()> {
    let Some(word) = file.filter(|file| !file.exists()).and_then(Path::to_str) else { return Ok(()) };
    let program = Cli::command();
    match book::suggest(word, program.get_subcommands().map(clap::Command::get_name)) {
        Some(nearest) => Err(exit::Usage::error(format!("\"{word}\" is neither a command nor a file"), format!("did you mean {nearest}?"))),
        None => Ok(()),
    }
}
