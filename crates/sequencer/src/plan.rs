//! Everything compiled: bars, sounds at exact beats, and what follows what.
//!
//! A plan is made off the audio thread and never changes. Looking anything up in it allocates nothing.

use pitch::{Concert, Written};
use std::ops::Range;
use units::{Beats, Hertz, Tempo};

use crate::words::Phrase;
use crate::{Adaptive, Drone, Meter, Pass, SectionIndex, SectionSet};

/// The most sounds that start in one bar.
pub const MAX_SOUNDS_PER_BAR: usize = 512;

/// What a plan was made from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PlanKind {
    /// A drill by groups.
    Drill,
    /// A drill seat by seat through one section.
    Roll,
    /// One section's landmarks, in order.
    Landmarks,
    /// Every section's notes, one section after another.
    InTurn,
    /// A passage, stage by stage up to its concert tempo. Its stations are the stages, their rounds the passes.
    Climb,
    /// A passage at half tempo and then at its own. Its stations are the steps.
    Recheck,
    /// A drone held for a while, or until the director goes on.
    Hold,
    /// Something to talk about.
    Talk,
}

/// A compiled plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// What the screen calls it.
    pub title: String,
    /// What it was made from.
    pub kind: PlanKind,
    /// Where it starts.
    pub tempo: Tempo,
    /// How its bars are counted, unless they say otherwise.
    pub meter: Meter,
    /// Per section of the room: what it reads, or why it sits out.
    pub parts: Vec<Part>,
    /// In playing order.
    pub bars: Vec<Bar>,
    /// The sounds of all bars; each bar names its own.
    pub sounds: Vec<PlannedSound>,
    /// Groups, seats, landmarks or sections, in order.
    pub stations: Vec<Station>,
    /// What the teacher should know before starting.
    pub notices: Vec<Notice>,
    /// What each `talk` bar is about, by [`Bar::talk`].
    pub talks: Vec<String>,
    /// How the band's page numbers its bars, by [`Bar::page`].
    pub page: Vec<String>,
    /// The drone that is held while the plan runs.
    pub drone: Option<Drone>,
    /// When what is heard of an echo sends a section on or back.
    pub adaptive: Option<Adaptive>,
    /// Whether what is heard of an echo is said aloud in the rest after it.
    pub say_verdicts: bool,
}

/// What one section reads.
#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    /// Its notes.
    Notes(Vec<PartNote>),
    /// The plan has nothing for this section.
    Nothing,
    /// It has a line, but no octave of it is comfortable.
    DoesNotFit {
        /// What would fit, in a sentence.
        would_fit: String,
    },
}

/// One note (or rest) of a part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartNote {
    /// What is read and what sounds, or a rest.
    pub pitch: Option<PartPitch>,
    /// Where it starts, from the top of the line.
    pub start: Beats,
    /// How long it lasts.
    pub length: Beats,
}

/// What is read and what sounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartPitch {
    /// On the section's page.
    pub written: Written,
    /// In the air.
    pub concert: Concert,
    /// The frequency of the model.
    pub frequency: Hertz,
}

/// What a bar is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TurnKind {
    /// The voice says whose turn it is.
    Call,
    /// The voice counts.
    Count,
    /// The engine sounds the line.
    Model,
    /// The sections answer.
    Echo,
    /// Everyone inhales.
    Breath,
    /// Silence with the pulse.
    Rest,
    /// The director talks; the plan waits.
    Talk,
    /// A passage of a piece, taken so.
    Pass(Pass),
    /// The plan stands and asks the director how to go on.
    Ask,
    /// A drone is held.
    Hold,
    /// The engine sounds the section's landmark.
    Landmark,
}

impl TurnKind {
    /// The turn's word, as files and cue lists write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Call => "call",
            Self::Count => "count",
            Self::Model => "model",
            Self::Echo => "echo",
            Self::Breath => "breath",
            Self::Rest => "rest",
            Self::Talk => "talk",
            Self::Pass(pass) => pass.word(),
            Self::Ask => "ask",
            Self::Hold => "hold",
            Self::Landmark => "landmark",
        }
    }
}

/// One bar.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// What it is for.
    pub turn: TurnKind,
    /// Whether it is the first bar of its turn.
    pub opens_turn: bool,
    /// Whose turn it is.
    pub sections: SectionSet,
    /// Which of [`Plan::stations`] it belongs to.
    pub station: u16,
    /// Which round of its station, from zero.
    pub round: u16,
    /// How it is counted.
    pub meter: Meter,
    /// Where in its meter it begins: past the start in a pick-up bar.
    pub opens_at: Beats,
    /// How long it lasts: its meter's bar, or less in a bar left incomplete.
    pub length: Beats,
    /// The tempo the plan wants from here on; nothing keeps what is in force. Nudges by the director stay until the plan wants another.
    pub tempo: Option<Tempo>,
    /// Its sounds, as a range of [`Plan::sounds`].
    pub sounds: Range<u32>,
    /// What comes after it.
    pub follow: Follow,
    /// Whether a note sounds on across the bar line in front of it.
    pub tied_over: bool,
    /// Which of [`Plan::talks`] it waits with.
    pub talk: Option<u16>,
    /// Which of [`Plan::page`] is its number.
    pub page: Option<u16>,
    /// Whether it stands behind a stage, so that a cue is about the whole stage.
    pub after_stage: bool,
}

