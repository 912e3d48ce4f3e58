//! What keys, pedals and switches do: as they come, by the table, unless the teacher has bound them to something else.

use book::Faults;
use book::bindings::{Refused, read_bindings};
use sequencer::Cue;
use thiserror::Error;
use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, value};

use super::{Command, Entry, Key, Place, Signal, TABLE, table};

/// The teacher's own bindings.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bindings {
    own: Vec<(Signal, Deed)>,
}

/// What something is bound to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// What it asks for.
    Do(Command),
    /// Nothing, whatever it does as it comes.
    Nothing,
}

/// The word for [`Deed::Nothing`].
pub const NOTHING: &str = "nothing";
/// What the file begins with.
const HEAD: &str =
    "# What your own keys, pedals and switches do. The learn screen writes this file; change it by hand if you like.\nversion = 1\n";

/// Why a file of bindings cannot be changed.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("nothing can be added to it while it is no TOML; mend it first: precentor check shows where")]
pub struct Unreadable;

impl Deed {
    /// What `word` stands for; nothing if nothing can be bound to it.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        if word == NOTHING {
            return Some(Self::Nothing);
        }
        bindable().find(|entry| entry.word == word).map(|entry| Self::Do(entry.command))
    }

    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Do(command) => bindable().find(|entry| entry.command == command).map_or(NOTHING, |entry| entry.word),
            Self::Nothing => NOTHING,
        }
    }

    const fn command(self) -> Option<Command> {
        match self {
            Self::Do(command) => Some(command),
            Self::Nothing => None,
        }
    }
}

/// Everything a key, pedal or switch can be bound to: all that can be asked for on the stage but leaving the program, which is for the
/// keyboard alone.
pub fn bindable() -> impl Iterator<Item = &'static Entry> {
    table::entries(Place::Stage).filter(|entry| !matches!(entry.command, Command::Quit | Command::QuitNow))
}

/// Whether `signal` does what it does and nothing else: silence and the way out are always where they were.
#[must_use]
pub fn is_fixed(signal: Signal) -> bool {
    matches!(signal, Signal::Key(Key::Escape | Key::Control('c') | Key::Sign('q')))
}

impl Bindings {
    /// Reads the file called `name`: all sound rows, and all that is wrong.
    #[must_use]
    pub fn read(name: &str, text: &str) -> (Self, Option<Faults>) {
        let mut bindings = Self::default();
        let faults = read_bindings(name, text, |signal, does| {
            let signal: Signal = signal.parse().map_err(|error: super::signal::SignalError| Refused::Signal(error.to_string()))?;
            if is_fixed(signal) {
                let message = format!("{signal} cannot be bound, so that silence and the way out are always there; bind another key");
                return Err(Refused::Signal(message));
            }
            if bindings.own.iter().any(|(own, _)| *own == signal) {
                return Err(Refused::Signal(format!("{signal} is bound a second time; keep one of the two")));
            }
            let deed = Deed::named(does).ok_or_else(|| Refused::Does(unknown_deed(does)))?;
            bindings.own.push((signal, deed));
            Ok(())
        });
        (bindings, faults)
    }

    /// What `signal` asks for at `place`. What is bound counts where the class is led. Over lists and pages a pedal moves in them, and a key
    /// keeps what it does there.
    #[must_use]
    pub fn asked(&self, place: Place, signal: Signal) -> Option<Command> {
        let Some(deed) = self.own(signal).filter(|_| !is_fixed(signal)) else { return table::asked(place, signal) };
        let bound = || deed.command().and_then(|command| table::over(place, command));
        match signal {
            Signal::Key(key) if !matches!(place, Place::Stage | Place::RoomView) => {
                let types = place == Place::Finder && key.typed().is_some();
                let hushes = deed == Deed::Do(Command::Cue(Cue::Hush));
                if types {
                    None
                } else if hushes {
                    bound()
                } else {
                    table::command(place, key).or_else(bound)
                }
            }
            Signal::Key(_) | Signal::Midi { .. } => bound(),
        }
    }

    /// What `signal` does on the stage: bound, or as it comes.
    #[must_use]
    pub fn does(&self, signal: Signal) -> Deed {
        self.asked(Place::Stage, signal).map_or(Deed::Nothing, Deed::Do)
    }

    /// What the teacher bound `signal` to, on its channel or on any.
    #[must_use]
    pub fn own(&self, signal: Signal) -> Option<Deed> {
        let of = |signal: Signal| self.own.iter().find(|(own, _)| *own == signal).map(|(_, deed)| *deed);
        of(signal).or_else(|| of(signal.on_any_channel()))
    }

    /// The names of the pedals and switches that do `command`, and of the keys the teacher bound to it.
    #[must_use]
    pub fn pedals_for(&self, command: Command) -> Vec<String> {
        let as_they_come =
            TABLE.iter().filter(|entry| entry.command == command).flat_map(|entry| entry.midi).map(|press| Signal::from(*press));
        let as_they_come = as_they_come.filter(|signal| self.own(*signal).is_none());
        let own = self.all().filter(|(_, deed)| *deed == Deed::Do(command)).map(|(signal, _)| signal);
        as_they_come.chain(own).map(|signal| signal.to_string()).collect()
    }

