//! Help, manual pages, completions.

use super::{COMMANDS, Desk};

#[test]
fn the_list_of_commands_is_whole() {
    let help = Desk::new().done(&["--help"]);
    let listed = help.lines().skip_while(|line| *line != "Commands:").skip(1).take_while(|line| !line.is_empty());
    let mut names: Vec<_> = listed.filter_map(|line| line.split_whitespace().next()).collect();
    assert_eq!(names.pop(), Some("help"));
    assert_eq!(names, COMMANDS);
}

#[test]
fn every_help_has_examples_of_its_own() {
    let desk = Desk::new();
    assert!(desk.done(&["--help"]).contains("\nExamples:\n  precentor "));
    for command in COMMANDS {
        let help = desk.done(&[command, "--help"]);
        assert!(help.contains(&format!("\nExamples:\n  precentor {command}")), "{command}: {help}");
        assert_eq!(desk.done(&["help", command]), help);
    }
}

#[test]
fn manual_pages_name_every_command() {
    let desk = Desk::new();
    let page = desk.done(&["man"]);
    assert!(page.contains(".TH precentor 1"));
    for command in COMMANDS {
        assert!(page.contains(&format!("precentor\\-{command}(1)")), "{command}");
        let own = desk.done(&["man", command]);
        assert!(own.contains(&format!(".TH precentor\\-{command} 1")) || own.contains(&format!(".TH precentor-{command} 1")), "{own}");
        assert!(own.contains("Examples:"), "{command}");
    }
    for page in [page, desk.done(&["man", "lead"])] {
        assert!(page.contains("KEYS OF THE CONSOLE"));
        for (group, lines) in precentor::inputs::table::manual() {
            assert!(page.contains(group.title()) && lines.iter().all(|(_, word, _)| page.contains(&word.replace('-', "\\-"))), "{page}");
        }
    }
    assert!(!desk.done(&["man", "check"]).contains("KEYS OF THE CONSOLE"));
    assert!(desk.refused(&["man", "rendr"]).contains("did you mean render?"));
}

#[test]
fn completions_know_every_command() {
    let desk = Desk::new();
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = desk.done(&["completions", shell]);
        for command in COMMANDS {
            assert!(script.contains(command), "{shell}: {command}");
        }
    }
}

#[test]
fn the_version_is_the_manifest_s() {
    assert_eq!(Desk::new().done(&["--version"]), concat!("precentor ", env!("CARGO_PKG_VERSION"), "\n"));
}
