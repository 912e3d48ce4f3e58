//! The keys of a lesson file.

use sequencer::lesson::MAX_ITEMS;
use sequencer::{Advance, Work};

use crate::climb::{CLIMB_KEYS, RECHECK_KEYS};
use crate::drill::{METER, NOTE, meter};
use crate::drone;
use crate::form::{Form, Key, Kind, joined};

/// The most minutes a lesson or one of its items lasts: a long day.
const MOST_MINUTES: i64 = 600;

const FILE: Kind = Kind::Words { most: 400 };
const SECTION: Key = Key::new("section", Kind::Words { most: 40 }, "section = \"Horns\"", "Which section, as the room calls it.").needed();

const MINUTES: Key = Key::new(
    "minutes",
    Kind::Whole { least: 1, most: MOST_MINUTES },
    "minutes = 8",
    "How long it is planned for; without, it takes no part in the reckoning.",
);

const PASSAGE: Key =
    Key::new("passage", Kind::Words { most: 80 }, "passage = \"second strain\"", "Which passage of the piece; all of it unless given.");

/// A lesson file.
pub static LESSON: Form = Form {
    what: "a lesson",
    keys: &[
        Key::version(),
        Key::new("title", Kind::Words { most: 80 }, "title = \"Week 7, Tuesday\"", "What the lesson is called.").needed(),
        Key::new(
            "room",
            FILE,
            "room = \"alder-street.toml\"",
            "The file of the room it is for, seen from the lesson's own folder; the room that is open unless given.",
        ),
        Key::new(
            "starts",
            Kind::Notation { pattern: "^\\s*([01]?[0-9]|2[0-3]):[0-5][0-9]\\s*$" },
            "starts = \"10:15\"",
            "When the hour starts by the clock on the wall, so that a late start is told of.",
        ),
        Key::new("minutes", Kind::Whole { least: 1, most: MOST_MINUTES }, "minutes = 50", "How long the hour is."),
        Key::new(
            "item",
            Kind::Parts { of: &ITEM, least: 1, most: MAX_ITEMS },
            "[[item]] and under it drill = { file = \"middle-note.toml\" }",
            "What is done, one after another. An item with an error is passed over; the others can be led.",
        )
        .needed(),
    ],
    one_of: &[],
    named: None,
    above: None,
};

/// An item of a lesson.
pub(super) static ITEM: Form = Form {
    what: "an item",
    keys: &[
        Key::new("title", Kind::Words { most: 80 }, "title = \"Warm up\"", "What the item is called; what is done unless given."),
        MINUTES,
        Key::new(
            "least",
            Kind::Whole { least: 1, most: MOST_MINUTES },
            "least = 4",
            "What it may be shortened to where time is short; half its minutes unless given.",
        ),
        Key::new(
            "advance",
            Kind::Choice(&Advance::WORDS),
            "advance = \"by itself\"",
            "How it goes on to the next item when it is through or its minutes are up.",
        )
        .default("\"on go\""),
        Key::new(
            "drone",
            Kind::Table(&DRONE),
            "drone = { concert = \"Bb3\" }",
            "A held chord to tune and breathe to; {} for the room's own.",
        ),
        Key::new("landmarks", Kind::Table(&LANDMARKS), "landmarks = { section = \"Horns\" }", "A section's landmarks, in order."),
        Key::new("drill", Kind::Table(&DRILL), "drill = { file = \"middle-note.toml\" }", "A drill, group after group."),
        Key::new(
            "roll",
            Kind::Table(&ROLL),
            "roll = { section = \"Horns\", drill = \"middle-note.toml\" }",
            "A drill seat by seat through one section.",
        ),
        Key::new(
            "climb",
            Kind::Table(&CLIMB),
            "climb = { piece = \"lantern-march.toml\", passage = \"second strain\" }",
            "From under-tempo to concert tempo.",
        ),
        Key::new(
            "recheck",
            Kind::Table(&RECHECK),
            "recheck = { piece = \"lantern-march.toml\", passage = \"second strain\" }",
            "A passage that fell apart, taken up again.",
        ),
        Key::new("talk", Kind::Table(&TALK), "talk = { note = \"Collect practice sheets\" }", "Waits for the director; never shortened."),
    ],
    one_of: &Work::WORDS,
    named: None,
    above: Some(&LESSON),
};

static DRONE: Form = Form {
    what: "a drone",
    keys: &[drone::CONCERT, drone::STACK, drone::TUNING, drone::REGISTERS, MINUTES],
    one_of: &[],
    named: None,
    above: None,
};

static LANDMARKS: Form = Form { what: "landmarks", keys: &[SECTION, MINUTES], one_of: &[], named: None, above: None };

static DRILL: Form = Form {
    what: "a drill of a lesson",
    keys: &[
        Key::new("file", FILE, "file = \"middle-note.toml\"", "The drill's file, seen from the lesson's own folder.").needed(),
        MINUTES,
    ],
    one_of: &[],
    named: None,
    above: None,
};

static ROLL: Form = Form {
    what: "a roll",
    keys: &[
        SECTION,
        Key::new("drill", FILE, "drill = \"middle-note.toml\"", "The drill's file, seen from the lesson's own folder.").needed(),
        MINUTES,
    ],
    one_of: &[],
    named: None,
    above: None,
};

const PIECE: Key = Key::new("piece", FILE, "piece = \"lantern-march.toml\"", "The piece's file, seen from the lesson's own folder.");

const CLIMBS: [Key; 18] = joined(
    [
        PIECE,
        PASSAGE,
        Key::new(
            "tempo",
            Kind::Number { least: 30.0, most: 240.0 },
            "tempo = 152",
            "The concert tempo of a climb with no piece, in beats per minute.",
        ),
        meter(METER).default("\"4/4\""),
        Key::new("bars", Kind::Whole { least: 1, most: 64 }, "bars = 8", "How many bars a pass of a climb with no piece has.").default("8"),
        MINUTES,
    ],
    CLIMB_KEYS,
);

const RECHECKS: [Key; 8] = joined([PIECE.needed(), PASSAGE, MINUTES], RECHECK_KEYS);

static CLIMB: Form = Form { what: "a climb", keys: &CLIMBS, one_of: &["piece", "tempo"], named: None, above: None };
static RECHECK: Form = Form { what: "a recheck", keys: &RECHECKS, one_of: &[], named: None, above: None };
static TALK: Form = Form { what: "talk", keys: &[NOTE, MINUTES], one_of: &[], named: None, above: None };
