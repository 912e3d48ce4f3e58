//! All that is on the screen, and nothing that is not.

mod desk;
mod ear;
mod finder;
mod heard;
mod lesson;
mod pedals;

pub use desk::{Desk, DeskRow};
pub use ear::{Ear, Hearing, Roll, Told};
pub use finder::Finder;
pub use heard::{AtTheDesk, Input, SeatHeard, Seated, SeatedOn, SectionHeard, Sounding};
pub use lesson::{LessonItem, LessonRun, OpenedLesson, Resumed};
pub use pedals::{Heard, Learn, Pedals};

use engine::Snapshot;
use sequencer::plan::{Bar, PlanKind, Station, TurnKind};
use sequencer::{Cue, Mix, Motion, Plan, Room, SectionIndex};
use std::sync::Arc;
use std::time::Duration;
use units::Tempo;

use super::action::Focus;
use super::effect::Errand;
use super::shelf::{Shelf, Source};
use crate::inputs::Place;
use crate::standing::ClimbStanding;
use crate::standing::climbs::Climbing;

/// How long a passing message stays: 6 s.
pub const TOLD_FOR: Duration = Duration::from_secs(6);
/// How soon the second press of quit must follow the first: 2 s.
pub const QUIT_WITHIN: Duration = Duration::from_secs(2);

/// The console.
#[derive(Clone, Debug)]
pub struct State {
    /// The screen that leads.
    pub base: Base,
    /// What is laid over it.
    pub over: Option<Over>,
    /// The class.
    pub room: Arc<Room>,
    /// Where its file lies.
    pub room_source: Source,
    /// What was last given to the engine.
    pub led: Option<Arc<Led>>,
    /// What the engine has taken up.
    pub in_force: Option<Arc<Led>>,
    /// The engine, as last seen.
    pub pulse: Pulse,
    /// The section the director picked to see its staff, until the turn goes to another station.
    pub picked: Option<SectionIndex>,
    /// The drone as it is set.
    pub desk: Desk,
    /// How loud each role is.
    pub mix: Mix,
    /// The sound device.
    pub sound: Sound,
    /// The speaking voice.
    pub voice: Voice,
    /// What is wrong in a file that was edited.
    pub faults: Option<String>,
    /// What is told for a few seconds, and until when.
    pub told: Option<(String, Duration)>,
    /// A cue that was given and waits for the bar line.
    pub asked: Option<Cue>,
    /// The last press of quit, while it waits for the second.
    pub quit_asked: Option<Duration>,
    /// What the director's ear noted.
    pub ear: Ear,
    /// The microphone.
    pub hearing: Hearing,
    /// What it gives, while it is on.
    pub input: Option<Input>,
    /// Who is heard near the drone, while its screen is open and the microphone on.
    pub at_the_desk: Option<AtTheDesk>,
    /// Whether verdicts are said aloud in a roll, where the director has decided; else the drill does.
    pub verdicts_said: Option<bool>,
    /// For how many days the sound of echoes is kept, if it is.
    pub recording: Option<u16>,
    /// What to come back to after landmarks or sections in turn.
    pub aside: Option<Errand>,
    /// The lesson under way.
    pub lesson: Option<LessonRun>,
    /// What is remembered of it: item, station, round, and when that was written.
    pub kept: Option<(usize, u16, u16, Duration)>,
    /// The climb whose stage was last remembered.
    pub climb_kept: Option<ClimbStanding>,
    /// What can be chosen.
    pub shelf: Shelf,
    /// Pedals, switches and keys.
    pub pedals: Pedals,
    /// Where the keyboard is.
    pub focus: Focus,
    /// Since the console started.
    pub now: Duration,
    /// Whether anything visible changed since it was last drawn.
    pub changed: bool,
}

/// The screen that leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Base {
    /// For the director.
    Stage,
    /// For the class, on a projector.
    RoomView,
}

/// What is laid over the stage.
#[derive(Clone, Debug, PartialEq)]
pub enum Over {
    /// The usual cautions, once.
    Cautions,
    /// A list to choose from.
    Chooser(Chooser),
    /// The drone's screen, with the marked row.
    DroneDesk(DeskRow),
    /// Every key.
    Keys(Finder),
    /// Everything that can be done.
    Commands(Finder),
    /// What is wrong in a file or with the sound, from which line on.
    Faults(u16),
    /// What the ear noted, from which line on.
    Ear(u16),
    /// What somebody of a section plays, as it sounds.
    OpenEar(OpenEar),
    /// What pedals and keys do.
    Learn(Learn),
}

/// A child plays, and the room sees what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OpenEar {
    /// Of which section it is.
    pub section: SectionIndex,
    /// What sounds just now.
    pub sounding: Option<Sounding>,
    /// Whether the microphone was opened for this.
    pub opened: bool,
}

/// A list to choose from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Chooser {
    /// What is chosen.
    pub of: ChooserOf,
    /// The marked line.
    pub mark: usize,
}

