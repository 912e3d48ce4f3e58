//! The stage and the room view.

use sequencer::plan::PlanKind;
use sequencer::{Cue, Motion, Pass, TurnKind};

use crate::app::state::Desk;

/// What is going on, in one word and one sentence for the director.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Going {
    /// The word, at most seven letters.
    pub word: &'static str,
    /// Three signs that tell it from the others without colour.
    pub shape: &'static str,
}

/// No plan, no drone.
pub const QUIET: Going = Going { word: "QUIET", shape: "   " };
/// Only a drone.
pub const DRONE: Going = Going { word: "DRONE", shape: "===" };

/// A turn of a running plan.
#[must_use]
pub const fn turn(turn: TurnKind) -> Going {
    match turn {
        TurnKind::Call => Going { word: "CALL", shape: ">>|" },
        TurnKind::Count => Going { word: "COUNT", shape: "123" },
        TurnKind::Model => Going { word: "LISTEN", shape: ")))" },
        TurnKind::Echo => Going { word: "PLAY", shape: "<<<" },
        TurnKind::Breath => Going { word: "BREATHE", shape: "~~~" },
        TurnKind::Rest => Going { word: "REST", shape: "---" },
        TurnKind::Talk => Going { word: "TALK", shape: "..." },
        TurnKind::Pass(Pass::Count) => Going { word: "SAY IT", shape: "1+2" },
        TurnKind::Pass(Pass::Clap) => Going { word: "CLAP", shape: "x x" },
        TurnKind::Pass(Pass::Air) => Going { word: "AIR", shape: "o~o" },
        TurnKind::Pass(Pass::Play) => Going { word: "PLAY", shape: "<<<" },
        TurnKind::Pass(Pass::Percussion) => Going { word: "DRUMS", shape: "o-o" },
        TurnKind::Ask => Going { word: "DECIDE", shape: "<?>" },
        TurnKind::Hold => DRONE,
        TurnKind::Landmark => Going { word: "LANDMARK", shape: ")^(" },
    }
}

/// A plan that stands.
#[must_use]
pub const fn standing(motion: Motion) -> Going {
    match motion {
        Motion::Ready => Going { word: "READY", shape: "|> " },
        Motion::Held => Going { word: "HELD", shape: "|| " },
        Motion::Waiting => turn(TurnKind::Talk),
        Motion::Done => Going { word: "DONE", shape: "||]" },
        Motion::Running | Motion::Closing => QUIET,
    }
}

/// A turn for the director: who sounds.
#[must_use]
pub fn sentence(turn: TurnKind, who: &str) -> String {
    match turn {
        TurnKind::Call => format!("{who}: called by name"),
        TurnKind::Count => format!("{who}: counted in"),
        TurnKind::Model => format!("{who}: the model sounds"),
        TurnKind::Echo => format!("{who}: their echo"),
        TurnKind::Breath => format!("{who}: count and breathe"),
        TurnKind::Rest => format!("{who}: rest, the pulse goes on"),
        TurnKind::Talk | TurnKind::Ask => "Yours: it waits for go".to_owned(),
        TurnKind::Pass(Pass::Count) => format!("{who}: everyone says the count"),
        TurnKind::Pass(Pass::Clap) => format!("{who}: everyone claps"),
        TurnKind::Pass(Pass::Air) => format!("{who}: breath and fingers, no tone"),
        TurnKind::Pass(Pass::Play) => format!("{who}: everyone plays"),
        TurnKind::Pass(Pass::Percussion) => format!("{who}: the trusted sections alone"),
        TurnKind::Hold => format!("{who} sounds"),
        TurnKind::Landmark => format!("{who}: the landmark sounds"),
    }
}

/// What a turn that is to come is called.
#[must_use]
pub const fn coming(turn: TurnKind) -> &'static str {
    self::turn(turn).word
}

/// Next to the word that names what comes.
pub const NEXT: &str = "next:";
/// What sounds until the director goes on.
pub const UNTIL_GO: &str = "as long as you like; go goes on";
/// After the last bar.
pub const THE_END: &str = "the end";
/// What every section does with its notes, in line mode.
pub const READ: &str = "read";
/// A section that cannot play the line in comfort.
pub const SITS_OUT: &str = "sits out";
/// A section the plan has nothing for.
pub const NOTHING: &str = "-";
/// The plan stops at the bar line.
pub const CLOSING: &str = "stops at the bar line";
/// The whole class.
pub const EVERYONE: &str = "Everyone";

/// Which station of how many.
#[must_use]
pub fn station(kind: PlanKind, at: usize, of: usize) -> String {
    let noun = match kind {
        PlanKind::Drill => "group",
        PlanKind::Roll => "seat",
        PlanKind::Landmarks => "landmark",
        PlanKind::InTurn => "section",
        PlanKind::Climb => "stage",
        PlanKind::Recheck => "step",
        PlanKind::Hold | PlanKind::Talk => return String::new(),
    };
    format!("{noun} {at} of {of}")
}

