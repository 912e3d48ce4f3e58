//! Which keys and words ask for what, and where. Hints, help, the command list and the manual are made from this one table.

use sequencer::{Cue, Role};

use super::{Command, Key, Press, Signal, Verdict, Way};

/// Where the console is, as far as keys are concerned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// The stage.
    Stage,
    /// The room view: large letters for the class.
    RoomView,
    /// A list to choose from.
    Chooser,
    /// The drone's screen.
    DroneDesk,
    /// A list that filters by typing: keys and commands.
    Finder,
    /// A page to read: cautions, faults, the ear's table.
    Page,
    /// The learn screen while it listens: almost every key is only shown.
    Learn,
}

impl Place {
    /// All of them.
    pub const ALL: [Self; 7] = [Self::Stage, Self::RoomView, Self::Chooser, Self::DroneDesk, Self::Finder, Self::Page, Self::Learn];
}

/// What belongs together in the help.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Group {
    /// Leading the class.
    Lead,
    /// Loudness and tempo.
    Nudge,
    /// What is led.
    Choose,
    /// A whole class hour.
    Lesson,
    /// The director's ear.
    Ear,
    /// Screens.
    Screen,
    /// Moving in lists.
    Move,
}

impl Group {
    /// All of them, in the order of the help.
    pub const ALL: [Self; 7] = [Self::Lead, Self::Nudge, Self::Choose, Self::Lesson, Self::Ear, Self::Screen, Self::Move];

    /// Its heading.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::Lead => "Lead the class",
            Self::Nudge => "Loudness and tempo",
            Self::Choose => "Choose what is led",
            Self::Lesson => "Lead a lesson",
            Self::Ear => "Your ear, in a roll",
            Self::Screen => "Screens",
            Self::Move => "Move in a list",
        }
    }
}

/// One line of the table.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// What it asks for.
    pub command: Command,
    /// The keys that ask for it; the first is the one the hints name. Without any, it is asked for by its word.
    pub keys: &'static [Key],
    /// The MIDI presses that ask for it as they come, on any channel.
    pub midi: &'static [Press],
    /// One or two words for it: typed in line mode, shown in hints.
    pub word: &'static str,
    /// What it does, in one sentence.
    pub meaning: &'static str,
    /// What it belongs to.
    pub group: Group,
    /// Where its keys are listened to.
    pub places: &'static [Place],
    /// Whether a quick repeat is a bounce.
    pub guarded: bool,
}

use Place::{Chooser, DroneDesk, Finder, Learn, Page, RoomView, Stage};

/// Where the class is led from.
const LED: &[Place] = &[Stage, RoomView];
/// Where somebody may be listened to.
const HEARD: &[Place] = &[Stage, RoomView, DroneDesk];
/// Where letters are commands.
const LETTERS: &[Place] = &[Stage, RoomView, Chooser, DroneDesk, Page];
/// Where arrows move.
const MOVED: &[Place] = &[Stage, RoomView, Chooser, DroneDesk, Finder, Page];
/// Lists and pages laid over the stage.
const OVER: &[Place] = &[Chooser, DroneDesk, Finder, Page];

const fn entry(
    command: Command,
    keys: &'static [Key],
    word: &'static str,
    meaning: &'static str,
    group: Group,
    places: &'static [Place],
) -> Entry {
    let guarded = matches!(
        command,
        Command::Cue(Cue::Go | Cue::Again | Cue::Hold | Cue::Next | Cue::Back | Cue::Landmark)
            | Command::DroneToggle
            | Command::RoomView
            | Command::Choose
            | Command::Leave
    );
    Entry { command, keys, midi: &[], word, meaning, group, places, guarded }
}

impl Entry {
    /// The same entry, asked for by MIDI presses too.
    const fn on(self, midi: &'static [Press]) -> Self {
        Self { midi, ..self }
    }
}

/// A role's level: asked for by its word.
const fn role(role: Role, way: Way, word: &'static str, meaning: &'static str) -> Entry {
    entry(Command::Role(role, way), &[], word, meaning, Group::Nudge, LETTERS)
}

