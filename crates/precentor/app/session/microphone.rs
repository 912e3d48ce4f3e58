//! Who listens while the microphone is open: to the notes that are asked, and to whoever plays freely. What was heard is forgotten, unless sound is kept.

use device::Wanted;
use engine::{Controls, Snapshot};
use listen::cancel::Clearness;
use listen::room::Meeting;
use pitch::{Instrument, Tuning};
use units::{FrameInstant, FrameSpan, SampleRate};

use super::ears::{Ears, EarsNews};
use super::echoes::{Echoes, Note, Sound};
use super::open_ear::OpenEar;
use crate::app::action::Action;
use crate::app::effect::Loudspeaker;
use crate::app::state::{Hearing, Input};
use crate::text::ear as text;

/// How far the console's looks may be late before the sound is taken to be from another moment, in seconds.
const UNEVEN: f64 = 0.15;
/// For how long a drone that has begun is learnt, in seconds; then somebody may play along.
const LEARNS_DRONE: f64 = 3.0;
/// Seconds from one look at the level to the next that is told.
const LEVEL_AGAIN: f64 = 0.2;

/// How the class stands.
pub(super) struct Now {
    /// What is asked of it.
    pub(super) asked: Vec<Note>,
    /// Whether nobody but us sounds.
    pub(super) ours_alone: bool,
}

/// A microphone in use.
pub(super) struct Microphone {
    ears: Ears,
    echoes: Echoes,
    open_ear: Option<OpenEar>,
    /// When the next sample was made, as far as is known.
    next: FrameInstant,
    /// Whether its delay was a guess at the last look.
    guesses_when: bool,
    /// Since when a drone has sounded.
    drone: Option<FrameInstant>,
    told_of_drone: bool,
    /// What was told last of what it gives, and from when on that may be told anew.
    input: Option<Input>,
    level_due: FrameInstant,
}

impl Microphone {
    /// Asks for the microphone called so, or the usual one; what it hears of echoes is handed on if it `keeps` sound.
    pub(super) fn open(wanted: Wanted, keeps: bool) -> Self {
        Self {
            ears: Ears::open(wanted),
            echoes: Echoes::new(keeps),
            open_ear: None,
            next: FrameInstant::ZERO,
            guesses_when: false,
            drone: None,
            told_of_drone: false,
            input: None,
            level_due: FrameInstant::ZERO,
        }
    }

    /// Lets it go.
    pub(super) fn close(self, controls: &mut Controls) {
        self.ears.close(controls);
    }

    /// Tells what somebody plays on this instrument, or no more.
    pub(super) fn open_ear(&mut self, whose: Option<(&'static Instrument, Tuning)>) {
        self.open_ear = whose.map(|(instrument, tuning)| OpenEar::new(instrument, tuning));
    }

    /// Measures the room by a sweep.
    pub(super) fn measure(&mut self, controls: &mut Controls) {
        self.ears.calibrate(controls);
    }

    /// The loudspeaker's sound was broken: what is heard meets other frames than before.
    pub(super) fn find_again(&mut self, loudspeaker: Loudspeaker) {
        self.ears.find_again(loudspeaker);
    }

    /// Hears what came since it was last asked, as the class stands in `now`. Under a drone that cannot be taken out well enough nobody is
    /// judged: it would be heard for the player.
    pub(super) fn poll(&mut self, controls: &mut Controls, snapshot: &Snapshot, now: Now) -> Vec<Action> {
        let engine = controls.rate();
        self.drone = if snapshot.drone { self.drone.or(Some(snapshot.now)) } else { None };
        let learns = self.drone.is_some_and(|since| snapshot.now <= since + engine.span(LEARNS_DRONE));
        // whoever plays freely begins when they like, and would be learnt away; where too little is taken out there is still to be learnt
        let enough = matches!(self.ears.clearness(), Clearness::Clear(_));
        let freely = self.open_ear.is_some() && enough;
        self.ears.freeze(!learns && (freely || !now.ours_alone));
        let mut news: Vec<Action> = self.ears.poll(controls).into_iter().map(told).collect();
        news.extend(self.newly_met());
        let clear = !snapshot.drone || matches!(self.ears.clearness(), Clearness::Clear(_));
        if !clear && !now.asked.is_empty() && !self.told_of_drone {
            news.push(Action::Tell(text::UNDER_A_DRONE.to_owned()));
        }
        self.told_of_drone = !clear && (!now.asked.is_empty() || self.told_of_drone);
        self.echoes.follow(if clear { now.asked } else { Vec::new() }, snapshot.now, engine);
        let Some(rate) = self.ears.rate() else {
            self.input = None;
            return news;
        };
        news.extend(self.input(!clear, snapshot.now, engine));
        self.listen(rate, snapshot.now, engine, &mut news);
        news
    }

    /// What the microphone gives, if that is other than what was told last.
    fn input(&mut self, under_a_drone: bool, now: FrameInstant, engine: SampleRate) -> Option<Action> {
        let input = Input::new(self.ears.level()?, under_a_drone);
        if now < self.level_due || self.input == Some(input) {
            return None;
        }
        (self.input, self.level_due) = (Some(input), now + engine.span(LEVEL_AGAIN));
        Some(Action::Input(input))
    }

    /// Lets everybody who listens hear what came.
    fn listen(&mut self, rate: SampleRate, now: FrameInstant, engine: SampleRate, news: &mut Vec<Action>) {
        let present = now.at_rate(engine, rate).back(FrameSpan(self.ears.samples().len() as u64));
        let mut from = 0;
        for stretch in self.ears.stretches() {
            // how late the microphone is nobody knows yet: its sound is taken to be of just now
            let untimed = present + FrameSpan(from);
            if untimed.offset_from(self.next).0.unsigned_abs() > rate.span(UNEVEN).0 {
                self.next = untimed;
            }
            let at = stretch.at.map_or(self.next, |at| at.at_rate(engine, rate));
            let timed = stretch.at.is_some() && self.ears.knows_when();
            news.extend(self.echoes.hear(Sound { samples: stretch.sound, rate, at, timed }, engine));
            self.next += FrameSpan(stretch.sound.len() as u64);
            from += stretch.sound.len() as u64;
        }
        if let Some(ear) = &mut self.open_ear {
            news.extend(ear.hear(self.ears.samples(), rate).map(Action::Sounds));
        }
    }

    /// What is told once the delay of the microphone is known but no sweep vouches for it, the first time or again.
    fn newly_met(&mut self) -> Option<Action> {
        let delay = match self.ears.meeting() {
            Meeting::Found { delay, .. } if !self.ears.is_placed() && !self.ears.is_measuring() => Some(delay),
            _ => None,
        };
        let newly = delay.filter(|_| !self.guesses_when);
        self.guesses_when = delay.is_some();
        newly.map(|delay| Action::Tell(text::met(delay)))
    }
}

/// What is told of the microphone.
fn told(news: EarsNews) -> Action {
    match news {
        EarsNews::On { device, .. } => Action::Hearing(Hearing::On(device)),
        EarsNews::Refused { why, mend } => Action::Hearing(Hearing::Failed(format!("{why}; {mend}"))),
        EarsNews::Lost { why } => Action::Hearing(Hearing::Lost(why)),
        EarsNews::Muted => Action::Tell(text::MUTED.to_owned()),
        EarsNews::Unmuted => Action::Tell(text::UNMUTED.to_owned()),
        EarsNews::Measured(clearness) => Action::Tell(text::measured(clearness)),
        EarsNews::NotMeasured(why) => Action::Tell(text::not_measured(&why.to_string())),
    }
}
