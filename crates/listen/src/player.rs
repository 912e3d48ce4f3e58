//! One player: sound in, frames and notes out.

use crate::decimate::Decimator;
use crate::entry::Entries;
use crate::memory::Memory;
use crate::notes::{Change, Lasting, Notes, STANDS, Sounded};
use crate::place::{self, Named, Placed};
use crate::prior::Prior;
use crate::track::{Instant, Track};
use pitch::{Family, Fingering, Instrument, Tuning, Written};
use thiserror::Error;
use units::{Decibels, FrameInstant, FrameSpan, Hertz, SampleRate};

/// Why nobody can be listened to.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum CannotListen {
    /// A drum, of which no pitch can be heard.
    #[error("{0} has no pitch to listen for; choose a seat with a pitched instrument")]
    NoPitch(&'static str),
}

/// The pitch of an instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// How high.
    pub frequency: Hertz,
    /// The share of the sound that is this tone, 0 to 1.
    pub confidence: f64,
}

/// What was heard at one instant; there are a hundred a second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// The middle of the stretch this was heard in.
    pub at: FrameInstant,
    /// The last frame that was needed to tell it.
    pub upto: FrameInstant,
    /// The tone, if there is one. Talk has tones too: a note is told by [`Heard::Note`].
    pub tone: Option<Tone>,
    /// Where that tone stands beside the note asked for, if one was; early, and surer from instant to instant.
    pub placed: Option<Placed>,
    /// The level against full scale (RMS, so that a full sine has -3 dB); of the microphone, not of the air.
    pub level: Decibels,
}

/// A note that was played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Note {
    /// How high: the median over the note.
    pub frequency: Hertz,
    /// Its name, and how far off it lies.
    pub named: Named,
    /// Where it stands beside the note asked for, if one was.
    pub placed: Option<Placed>,
    /// When it began.
    pub entry: FrameInstant,
    /// How long it has lasted.
    pub length: FrameSpan,
    /// The share of the sound that is the note, 0 to 1.
    pub confidence: f64,
}

/// What [`Player::hear`] tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Heard {
    /// An instant.
    Frame(Frame),
    /// A note has stood long enough, about 0.4 s, to be told from talk and noise.
    Note(Note),
    /// That note is over.
    Over(Note),
}

/// The answer to a note asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Verdict {
    /// Nobody played: silence, talk, noise, or nothing long enough.
    Nothing,
    /// The longest note since it was asked for.
    Note(Note),
}

#[derive(Clone, Copy, Debug)]
struct Target {
    wanted: Hertz,
    fingering: Option<Fingering>,
}

/// Listens to one player of a known instrument. Allocates when built and never after.
///
/// ```
/// use listen::{Heard, Player, Verdict};
/// use pitch::{Instrument, Tuning};
/// use units::SampleRate;
/// let flute = Instrument::find("flute")?;
/// let mut player = Player::new(flute, SampleRate::DEFAULT, Tuning::default())?;
/// player.expect(Some("A4".parse()?));
/// let sine: Vec<f32> = (0..48_000).map(|n| 0.1 * (n as f32 * 442.0 / 48_000.0 * std::f32::consts::TAU).sin()).collect();
/// player.hear(&sine, |_| ());
/// let Verdict::Note(note) = player.answer() else { panic!("it was played") };
/// assert_eq!(note.named.written, "A4".parse()?);
/// assert!((note.named.cents.0 - 7.85).abs() < 0.2);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Player {
    instrument: &'static Instrument,
    tuning: Tuning,
    decimator: Decimator,
    memory: Memory,
    track: Track,
    notes: Notes,
    entries: Entries,
    target: Option<Target>,
    now: FrameInstant,
    began: FrameInstant,
    /// The longest note over since a note was asked for.
    best: Option<Note>,
}

/// Windows whose mean is heard at once.
const AVERAGE: usize = 5;
/// Semitones below the lowest note that are listened to.
const BELOW: i32 = 3;
/// Semitones above the highest.
const ABOVE: i32 = 2;
/// Semitones a beginner lands below or above the comfortable range, when that is not the whole range: an octave, a twelfth.
const MISSED_DOWN: i32 = 12;
const MISSED_UP: i32 = 19;
/// Seconds before a pitch was first held in which its entry is sought.
const BEFORE: f64 = 0.35;

impl Player {
    /// Listens to `instrument` in sound at `rate`, and names notes in `tuning`.
    ///
    /// # Errors
    /// [`CannotListen::NoPitch`] for a drum.
    pub fn new(instrument: &'static Instrument, rate: SampleRate, tuning: Tuning) -> Result<Self, CannotListen> {
        if !instrument.is_pitched() {
            return Err(CannotListen::NoPitch(instrument.label()));
        }
        let (low, high) = heard_range(instrument, &tuning);
        let decimator = Decimator::new(rate);
        let slow = decimator.rate();
        let track = Track::new(slow, low.hz(), high.hz(), AVERAGE);
        let sought = (slow * (BEFORE + 0.01 * STANDS as f64)) as usize + track.lag() + track.reach();
        let struck = matches!(instrument.family(), Family::Percussion | Family::Strings);
        Ok(Self {
            instrument,
            tuning,
            memory: Memory::new(sought),
            entries: Entries::new(slow, sought),
            decimator,
            track,
            notes: Notes::new(if struck { Lasting::Struck } else { Lasting::Held }, slow),
            target: None,
            now: FrameInstant::ZERO,
            began: FrameInstant::ZERO,
            best: None,
        })
    }

