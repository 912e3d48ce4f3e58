//! One class, from its file.

use pitch::{Instrument, Reference, UnknownInstrument, Written, WrittenRange};
use sequencer::mix::SECTION_BOUNDS;
use sequencer::room::MAX_SECTIONS;
use sequencer::{Language, Mix, PresetId, Role, Room, Section};
use std::collections::HashMap;
use std::num::NonZeroU16;
use units::Decibels;

use crate::drill::SYLLABLES;
use crate::drone;
use crate::fault::{Fault, Faults};
use crate::file::{self, Sort};
use crate::form::{Form, Key, Kind, PITCH};
use crate::source::Source;
use crate::view::{Text, View};
use crate::walk::Walker;

/// A room file.
pub static ROOM: Form = Form {
    what: "a room",
    keys: &[
        Key::version(),
        Key::new("name", Kind::Words { most: 60 }, "name = \"Alder Street School, period 2\"", "What the class is called.").needed(),
        Key::new("reference_hz", Kind::Number { least: 415.0, most: 466.0 }, "reference_hz = 440", "The sounding pitch of A4 in hertz.")
            .default("440"),
        Key::new("drone", Kind::Table(&drone::DRONE), "drone = { concert = \"Bb3\" }", "The drone the room tunes to unless another is chosen."),
        Key::new("mix", Kind::Table(&MIX), "mix = { drone = -3 }", "How loud each role is, in decibels beside its usual level."),
        SYLLABLES.default("\"la-li\""),
        Key::new(
            "soundfont",
            Kind::Words { most: 400 },
            "soundfont = \"sounds/band.sf2\"",
            "A SoundFont 2 file, seen from the room's own folder, from which sections with a preset take their sound.",
        ),
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
        Key::new(
            "preset",
            Kind::Table(&PRESET),
            "preset = { bank = 0, number = 56 }",
            "The section's sound in the room's SoundFont; the built-in one unless given.",
        ),
        Key::new(
            "level",
            Kind::Number { least: SECTION_BOUNDS.0, most: SECTION_BOUNDS.1 },
            "level = -2",
            "How loud its model is beside the other sections', in decibels.",
        )
        .default("0"),
        Key::new(
            "trusted",
            Kind::Flag,
            "trusted = true",
            "Whether it keeps the pulse without help, so that it may play a percussion pass alone.",
        )
        .default("false"),
    ],
    one_of: &[],
    named: None,
    above: Some(&ROOM),
};

/// A sound of the room's SoundFont.
static PRESET: Form = Form {
    what: "a preset",
    keys: &[
        Key::new("bank", Kind::Whole { least: 0, most: 128 }, "bank = 0", "The bank, from 0.").default("0"),
        Key::new("number", Kind::Whole { least: 0, most: 127 }, "number = 56", "The preset's number in its bank, from 0.").needed(),
    ],
    one_of: &[],
    named: None,
    above: Some(&SECTION),
};

/// How loud each role is.
static MIX: Form = Form {
    what: "a mix",
    keys: &[
        role(Role::Model, "model = -2", "The model tones of every section, in decibels beside their usual level."),
        role(Role::Drone, "drone = -3", "The drone, in decibels beside its usual level."),
        role(
            Role::Voice,
            "voice = 2",
            "The spoken words, in decibels beside their usual level; the other sounds give way to them in any case.",
        ),
        role(Role::Click, "click = -3", "The clicks, in decibels beside their usual level."),
        role(Role::Breath, "breath = -6", "The inhale, in decibels beside its usual level."),
    ],
    one_of: &[],
    named: None,
    above: Some(&ROOM),
};

