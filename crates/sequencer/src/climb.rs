//! A piece's way from under-tempo to concert tempo: stages of one tempo each, and the passes of every stage.

use std::fmt;
use std::str::FromStr;
use thiserror::Error;
use units::Tempo;

/// How the stages of a climb are found. The defaults are common practice, no source: half the concert tempo but not under 72, and steps
/// of 16 to 24 beats per minute.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClimbRule {
    /// The concert tempo, where the last stage is.
    pub goal: Tempo,
    /// The first stage's tempo; nothing takes half the goal, but not less than the floor.
    pub start: Option<Tempo>,
    /// The slowest a climb starts by itself, unless the goal is slower still.
    pub floor: Tempo,
    /// From stage to stage.
    pub steps: StepRange,
}

/// The smallest and largest step from stage to stage, in whole beats per minute.
///
/// The largest is never exceeded. The smallest is kept where arithmetic allows: a way too short for one smallest step, or that no number of
/// steps divides so, takes smaller ones.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepRange {
    least: u16,
    most: u16,
}

/// A climb that cannot be.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ClimbError {
    /// The start lies above the goal.
    #[error("a climb cannot start at {start}, above its goal of {goal}; start at or under the goal")]
    StartsAboveGoal {
        /// Where it was to start.
        start: Tempo,
        /// Where it was to end.
        goal: Tempo,
    },
    /// Steps that are no range.
    #[error("steps of {0} are no range; write the smallest and the largest step in whole beats per minute, such as 16..24")]
    Steps(String),
}

impl StepRange {
    /// Steps of `least` to `most` beats per minute.
    ///
    /// # Errors
    /// [`ClimbError::Steps`] unless 1 is at most `least` and that at most `most`.
    pub fn new(least: u16, most: u16) -> Result<Self, ClimbError> {
        if least >= 1 && least <= most { Ok(Self { least, most }) } else { Err(ClimbError::Steps(format!("{least}..{most}"))) }
    }

    /// The smallest step wished for.
    #[must_use]
    pub const fn least(self) -> u16 {
        self.least
    }

    /// The largest step allowed.
    #[must_use]
    pub const fn most(self) -> u16 {
        self.most
    }
}

impl Default for StepRange {
    fn default() -> Self {
        Self { least: 16, most: 24 }
    }
}

impl fmt::Display for StepRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}..{}", self.least, self.most)
    }
}

impl FromStr for StepRange {
    type Err = ClimbError;
    fn from_str(text: &str) -> Result<Self, ClimbError> {
        let wrong = || ClimbError::Steps(text.to_owned());
        let (least, most) = text.split_once("..").ok_or_else(wrong)?;
        Self::new(least.trim().parse().map_err(|_| wrong())?, most.trim().parse().map_err(|_| wrong())?)
    }
}

impl ClimbRule {
    /// The slowest a climb starts unless told otherwise.
    pub const FLOOR: u16 = 72;

    /// The rule with its usual numbers.
    #[must_use]
    pub fn to(goal: Tempo) -> Self {
        let floor = Tempo::new(f64::from(Self::FLOOR)).unwrap_or(Tempo::SLOWEST);
        Self { goal, start: None, floor, steps: StepRange::default() }
    }

    /// The tempo of every stage, slowest first, the last exactly the goal: as few steps as the largest allows, and as even as whole
    /// beats per minute allow.
    ///
    /// # Errors
    /// [`ClimbError::StartsAboveGoal`].
    pub fn stages(&self) -> Result<Vec<Tempo>, ClimbError> {
        let goal = self.goal;
        if let Some(start) = self.start.filter(|start| *start > goal) {
            return Err(ClimbError::StartsAboveGoal { start, goal });
        }
        let half = Tempo::new((goal.bpm() / 2.0).round()).unwrap_or(Tempo::SLOWEST);
        let start = self.start.unwrap_or_else(|| half.max(self.floor).min(goal));
        let way = goal.thousandths() - start.thousandths();
        let steps = way.div_ceil(u32::from(self.steps.most) * 1000);
        // a way of whole beats per minute is divided into whole ones
        let unit = if way.is_multiple_of(1000) { 1000 } else { 1 };
        let stage = |step: u32| {
            let climbed = u64::from(way / unit) * u64::from(step) / u64::from(steps.max(1)) * u64::from(unit);
            start.raised(climbed as u32)
        };
        Ok((0..steps).map(stage).chain([goal]).collect())
    }
}

/// What a pass of a climb is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Pass {
    /// The voice counts the bars; everyone says them along.
    Count,
    /// Everyone claps the rhythm.
    Clap,
    /// Breath and fingers, no tone.
    Air,
    /// Everyone plays.
    Play,
}

impl Pass {
    /// What the first stage takes unless told otherwise.
    pub const FIRST_STAGE: [Self; 4] = [Self::Count, Self::Clap, Self::Air, Self::Play];
    /// What the later stages take unless told otherwise.
    pub const LATER_STAGES: [Self; 2] = [Self::Air, Self::Play];

    /// Its word, as files, lists and the voice have it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Count => "count",
            Self::Clap => "clap",
            Self::Air => "air",
            Self::Play => "play",
        }
    }
}
