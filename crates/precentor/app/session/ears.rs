//! The microphone with our own sound taken out of it: what others play, and which of the engine's frames they play it to.

use device::{Capture, CaptureEvent, Level, Listening, Wanted};
use engine::{Controls, Probing};
use listen::cancel::Clearness;
use listen::room::{CannotCalibrate, Clearing, Meeting, SWEEP_LEVEL};
use std::time::Duration;
use synth::Probe;
use thiserror::Error;
use units::{Decibels, FrameInstant, FrameSpan, SampleRate};

use crate::app::effect::Loudspeaker;

/// Frames the device is asked for at a time. A sound server drops without a word what is not taken before the next ones come, so they
/// are many: verdicts come at the end of an echo, and the sweep tells how late all is.
const FRAMES: u32 = 4096;
/// How long nothing but zeros is taken for a pause, in seconds.
const MUTED: f64 = 3.0;
/// Seconds after a sweep until it is looked for, and between attempts while it has not been heard to its end.
const ARRIVES: f64 = 1.7;
const AGAIN: f64 = 0.5;
/// A sample of ours that can be heard.
const AUDIBLE: f32 = 1e-4;
/// How often it is looked for.
const ATTEMPTS: u32 = 6;

/// The sweep that the engine plays to measure the room.
#[must_use]
pub fn sweep(rate: SampleRate) -> Probe {
    Probe::new("sweep", &listen::room::sweep(rate, SWEEP_LEVEL))
}

/// What a journal knows as `kind`.
#[must_use]
pub fn probe_named(kind: &str, rate: SampleRate) -> Option<Probe> {
    (kind == "sweep").then(|| sweep(rate))
}

/// What must be foretold of the sweep's second rise for the measurement to count: but for a quarter of it.
const STEADY: Decibels = Decibels(12.0);

/// Less taken out than this for so many seconds of our own sound, while nobody else plays, raises the doubt whether what is heard still meets
/// the frames it met.
const MISSES: Decibels = Decibels(10.0);
const MISSED: f64 = 2.0;
/// How often that is doubled at most, while a second clearing does no better.
const PATIENCE: u32 = 5;
/// How much better a second clearing must be, and how many seconds of our own sound it has for that.
const BETTER: f64 = 6.0;
const SECOND: f64 = 15.0;

/// What became of the microphone.
#[derive(Clone, Debug, PartialEq)]
pub enum EarsNews {
    /// It is open, for the first time or again.
    On {
        /// Its name.
        device: String,
        /// Its id, for [`device::Clocks::of`].
        id: String,
        /// How long it was lost, if it is back.
        returned: Option<Duration>,
    },
    /// It cannot be opened; the search goes on.
    Refused {
        /// Why not.
        why: String,
        /// What to do about it.
        mend: String,
    },
    /// It was lost; the search goes on.
    Lost {
        /// What was seen.
        why: String,
    },
    /// It gives nothing but zeros.
    Muted,
    /// It gives sound after nothing but zeros.
    Unmuted,
    /// The room was measured.
    Measured(Clearness),
    /// The room was not measured.
    NotMeasured(CannotMeasure),
}

/// Why the room was not measured. Printed, it says what to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum CannotMeasure {
    /// No microphone is open.
    #[error("no microphone is open; plug one in")]
    NoMicrophone,
    /// The engine sounds something else.
    #[error("something else sounds; hush it first")]
    Busy,
    /// The sweep was cut short.
    #[error("the sweep was cut short; measure again")]
    CutShort,
    /// Its two rises came back too different for anything to be learnt.
    #[error("the sweep came back broken; wait until the room is quiet and the sound does not drop out, then measure again")]
    Unsteady,
    /// It was sent, and told nothing.
    #[error(transparent)]
    Room(#[from] CannotCalibrate),
}

/// A stretch of what was heard without our own sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch<'a> {
    /// The microphone's frame it begins with, counted since the microphone was opened, those lost included.
    pub heard: FrameInstant,
    /// The engine's frame that is heard at its first frame, once that is known.
    pub at: Option<FrameInstant>,
    /// Engine frames from one frame to the next.
    pub stride: f64,
    /// The sound.
    pub sound: &'a [f32],
}

/// A microphone beside the engine.
pub struct Ears {
    capture: Capture,
    open: Option<Open>,
    frozen: bool,
    measuring: Option<Measuring>,
    /// Cleared since the last poll, and where each stretch of it begins.
    samples: Vec<f32>,
    stretches: Vec<(usize, FrameInstant, Option<FrameInstant>, f64)>,
    raw: Vec<f32>,
}