/// The table.
pub static TABLE: &[Entry] = &[
    entry(
        Command::Cue(Cue::Hush),
        &[Key::Escape],
        "hush",
        "Silence at once, from anywhere; the place is kept, and the stage comes back.",
        Group::Lead,
        &Place::ALL,
    )
    .on(&[Press::Controller(67)]),
    entry(Command::Cue(Cue::Hush), &[Key::Sign('s'), Key::Sign('.')], "hush", "Silence at once; the place is kept.", Group::Lead, LETTERS),
    entry(
        Command::Cue(Cue::Go),
        &[Key::Space, Key::Enter, Key::Right, Key::PageDown, Key::Function(5)],
        "go",
        "Start or go on; while it runs, on to the next group or seat at the bar line.",
        Group::Lead,
        LED,
    )
    .on(&[Press::Controller(64)]),
    entry(
        Command::Cue(Cue::Again),
        &[Key::Backspace, Key::Left, Key::PageUp],
        "again",
        "This round once more from its top, at the bar line.",
        Group::Lead,
        LED,
    )
    .on(&[Press::Controller(66)]),
    entry(
        Command::Cue(Cue::Hold),
        &[Key::Sign('h')],
        "hold",
        "Stop at the bar line and stand until go; a drone sounds on.",
        Group::Lead,
        LED,
    ),
    entry(Command::Cue(Cue::Next), &[Key::Sign('n')], "next", "The next group, seat or section, at the bar line.", Group::Lead, LED),
    entry(
        Command::Cue(Cue::Back),
        &[Key::Sign('b')],
        "back",
        "This group or seat from its top, or the one before, at the bar line.",
        Group::Lead,
        LED,
    ),
    entry(
        Command::Cue(Cue::Landmark),
        &[Key::Sign('j')],
        "landmark",
        "The section's landmark and then its next round, at the bar line, in an adaptive drill; elsewhere as again.",
        Group::Lead,
        LED,
    ),
    entry(
        Command::Cue(Cue::Softer),
        &[Key::Sign('-'), Key::Sign('_')],
        "softer",
        "Everything a step softer (2 dB).",
        Group::Nudge,
        LETTERS,
    ),
    entry(
        Command::Cue(Cue::Louder),
        &[Key::Sign('+'), Key::Sign('=')],
        "louder",
        "Everything a step louder (2 dB).",
        Group::Nudge,
        LETTERS,
    ),
    entry(
        Command::Cue(Cue::Slower),
        &[Key::Sign('['), Key::Sign('<')],
        "slower",
        "A step slower (4 beats per minute), at the next bar line.",
        Group::Nudge,
        LETTERS,
    ),
    entry(
        Command::Cue(Cue::Quicker),
        &[Key::Sign(']'), Key::Sign('>')],
        "quicker",
        "A step quicker (4 beats per minute), at the next bar line.",
        Group::Nudge,
        LETTERS,
    ),
    role(Role::Model, Way::Softer, "model -", "The model tones a step softer beside the rest (2 dB)."),
    role(Role::Model, Way::Louder, "model +", "The model tones a step louder beside the rest (2 dB)."),
    role(Role::Drone, Way::Softer, "drone -", "The drone a step softer beside the rest (2 dB)."),
    role(Role::Drone, Way::Louder, "drone +", "The drone a step louder beside the rest (2 dB)."),
    role(Role::Voice, Way::Softer, "voice -", "The spoken words a step softer beside the rest (2 dB)."),
    role(Role::Voice, Way::Louder, "voice +", "The spoken words a step louder beside the rest (2 dB)."),
    role(Role::Click, Way::Softer, "click -", "The clicks a step softer beside the rest (2 dB)."),
    role(Role::Click, Way::Louder, "click +", "The clicks a step louder beside the rest (2 dB)."),
    role(Role::Breath, Way::Softer, "breath -", "The inhale a step softer beside the rest (2 dB)."),
    role(Role::Breath, Way::Louder, "breath +", "The inhale a step louder beside the rest (2 dB)."),
    entry(Command::Drills, &[Key::Sign('d')], "drill", "Choose a drill.", Group::Choose, LED),
    entry(Command::Rooms, &[Key::Sign('r')], "room", "Choose a room: your class, or the demo.", Group::Choose, LED),
    entry(Command::DroneDesk, &[Key::Sign('o')], "drone", "Choose a drone, sound it or let it go.", Group::Choose, LED),
    entry(Command::DroneToggle, &[Key::Sign('0')], "sound", "Sound the drone as it is set, or let it go.", Group::Choose, LED),
    entry(
        Command::Landmarks,
        &[Key::Sign('l')],
        "landmarks",
        "Name and play a section's anchor notes to it, as it reads them.",
        Group::Choose,
        LED,
    ),
    entry(
        Command::InTurn,
        &[Key::Sign('t')],
        "turns",
        "Every section's note, one section after another, each called by name.",
        Group::Choose,
        LED,
    ),
    entry(Command::Roll, &[Key::Sign('e')], "roll", "The drill seat by seat through one section.", Group::Choose, LED),
    entry(
        Command::Climb,
        &[Key::Sign('c')],
        "climb",
        "A passage of a piece from under-tempo to concert tempo, stage by stage.",
        Group::Choose,
        LED,
    ),
    entry(
        Command::Recheck,
        &[Key::Sign('k')],
        "recheck",
        "The passage that climbs, at half tempo and then at its own; go leads back to the climb.",
        Group::Choose,
        LED,
    ),
    entry(Command::Lessons, &[Key::Sign('w')], "lesson", "Choose a lesson: a whole class hour.", Group::Lesson, LED),
    entry(Command::Items, &[Key::Sign('a')], "items", "The lesson's items with their minutes; choose any of them.", Group::Lesson, LED),
    entry(
        Command::NextItem,
        &[Key::Sign('x')],
        "next item",
        "Skip to the lesson's next item; this one's place is kept.",
        Group::Lesson,
        LED,
    ),
    entry(Command::PreviousItem, &[Key::Sign('z')], "item before", "The lesson's item before, where it was left.", Group::Lesson, LED),
    entry(Command::Agree, &[Key::Sign('p')], "shorten", "Shorten what is left of the lesson as is proposed.", Group::Lesson, LED),
    entry(Command::Verdict(Verdict::OnIt), &[Key::Sign('1')], "on it", "The seat that answered was on it.", Group::Ear, LED),
    entry(Command::Verdict(Verdict::Low), &[Key::Sign('2')], "low", "The seat that answered was too low.", Group::Ear, LED),
    entry(Command::Verdict(Verdict::High), &[Key::Sign('3')], "high", "The seat that answered was too high.", Group::Ear, LED),
    entry(Command::Verdict(Verdict::Silent), &[Key::Sign('4')], "silent", "No sound came from the seat.", Group::Ear, LED),
    entry(
        Command::Listen,
        &[Key::Sign('m')],
        "microphone",
        "The microphone hears each seat of a roll, a section's echo, and who plays to the drone; or no more.",
        Group::Ear,
        HEARD,
    ),
    entry(
        Command::SayVerdicts,
        &[Key::Sign('g')],
        "say heard",
        "In a roll, the voice says in the rest after each echo what the microphone heard of it, or no more.",
        Group::Ear,
        LED,
    ),
    entry(
        Command::Measure,
        &[Key::Sign('u')],
        "measure",
        "A soft sweep measures the room, so that our own sound is taken out of what the microphone hears and entries are told.",
        Group::Ear,
        HEARD,
    ),
    entry(
        Command::OpenEar,
        &[Key::Sign('y')],
        "open ear",
        "A child plays, and the room sees its note, its partial and how far it is off.",
        Group::Ear,
        LED,
    ),
    entry(Command::Ear, &[Key::Sign('5')], "noted", "What you noted in this roll, by seat.", Group::Ear, LED),
    entry(Command::RoomView, &[Key::Sign('v')], "room view", "Large letters for the class on the projector, or back.", Group::Screen, LED),
    entry(
        Command::Faults,
        &[Key::Sign('f')],
        "trouble",
        "What is wrong, in a saved file or with the sound, and how to mend it.",
        Group::Screen,
        LED,
    ),
    entry(Command::Keys, &[Key::Sign('?')], "keys", "Every key and what it does; type to find one, Enter does it.", Group::Screen, LETTERS),
    entry(Command::Commands, &[Key::Sign(':')], "do", "Everything you can do, found by typing its word.", Group::Screen, LETTERS),
    entry(
        Command::Learn,
        &[Key::Sign('i')],
        "learn",
        "See what a pedal, a switch or a key does, and teach it something else.",
        Group::Screen,
        LED,
    ),
    entry(Command::Quit, &[Key::Sign('q')], "quit", "Leave; while something sounds, press it twice.", Group::Screen, LED),
    entry(Command::QuitNow, &[Key::Control('c')], "quit now", "Leave at once.", Group::Screen, &Place::ALL),
    entry(Command::Up, &[Key::Up], "up", "The line or section above.", Group::Move, MOVED),
    entry(Command::Down, &[Key::Down], "down", "The line or section below.", Group::Move, MOVED),
    entry(Command::Up, &[Key::PageUp, Key::Left], "up", "The line above.", Group::Move, &[Chooser, Finder, Page]),
    entry(Command::Down, &[Key::PageDown, Key::Right], "down", "The line below.", Group::Move, &[Chooser, Finder, Page]),
    entry(Command::Less, &[Key::Left, Key::PageUp], "less", "Lower, or the choice before.", Group::Move, &[DroneDesk]),
    entry(Command::More, &[Key::Right, Key::PageDown], "more", "Higher, or the choice after.", Group::Move, &[DroneDesk]),
    entry(Command::DroneToggle, &[Key::Sign('o')], "sound", "Sound the drone as it is set, or let it go.", Group::Choose, &[DroneDesk]),
    entry(Command::Choose, &[Key::Enter], "choose", "Take the marked line.", Group::Move, OVER),
    entry(Command::Choose, &[Key::Space], "choose", "Take the marked line.", Group::Move, &[Chooser, DroneDesk, Page]),
    entry(Command::Leave, &[Key::Tab], "stage", "Back to the stage; what sounds, sounds on.", Group::Move, OVER),
    entry(
        Command::Leave,
        &[Key::Sign('q'), Key::Backspace],
        "stage",
        "Back to the stage; what sounds, sounds on.",
        Group::Move,
        &[Chooser, DroneDesk, Page],
    ),
    entry(Command::Leave, &[Key::Sign('q')], "stage", "Back to the stage; what sounds, sounds on.", Group::Move, &[Learn]),
    entry(Command::Teach, &[Key::Tab], "teach", "Choose what the newest press shall do.", Group::Move, &[Learn]),
    entry(Command::Erase, &[Key::Backspace], "erase", "Take back the last letter.", Group::Move, &[Finder]),
];