/// What is chosen from a list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChooserOf {
    /// A room.
    Rooms,
    /// A drill.
    Drills,
    /// Whose landmarks.
    Landmarks,
    /// Whose roll.
    Roll,
    /// A passage to climb.
    Climbs,
    /// A lesson.
    Lessons,
    /// An item of the lesson.
    Items,
}

/// A plan with what it was made from.
#[derive(Clone, Debug)]
pub struct Led {
    /// What was asked for.
    pub errand: Errand,
    /// The class it was made for.
    pub room: Arc<Room>,
    /// What sounds.
    pub score: Arc<engine::Score>,
    /// What climbs, if it is a climb, to be remembered by.
    pub climbing: Option<Climbing>,
    /// The bar it stands at when it is taken up.
    pub stands_at: u32,
}

/// The engine, as far as it shows on the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulse {
    /// Which bar of the plan.
    pub bar: u32,
    /// The beat in the bar, from 1; 0 in the moments before the first.
    pub beat: u8,
    /// Whether the plan moves, if there is one.
    pub motion: Option<Motion>,
    /// The tempo in force, if there is a plan.
    pub tempo: Option<Tempo>,
    /// Whether a drone is held.
    pub drone: bool,
    /// The master level in whole decibels; nothing for silence.
    pub level: Option<i32>,
    /// Whether the voice's clips have arrived.
    pub voice: bool,
    /// Sounds that found no room and samples that were no numbers.
    pub lost: u64,
}

/// The sound device, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sound {
    /// How it stands.
    pub standing: Standing,
    /// The device's name, if there is one.
    pub name: String,
    /// The device's own sentence: what it is, what happened, how to mend it.
    pub says: String,
    /// How to get sound, where there is none.
    pub mend: String,
}

/// How the sound device stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Being opened.
    Opening,
    /// It plays.
    Playing,
    /// It went away and is being looked for.
    Lost,
    /// There is none: a silent clock keeps time.
    Silent,
    /// The engine failed; only leaving helps.
    Failed,
}

/// The speaking voice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Voice {
    /// Being decoded.
    Loading,
    /// With the engine.
    Ready,
    /// It cannot speak, and why.
    Missing(String),
}

impl Pulse {
    /// Nothing loaded.
    pub const REST: Self = Self { bar: 0, beat: 0, motion: None, tempo: None, drone: false, level: None, voice: false, lost: 0 };

    /// What shows of `snapshot`.
    #[must_use]
    pub fn of(snapshot: &Snapshot) -> Self {
        let moves = |motion| matches!(motion, Motion::Running | Motion::Closing);
        let beat = snapshot.position.filter(|position| moves(position.motion)).map_or(0, |position| {
            // the first beat of a run comes a look-ahead after the cue
            if position.beat < 0.0 { 0 } else { (position.beat.floor() as u8).saturating_add(1) }
        });
        let level = snapshot.master.decibels().0;
        Self {
            bar: snapshot.position.map_or(0, |position| position.bar),
            beat,
            motion: snapshot.motion(),
            tempo: snapshot.tempo(),
            drone: snapshot.drone,
            level: level.is_finite().then_some(level.round() as i32),
            voice: snapshot.voice,
            lost: snapshot.counts.lost_sounds + snapshot.counts.non_finite,
        }
    }

    /// Whether the pulse goes on.
    #[must_use]
    pub const fn is_moving(&self) -> bool {
        matches!(self.motion, Some(Motion::Running | Motion::Closing))
    }
}

impl State {
    /// A console on `room` that has nothing to lead yet.
    #[must_use]
    pub fn new(room: Arc<Room>, room_source: Source) -> Self {
        let desk = Desk::of(&room.drone);
        let mix = room.mix;
        Self {
            base: Base::Stage,
            over: None,
            room,
            room_source,
            led: None,
            in_force: None,
            pulse: Pulse::REST,
            picked: None,
            desk,
            mix,
            sound: Sound {
                standing: Standing::Opening,
                name: String::new(),
                says: crate::text::status::OPENING.to_owned(),
                mend: String::new(),
            },
            voice: Voice::Loading,
            faults: None,
            told: None,
            asked: None,
            quit_asked: None,
            ear: Ear::default(),
            hearing: Hearing::Off,
            input: None,
            at_the_desk: None,
            verdicts_said: None,
            recording: None,
            aside: None,
            lesson: None,
            kept: None,
            climb_kept: None,
            shelf: Shelf::demo(),
            pedals: Pedals::default(),
            focus: Focus::Here,
            now: Duration::ZERO,
            changed: true,
        }
    }

    /// Where keys are, as the table sees it.
    #[must_use]
    pub const fn place(&self) -> Place {
        match (&self.over, self.base) {
            (Some(Over::Learn(Learn { choosing: None })), _) => Place::Learn,
            (Some(Over::Chooser(_) | Over::Learn(_)), _) => Place::Chooser,
            (Some(Over::DroneDesk(_)), _) => Place::DroneDesk,
            (Some(Over::Keys(_) | Over::Commands(_)), _) => Place::Finder,
            (Some(Over::Cautions | Over::Faults(_) | Over::Ear(_) | Over::OpenEar(_)), _) => Place::Page,
            (None, Base::Stage) => Place::Stage,
            (None, Base::RoomView) => Place::RoomView,
        }
    }