const fn role(role: Role, example: &'static str, about: &'static str) -> Key {
    let (least, most) = role.bounds();
    Key::new(role.word(), Kind::Number { least, most }, example, about).default("0")
}

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
    let drone = drone::read(walker, file.table("drone"));
    let voice = voice(walker, file);
    let mut sections = Vec::new();
    let mut names: HashMap<String, String> = HashMap::new();
    for (section, _) in file.tables("section").into_iter().take(MAX_SECTIONS) {
        if let Some(name) = section.text("name") {
            unique(walker, &mut names, &name);
        }
        if section.has("preset") && !file.has("soundfont") {
            let mend = "name the file above the first section, such as soundfont = \"sounds/band.sf2\", or take the preset away";
            walker.fault(section.span("preset").unwrap_or_default(), "the room names no SoundFont to take this preset from", mend);
        }
        sections.push(self::section(walker, section));
    }
    Some(Room {
        name: file.text("name")?.value.trim().to_owned(),
        reference: reference?,
        sections: sections.into_iter().collect::<Option<_>>()?,
        drone: drone?,
        mix: mix(file.table("mix")),
        syllables: file.text("syllables").and_then(|way| way.value.parse().ok()).unwrap_or_default(),
        soundfont: file.text("soundfont").map(|path| path.value.trim().to_owned()),
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

/// A fault of the SoundFont that a room names, or of the preset of one of its sections: what can only be known by opening the file. `text` is
/// the text of a sound room.
#[must_use]
pub fn soundfont_fault(name: &str, text: &str, section: Option<usize>, message: &str, mend: &str) -> Fault {
    let source = Source::new(name, text);
    let span = source.document().ok().and_then(|document| {
        let file = View::new(&source, &document);
        match section {
            None => file.text("soundfont").map(|path| path.inside()),
            Some(index) => file.tables("section").get(index).and_then(|(section, _)| section.span("preset")),
        }
    });
    match span {
        Some(span) => source.fault(span, message, mend),
        None => Fault::of_file(name, message, mend),
    }
}

fn mix(given: Option<View<'_>>) -> Mix {
    let levels = Role::ALL.into_iter().filter_map(|role| Some((role, given?.number(role.word())?)));
    levels.fold(Mix::default(), |mix, (role, level)| mix.with(role, Decibels(level)))
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
        if instrument.is_pitched() && (!full.contains(range.low()) || !full.contains(range.high())) {
            let message = format!("{range} leaves the {} ({full} written)", instrument.label());
            walker.fault(text.inside(), message, format!("write a range inside {full}"));
        }
    }
    let mut landmarks = Vec::new();
    for text in section.texts("landmarks") {
        let Some(landmark) = text.parsed::<Written>(walker) else { continue };
        if let Some(instrument) = instrument.filter(|instrument| instrument.is_pitched() && !instrument.full().contains(landmark)) {
            let full = instrument.full();
            let message = format!("{landmark} is outside the {} ({full} written)", instrument.label());
            walker.fault(text.inside(), message, format!("write a note inside {full}"));
        }
        landmarks.push(landmark);
    }
    if let Some(drum) = instrument.filter(|instrument| !instrument.is_pitched()) {
        for key in ["comfortable", "landmarks", "preset"] {
            if let Some(span) = section.span(key) {
                walker.fault(span, format!("the {} has no pitch, so no {key}", drum.label().to_lowercase()), "take this line away");
            }
        }
    }
    let instrument = instrument?;
    Some(Section {
        name: section.text("name")?.value.trim().to_owned(),
        instrument,
        seats: section.whole::<u16>("seats").and_then(NonZeroU16::new)?,
        comfortable: if section.has("comfortable") { given? } else { *instrument.comfortable() },
        landmarks,
        preset: section.table("preset").and_then(|preset| {
            Some(PresetId { bank: if preset.has("bank") { preset.whole("bank")? } else { 0 }, number: preset.whole("number")? })
        }),
        level: Decibels(section.number("level").unwrap_or(0.0)),
        trusted: section.flag("trusted").unwrap_or(false),
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

/// What to write instead of a section that the room does not have.
pub(crate) fn nearest_section(room: &Room, name: &str) -> String {
    let names = room.sections.iter().map(|section| section.name.as_str());
    match crate::suggest(name, names.clone()) {
        Some(nearest) => format!("did you mean \"{nearest}\"?"),
        None => format!("{} has {}", room.name, names.collect::<Vec<_>>().join(", ")),
    }
}
