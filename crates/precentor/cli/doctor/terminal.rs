//! The terminal the console would be drawn in.

use std::env;
use std::io::{self, IsTerminal};

use super::CheckUp;

/// The least the console draws in, columns and rows.
const FLOOR: (u16, u16) = (80, 24);

/// What the program finds around itself.
#[derive(Clone, Debug, Default)]
pub(super) struct Surroundings {
    terminal: bool,
    size: Option<(u16, u16)>,
    term: Option<String>,
    colorterm: Option<String>,
    no_color: bool,
    locale: Option<String>,
}

impl Surroundings {
    pub(super) fn find() -> Self {
        let var = |name: &str| env::var(name).ok().filter(|value| !value.is_empty());
        Self {
            terminal: io::stdout().is_terminal() && io::stdin().is_terminal(),
            size: crossterm::terminal::size().ok(),
            term: var("TERM"),
            colorterm: var("COLORTERM"),
            no_color: var("NO_COLOR").is_some(),
            locale: ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(var),
        }
    }

    fn is_dumb(&self) -> bool {
        self.term.as_deref() == Some("dumb")
    }
}

pub(super) fn checks(around: &Surroundings) -> Vec<CheckUp> {
    let term = around.term.as_deref().unwrap_or("not set");
    if !around.terminal {
        return vec![CheckUp::weak(
            "terminal",
            format!("input or output is no terminal (TERM {term})"),
            "run it in a terminal window; elsewhere the console speaks in lines, as with --plain",
        )];
    }
    if around.is_dumb() {
        return vec![CheckUp::weak(
            "terminal",
            "TERM says dumb, so the console speaks in lines",
            "use another terminal for the full screen",
        )];
    }
    vec![size(around, term), colours(around), letters(around)]
}

fn size(around: &Surroundings, term: &str) -> CheckUp {
    match around.size {
        Some((columns, rows)) if columns >= FLOOR.0 && rows >= FLOOR.1 => {
            CheckUp::ok("terminal", format!("{columns} columns and {rows} rows (TERM {term})"))
        }
        Some((columns, rows)) => CheckUp::weak(
            "terminal",
            format!("{columns} columns and {rows} rows (TERM {term})"),
            format!("make it {} by {} or more, by a larger window or smaller letters", FLOOR.0, FLOOR.1),
        ),
        None => CheckUp::weak("terminal", format!("it does not tell its size (TERM {term})"), "use another terminal, or --plain"),
    }
}

fn colours(around: &Surroundings) -> CheckUp {
    if around.no_color {
        return CheckUp::ok("colours", "none, as NO_COLOR asks; states are told by word and shape");
    }
    let many = around.colorterm.as_deref().is_some_and(|value| matches!(value, "truecolor" | "24bit"));
    let hundreds = around.term.as_deref().is_some_and(|term| term.contains("256color"));
    CheckUp::ok(
        "colours",
        if many {
            "millions; 16 are used"
        } else if hundreds {
            "256; 16 are used"
        } else {
            "16"
        },
    )
}

fn letters(around: &Surroundings) -> CheckUp {
    let locale = around.locale.as_deref().unwrap_or("not set");
    let utf8 = {
        let locale = locale.to_lowercase();
        locale.contains("utf-8") || locale.contains("utf8")
    };
    if utf8 || cfg!(windows) || cfg!(target_os = "macos") {
        CheckUp::ok("letters", format!("UTF-8 (locale {locale})"))
    } else {
        CheckUp::weak(
            "letters",
            format!("the locale is {locale}, not UTF-8; signs are drawn in ASCII"),
            "set LANG to a UTF-8 locale, such as C.UTF-8",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::Health;
    use super::*;

    fn usual() -> Surroundings {
        Surroundings {
            terminal: true,
            size: Some((100, 30)),
            term: Some("xterm-256color".to_owned()),
            colorterm: None,
            no_color: false,
            locale: Some("en_US.UTF-8".to_owned()),
        }
    }

    fn states(around: &Surroundings) -> Vec<Health> {
        checks(around).into_iter().map(|check| check.state).collect()
    }

    #[test]
    fn a_usual_terminal_is_well() {
        assert_eq!(states(&usual()), [Health::Ok; 3]);
        assert_eq!(checks(&usual())[1].found, "256; 16 are used");
    }

    #[test]
    fn small_or_poor_terminals_are_weak_and_mended() {
        let small = Surroundings { size: Some((79, 24)), ..usual() };
        assert_eq!(states(&small), [Health::Weak, Health::Ok, Health::Ok]);
        let latin = Surroundings { locale: Some("C".to_owned()), ..usual() };
        if !cfg!(target_os = "macos") && !cfg!(windows) {
            assert_eq!(states(&latin), [Health::Ok, Health::Ok, Health::Weak]);
        }
        for poor in [Surroundings { terminal: false, ..usual() }, Surroundings { term: Some("dumb".to_owned()), ..usual() }] {
            assert_eq!(states(&poor), [Health::Weak]);
            assert!(checks(&poor)[0].mend.is_some());
        }
    }
}