/// What there is while a microphone is open.
struct Open {
    listening: Listening,
    clearing: Clearing,
    /// The microphone's frame it began with.
    since: u64,
    /// What hears a sweep under way, or is to show in case of doubt whether it does better: then it takes the other's place.
    trial: Option<Clearing>,
    trial_since: u64,
    /// Frames of our own sound since which there is doubt, or a second clearing because of it.
    missed: u64,
    /// How often a second one did no better.
    again: u32,
    /// The count of the next frame to come.
    due: u64,
    muted: bool,
}

/// A sweep on its way.
#[derive(Clone, Copy)]
struct Measuring {
    attempts: u32,
    /// The engine's frame from which on it is looked for, once it sounded whole.
    from: Option<FrameInstant>,
}

impl Open {
    /// Sound that is dropped on its way, where nobody counts, shifts all that follows, and what was learnt holds no more. Where too little of
    /// our own sound is taken out, another clearing looks for it anew: after such a shift it soon does better; in a noisy room it does
    /// not. `frames` of it were heard just now, with nobody playing.
    fn doubt(&mut self, frames: u64) {
        let taken = |clearing: &Clearing| match clearing.clearness() {
            Clearness::Unknown => None,
            Clearness::Clear(taken) | Clearness::Poor(taken) => Some(taken.0),
        };
        let rate = self.clearing.rate();
        let now = taken(&self.clearing);
        match &self.trial {
            None => {
                self.missed = if now.is_some_and(|now| now < MISSES.0) { self.missed + frames } else { 0 };
                if self.missed > rate.span(MISSED).0 << self.again {
                    self.trial = Some(self.clearing.again());
                    (self.trial_since, self.missed) = (self.due, 0);
                }
            }
            Some(trial) => {
                self.missed += frames;
                let better = taken(trial) > now.map(|now| now + BETTER);
                let over = self.missed > rate.span(SECOND).0;
                if better && let Some(trial) = self.trial.take() {
                    (self.clearing, self.since, self.missed, self.again) = (trial, self.trial_since, 0, 0);
                } else if over {
                    (self.trial, self.missed, self.again) = (None, 0, (self.again + 1).min(PATIENCE));
                }
            }
        }
    }

    fn clearings(&mut self) -> impl Iterator<Item = &mut Clearing> {
        std::iter::once(&mut self.clearing).chain(&mut self.trial)
    }
}

impl Ears {
    /// Asks for the microphone called so, or the usual one, and returns at once.
    #[must_use]
    pub fn open(wanted: Wanted) -> Self {
        let capture = Capture::start(wanted, SampleRate::DEFAULT, FRAMES);
        let (samples, stretches, raw) = (Vec::new(), Vec::new(), Vec::new());
        Self { capture, open: None, frozen: false, measuring: None, samples, stretches, raw }
    }

    /// Lets it go.
    pub fn close(self, controls: &mut Controls) {
        controls.want_sent(false);
        self.capture.stop();
    }

    /// Hears what came since it was last asked: call it on every tick, after [`Controls::poll`], at least once a second. What was heard is
    /// then in [`Self::samples`] and [`Self::stretches`].
    pub fn poll(&mut self, controls: &mut Controls) -> Vec<EarsNews> {
        let mut news = Vec::new();
        self.samples.clear();
        self.stretches.clear();
        controls.want_sent(true);
        for event in self.capture.events().try_iter() {
            news.push(match event {
                CaptureEvent::Listening(listening) => {
                    let (device, id, returned) = (listening.device.clone(), listening.id.clone(), listening.returned);
                    let mut clearing = Clearing::new(controls.rate(), listening.sound.rate());
                    clearing.freeze(self.frozen);
                    self.open = Some(Open {
                        listening,
                        clearing,
                        since: 0,
                        trial: None,
                        trial_since: 0,
                        missed: 0,
                        again: 0,
                        due: 0,
                        muted: false,
                    });
                    EarsNews::On { device, id, returned }
                }
                CaptureEvent::Refused { why, mend } => EarsNews::Refused { why, mend },
                CaptureEvent::Lost { why } => {
                    self.open = None;
                    EarsNews::Lost { why }
                }
            });
        }
        let (mut newest, mut sounds) = (None, false);
        controls.sent(|at, block| {
            sounds |= block.iter().any(|sample| sample.abs() > AUDIBLE);
            newest = Some(FrameInstant(at.0 + block.len() as u64));
            if let Some(open) = &mut self.open {
                open.clearings().for_each(|clearing| clearing.sent(at, block));
            }
        });
        self.hear(&mut news);
        if let Some(open) = &mut self.open
            && self.measuring.is_none()
            && !self.frozen
            && sounds
        {
            open.doubt(self.samples.len() as u64);
        }
        news.extend(self.measured(controls, newest));
        news
    }

