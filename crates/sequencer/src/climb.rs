//! A piece's way from under-tempo to concert tempo: stages of one tempo each, and the passes of every stage.

use std::fmt;
use std::str::FromStr;
use thiserror::Error;
use units::Tempo;

use crate::Division;
use crate::click::ClickPattern;

/// How a passage climbs: the numbers of its stages and passes, each to be changed by the teacher. The defaults are common practice, no source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClimbSettings {
    /// The first stage's tempo; nothing takes half the goal, but not less than the floor.
    pub start: Option<Tempo>,
    /// The slowest a climb starts by itself, unless the goal is slower still.
    pub floor: Tempo,
    /// From stage to stage.
    pub steps: StepRange,
    /// The passes of the first stage.
    pub first_stage: Vec<Pass>,
    /// The passes of every later stage.
    pub later_stages: Vec<Pass>,
    /// How often each pass is taken before the next, at least once.
    pub repeats: u16,
    /// Bars counted before each pass, at least one.
    pub count_off: u16,
    /// Into what the voice divides the beats of the first `count` pass; nothing as the meter divides them.
    pub subdivide: Option<Division>,
    /// How the bars of a `play` pass are ticked; the other passes are ticked on every beat.
    pub click: ClickPattern,
    /// Silent bars for the lips after each stage, at least one.
    pub rest: u16,
    /// How one pass goes on to the next.
    pub passes: Advance,
    /// How one stage goes on to the next.
    pub stages: Advance,
}

/// How a passage that fell apart is taken up again: once through at half tempo, then at full tempo.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecheckSettings {
    /// What is done, one after another.
    pub steps: Vec<RecheckStep>,
    /// Bars counted before each step, at least one.
    pub count_off: u16,
    /// How the bars of a `play` step are ticked.
    pub click: ClickPattern,
    /// Silent bars for the lips after each step.
    pub rest: u16,
    /// How one step goes on to the next.
    pub passes: Advance,
}

/// One step of a recheck.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct RecheckStep {
    /// What is done.
    pub pass: Pass,
    /// Whether at half the concert tempo.
    pub half: bool,
}

/// How something goes on to what comes next.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Advance {
    /// By itself.
    #[default]
    ByItself,
    /// When the director says go.
    OnGo,
}

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
    /// A word for no pass.
    #[error("\"{0}\" is no pass; write count, clap, air, play or percussion")]
    Pass(String),
    /// A word for no step of a recheck.
    #[error("\"{0}\" is no step of a recheck; write half or full and then a pass, such as half play or full air")]
    RecheckStep(String),
    /// A word for no way of going on.
    #[error("\"{0}\" is no way to go on; write by itself, or on go")]
    Advance(String),
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

    /// [`Self::FLOOR`] as a tempo.
    #[must_use]
    pub fn usual_floor() -> Tempo {
        Tempo::new(f64::from(Self::FLOOR)).unwrap_or(Tempo::SLOWEST)
    }

    /// The rule with its usual numbers.
    #[must_use]
    pub fn to(goal: Tempo) -> Self {
        Self { goal, start: None, floor: Self::usual_floor(), steps: StepRange::default() }
    }

    /// The tempo of every stage, slowest first, the last exactly the goal: as few steps as the largest allows, and as even as whole
    /// beats per minute allow.
    ///
    /// # Errors
    /// [`ClimbError::StartsAboveGoal`].
    pub fn stages(&self) -> Result<Vec<Tempo>, ClimbError> {
        self.stages_in(self.fewest_steps()?)
    }

    /// The fewest steps that lead to the goal.
    ///
    /// # Errors
    /// [`ClimbError::StartsAboveGoal`].
    pub fn fewest_steps(&self) -> Result<u32, ClimbError> {
        Ok(self.way()?.1.div_ceil(u32::from(self.steps.most) * 1000))
    }

    /// The same in so many steps: where several goals of one passage are climbed to together, the longest way decides.
    ///
    /// # Errors
    /// [`ClimbError::StartsAboveGoal`].
    pub fn stages_in(&self, steps: u32) -> Result<Vec<Tempo>, ClimbError> {
        let (start, way) = self.way()?;
        // a way of whole beats per minute is divided into whole ones
        let unit = if way.is_multiple_of(1000) { 1000 } else { 1 };
        let stage = |step: u32| {
            let climbed = u64::from(way / unit) * u64::from(step) / u64::from(steps.max(1)) * u64::from(unit);
            start.raised(climbed as u32)
        };
        Ok((0..steps).map(stage).chain([self.goal]).collect())
    }

    /// Where it starts, and how far from there to the goal in thousandths of a beat per minute.
    fn way(&self) -> Result<(Tempo, u32), ClimbError> {
        let goal = self.goal;
        if let Some(start) = self.start.filter(|start| *start > goal) {
            return Err(ClimbError::StartsAboveGoal { start, goal });
        }
        let half = Tempo::new((goal.bpm() / 2.0).round()).unwrap_or(Tempo::SLOWEST);
        let start = self.start.unwrap_or_else(|| half.max(self.floor).min(goal));
        Ok((start, goal.thousandths() - start.thousandths()))
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
    /// The trusted sections play, alone.
    Percussion,
}