/// What `key` asks for at `place`.
#[must_use]
pub fn command(place: Place, key: Key) -> Option<Command> {
    TABLE.iter().find(|entry| entry.places.contains(&place) && entry.keys.contains(&key)).map(|entry| entry.command)
}

/// What `signal` asks for at `place` as it comes.
#[must_use]
pub fn asked(place: Place, signal: Signal) -> Option<Command> {
    match signal {
        Signal::Key(key) => command(place, key),
        Signal::Midi { press, .. } => over(place, TABLE.iter().find(|entry| entry.midi.contains(&press))?.command),
    }
}

/// What a pedal that asks for `command` on the stage asks for at `place`: what leads the class moves in a list. Nothing if it means
/// nothing there.
#[must_use]
pub fn over(place: Place, command: Command) -> Option<Command> {
    let listened = |command: Command| TABLE.iter().any(|entry| entry.command == command && entry.places.contains(&place));
    let there = match command {
        _ if listened(command) => command,
        Command::Cue(Cue::Go) => Command::Choose,
        Command::Cue(Cue::Again) => Command::Down,
        _ => return None,
    };
    listened(there).then_some(there)
}

/// What the typed `word` asks for at `place`.
#[must_use]
pub fn named(place: Place, word: &str) -> Option<Command> {
    TABLE.iter().find(|entry| entry.places.contains(&place) && entry.word == word).map(|entry| entry.command)
}