    /// What others play, since the last poll; with our own sound in it as long as [`Self::meeting`] is unknown.
    #[must_use]
    pub fn samples(&self) -> &[f32] {
        &self.samples
    }

    /// The same in the stretches it came in, each with its frame.
    pub fn stretches(&self) -> impl Iterator<Item = Stretch<'_>> {
        let ends = self.stretches.iter().skip(1).map(|(start, ..)| *start).chain([self.samples.len()]);
        self.stretches.iter().zip(ends).map(|((start, heard, at, stride), end)| Stretch {
            heard: *heard,
            at: *at,
            stride: *stride,
            sound: self.samples.get(*start..end).unwrap_or_default(),
        })
    }

    /// Frames per second of [`Self::samples`], while a microphone is open.
    #[must_use]
    pub fn rate(&self) -> Option<SampleRate> {
        self.open.as_ref().map(|open| open.clearing.rate())
    }

    /// Whether what is heard has been matched with what was sent: delay and the ratio of the clocks.
    #[must_use]
    pub fn meeting(&self) -> Meeting {
        self.open.as_ref().map_or(Meeting::Unknown, |open| open.clearing.meeting())
    }

    /// How well our own sound is taken out.
    #[must_use]
    pub fn clearness(&self) -> Clearness {
        self.open.as_ref().map_or(Clearness::Unknown, |open| open.clearing.clearness())
    }

    /// Whether a sweep told where our own sound lies in what is heard. Without a sweep the place is a guess from whatever sounded, and may be
    /// far off.
    #[must_use]
    pub fn is_placed(&self) -> bool {
        self.open.as_ref().is_some_and(|open| open.clearing.is_placed())
    }

    /// Whether it [is placed](Self::is_placed), and what was heard of our own sound since is still there.
    #[must_use]
    pub fn knows_when(&self) -> bool {
        self.is_placed() && !matches!(self.clearness(), Clearness::Poor(_))
    }

    /// Whether a sweep is on its way.
    #[must_use]
    pub const fn is_measuring(&self) -> bool {
        self.measuring.is_some()
    }

    /// How loud the microphone's own sound is, beside its full scale.
    #[must_use]
    pub fn level(&self) -> Option<Level> {
        self.open.as_ref().and_then(|open| open.listening.sound.level())
    }

    /// Measures the room: the engine plays a sweep of some five seconds, softly. The news tells what came of it; if it told nothing, all
    /// stays as it was.
    pub fn calibrate(&mut self, controls: &mut Controls) {
        controls.probe(sweep(controls.rate()));
        self.measuring = Some(Measuring { attempts: 0, from: None });
        if let Some(open) = &mut self.open {
            // a new one: a measurement that is not good enough leaves the other as it was
            open.trial = Some(Clearing::new(controls.rate(), open.listening.sound.rate()));
            (open.trial_since, open.missed) = (open.due, 0);
        }
    }

    /// Stops all learning, from when a player may enter, or goes on.
    pub fn freeze(&mut self, frozen: bool) {
        self.frozen = frozen;
        if let Some(open) = &mut self.open {
            open.clearing.freeze(frozen);
            // a sweep is heard out
            if self.measuring.is_none() {
                open.trial.iter_mut().for_each(|trial| trial.freeze(frozen));
            }
        }
    }

    /// The loudspeaker's sound was broken: what is heard meets other frames than before.
    pub fn find_again(&mut self, loudspeaker: Loudspeaker) {
        if let Some(open) = &mut self.open {
            open.clearings().for_each(match loudspeaker {
                Loudspeaker::TheSame => Clearing::find_again_near,
                Loudspeaker::PerhapsAnother => Clearing::find_again,
            });
        }
    }

    fn hear(&mut self, news: &mut Vec<EarsNews>) {
        let Some(Open { listening, clearing, since, trial, due, muted, .. }) = &mut self.open else { return };
        let sound = &mut listening.sound;
        let factor = (f64::from(sound.rate().hz()) / f64::from(clearing.rate().hz())).round() as u64;
        loop {
            self.raw.clear();
            let first = sound.read(&mut self.raw).0;
            let unread = FrameSpan(first.saturating_sub(*due));
            *due = first + self.raw.len() as u64;
            let gaps = sound.gaps().filter(|gap| gap.by_device).map(|gap| gap.frames);
            for frames in gaps.chain([unread]).filter(|frames| *frames > FrameSpan::ZERO) {
                clearing.lost(frames);
                trial.iter_mut().for_each(|trial| trial.lost(frames));
            }
            if self.raw.is_empty() {
                break;
            }
            if let Some(trial) = trial {
                trial.heard(&self.raw, |_| ());
            }
            let (samples, stretches) = (&mut self.samples, &mut self.stretches);
            clearing.heard(&self.raw, |cleared| {
                let heard = FrameInstant(*since + cleared.first.0 * factor);
                stretches.push((samples.len(), heard, cleared.at, cleared.stride));
                samples.extend_from_slice(cleared.sound);
            });
        }
        let zeros = sound.zeros() > sound.rate().span(MUTED);
        if zeros != *muted && (zeros || sound.zeros() == FrameSpan::ZERO) {
            *muted = zeros;
            news.push(if zeros { EarsNews::Muted } else { EarsNews::Unmuted });
        }
    }

    /// What came of the sweep, if that is known by now. `newest` is the frame after the last that was sent.
    fn measured(&mut self, controls: &Controls, newest: Option<FrameInstant>) -> Option<EarsNews> {
        let mut measuring = self.measuring?;
        let rate = controls.rate();
        let result = match (&mut self.open, controls.probing()) {
            (None, _) => Err(CannotMeasure::NoMicrophone),
            (_, Some(Probing::Refused)) => Err(CannotMeasure::Busy),
            (_, Some(Probing::CutShort) | None) => Err(CannotMeasure::CutShort),
            (_, Some(Probing::Asked | Probing::Sounding { .. })) => return None,
            (Some(open), Some(Probing::Over { start })) => {
                let from = *measuring.from.get_or_insert_with(|| start + sweep(rate).length() + rate.span(ARRIVES));
                self.measuring = Some(measuring);
                if newest.is_none_or(|newest| newest < from) {
                    return None;
                }
                let told = open.trial.as_mut().map_or(Err(CannotCalibrate::NotSent), |trial| trial.calibrate(start));
                measuring.attempts += 1;
                if told == Err(CannotCalibrate::NotHeardOut) && measuring.attempts < ATTEMPTS {
                    measuring.from = Some(from + rate.span(AGAIN));
                    self.measuring = Some(measuring);
                    return None;
                }
                match told {
                    Ok(Clearness::Poor(taken)) if taken < STEADY => Err(CannotMeasure::Unsteady),
                    Ok(told) => {
                        if let Some(mut trial) = open.trial.take() {
                            trial.freeze(self.frozen);
                            (open.clearing, open.since, open.missed) = (trial, open.trial_since, 0);
                        }
                        Ok(told)
                    }
                    Err(error) => Err(error.into()),
                }
            }
        };
        self.measuring = None;
        self.open.iter_mut().for_each(|open| open.trial = None);
        Some(result.map_or_else(EarsNews::NotMeasured, EarsNews::Measured))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_a_microphone_nothing_is_measured_and_it_says_so() {
        let (mut controls, mut renderer) = engine::pair(SampleRate::DEFAULT);
        let mut ears = Ears::open(Wanted::Named("the organ loft".to_owned()));
        ears.calibrate(&mut controls);
        renderer.fill(&mut [0.0; 960], 2);
        controls.poll();
        assert!(ears.poll(&mut controls).contains(&EarsNews::NotMeasured(CannotMeasure::NoMicrophone)));
        assert_eq!((ears.meeting(), ears.rate(), ears.level()), (Meeting::Unknown, None, None));
        assert_eq!((ears.samples().len(), ears.stretches().count()), (0, 0));
        ears.close(&mut controls);
    }

    #[test]
    fn the_sweep_is_known_by_its_name() {
        let rate = SampleRate::DEFAULT;
        assert_eq!(probe_named(sweep(rate).kind(), rate), Some(sweep(rate)));
        assert_eq!(probe_named("tune", rate), None);
    }
}