    /// Every binding of the teacher's own.
    pub fn all(&self) -> impl Iterator<Item = (Signal, Deed)> {
        self.own.iter().copied()
    }

    /// Binds `signal`, or with nothing leaves it as it comes. What cannot be bound stays as it is.
    pub fn bind(&mut self, signal: Signal, deed: Option<Deed>) {
        self.own.retain(|(own, _)| *own != signal);
        if !is_fixed(signal) {
            self.own.extend(deed.map(|deed| (signal, deed)));
        }
    }
}

/// `text`, a file of bindings, with `signal` bound to `deed` or to nothing of the teacher's own; everything else stays as it was written.
///
/// # Errors
/// [`Unreadable`]: the text is no TOML.
pub fn rewritten(text: &str, signal: Signal, deed: Option<Deed>) -> Result<String, Unreadable> {
    let text = if text.trim().is_empty() { HEAD } else { text };
    let mut document: DocumentMut = text.parse().map_err(|_| Unreadable)?;
    let list = document.remove("bind").unwrap_or_else(|| Item::ArrayOfTables(ArrayOfTables::new()));
    let mut rows = list.into_array_of_tables().map_err(|_| Unreadable)?;
    rows.retain(|row| row.get("signal").and_then(Item::as_str).is_none_or(|own| own.parse() != Ok(signal)));
    if let Some(deed) = deed {
        let mut row = Table::new();
        row.insert("signal", value(signal.to_string()));
        row.insert("does", value(deed.word()));
        rows.push(row);
    }
    document.insert("bind", Item::ArrayOfTables(rows));
    Ok(document.to_string())
}