    /// What is led: as the engine has it, or as it soon will.
    #[must_use]
    pub fn leading(&self) -> Option<&Arc<Led>> {
        self.in_force.as_ref().or(self.led.as_ref())
    }

    /// The plan of what is led.
    #[must_use]
    pub fn plan(&self) -> Option<&Plan> {
        self.leading().map(|led| &led.score.plan)
    }

    /// The class as the plan knows it, or as it stands in its file.
    #[must_use]
    pub fn class(&self) -> &Arc<Room> {
        self.leading().map_or(&self.room, |led| &led.room)
    }

    /// Whether the plan moves: a plan the engine has not taken up yet is ready.
    #[must_use]
    pub fn motion(&self) -> Option<Motion> {
        self.plan()?;
        Some(self.pulse.motion.unwrap_or(Motion::Ready))
    }

    /// The lesson's item that `go` starts once the standing one is through.
    #[must_use]
    pub fn next_item(&self) -> Option<&LessonItem> {
        let run = self.lesson.as_ref().filter(|run| run.queued.is_none())?;
        self.leading()?.errand.lesson.as_ref()?;
        run.items.get(run.sound_from(run.at + 1)?)
    }

    /// The lesson's item that comes by itself when the standing one is through.
    #[must_use]
    pub fn queued_item(&self) -> Option<&LessonItem> {
        let run = self.lesson.as_ref()?;
        self.leading()?.errand.lesson.as_ref()?;
        run.items.get(run.queued?)
    }

    /// The bar the plan stands in.
    #[must_use]
    pub fn bar(&self) -> Option<&Bar> {
        self.plan()?.bar(self.pulse.bar)
    }

    /// The station the plan stands in.
    #[must_use]
    pub fn station(&self) -> Option<&Station> {
        self.plan()?.station_of(self.bar()?)
    }

    /// The turn that is under way; nothing while the plan stands.
    #[must_use]
    pub fn turn(&self) -> Option<TurnKind> {
        match self.motion()? {
            Motion::Running | Motion::Closing => self.bar().map(|bar| bar.turn),
            Motion::Waiting => self.bar().map(|bar| bar.turn),
            Motion::Ready | Motion::Held | Motion::Done => None,
        }
    }

    /// Whether anything can be heard.
    #[must_use]
    pub const fn is_sounding(&self) -> bool {
        self.pulse.is_moving() || self.pulse.drone
    }

    /// What is wrong, in full: in a file that was edited, with who sits out, and with the sound. Empty if nothing is.
    #[must_use]
    pub fn troubles(&self) -> String {
        let sound = match self.sound.standing {
            Standing::Lost | Standing::Silent | Standing::Failed => Some(self.sound.says.as_str()),
            Standing::Opening | Standing::Playing => None,
        };
        let notices = self.led.as_ref().map(|led| crate::text::told::notices(&led.score.plan.notices)).unwrap_or_default();
        let notices = Some(notices.as_str()).filter(|notices| !notices.is_empty());
        let lesson = self.lesson.iter().flat_map(LessonRun::faults);
        let files = self.faults.as_deref().into_iter().chain(lesson).chain(self.pedals.faults.as_deref());
        let parts: Vec<&str> = files.chain(notices).chain(sound).collect();
        parts.join("\n\n")
    }

    /// Whether a drone is all that sounds: nothing is led, what is led stands, or it is a drone.
    #[must_use]
    pub fn drones_alone(&self) -> bool {
        let held = self.plan().is_some_and(|plan| plan.kind == PlanKind::Hold);
        self.pulse.drone && (held || !self.pulse.is_moving() && self.pulse.motion != Some(Motion::Waiting))
    }

    /// Whether the plan is a roll.
    #[must_use]
    pub fn is_roll(&self) -> bool {
        self.plan().is_some_and(|plan| plan.kind == PlanKind::Roll)
    }

    /// Whether the voice says in the rest after an echo of a roll what the microphone heard of it.
    #[must_use]
    pub fn says_verdicts(&self) -> bool {
        self.verdicts_said.unwrap_or_else(|| self.plan().is_some_and(|plan| plan.say_verdicts))
    }

    /// The section whose staff is shown: the one that was picked, else the first of those whose turn it is.
    #[must_use]
    pub fn shown_section(&self) -> SectionIndex {
        let in_turn = || self.bar().and_then(|bar| bar.sections.iter().next());
        self.picked.or_else(in_turn).unwrap_or(SectionIndex(0))
    }

    /// Shows `text` for a few seconds.
    pub(crate) fn tell(&mut self, text: impl Into<String>) {
        self.told = Some((text.into(), self.now + TOLD_FOR));
        self.changed = true;
    }
}
