//! `precentor completions` and `precentor man`: what a packager installs beside the program.

use anyhow::Context;
use clap::{Args, CommandFactory};
use clap_complete::Shell;
use clap_mangen::roff::{Roff, bold, roman};

use super::exit::Usage;
use super::{Cli, print};
use crate::inputs::table;

/// Completions for a shell, to be put where the shell looks for them
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor completions bash > ~/.local/share/bash-completion/completions/precentor
  precentor completions fish > ~/.config/fish/completions/precentor.fish
  precentor completions zsh > ~/.zfunc/_precentor")]
pub struct CompletionsArgs {
    /// Which shell
    #[arg(value_enum, value_name = "SHELL")]
    shell: Shell,
}

/// The manual page, of the program or of one command
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor man > precentor.1
  precentor man render > precentor-render.1
  precentor man | man -l -")]
pub struct ManArgs {
    /// A command; the whole program if none is named
    #[arg(value_name = "COMMAND")]
    command: Option<String>,
}

pub(super) fn completions(args: &CompletionsArgs) -> anyhow::Result<()> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "precentor", &mut script);
    print::bytes(&script)
}

pub(super) fn man(args: &ManArgs) -> anyhow::Result<()> {
    let mut program = Cli::command();
    program.build();
    let command = match &args.command {
        None => program,
        Some(name) => program.find_subcommand(name).cloned().ok_or_else(|| {
            let names: Vec<_> = program.get_subcommands().map(clap::Command::get_name).collect();
            let mend = match book::suggest(name, &names) {
                Some(nearest) => format!("did you mean {nearest}?"),
                None => format!("there are {}", names.join(", ")),
            };
            Usage::error(format!("there is no command \"{name}\""), mend)
        })?,
    };
    let console = args.command.as_deref().is_none_or(|name| name == "lead");
    let mut page = Vec::new();
    clap_mangen::Man::new(command).render(&mut page).context("the manual page cannot be made")?;
    if console {
        keys().to_writer(&mut page).context("the manual page cannot be made")?;
    }
    print::bytes(&page)
}

/// The console's keys, from the one table that decides what they do.
fn keys() -> Roff {
    let mut page = Roff::new();
    page.control("SH", ["KEYS OF THE CONSOLE"]);
    for (group, lines) in table::manual() {
        page.control("SS", [group.title()]);
        for (keys, word, meaning) in lines {
            page.control("TP", []);
            page.text([bold(keys)]);
            page.text([roman(format!("{word}: {meaning}"))]);
        }
    }
    page
}