fn unknown_deed(does: &str) -> String {
    let words = || bindable().map(|entry| entry.word).chain([NOTHING]);
    match book::suggest(does, words()) {
        Some(nearest) => format!("\"{does}\" is nothing that can be bound; did you mean \"{nearest}\"?"),
        None => format!("\"{does}\" is nothing that can be bound; write one of {}", words().collect::<Vec<_>>().join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inputs::Press;

    fn signal(name: &str) -> Signal {
        name.parse().unwrap()
    }

    /// The bindings of `rows`, each a signal and what it does; all must be sound.
    fn bound(rows: &[(&str, &str)]) -> Bindings {
        let rows: String = rows.iter().map(|(signal, does)| format!("[[bind]]\nsignal = \"{signal}\"\ndoes = \"{does}\"\n")).collect();
        let (bindings, faults) = Bindings::read("inputs.toml", &format!("version = 1\n{rows}"));
        assert_eq!(faults.map(|faults| faults.to_string()), None);
        bindings
    }

    #[test]
    fn pedals_do_what_they_do_until_they_are_bound() {
        let as_it_comes = Bindings::default();
        for (name, word) in [("pedal controller 64", "go"), ("pedal controller 66", "again"), ("pedal controller 67", "hush")] {
            assert_eq!(as_it_comes.does(signal(name)).word(), word, "{name}");
        }
        for name in ["note C2", "program 1", "controller 80", "F6"] {
            assert_eq!(as_it_comes.does(signal(name)), Deed::Nothing, "{name}");
        }
        let own = bound(&[("pedal controller 66", "hold"), ("note C2", "again"), ("pedal controller 67", "nothing"), ("PGUP", "next")]);
        assert_eq!(own.does(signal("pedal controller 66 on channel 9")).word(), "hold");
        assert_eq!(own.does(signal("note C2 on channel 1")).word(), "again");
        assert_eq!(own.does(signal("pedal controller 67")), Deed::Nothing);
        assert_eq!(own.does(signal("PGUP")).word(), "next");
        assert_eq!(own.does(signal("PGDN")).word(), "go");
    }

    #[test]
    fn one_channel_may_do_what_the_others_do_not() {
        let own = bound(&[("note C2 on channel 3", "go"), ("note C2", "hold")]);
        assert_eq!(own.does(signal("note C2 on channel 3")).word(), "go");
        assert_eq!(own.does(signal("note C2 on channel 4")).word(), "hold");
    }

    #[test]
    fn every_source_reaches_every_cue_everything_bindable_and_every_screen() {
        for entry in bindable() {
            for name in ["note C2", "program 5", "controller 80", "F9", "x", "PGDN"] {
                let own = bound(&[(name, entry.word)]);
                assert_eq!(own.asked(Place::Stage, signal(name)), Some(entry.command), "{name} {}", entry.word);
                assert_eq!(own.asked(Place::RoomView, signal(name)), Some(entry.command), "{name} {}", entry.word);
            }
        }
        for cue in Cue::ALL {
            assert_eq!(Deed::named(cue.word()), Some(Deed::Do(Command::Cue(cue))));
        }
    }

    #[test]
    fn over_a_list_pedals_move_and_keys_keep_their_meaning() {
        let own = bound(&[("note C2", "go"), ("note D2", "again"), ("PGDN", "again"), ("x", "go"), ("F9", "hush"), ("DOWN", "hush")]);
        let asked = |place, name: &str| own.asked(place, signal(name));
        for place in [Place::Chooser, Place::Finder, Place::Page, Place::DroneDesk] {
            assert_eq!(asked(place, "note C2"), Some(Command::Choose), "{place:?}");
            assert_eq!(asked(place, "note D2"), Some(Command::Down), "{place:?}");
            assert_eq!(asked(place, "pedal controller 64"), Some(Command::Choose), "{place:?}");
            assert_eq!(asked(place, "F9"), Some(Command::Cue(Cue::Hush)), "{place:?}");
            assert_eq!(asked(place, "DOWN"), Some(Command::Cue(Cue::Hush)), "hush is hush everywhere: {place:?}");
        }
        assert_eq!(asked(Place::Chooser, "PGDN"), Some(Command::Down));
        assert_eq!(asked(Place::Finder, "x"), None, "a letter types");
    }

    #[test]
    fn silence_and_the_way_out_cannot_be_bound_away() {
        for name in ["ESC", "q", "CTRL-C"] {
            let (bindings, faults) = Bindings::read("inputs.toml", &format!("version = 1\n[[bind]]\nsignal = \"{name}\"\ndoes = \"go\"\n"));
            assert_eq!(bindings, Bindings::default());
            assert!(faults.unwrap().to_string().contains("cannot be bound"), "{name}");
            let mut bindings = Bindings::default();
            bindings.bind(signal(name), Some(Deed::Nothing));
            assert_eq!(bindings, Bindings::default());
        }
        for word in ["quit", "quit now", "up and away"] {
            assert_eq!(Deed::named(word), None);
        }
    }

    #[test]
    fn sound_rows_count_whatever_is_wrong_with_the_others() {
        let text = "version = 1\n\
            [[bind]]\nsignal = \"note C2\"\ndoes = \"go\"\n\
            [[bind]]\nsignal = \"note C2\"\ndoes = \"hold\"\n\
            [[bind]]\nsignal = \"note H2\"\ndoes = \"go\"\n\
            [[bind]]\nsignal = \"F6\"\ndoes = \"agian\"\n\
            [[bind]]\nsignal = \"F7\"\n\
            [[bind]]\nsignal = \"F8\"\ndoes = \"again\"\nchanel = 3\n";
        let (bindings, faults) = Bindings::read("inputs.toml", text);
        let all: Vec<_> = bindings.all().map(|(signal, deed)| (signal.to_string(), deed.word())).collect();
        assert_eq!(all, [("note C2".to_owned(), "go"), ("F8".to_owned(), "again")]);
        let told = faults.unwrap().to_string();
        for part in [
            "inputs.toml:6:11: note C2 is bound a second time",
            "inputs.toml:9:11: \"note H2\" has a number out of bounds",
            "inputs.toml:13:9: \"agian\" is nothing that can be bound",
            "did you mean \"again\"?",
            "a binding needs does",
            "\"chanel\" is not a key of a binding",
        ] {
            assert!(told.contains(part), "{part} in:\n{told}");
        }
        let (nothing, faults) = Bindings::read("inputs.toml", "version = 1\n[[bind]\n");
        assert_eq!(nothing, Bindings::default());
        assert!(faults.is_some());
    }

    #[test]
    fn what_is_learnt_is_written_and_everything_else_stays() {
        let learnt = rewritten("", signal("note C2"), Deed::named("go")).unwrap();
        assert_eq!(learnt, format!("{HEAD}\n[[bind]]\nsignal = \"note C2\"\ndoes = \"go\"\n"));
        let by_hand = "version = 1 # mine\n\n# the left one\n[[bind]]\nsignal = \"F6\"\ndoes = \"agian\"\n\n[[bind]]\nsignal = \"Note c2\"\ndoes = \"hold\"\n";
        let changed = rewritten(by_hand, signal("note C2"), Some(Deed::Nothing)).unwrap();
        assert!(changed.starts_with("version = 1 # mine\n\n# the left one\n[[bind]]\nsignal = \"F6\"\ndoes = \"agian\"\n"), "{changed}");
        assert!(changed.ends_with("[[bind]]\nsignal = \"note C2\"\ndoes = \"nothing\"\n") && !changed.contains("hold"), "{changed}");
        let gone = rewritten(&changed, signal("note C2"), None).unwrap();
        assert!(gone.contains("F6") && !gone.contains("note C2"), "{gone}");
        assert_eq!(rewritten("[[bind]", signal("F6"), None), Err(Unreadable));
        let mut bindings = Bindings::default();
        bindings.bind(Press::Note(36).into(), Some(Deed::Do(Command::Cue(Cue::Go))));
        assert_eq!(Bindings::read("inputs.toml", &learnt), (bindings, None));
    }
}
