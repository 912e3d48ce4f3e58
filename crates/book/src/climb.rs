//! The keys of climbs and rechecks: a piece says them once, and whoever takes the piece up may say some of them otherwise.

use sequencer::click::ClickPattern;
use sequencer::climb::{RecheckStep, StepRange};
use sequencer::{Advance, ClimbSettings, Division, Pass, RecheckSettings};
use units::Tempo;

use crate::drill::{division, subdivide};
use crate::form::{Form, Key, Kind};
use crate::view::View;
use crate::walk::Walker;

const TEMPO: Kind = Kind::Number { least: 30.0, most: 240.0 };
const PASSES: Kind = Kind::List { of: &Kind::Choice(&Pass::WORDS), least: 1, most: 16 };
const RECHECK_STEPS: [&str; 10] = [
    "half count",
    "half clap",
    "half air",
    "half play",
    "half percussion",
    "full count",
    "full clap",
    "full air",
    "full play",
    "full percussion",
];

const COUNT_OFF: Key =
    Key::new("count_off", Kind::Whole { least: 1, most: 8 }, "count_off = 2", "How many bars are counted before each pass.").default("1");

const CLICK: Key = Key::new(
    "click",
    Kind::Notation { pattern: "^\\s*(every|half|downbeat|silent)(:[0-9]+)?(\\s+(every|half|downbeat|silent):[0-9]+)*\\s*$" },
    "click = \"every:4 half:4 downbeat:4 silent:4\"",
    "How the bars of a play pass are ticked: every beat, half of them, the downbeat only, or none, each for so many bars, over and over.",
)
.default("\"every\"");

const GO_ON: Key = Key::new(
    "passes",
    Kind::Choice(&Advance::WORDS),
    "passes = \"on go\"",
    "Whether one pass goes on to the next by itself or when the director says go.",
)
.default("\"by itself\"");

/// The keys that say how a passage climbs.
pub(crate) const CLIMB_KEYS: [Key; 12] = [
    Key::new("start", TEMPO, "start = 80", "The tempo of the first stage; half the goal, but not less than the floor, unless given."),
    Key::new("floor", TEMPO, "floor = 72", "The slowest a climb starts by itself, unless the goal is slower still.").default("72"),
    Key::new(
        "step",
        Kind::Notation { pattern: "^\\s*[0-9]+\\s*[.][.]\\s*[0-9]+\\s*$" },
        "step = \"16..24\"",
        "The smallest and largest step from stage to stage, in whole beats per minute; the largest is never exceeded.",
    )
    .default("\"16..24\""),
    Key::new("first", PASSES, "first = [\"count\", \"clap\", \"air\", \"play\"]", "The passes of the first stage.")
        .default("[\"count\", \"clap\", \"air\", \"play\"]"),
    Key::new("later", PASSES, "later = [\"air\", \"play\"]", "The passes of every later stage.").default("[\"air\", \"play\"]"),
    Key::new("repeats", Kind::Whole { least: 1, most: 16 }, "repeats = 2", "How often each pass is taken before the next.").default("1"),
    COUNT_OFF,
    subdivide(
        "Into how many parts the voice divides the beats of the first count pass: 2, 3 or 4 in simple meters, 3 or 6 in compound ones.",
    ),
    CLICK,
    Key::new("rest", Kind::Whole { least: 1, most: 16 }, "rest = 2", "Silent bars for the lips after each stage.").default("1"),
    GO_ON,
    Key::new(
        "stages",
        Kind::Choice(&Advance::WORDS),
        "stages = \"by itself\"",
        "Whether one stage goes on to the next by itself or when the director says go.",
    )
    .default("\"on go\""),
];

/// The keys that say how a passage is rechecked.
pub(crate) const RECHECK_KEYS: [Key; 5] = [
    Key::new(
        "steps",
        Kind::List { of: &Kind::Choice(&RECHECK_STEPS), least: 1, most: 16 },
        "steps = [\"half play\", \"full air\", \"full play\"]",
        "What is done, one after another: half or full tempo, and a pass.",
    )
    .default("[\"half play\", \"full air\", \"full percussion\", \"full play\", \"full play\"]"),
    COUNT_OFF,
    CLICK,
    Key::new("rest", Kind::Whole { least: 0, most: 16 }, "rest = 2", "Silent bars for the lips after each step.").default("1"),
    GO_ON,
];

/// How a passage climbs, as a table of its own.
pub(crate) static CLIMB: Form = Form { what: "a climb", keys: &CLIMB_KEYS, one_of: &[], named: None, above: None };

/// How a passage is rechecked, as a table of its own.
pub(crate) static RECHECK: Form = Form { what: "a recheck", keys: &RECHECK_KEYS, one_of: &[], named: None, above: None };

/// What was said of a climb; the rest is as someone else has it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs, reason = "each field is that of the settings")]
pub struct ClimbKeys {
    pub start: Option<Tempo>,
    pub floor: Option<Tempo>,
    pub steps: Option<StepRange>,
    pub first_stage: Option<Vec<Pass>>,
    pub later_stages: Option<Vec<Pass>>,
    pub repeats: Option<u16>,
    pub count_off: Option<u16>,
    pub subdivide: Option<Division>,
    pub click: Option<ClickPattern>,
    pub rest: Option<u16>,
    pub passes: Option<Advance>,
    pub stages: Option<Advance>,
}