/// Which pass of a stage of a climb.
#[must_use]
pub fn pass(pass: Pass) -> String {
    format!("{} pass", pass.word())
}

/// Beside a bar's number in large letters.
pub const BAR: &str = "bar";
/// Beside a tempo in large letters.
pub const TEMPO: &str = "beats a minute";

/// Which bar of the band's page.
#[must_use]
pub fn page(number: &str) -> String {
    format!("bar {number}")
}

/// The stages of a climb, above their list.
pub const STAGES: &str = "Stages";
/// The steps of a recheck, above their list.
pub const STEPS: &str = "Steps";

/// Which round of how many.
#[must_use]
pub fn round(at: usize, of: usize) -> String {
    format!("round {at} of {of}")
}

/// Which beat of how many; before the first, that it comes.
#[must_use]
pub fn beat(beat: u8, beats: u8) -> String {
    if beat == 0 { format!("beat - of {beats}") } else { format!("beat {beat} of {beats}") }
}

/// A room without sections.
pub const NO_SECTIONS: &str = "This room has no sections.";

/// Which bar of how many of a turn.
#[must_use]
pub fn bar(at: usize, of: usize) -> String {
    format!("bar {at} of {of}")
}

/// What comes, and in how many bars.
#[must_use]
pub fn in_bars(what: &str, bars: usize) -> String {
    if bars == 1 { format!("{what} after this bar") } else { format!("{what} in {bars} bars") }
}

/// What comes, and in how many seconds: in minutes while there are any.
#[must_use]
pub fn in_seconds(what: &str, seconds: usize) -> String {
    if seconds < 60 { format!("{what}, in {seconds} s") } else { format!("{what}, in {} min", seconds.div_ceil(60)) }
}

/// What comes in how many bars, for whom if that changes, and what comes then.
#[must_use]
pub fn comes(word: &str, whose: Option<&str>, bars: usize, then: Option<&str>) -> String {
    let whose = whose.map_or_else(String::new, |whose| format!(" ({whose})"));
    let mut line = in_bars(&format!("{word}{whose}"), bars);
    if let Some(then) = then {
        line.push_str(", then ");
        line.push_str(then);
    }
    line
}

/// What was asked for and waits for the bar line.
#[must_use]
pub fn asked(cue: Cue, kind: PlanKind) -> String {
    let what = match cue {
        Cue::Again => "this round again",
        Cue::Back => "back to the top",
        Cue::Landmark => "the landmark, then again",
        Cue::Hold => "hold",
        _ => go::next(kind),
    };
    format!("{what}, at the bar line")
}

/// What go starts.
#[must_use]
pub fn go_starts(word: &str) -> String {
    format!("go starts with {word}")
}

/// At the end of landmarks or of sections in turn.
pub const GO_GOES_BACK: &str = "go: back to where you were";
/// At the end of a plan.
pub const GO_STARTS_AFRESH: &str = "go starts it from the top";
/// Without a plan.
pub const NOTHING_LED: &str = "No drill is chosen.";
/// Without a plan.
pub const CHOOSE_SOMETHING: &str = "d chooses a drill, o a drone";

/// A plan that stands, for the director.
#[must_use]
pub fn stands(motion: Motion, who: &str) -> String {
    match motion {
        Motion::Ready => format!("{who}: it waits for go"),
        Motion::Held => format!("{who}: the place is kept"),
        Motion::Waiting => "Yours: it waits for go".to_owned(),
        Motion::Done => "All of it is through.".to_owned(),
        Motion::Running | Motion::Closing => String::new(),
    }
}

/// A drone that was let go.
pub const DRONE_ENDS: &str = "The drone is let go.";

/// A drone in words.
#[must_use]
pub fn drone_sounds(desk: &Desk) -> String {
    format!("Concert {} sounds, {}.", desk.root, super::desk::tuning(desk.temperament))
}

/// What go does, in the hints, where it is not just "go".
pub mod go {
    use sequencer::plan::PlanKind;

    /// Start.
    pub const START: &str = "go";
    /// Go on from a hold or from talk.
    pub const ON: &str = "go on";
    /// From the top.
    pub const AFRESH: &str = "from the top";
    /// On to the lesson's next item.
    pub const NEXT_ITEM: &str = "next item";
    /// Back to what was left.
    pub const BACK: &str = "go back";
    /// Nothing chosen.
    pub const CHOOSE: &str = "choose a drill";

    /// On to the next station.
    #[must_use]
    pub const fn next(kind: PlanKind) -> &'static str {
        match kind {
            PlanKind::Drill => "next group",
            PlanKind::Roll => "next seat",
            PlanKind::Landmarks => "next landmark",
            PlanKind::InTurn => "next section",
            PlanKind::Climb => "next pass",
            PlanKind::Recheck => "next step",
            PlanKind::Hold | PlanKind::Talk => "go on",
        }
    }
}

/// A note of a drum.
pub const STROKE: &str = "x";