impl Advance {
    /// Both, in the order of their words.
    pub const ALL: [Self; 2] = [Self::ByItself, Self::OnGo];
    /// Their words in files.
    pub const WORDS: [&'static str; 2] = ["by itself", "on go"];

    /// Its word in files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::ByItself => "by itself",
            Self::OnGo => "on go",
        }
    }
}

impl FromStr for Advance {
    type Err = ClimbError;
    fn from_str(text: &str) -> Result<Self, ClimbError> {
        Self::ALL.into_iter().find(|advance| advance.word() == text).ok_or_else(|| ClimbError::Advance(text.to_owned()))
    }
}

impl Default for ClimbSettings {
    fn default() -> Self {
        Self {
            start: None,
            floor: ClimbRule::usual_floor(),
            steps: StepRange::default(),
            first_stage: Pass::FIRST_STAGE.to_vec(),
            later_stages: Pass::LATER_STAGES.to_vec(),
            repeats: 1,
            count_off: 1,
            subdivide: None,
            click: ClickPattern::steady(),
            rest: 1,
            passes: Advance::ByItself,
            stages: Advance::OnGo,
        }
    }
}

impl ClimbSettings {
    /// The rule of its stages up to `goal`.
    #[must_use]
    pub const fn rule(&self, goal: Tempo) -> ClimbRule {
        ClimbRule { goal, start: self.start, floor: self.floor, steps: self.steps }
    }
}

impl RecheckSettings {
    /// Common practice, no source: once through at half tempo, air at full tempo, the trusted sections alone, then everyone twice.
    pub const STEPS: [RecheckStep; 5] = [
        RecheckStep { pass: Pass::Play, half: true },
        RecheckStep { pass: Pass::Air, half: false },
        RecheckStep { pass: Pass::Percussion, half: false },
        RecheckStep { pass: Pass::Play, half: false },
        RecheckStep { pass: Pass::Play, half: false },
    ];
}

impl Default for RecheckSettings {
    fn default() -> Self {
        Self { steps: Self::STEPS.to_vec(), count_off: 1, click: ClickPattern::steady(), rest: 1, passes: Advance::ByItself }
    }
}

impl fmt::Display for RecheckStep {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", if self.half { "half" } else { "full" }, self.pass.word())
    }
}

impl FromStr for RecheckStep {
    type Err = ClimbError;
    fn from_str(text: &str) -> Result<Self, ClimbError> {
        let wrong = || ClimbError::RecheckStep(text.to_owned());
        let (tempo, pass) = text.split_once(' ').ok_or_else(wrong)?;
        let half = match tempo {
            "half" => true,
            "full" => false,
            _ => return Err(wrong()),
        };
        Ok(Self { pass: pass.trim().parse().map_err(|_| wrong())?, half })
    }
}

impl FromStr for Pass {
    type Err = ClimbError;
    fn from_str(text: &str) -> Result<Self, ClimbError> {
        Self::ALL.into_iter().find(|pass| pass.word() == text).ok_or_else(|| ClimbError::Pass(text.to_owned()))
    }
}

impl Pass {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Count, Self::Clap, Self::Air, Self::Play, Self::Percussion];
    /// Their words in files.
    pub const WORDS: [&'static str; 5] = ["count", "clap", "air", "play", "percussion"];
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
            Self::Percussion => "percussion",
        }
    }
}