/// The key the hints name for `command` at `place`.
#[must_use]
pub fn key_for(place: Place, command: Command) -> Option<Key> {
    TABLE.iter().find(|entry| entry.places.contains(&place) && entry.command == command).and_then(|entry| entry.keys.first().copied())
}

/// Every key for `command` at `place`, in the table's order.
#[must_use]
pub fn keys_for(place: Place, command: Command) -> Vec<Key> {
    TABLE
        .iter()
        .filter(|entry| entry.places.contains(&place) && entry.command == command)
        .flat_map(|entry| entry.keys.iter().copied())
        .collect()
}

/// Whether a quick repeat of `command` is taken for a bounce.
#[must_use]
pub fn is_guarded(command: Command) -> bool {
    TABLE.iter().any(|entry| entry.command == command && entry.guarded)
}

/// The first entry of each command that can be asked for at `place`.
pub fn entries(place: Place) -> impl Iterator<Item = &'static Entry> {
    TABLE.iter().enumerate().filter_map(move |(index, entry)| {
        let earlier = TABLE.get(..index).unwrap_or(&[]);
        let repeated = earlier.iter().any(|before| before.command == entry.command && before.places.contains(&place));
        (entry.places.contains(&place) && !repeated).then_some(entry)
    })
}

/// A line of the manual: keys, word and meaning.
pub type ManualLine = (String, &'static str, &'static str);