    /// Asks for a note, or for none, and forgets what was played before. On a horn, the F side's fingering; on other brass the usual
    /// one; the partials of that fingering are then likelier than what lies between.
    pub fn expect(&mut self, written: Option<Written>) {
        self.target = written.map(|written| Target {
            wanted: self.tuning.frequency(self.instrument.sounding(written)),
            fingering: self.instrument.fingering(written),
        });
        let tube = |target: Target| Some(target.wanted.hz() / f64::from(target.fingering?.partial));
        self.track.expect(self.target.and_then(tube).map(Prior::partials_of).unwrap_or_default());
        self.best = None;
    }

    /// The answer so far to what was asked for: the longest note, sounding or over.
    pub fn answer(&mut self) -> Verdict {
        let sounding = self.notes.sounding().and_then(|sounded| self.note(sounded));
        let longest = self.best.into_iter().chain(sounding).max_by_key(|note| note.length);
        longest.map_or(Verdict::Nothing, Verdict::Note)
    }

    /// The frame the next block begins with.
    #[must_use]
    pub const fn now(&self) -> FrameInstant {
        self.now
    }

    /// Says which frame the next block begins with, after sound was lost.
    pub const fn resume(&mut self, at: FrameInstant) {
        self.now = at;
    }

    /// Takes the next block of any length, and tells what it brings in order.
    pub fn hear(&mut self, block: &[f32], mut tell: impl FnMut(Heard)) {
        for sample in block {
            self.now += FrameSpan(1);
            let Some(slow) = self.decimator.push(*sample) else { continue };
            self.memory.push(slow);
            let Some(instant) = self.track.step(&self.memory) else { continue };
            tell(Heard::Frame(self.frame(&instant)));
            match self.notes.step(instant, &self.memory) {
                Some(Change::Stands(sounded)) => self.began = self.entry(sounded),
                Some(Change::Settled(sounded)) => {
                    if let Some(note) = self.note(sounded) {
                        tell(Heard::Note(note));
                    }
                }
                Some(Change::Ended(sounded)) => {
                    if let Some(note) = self.note(sounded) {
                        if self.best.is_none_or(|best| best.length < note.length) {
                            self.best = Some(note);
                        }
                        tell(Heard::Over(note));
                    }
                }
                None => {}
            }
        }
    }

    /// Frames of the device in `slow` frames of the memory.
    fn span(&self, slow: f64) -> FrameSpan {
        FrameSpan((slow.max(0.0) * self.decimator.factor() as f64).round() as u64)
    }

    fn frame(&self, instant: &Instant) -> Frame {
        let newest = self.now.back(self.decimator.delay());
        let frequency = instant.hz.and_then(|hz| Hertz::new(hz).ok());
        Frame {
            at: newest.back(self.span(self.track.lag() as f64)),
            upto: self.now,
            tone: frequency.map(|frequency| Tone { frequency, confidence: instant.strength }),
            placed: frequency.and_then(|frequency| self.placed(frequency)),
            level: Decibels(10.0 * instant.power.max(1e-20).log10()),
        }
    }

    /// When the note that has just stood began.
    fn entry(&mut self, sounded: Sounded) -> FrameInstant {
        let rate = self.decimator.rate();
        let since = self.track.lag() as f64 + (sounded.instants * self.track.hop()) as f64;
        let sound = self.memory.last(since as usize + (BEFORE * rate) as usize);
        let held = sound.len() as f64 - since;
        let at = self.entries.find(sound, sounded.hz, held);
        let back = self.span(sound.len() as f64 - at);
        self.now.back(self.decimator.delay()).back(back)
    }

    fn placed(&self, heard: Hertz) -> Option<Placed> {
        self.target.map(|target| place::place(target.wanted, target.fingering, heard))
    }

    fn note(&self, sounded: Sounded) -> Option<Note> {
        let frequency = Hertz::new(sounded.hz).ok()?;
        Some(Note {
            frequency,
            named: place::name(self.instrument, &self.tuning, frequency)?,
            placed: self.placed(frequency),
            entry: self.began,
            length: self.span((sounded.instants * self.track.hop()) as f64),
            confidence: sounded.strength,
        })
    }
}

/// From the lowest to the highest pitch that is listened for: what the instrument can play, but no further from its comfortable notes
/// than a beginner misses them by.
#[must_use]
pub fn heard_range(instrument: &Instrument, tuning: &Tuning) -> (Hertz, Hertz) {
    let sounding = |written| instrument.sounding(written).semitone();
    let (full, comfortable) = (instrument.full(), instrument.comfortable());
    let low = sounding(full.low()).max(sounding(comfortable.low()) - MISSED_DOWN) - BELOW;
    let high = sounding(full.high()).min(sounding(comfortable.high()) + MISSED_UP) + ABOVE;
    let hertz = |semitone: i32| tuning.reference.hertz().moved(units::Cents(100.0 * f64::from(semitone - 69)));
    (hertz(low), hertz(high))
}