/// What comes after a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Follow {
    /// The next bar.
    Next,
    /// The bar with this index.
    Jump(u32),
    /// Nothing: the plan is done.
    End,
}

/// A sound and where it starts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlannedSound {
    /// From the bar line.
    pub beat: Beats,
    /// What sounds.
    pub sound: Sound,
}

/// What sounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sound {
    /// Spoken words.
    Words(Phrase),
    /// A word between the beats; ticked where the tempo leaves no time to say it.
    Between(&'static str),
    /// A model tone.
    Tone {
        /// Whose voice.
        section: SectionIndex,
        /// What is read and what sounds.
        pitch: PartPitch,
        /// How long.
        length: Beats,
    },
    /// A tick of the pulse.
    Click {
        /// Whether it is the bar's first beat.
        downbeat: bool,
    },
    /// The leading inhale.
    Breath {
        /// How long it swells; it ends where the playing starts.
        length: Beats,
    },
}

/// A group, a seat, a landmark or a section in turn: where `next` and `back` go.
#[derive(Clone, Debug, PartialEq)]
pub struct Station {
    /// What the screen calls it.
    pub label: String,
    /// Who is in it.
    pub sections: SectionSet,
    /// The seat, in a roll, from 1.
    pub seat: Option<u16>,
    /// Its first bar (its call, if it has one).
    pub first_bar: u32,
    /// The first bar of each of its rounds.
    pub rounds: Vec<u32>,
    /// For each round the bar from which its landmark comes first; the flow passes it by. Empty where the plan holds no landmarks.
    pub landmarks: Vec<u32>,
}

/// What the teacher should know before starting.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// About whom, if not about all.
    pub section: Option<SectionIndex>,
    /// In a sentence.
    pub text: String,
}

impl Bar {
    /// Whether the plan stands here until the director goes on.
    #[must_use]
    pub const fn waits(&self) -> bool {
        matches!(self.turn, TurnKind::Talk | TurnKind::Ask)
    }
}

impl Plan {
    /// The bar at `index`.
    #[must_use]
    pub fn bar(&self, index: u32) -> Option<&Bar> {
        self.bars.get(index as usize)
    }

    /// The bars of the turn around the bar at `index`, from the one that opens it.
    #[must_use]
    pub fn turn_around(&self, index: u32) -> Range<u32> {
        let goes_on = |index: u32| self.bar(index).is_some_and(|bar| !bar.opens_turn);
        let mut first = index;
        while first > 0 && goes_on(first) {
            first -= 1;
        }
        let mut end = index + 1;
        while goes_on(end) {
            end += 1;
        }
        first..end
    }

    /// The sounds of `bar`, in beat order.
    #[must_use]
    pub fn sounds_of(&self, bar: &Bar) -> &[PlannedSound] {
        self.sounds.get(bar.sounds.start as usize..bar.sounds.end as usize).unwrap_or(&[])
    }

    /// The station `bar` belongs to.
    #[must_use]
    pub fn station_of(&self, bar: &Bar) -> Option<&Station> {
        self.stations.get(usize::from(bar.station))
    }

    /// The part of `section`.
    #[must_use]
    pub fn part(&self, section: SectionIndex) -> &Part {
        self.parts.get(usize::from(section.0)).unwrap_or(&Part::Nothing)
    }

    /// The pass that the round of the bar at `index` is for.
    #[must_use]
    pub fn pass_at(&self, index: u32) -> Option<Pass> {
        let here = self.bar(index)?;
        let round = self.bars.get(self.round_top(index) as usize..)?.iter();
        round.take_while(|bar| (bar.station, bar.round) == (here.station, here.round)).find_map(|bar| match bar.turn {
            TurnKind::Pass(pass) => Some(pass),
            _ => None,
        })
    }

    /// The number of a bar on the band's page.
    #[must_use]
    pub fn page_number(&self, bar: &Bar) -> Option<&str> {
        self.page.get(usize::from(bar.page?)).map(String::as_str)
    }

    /// The bar that comes after the bar at `index`, if the plan goes on.
    #[must_use]
    pub fn following(&self, index: u32) -> Option<u32> {
        let next = match self.bar(index)?.follow {
            Follow::Next => index.checked_add(1)?,
            Follow::Jump(target) => target,
            Follow::End => return None,
        };
        self.bar(next).map(|_| next)
    }

    /// The tempo the plan asks for from the bar at `index` on, as the first bar from there that says one has it.
    #[must_use]
    pub fn tempo_at(&self, index: u32) -> Option<Tempo> {
        self.bars.get(index as usize..)?.iter().find_map(|bar| bar.tempo)
    }

    /// The tempo the plan itself asks for at the bar at `index`: what that bar or the last one before it says; nothing if none does.
    #[must_use]
    pub fn tempo_in_force(&self, index: u32) -> Option<Tempo> {
        self.bars.get(..=index as usize)?.iter().rev().find_map(|bar| bar.tempo)
    }

    /// The index of the last bar.
    #[must_use]
    pub fn last_bar(&self) -> u32 {
        self.bars.len().saturating_sub(1) as u32
    }

    /// The first bar of the round the bar at `index` stands in.
    #[must_use]
    pub fn round_top(&self, index: u32) -> u32 {
        self.bar(index).and_then(|bar| self.station_of(bar)?.rounds.get(usize::from(bar.round)).copied()).unwrap_or(0)
    }
}
