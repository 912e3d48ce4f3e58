//! The microphone: what it hears goes to whoever listens, and is forgotten.

use device::tap::Tapped;
use device::{Capture, CaptureEvent, Wanted};
use engine::{Controls, Snapshot};
use listen::cancel::Clearness;
use listen::room::{Clearing, Meeting};
use pitch::{Instrument, Tuning};
use units::{FrameInstant, FrameSpan, SampleRate};

use super::echoes::{Echoes, Note, Sound};
use super::open_ear::OpenEar;
use crate::app::action::Action;
use crate::app::state::Hearing;

/// Frames the device is asked for at a time.
const FRAMES: u32 = 1024;
/// How long nothing but zeros is taken for a pause, in seconds.
const MUTED: f64 = 3.0;
/// How far the console's looks may be late before the sound is taken to be from another moment, in seconds.
const UNEVEN: f64 = 0.15;

/// For how long a drone that has begun is learnt, in seconds; then somebody may play along.
const LEARNS_DRONE: f64 = 3.0;

/// How the class stands.
pub(super) struct Now {
    /// What is asked of it.
    pub(super) asked: Vec<Note>,
    /// Whether nobody but us sounds.
    pub(super) ours_alone: bool,
}

/// A microphone in use.
pub(super) struct Microphone {
    capture: Capture,
    sound: Option<Tapped>,
    samples: Vec<f32>,
    /// Our own sound taken out, and the moment each stretch of it was made.
    clearing: Option<Clearing>,
    cleared: Vec<f32>,
    stretches: Vec<(Option<FrameInstant>, usize)>,
    met: bool,
    /// Since when a drone has sounded.
    drone: Option<FrameInstant>,
    echoes: Echoes,
    open_ear: Option<OpenEar>,
    /// When the next sample was made, as far as is known.
    next: FrameInstant,
    /// Zeros since the last sound.
    zeros: usize,
    told_of_zeros: bool,
    told_of_drone: bool,
}

impl Microphone {
    /// Asks for the microphone called so, or the usual one.
    pub(super) fn open(wanted: Wanted) -> Self {
        Self {
            capture: Capture::start(wanted, SampleRate::DEFAULT, FRAMES),
            sound: None,
            samples: Vec::new(),
            clearing: None,
            cleared: Vec::new(),
            stretches: Vec::new(),
            met: false,
            drone: None,
            echoes: Echoes::default(),
            open_ear: None,
            next: FrameInstant::ZERO,
            zeros: 0,
            told_of_zeros: false,
            told_of_drone: false,
        }
    }

    /// Lets it go.
    pub(super) fn close(self) {
        self.capture.stop();
    }

    /// Tells what somebody plays on this instrument, or no more.
    pub(super) fn open_ear(&mut self, whose: Option<(&'static Instrument, Tuning)>) {
        self.open_ear = whose.map(|(instrument, tuning)| OpenEar::new(instrument, tuning));
    }

    /// Hears what came since it was last asked, as the class stands in `now`. Under a drone that cannot be taken out well enough nobody is
    /// judged: it would be heard for the player.
    pub(super) fn poll(&mut self, controls: &mut Controls, snapshot: &Snapshot, now: Now) -> Vec<Action> {
        let mut news = Vec::new();
        let engine = controls.rate();
        for event in self.capture.events().try_iter() {
            news.push(Action::Hearing(match event {
                CaptureEvent::Listening(listening) => {
                    self.clearing = Some(Clearing::new(engine, listening.sound.rate()));
                    self.sound = Some(listening.sound);
                    // what was sent before is of no use
                    controls.sent(|_| ());
                    Hearing::On(listening.device)
                }
                CaptureEvent::Refused { why, mend } => Hearing::Failed(format!("{why}; {mend}")),
                CaptureEvent::Lost { why } => Hearing::Failed(why),
            }));
        }
        let (Some(sound), Some(clearing)) = (&mut self.sound, &mut self.clearing) else { return news };
        self.samples.clear();
        sound.read(&mut self.samples);
        let microphone = sound.rate();
        self.drone = if snapshot.drone { self.drone.or(Some(snapshot.now)) } else { None };
        let learns = self.drone.is_some_and(|since| snapshot.now <= since + engine.span(LEARNS_DRONE));
        clearing.freeze(!now.ours_alone && !learns);
        controls.sent(|sent| clearing.sent(sent.at, &sent.sound));
        for gap in sound.gaps() {
            clearing.lost(gap.frames);
        }
        let rate = clearing.rate();
        self.cleared.clear();
        self.stretches.clear();
        let (all, stretches) = (&mut self.cleared, &mut self.stretches);
        clearing.heard(&self.samples, |cleared| {
            stretches.push((cleared.at, cleared.sound.len()));
            all.extend_from_slice(cleared.sound);
        });
        let clear = !snapshot.drone || matches!(clearing.clearness(), Clearness::Clear(_));
        let meeting = clearing.meeting();
        news.extend(self.muted(microphone));
        news.extend(self.met(meeting));
        if !clear && !now.asked.is_empty() && !self.told_of_drone {
            news.push(Action::Tell(crate::text::ear::UNDER_A_DRONE.to_owned()));
        }
        self.told_of_drone = !clear && (!now.asked.is_empty() || self.told_of_drone);
        self.echoes.follow(if clear { now.asked } else { Vec::new() }, snapshot.now, engine);
        let scaled = |frame: FrameInstant| FrameInstant((u128::from(frame.0) * u128::from(rate.hz()) / u128::from(engine.hz())) as u64);
        let present = scaled(snapshot.now).back(FrameSpan(self.cleared.len() as u64));
        let mut from = 0;
        for (at, length) in &self.stretches {
            let samples = &self.cleared[from..from + length];
            // how late the microphone is nobody knows yet: its sound is taken to be of just now
            let untimed = present + FrameSpan(from as u64);
            if untimed.offset_from(self.next).0.unsigned_abs() > rate.span(UNEVEN).0 {
                self.next = untimed;
            }
            let sound = Sound { samples, rate, at: at.map_or(self.next, scaled), timed: at.is_some() };
            news.extend(self.echoes.hear(sound, engine));
            self.next += FrameSpan(*length as u64);
            from += length;
        }
        if let Some(ear) = &mut self.open_ear {
            news.extend(ear.hear(&self.cleared, rate).map(Action::Sounds));
        }
        news
    }

    /// What is told once the delay of the microphone is known.
    fn met(&mut self, meeting: Meeting) -> Option<Action> {
        let found = matches!(meeting, Meeting::Found { .. });
        let first = found && !std::mem::replace(&mut self.met, found);
        match meeting {
            Meeting::Found { delay, .. } if first => Some(Action::Tell(crate::text::ear::met(delay))),
            _ => None,
        }
    }

    /// What is told of a microphone that gives only zeros, once.
    fn muted(&mut self, rate: SampleRate) -> Option<Action> {
        let sounds = self.samples.iter().any(|sample| *sample != 0.0);
        self.zeros = if sounds { 0 } else { self.zeros + self.samples.len() };
        if sounds {
            self.told_of_zeros = false;
        }
        let muted = self.zeros as u64 > rate.span(MUTED).0 && !self.told_of_zeros;
        self.told_of_zeros |= muted;
        muted.then(|| Action::Tell(crate::text::ear::MUTED.to_owned()))
    }
}
