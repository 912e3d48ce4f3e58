//! The microphone: what it hears goes to whoever listens, and is forgotten.

use device::tap::Tapped;
use device::{Capture, CaptureEvent, Wanted};
use engine::Snapshot;
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

/// A microphone in use.
pub(super) struct Microphone {
    capture: Capture,
    sound: Option<Tapped>,
    samples: Vec<f32>,
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

    /// Hears what came since it was last asked, while `asked` is asked of the class; `engine` is the rate of the engine's frames. Under a
    /// drone nobody is judged: it would be heard for the player.
    pub(super) fn poll(&mut self, asked: Vec<Note>, snapshot: &Snapshot, engine: SampleRate) -> Vec<Action> {
        let mut news = Vec::new();
        if snapshot.drone && !asked.is_empty() && !self.told_of_drone {
            news.push(Action::Tell(crate::text::ear::UNDER_A_DRONE.to_owned()));
        }
        self.told_of_drone = snapshot.drone && (!asked.is_empty() || self.told_of_drone);
        let asked = if snapshot.drone { Vec::new() } else { asked };
        for event in self.capture.events().try_iter() {
            news.push(Action::Hearing(match event {
                CaptureEvent::Listening(listening) => {
                    self.sound = Some(listening.sound);
                    Hearing::On(listening.device)
                }
                CaptureEvent::Refused { why, mend } => Hearing::Failed(format!("{why}; {mend}")),
                CaptureEvent::Lost { why } => Hearing::Failed(why),
            }));
        }
        let Some(sound) = &mut self.sound else { return news };
        self.samples.clear();
        sound.read(&mut self.samples);
        let rate = sound.rate();
        news.extend(self.muted(rate));
        self.echoes.follow(asked, snapshot.now, engine);
        // how late the microphone is nobody knows: its sound is taken to be of just now
        let now = FrameInstant((u128::from(snapshot.now.0) * u128::from(rate.hz()) / u128::from(engine.hz())) as u64);
        let length = FrameSpan(self.samples.len() as u64);
        let at = now.back(length);
        if at.offset_from(self.next).0.unsigned_abs() > rate.span(UNEVEN).0 {
            self.next = at;
        }
        let sound = Sound { samples: &self.samples, rate, at: self.next, timed: false };
        self.next += length;
        news.extend(self.echoes.hear(sound, engine));
        if let Some(ear) = &mut self.open_ear {
            news.extend(ear.hear(&self.samples, rate).map(Action::Sounds));
        }
        news
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
