//! The keys of a drill file.

use sequencer::Syllables;
use sequencer::room::MAX_SECTIONS;

use crate::form::{Form, Key, Kind};

/// What a meter is, for editors.
pub(crate) const METER: &str = "How a bar is counted: up to 16 beats over 2, 4, 8 or 16, such as 4/4, 2/2 or 7/8; 6/8 goes in two unless it says \
    6/8 in 6, and 3+2/8 counts its eighths.";

/// The most bars one turn is counted, breathed or rested over.
const MOST_BARS: i64 = 64;

const LINE_TOKENS: Kind = Kind::Notation { pattern: "^\\s*[^\\s:]+:[0-9]+([./][0-9]+)?(\\s+[^\\s:]+:[0-9]+([./][0-9]+)?)*\\s*$" };

const SUBDIVIDE: Key = subdivide(
    "Into how many parts each beat is divided aloud: 2, 3 or 4 in simple meters, 3 or 6 in compound ones. Where the tempo leaves no time for \
     the words between the beats, they are ticked.",
)
.default("1");

/// Into how many parts beats are divided aloud.
pub(crate) const fn subdivide(about: &'static str) -> Key {
    Key::new("subdivide", Kind::Whole { least: 1, most: 6 }, "subdivide = 2", about)
}

/// How a bar is counted.
pub(crate) const fn meter(about: &'static str) -> Key {
    Key::new("meter", Kind::Notation { pattern: "^\\s*[0-9]+([+][0-9]+)*/[0-9]+( in [0-9]+)?\\s*$" }, "meter = \"4/4\"", about)
}

/// What is said between the beats.
pub(crate) const SYLLABLES: Key = Key::new(
    "syllables",
    Kind::Choice(&Syllables::NAMES),
    "syllables = \"la-li\"",
    "What is said between the beats where they are divided: 1 e & a in quarters of a beat, 1 la li in thirds, unless another way is named.",
);

const BARS: Key = Key::new("bars", Kind::Whole { least: 1, most: MOST_BARS }, "bars = 1", "How many bars.").default("1");

/// A drill file.
pub static DRILL: Form = Form {
    what: "a drill",
    keys: &[
        Key::version(),
        Key::new("title", Kind::Words { most: 80 }, "title = \"Middle note, apart and together\"", "What the drill is called.").needed(),
        Key::new("tempo", Kind::Number { least: 30.0, most: 240.0 }, "tempo = 72", "Beats per minute, of the beat the meter counts.")
            .needed(),
        meter(METER).default("\"4/4\""),
        Key::new("rounds", Kind::Whole { least: 1, most: 200 }, "rounds = 4", "How often each group goes through the turns.").default("1"),
        Key::new(
            "groups",
            Kind::List { of: &Kind::List { of: &Kind::Words { most: 40 }, least: 1, most: MAX_SECTIONS }, least: 1, most: 64 },
            "groups = [[\"Horns\"], [\"all\"]]",
            "Who takes the drill at once, one group after another, by section; \"all\" is everyone.",
        )
        .default("[[\"all\"]]"),
        Key::new(
            "key",
            Kind::Notation { pattern: "^\\s*[A-Ga-g](b|#|♭|♯)?( [A-Za-z]+)?\\s*$" },
            "key = \"Bb\"",
            "The concert key the notes are spelled in; the notes decide unless given.",
        ),
        SYLLABLES,
        Key::new("call", Kind::Flag, "call = true", "Whether each group is called by name before its first round.").default("false"),
        Key::new("click", Kind::Flag, "click = true", "Whether the pulse is ticked.").default("true"),
        Key::new(
            "adaptive",
            Kind::Table(&ADAPTIVE),
            "adaptive = { enough = 80, landmark_below = 50 }",
            "A section that answers alone goes on when enough of it are heard on the note, and hears its landmark when too few are; rounds \
             is then the most it takes.",
        ),
        Key::new(
            "say_verdicts",
            Kind::Flag,
            "say_verdicts = true",
            "Whether, in a roll with the microphone on, the voice says in the rest after an echo what was heard of it.",
        )
        .default("false"),
        Key::new(
            "line",
            Kind::Table(&LINE),
            "[line] and under it all = { concert = \"F4:4\" }",
            "The notes, for all and for sections by name.",
        )
        .needed(),
        Key::new(
            "turn",
            Kind::List { of: &Kind::Table(&TURN), least: 1, most: 200 },
            "[[turn]] and under it model = {}",
            "What the bars are for, in order.",
        )
        .needed(),
    ],
    one_of: &[],
    named: None,
    above: None,
};

