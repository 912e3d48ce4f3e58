//! A held chord, in the room and in a lesson.

use pitch::{Concert, Temperament};
use sequencer::{Drone, Registers, StackTone};

use crate::form::{Form, Key, Kind, PITCH};
use crate::room::ROOM;
use crate::view::{Text, View};
use crate::walk::Walker;

/// The drone of a room that names none: what a band tunes to in common practice, no source.
const HOME_DRONE: &str = "Bb3";

const TONES: &str = "^(root|fifth|octave|lower octave|[A-Ga-g](bb?|##?|♭♭?|♯♯?)?(-1|[0-9]))$";

pub(crate) const CONCERT: Key = Key::new("concert", PITCH, "concert = \"Bb3\"", "The concert pitch to tune to.").default("\"Bb3\"");

pub(crate) const STACK: Key = Key::new(
    "stack",
    Kind::List { of: &Kind::Notation { pattern: TONES }, least: 1, most: Drone::MAX_TONES },
    "stack = [\"root\", \"fifth\"]",
    "What sounds: root, fifth, octave, lower octave, or any other concert pitch.",
)
.default("[\"root\", \"fifth\"]");

pub(crate) const TUNING: Key =
    Key::new("tuning", Kind::Choice(&["just", "equal", "pythagorean"]), "tuning = \"just\"", "How the stack is tuned over its root.")
        .default("\"just\"");

pub(crate) const REGISTERS: Key = Key::new(
    "registers",
    Kind::Choice(&["stack", "room"]),
    "registers = \"room\"",
    "In which octaves it sounds: the stack's own, or doubled so that every section finds the root among its comfortable notes.",
)
.default("\"stack\"");

/// A held pitch and what stands on it.
pub(crate) static DRONE: Form =
    Form { what: "a drone", keys: &[CONCERT, STACK, TUNING, REGISTERS], one_of: &[], named: None, above: Some(&ROOM) };

/// The drone `given`, with what it does not say as usual.
pub(crate) fn read(walker: &mut Walker<'_>, given: Option<View<'_>>) -> Option<Drone> {
    let home = HOME_DRONE.parse::<Concert>().ok()?;
    let usual = vec![StackTone::Root, StackTone::Fifth];
    let Some(given) = given else {
        return Some(Drone { root: home, stack: usual, temperament: Temperament::Just, registers: Registers::Stack });
    };
    let root = match given.text("concert") {
        Some(text) => pitch(walker, &text),
        None => Some(home),
    };
    let mut stack = Vec::new();
    for text in given.texts("stack").into_iter().take(Drone::MAX_TONES) {
        stack.push(match text.value {
            "root" => Some(StackTone::Root),
            "fifth" => Some(StackTone::Fifth),
            "octave" => Some(StackTone::Octave),
            "lower octave" => Some(StackTone::LowerOctave),
            other if other.parse::<Concert>().is_ok() || other.starts_with(|first: char| first.is_ascii_uppercase()) => {
                pitch(walker, &text).map(StackTone::Free)
            }
            other => {
                let known = ["root", "fifth", "octave", "lower octave"];
                let mend = match crate::suggest(other, known) {
                    Some(nearest) => format!("did you mean \"{nearest}\"?"),
                    None => format!("write {} or a concert pitch, such as D4", known.join(", ")),
                };
                walker.fault(text.inside(), format!("\"{other}\" is not a note of a drone"), mend);
                None
            }
        });
    }
    let stack = if given.has("stack") { stack.into_iter().collect::<Option<_>>() } else { Some(usual) };
    let temperament = if given.has("tuning") { given.text("tuning")?.value.parse().ok() } else { Some(Temperament::Just) };
    let registers = match given.text("registers") {
        Some(text) if text.value == "room" => Registers::Room,
        _ => Registers::Stack,
    };
    Some(Drone { root: root?, stack: stack?, temperament: temperament?, registers })
}

fn pitch(walker: &mut Walker<'_>, text: &Text<'_>) -> Option<Concert> {
    let pitch: Concert = text.parsed(walker)?;
    if Drone::RANGE.contains(&pitch.semitone()) {
        return Some(pitch);
    }
    let (low, high) = Drone::RANGE_NAMES;
    walker.fault(
        text.inside(),
        format!("{pitch} is too low or too high for a drone"),
        format!("write a concert pitch from {low} to {high}"),
    );
    None
}