/// The keys as a section of a manual page, group by group.
#[must_use]
pub fn manual() -> Vec<(Group, Vec<ManualLine>)> {
    Group::ALL
        .into_iter()
        .map(|group| {
            let lines = TABLE.iter().filter(|entry| entry.group == group).map(|entry| {
                // what has no key of its own is found by its word in the list of commands
                let list: &[Key] = if entry.keys.is_empty() { &[Key::Sign(':')] } else { entry.keys };
                let keys = list.iter().map(Key::to_string).collect::<Vec<_>>().join(" ");
                let asked_by = std::iter::once(keys).chain(entry.midi.iter().map(Press::to_string));
                (asked_by.collect::<Vec<_>>().join(", "), entry.word, entry.meaning)
            });
            (group, lines.collect())
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashMap;

    #[test]
    fn no_key_asks_for_two_things_at_one_place() {
        let mut seen: HashMap<(Place, Key), Command> = HashMap::new();
        for entry in TABLE {
            for place in entry.places {
                for key in entry.keys {
                    let before = seen.insert((*place, *key), entry.command);
                    assert_eq!(before, None, "{key} at {place:?}: {before:?} and {:?}", entry.command);
                }
            }
        }
    }

    #[test]
    fn no_word_means_two_things_at_one_place() {
        let mut seen: HashMap<(Place, &str), Command> = HashMap::new();
        for entry in TABLE {
            for place in entry.places {
                let before = seen.insert((*place, entry.word), entry.command);
                assert!(before.is_none_or(|before| before == entry.command), "{} at {place:?}", entry.word);
            }
        }
    }

    #[test]
    fn every_entry_is_reachable_and_says_what_it_does() {
        for entry in TABLE {
            let by_word = matches!(entry.command, Command::Role(..));
            assert!(entry.keys.is_empty() == by_word && !entry.places.is_empty(), "{}", entry.word);
            for place in entry.places {
                for key in entry.keys {
                    // where typing filters, a letter can never reach the table
                    assert!(*place != Place::Finder || key.typed().is_none(), "{key} for {} cannot be reached in a finder", entry.word);
                    assert_eq!(command(*place, *key), Some(entry.command));
                }
            }
            assert!(entry.meaning.ends_with('.') && entry.meaning.len() > 10, "{}", entry.word);
        }
    }

    #[test]
    fn hush_is_one_key_away_everywhere() {
        for place in Place::ALL {
            assert_eq!(command(place, Key::Escape), Some(Command::Cue(Cue::Hush)), "{place:?}");
        }
    }

    #[test]
    fn every_cue_has_a_key_on_the_stage() {
        for cue in Cue::ALL {
            assert!(key_for(Place::Stage, Command::Cue(cue)).is_some(), "{cue}");
            assert_eq!(named(Place::Stage, cue.word()), Some(Command::Cue(cue)));
        }
    }

    #[test]
    fn pedals_work_as_they_come() {
        // the pairs that keyboard pedals send: common practice, no source
        for (forth, back) in
            [(Key::PageDown, Key::PageUp), (Key::Right, Key::Left), (Key::Enter, Key::Backspace), (Key::Space, Key::Backspace)]
        {
            for place in [Place::Stage, Place::RoomView] {
                assert_eq!(command(place, forth), Some(Command::Cue(Cue::Go)));
                assert_eq!(command(place, back), Some(Command::Cue(Cue::Again)));
            }
        }
    }
}
