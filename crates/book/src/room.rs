//! One class, from its file.

use pitch::{Concert, Instrument, Reference, Temperament, UnknownInstrument, Written, WrittenRange};
use sequencer::room::MAX_SECTIONS;
use sequencer::{Drone, Language, Room, Section, StackTone};
use std::collections::HashMap;
use std::num::NonZeroU16;

use crate::drill::SYLLABLES;
use crate::fault::Faults;
use crate::file::{self, Sort};
use crate::form::{Form, Key, Kind, PITCH};
use crate::source::Source;
use crate::view::{Text, View};
use crate::walk::Walker;

/// The drone of a room that names none: what a band tunes to in common practice, no source.
const HOME_DRONE: &str = "Bb3";
/// Drone notes keep to where small loudspeakers sound and young ears are not hurt; the bounds are ours.
const DRONE_RANGE: (&str, &str) = ("E1", "C6");

const TONES: &str = "^(root|fifth|octave|lower octave|[A-Ga-g](bb?|##?|♭♭?|♯♯?)?(-1|[0-9]))$";

/// A room file.
pub static ROOM: Form = Form {
    what: "a room",
    keys: &[
        Key::version(),
        Key::new("name", Kind::Words { most: 60 }, "name = \"Alder Street School, period 2\"", "What the class is called.").needed(),
        Key::new("reference_hz", Kind::Number { least: 415.0, most: 466.0 }, "reference_hz = 440", "The sounding pitch of A4 in hertz.")
            .default("440"),
        Key::new("drone", Kind::Table(&DRONE), "drone = { concert = \"Bb3\" }", "The drone the room tunes to unless another is chosen."),
        SYLLABLES.default("\"la-li\""),
        Key::new(
            "voice",
            Kind::Notation { pattern: "^[^./\\\\][^/\\\\]*$" },
            "voice = \"es-formant\"",
            "Who speaks: en-slt, es-formant or fr-formant, which are built in, or a folder of the teacher's own recordings; see `precentor doctor`.",
        )
        .default("\"en-slt\""),
        Key::new(
            "section",
            Kind::List { of: &Kind::Table(&SECTION), least: 1, most: MAX_SECTIONS },
            "[[section]] and under it name, instrument and seats",
            "The sections, in score order.",
        )
        .needed(),
    ],
    one_of: &[],
    named: None,
    above: None,
};

/// A section of a room.
static SECTION: Form = Form {
    what: "a section",
    keys: &[
        Key::new("name", Kind::Words { most: 40 }, "name = \"Horns\"", "What the section is called; no two alike.").needed(),
        Key::new(
            "instrument",
            Kind::Words { most: 80 },
            "instrument = \"horn in F\"",
            "What they play, by name or id as `precentor instruments` lists them.",
        )
        .needed(),
        Key::new("seats", Kind::Whole { least: 1, most: 60 }, "seats = 5", "How many players.").needed(),
        Key::new(
            "comfortable",
            Kind::Notation { pattern: "^[^.]+[.][.][^.]+$" },
            "comfortable = \"C4..G4\"",
            "The written notes they play without strain, lowest and highest; a beginner's range of the instrument unless given.",
        ),
        Key::new(
            "landmarks",
            Kind::List { of: &PITCH, least: 0, most: 8 },
            "landmarks = [\"G4\", \"E4\", \"C4\"]",
            "Anchor notes as the section reads them, in the order they are played to it.",
        )
        .default("[]"),
    ],
    one_of: &[],
    named: None,
    above: Some(&ROOM),
};

/// A held pitch and what stands on it.
static DRONE: Form = Form {
    what: "a drone",
    keys: &[
        Key::new("concert", PITCH, "concert = \"Bb3\"", "The concert pitch to tune to.").default("\"Bb3\""),
        Key::new(
            "stack",
            Kind::List { of: &Kind::Notation { pattern: TONES }, least: 1, most: Drone::MAX_TONES },
            "stack = [\"root\", \"fifth\"]",
            "What sounds: root, fifth, octave, lower octave, or any other concert pitch.",
        )
        .default("[\"root\", \"fifth\"]"),
        Key::new("tuning", Kind::Choice(&["just", "equal", "pythagorean"]), "tuning = \"just\"", "How the stack is tuned over its root.")
            .default("\"just\""),
    ],
    one_of: &[],
    named: None,
    above: Some(&ROOM),
};

/// Reads a room from `text`; `name` is what faults call the file.
///
/// # Errors
/// Every fault of the file, each at its place.
pub fn read_room(name: &str, text: &str) -> Result<Room, Faults> {
    let source = Source::new(name, text);
    let document = source.document()?;
    file::expect(&source, &document, Sort::Room)?;
    let mut walker = Walker::new(&source);
    let known = walker.file(&ROOM, &document);
    let room = if known { room(&mut walker, View::new(&source, &document)) } else { None };
    walker.finish(room)
}