/// What is heard of an echo decides.
static ADAPTIVE: Form = Form {
    what: "adaptive",
    keys: &[
        Key::new(
            "enough",
            Kind::Whole { least: 1, most: 100 },
            "enough = 80",
            "The percentage of the section on its note from which it goes on.",
        )
        .default("80"),
        Key::new(
            "landmark_below",
            Kind::Whole { least: 0, most: 100 },
            "landmark_below = 50",
            "The percentage under which its landmark comes before the next round; less than enough.",
        )
        .default("50"),
    ],
    one_of: &[],
    named: None,
    above: Some(&DRILL),
};

/// The lines, by who plays them.
static LINE: Form = Form { what: "a line", keys: &[], one_of: &[], named: Some(&NOTES), above: Some(&DRILL) };

/// One line.
static NOTES: Form = Form {
    what: "a line",
    keys: &[
        Key::new(
            "concert",
            LINE_TOKENS,
            "concert = \"F4:4\"",
            "Concert pitches with their beats, -:beats for a rest, moved by octaves into each section's comfortable range.",
        ),
        Key::new(
            "written",
            LINE_TOKENS,
            "written = \"G4:4\"",
            "Written pitches with their beats, -:beats for a rest, taken as they stand.",
        ),
        Key::new("exact", Kind::Flag, "exact = true", "Whether a concert line keeps its octave.").default("false"),
    ],
    one_of: &["concert", "written"],
    named: None,
    above: Some(&DRILL),
};

/// What some bars are for.
static TURN: Form = Form {
    what: "a turn",
    keys: &[
        Key::new("count", Kind::Table(&COUNT), "count = { bars = 1 }", "The voice counts."),
        Key::new("model", Kind::Table(&MODEL), "model = {}", "The engine sounds the lines."),
        Key::new("echo", Kind::Table(&ECHO), "echo = {}", "The sections answer."),
        Key::new(
            "breath",
            Kind::Table(&BREATH),
            "breath = { bars = 1, beats = 2 }",
            "The voice counts, and an inhale leads the last beats.",
        ),
        Key::new("rest", Kind::Table(&REST), "rest = { bars = 1 }", "Silent bars with the pulse."),
        Key::new("talk", Kind::Table(&TALK), "talk = { note = \"Check posture\" }", "Waits for the director."),
    ],
    one_of: &["count", "model", "echo", "breath", "rest", "talk"],
    named: None,
    above: Some(&DRILL),
};

static COUNT: Form = Form {
    what: "count",
    keys: &[
        BARS,
        Key::new(
            "rounds",
            Kind::Choice(&["first", "every"]),
            "rounds = \"first\"",
            "Whether it is counted before every round, or before a group's first only.",
        )
        .default("\"every\""),
        SUBDIVIDE,
    ],
    one_of: &[],
    named: None,
    above: None,
};

static MODEL: Form = Form { what: "model", keys: &[], one_of: &[], named: None, above: None };
static ECHO: Form = Form { what: "echo", keys: &[], one_of: &[], named: None, above: None };

static BREATH: Form = Form {
    what: "breath",
    keys: &[
        BARS,
        Key::new("beats", Kind::Whole { least: 1, most: 255 }, "beats = 2", "On how many of the last beats the breath is taken.")
            .default("2"),
        SUBDIVIDE,
    ],
    one_of: &[],
    named: None,
    above: None,
};

static REST: Form = Form { what: "rest", keys: &[BARS], one_of: &[], named: None, above: None };

pub(crate) const NOTE: Key = Key::new("note", Kind::Words { most: 200 }, "note = \"Check posture\"", "What to talk about.").needed();

static TALK: Form = Form { what: "talk", keys: &[NOTE], one_of: &[], named: None, above: None };
