//! The keys of a piece file.

use sequencer::piece::MAX_PIECE_BARS;

use crate::climb::{CLIMB, RECHECK};
use crate::drill::{METER, meter};
use crate::form::{Form, Key, Kind};

/// The most characters of a mark or passage.
const NAME: Kind = Kind::Words { most: 40 };
const TEMPO: Kind = Kind::Number { least: 30.0, most: 240.0 };
/// The most bars of a piece, changes of it, and so on.
const MOST: usize = MAX_PIECE_BARS;

/// A piece file.
pub static PIECE: Form = Form {
    what: "a piece",
    keys: &[
        Key::version(),
        Key::new("title", Kind::Words { most: 80 }, "title = \"Lantern March\"", "What the piece is called.").needed(),
        Key::new("tempo", TEMPO, "tempo = 152", "The concert tempo the page begins at, in beats per minute, of the beat the meter counts.")
            .needed(),
        meter(METER).default("\"4/4\""),
        Key::new(
            "bars",
            Kind::Whole { least: 1, most: MOST as i64 },
            "bars = 48",
            "How many bars the page has, the pick-up left out; unless given, as many as passages, marks and changes reach.",
        ),
        Key::new(
            "pickup",
            Kind::Beats,
            "pickup = 1",
            "How many beats stand before the first whole bar. They are a bar of their own, numbered 0.",
        ),
        Key::new("number", Kind::Bar, "number = 1", "The number of the first bar, the pick-up left out.").default("1"),
        Key::new(
            "numbered",
            Kind::List { of: &Kind::Table(&NUMBERED), least: 1, most: MOST },
            "[[numbered]] and under it after = 12 and number = \"12a\"",
            "Where the page numbers a bar otherwise than one more than the bar before it.",
        ),
        Key::new(
            "change",
            Kind::List { of: &Kind::Table(&CHANGE), least: 1, most: MOST },
            "[[change]] and under it bar = 17 and meter = \"6/8\"",
            "Where the meter or the tempo changes.",
        ),
        Key::new(
            "incomplete",
            Kind::List { of: &Kind::Table(&INCOMPLETE), least: 1, most: MOST },
            "[[incomplete]] and under it bar = 16 and beats = 3",
            "Bars shorter than their meter.",
        ),
        Key::new(
            "mark",
            Kind::List { of: &Kind::Table(&MARK), least: 1, most: MOST },
            "[[mark]] and under it name = \"B\" and bar = 17",
            "Rehearsal marks.",
        ),
        Key::new(
            "repeat",
            Kind::List { of: &Kind::Table(&REPEAT), least: 1, most: MOST },
            "[[repeat]] and under it from = 1 and to = 8",
            "Bars that are played more than once.",
        ),
        Key::new(
            "passage",
            Kind::List { of: &Kind::Table(&PASSAGE), least: 1, most: MOST },
            "[[passage]] and under it name = \"trio\", from = \"C\" and to = 48",
            "What is practised by itself.",
        ),
        Key::new("climb", Kind::Table(&CLIMB), "[climb] and under it rest = 2", "How passages climb from under-tempo to concert tempo."),
        Key::new("recheck", Kind::Table(&RECHECK), "[recheck] and under it rest = 2", "How a passage that fell apart is taken up again."),
    ],
    one_of: &[],
    named: None,
    above: None,
};

const BAR: Key = Key::new("bar", Kind::Bar, "bar = 17", "The bar, by its number or the mark over it.").needed();

/// Where the numbers of the bars do not run on.
static NUMBERED: Form = Form {
    what: "a numbered bar",
    keys: &[
        Key::new("after", Kind::Bar, "after = 12", "The bar before it, by its number.").needed(),
        Key::new(
            "number",
            Kind::Bar,
            "number = \"12a\"",
            "What the page calls it. The bars behind it go on from a whole number, or else from the last whole number before it.",
        )
        .needed(),
    ],
    one_of: &[],
    named: None,
    above: Some(&PIECE),
};

/// From where on it goes otherwise.
static CHANGE: Form = Form {
    what: "a change",
    keys: &[
        BAR,
        meter(METER),
        Key::new(
            "tempo",
            TEMPO,
            "tempo = 96",
            "The concert tempo from here on, of the beat the meter counts. Without it, every note value keeps its speed in a new meter.",
        ),
    ],
    one_of: &[],
    named: None,
    above: Some(&PIECE),
};

/// A bar shorter than its meter.
static INCOMPLETE: Form = Form {
    what: "an incomplete bar",
    keys: &[
        BAR,
        Key::new("beats", Kind::Beats, "beats = 3", "How many beats it lasts.").needed(),
        Key::new("begins", Kind::Beats, "begins = 3", "How many beats of its meter are left out before it; none unless given."),
    ],
    one_of: &[],
    named: None,
    above: Some(&PIECE),
};

/// A rehearsal mark.
static MARK: Form = Form {
    what: "a mark",
    keys: &[
        Key::new("name", NAME, "name = \"B\"", "As the page has it.").needed(),
        Key::new("bar", Kind::Bar, "bar = 17", "The bar it stands over, by its number.").needed(),
    ],
    one_of: &[],
    named: None,
    above: Some(&PIECE),
};

/// Bars played more than once.
static REPEAT: Form = Form {
    what: "a repeat",
    keys: &[
        Key::new("from", Kind::Bar, "from = 1", "The first bar, by its number or the mark over it.").needed(),
        Key::new("to", Kind::Bar, "to = 8", "The last bar, the first ending's with it.").needed(),
        Key::new("times", Kind::Whole { least: 2, most: 16 }, "times = 2", "How often they are played in all.").default("2"),
        Key::new("first_ending", Kind::Bar, "first_ending = 8", "Where the first ending begins, which is left out the last time."),
    ],
    one_of: &[],
    named: None,
    above: Some(&PIECE),
};

/// Bars practised by themselves.
static PASSAGE: Form = Form {
    what: "a passage",
    keys: &[
        Key::new("name", NAME, "name = \"second strain\"", "What the teacher calls it.").needed(),
        Key::new(
            "from",
            Kind::Bar,
            "from = \"B\"",
            "The first bar, by its number or the mark over it; the first whole bar of the page unless given.",
        ),
        Key::new("to", Kind::Bar, "to = 24", "The last bar, played too, by its number or the mark over it."),
        Key::new("bars", Kind::Whole { least: 1, most: MOST as i64 }, "bars = 16", "How many bars, instead of the last."),
    ],
    one_of: &["to", "bars"],
    named: None,
    above: Some(&PIECE),
};