fn room(walker: &mut Walker<'_>, file: View<'_>) -> Option<Room> {
    let reference = match file.number("reference_hz") {
        Some(hz) => Reference::new(hz).ok(),
        None => Some(Reference::default()),
    };
    let drone = drone(walker, file.table("drone"));
    let voice = voice(walker, file);
    let mut sections = Vec::new();
    let mut names: HashMap<String, String> = HashMap::new();
    for (section, _) in file.tables("section").into_iter().take(MAX_SECTIONS) {
        if let Some(name) = section.text("name") {
            unique(walker, &mut names, &name);
        }
        sections.push(self::section(walker, section));
    }
    Some(Room {
        name: file.text("name")?.value.trim().to_owned(),
        reference: reference?,
        sections: sections.into_iter().collect::<Option<_>>()?,
        drone: drone?,
        syllables: file.text("syllables").and_then(|way| way.value.parse().ok()).unwrap_or_default(),
        voice,
        language: Language::default(),
    })
}

/// A voice is a name, never a path out of the folder of voices.
fn voice(walker: &mut Walker<'_>, file: View<'_>) -> Option<String> {
    let text = file.text("voice")?;
    let name = text.value.trim();
    if name.is_empty() || name.starts_with('.') || name.contains(['/', '\\']) {
        let message = format!("\"{name}\" cannot name a voice");
        walker.fault(text.inside(), message, "write the name of a built-in voice, such as \"es-formant\", or of a folder of your own");
        return None;
    }
    Some(name.to_owned())
}

fn unique(walker: &mut Walker<'_>, names: &mut HashMap<String, String>, name: &Text<'_>) {
    let plain = name.value.trim().to_lowercase();
    if plain == "all" {
        walker.fault(name.inside(), "\"all\" cannot name a section", "choose another name; drills write \"all\" for everyone at once");
    } else if let Some(earlier) = names.insert(plain, name.value.to_owned()) {
        let message = format!("another section is called \"{earlier}\" already");
        walker.fault(name.inside(), message, format!("give each its own name, such as \"{earlier} 1\" and \"{earlier} 2\""));
    }
}

fn section(walker: &mut Walker<'_>, section: View<'_>) -> Option<Section> {
    let instrument = section.text("instrument").filter(|name| !name.value.trim().is_empty()).and_then(|name| instrument(walker, &name));
    let given: Option<WrittenRange> = section.parsed(walker, "comfortable");
    if let (Some(instrument), Some(range), Some(text)) = (instrument, given, section.text("comfortable")) {
        let full = instrument.full();
        if !full.contains(range.low()) || !full.contains(range.high()) {
            let message = format!("{range} leaves the {} ({full} written)", instrument.label());
            walker.fault(text.inside(), message, format!("write a range inside {full}"));
        }
    }
    let mut landmarks = Vec::new();
    for text in section.texts("landmarks") {
        let Some(landmark) = text.parsed::<Written>(walker) else { continue };
        if let Some(instrument) = instrument.filter(|instrument| !instrument.full().contains(landmark)) {
            let full = instrument.full();
            let message = format!("{landmark} is outside the {} ({full} written)", instrument.label());
            walker.fault(text.inside(), message, format!("write a note inside {full}"));
        }
        landmarks.push(landmark);
    }
    let instrument = instrument?;
    Some(Section {
        name: section.text("name")?.value.trim().to_owned(),
        instrument,
        seats: section.whole::<u16>("seats").and_then(NonZeroU16::new)?,
        comfortable: if section.has("comfortable") { given? } else { *instrument.comfortable() },
        landmarks,
    })
}

fn instrument(walker: &mut Walker<'_>, name: &Text<'_>) -> Option<&'static Instrument> {
    match Instrument::find(name.value) {
        Ok(instrument) => Some(instrument),
        Err(error @ UnknownInstrument::TwoReadings { .. }) => {
            walker.error(name.inside(), &error);
            None
        }
        Err(UnknownInstrument::Unknown { nearest, .. }) => {
            let message = format!("no instrument is called \"{}\"", name.value);
            walker.fault(name.inside(), message, format!("did you mean \"{nearest}\"? `precentor instruments` lists all"));
            None
        }
    }
}

fn drone(walker: &mut Walker<'_>, given: Option<View<'_>>) -> Option<Drone> {
    let home = HOME_DRONE.parse::<Concert>().ok()?;
    let usual = vec![StackTone::Root, StackTone::Fifth];
    let Some(given) = given else {
        return Some(Drone { root: home, stack: usual, temperament: Temperament::Just });
    };
    let root = match given.text("concert") {
        Some(text) => drone_pitch(walker, &text),
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
                drone_pitch(walker, &text).map(StackTone::Free)
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
    Some(Drone { root: root?, stack: stack?, temperament: temperament? })
}

fn drone_pitch(walker: &mut Walker<'_>, text: &Text<'_>) -> Option<Concert> {
    let pitch: Concert = text.parsed(walker)?;
    let (low, high) = DRONE_RANGE;
    let bound = |name: &str| name.parse::<Concert>().map(Concert::semitone).ok();
    if bound(low)? <= pitch.semitone() && pitch.semitone() <= bound(high)? {
        return Some(pitch);
    }
    walker.fault(
        text.inside(),
        format!("{pitch} is too low or too high for a drone"),
        format!("write a concert pitch from {low} to {high}"),
    );
    None
}