/// What was said of a recheck; the rest is as someone else has it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs, reason = "each field is that of the settings")]
pub struct RecheckKeys {
    pub steps: Option<Vec<RecheckStep>>,
    pub count_off: Option<u16>,
    pub click: Option<ClickPattern>,
    pub rest: Option<u16>,
    pub passes: Option<Advance>,
}

impl ClimbKeys {
    /// What `table` says under [`CLIMB_KEYS`].
    pub(crate) fn read(walker: &mut Walker<'_>, table: View<'_>) -> Self {
        Self {
            start: tempo(table, "start"),
            floor: tempo(table, "floor"),
            steps: table.parsed(walker, "step"),
            first_stage: words(table, "first"),
            later_stages: words(table, "later"),
            repeats: table.whole("repeats"),
            count_off: table.whole("count_off"),
            subdivide: if table.has("subdivide") { division(walker, table) } else { None },
            click: table.parsed(walker, "click"),
            rest: table.whole("rest"),
            passes: word(table, "passes"),
            stages: word(table, "stages"),
        }
    }

    /// The settings of `base` where nothing else was said.
    #[must_use]
    pub fn over(self, base: ClimbSettings) -> ClimbSettings {
        ClimbSettings {
            start: self.start.or(base.start),
            floor: self.floor.unwrap_or(base.floor),
            steps: self.steps.unwrap_or(base.steps),
            first_stage: self.first_stage.unwrap_or(base.first_stage),
            later_stages: self.later_stages.unwrap_or(base.later_stages),
            repeats: self.repeats.unwrap_or(base.repeats),
            count_off: self.count_off.unwrap_or(base.count_off),
            subdivide: self.subdivide.or(base.subdivide),
            click: self.click.unwrap_or(base.click),
            rest: self.rest.unwrap_or(base.rest),
            passes: self.passes.unwrap_or(base.passes),
            stages: self.stages.unwrap_or(base.stages),
        }
    }

    /// Holds what `table` said of the start against the tempi its passages open with, and of the floor against all they climb to.
    pub(crate) fn check(&self, walker: &mut Walker<'_>, table: View<'_>, openings: &[Tempo], goals: &[Tempo]) {
        let lower = openings.iter().min().zip(self.start).filter(|(goal, start)| start > goal);
        if let (Some((goal, start)), Some(span)) = (lower, table.span("start")) {
            walker.fault(span, format!("a climb cannot start at {start}, above its goal of {goal}"), "start at or under the goal");
        }
        let under = goals.iter().max().zip(self.floor).filter(|(goal, floor)| floor > goal);
        if let (Some((goal, floor)), Some(span)) = (under, table.span("floor")) {
            let message = format!("a floor of {floor} lies above the goal of {goal}, so that there is nothing to climb");
            walker.fault(span, message, "write a floor under the goal");
        }
    }
}

impl RecheckKeys {
    /// What `table` says under [`RECHECK_KEYS`].
    pub(crate) fn read(walker: &mut Walker<'_>, table: View<'_>) -> Self {
        Self {
            steps: words(table, "steps"),
            count_off: table.whole("count_off"),
            click: table.parsed(walker, "click"),
            rest: table.whole("rest"),
            passes: word(table, "passes"),
        }
    }

    /// The settings of `base` where nothing else was said.
    #[must_use]
    pub fn over(self, base: RecheckSettings) -> RecheckSettings {
        RecheckSettings {
            steps: self.steps.unwrap_or(base.steps),
            count_off: self.count_off.unwrap_or(base.count_off),
            click: self.click.unwrap_or(base.click),
            rest: self.rest.unwrap_or(base.rest),
            passes: self.passes.unwrap_or(base.passes),
        }
    }
}

fn tempo(table: View<'_>, key: &str) -> Option<Tempo> {
    table.number(key).and_then(|bpm| Tempo::new(bpm).ok())
}

/// One of the words of a choice.
fn word<T: std::str::FromStr>(table: View<'_>, key: &str) -> Option<T> {
    table.text(key)?.value.parse().ok()
}

/// Those of the words of a list that are known; the walk has told of the others.
fn words<T: std::str::FromStr>(table: View<'_>, key: &str) -> Option<Vec<T>> {
    table.has(key).then(|| table.texts(key).iter().filter_map(|word| word.value.parse().ok()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_of_a_step_is_a_step() {
        for word in RECHECK_STEPS {
            assert_eq!(word.parse::<RecheckStep>().map(|step| step.to_string()), Ok(word.to_owned()));
        }
        assert_eq!(RECHECK_STEPS.len(), 2 * Pass::ALL.len());
    }

    #[test]
    fn what_is_not_said_stays_as_it_was() {
        let base = ClimbSettings { repeats: 3, ..ClimbSettings::default() };
        assert_eq!(ClimbKeys::default().over(base.clone()), base);
        let keys = ClimbKeys { rest: Some(4), ..ClimbKeys::default() };
        assert_eq!(keys.over(base.clone()), ClimbSettings { rest: 4, ..base });
        assert_eq!(RecheckKeys::default().over(RecheckSettings::default()), RecheckSettings::default());
    }
}
