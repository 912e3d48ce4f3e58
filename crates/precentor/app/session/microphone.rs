//! The microphone in a roll: each seat's echo heard while it lasts. What it hears is forgotten at once; nothing is kept of the sound.

use device::tap::Tapped;
use device::{Capture, CaptureEvent, Wanted};
use listen::Player;
use pitch::{Instrument, Tuning, Written};
use sequencer::cursor::Position;
use sequencer::plan::Part;
use sequencer::{Plan, Room, TurnKind};
use units::{Beats, SampleRate};

use crate::app::action::Action;
use crate::app::state::{Hearing, SeatHeard};
use crate::hearing;

/// Frames the device is asked for at a time.
const FRAMES: u32 = 1024;
/// How long after its echo a seat may still be told, in seconds.
const AFTER: f64 = 0.3;
/// How long nothing but zeros is taken for a pause, in seconds.
const MUTED: f64 = 3.0;

/// A microphone in use.
pub(super) struct Microphone {
    capture: Capture,
    sound: Option<Tapped>,
    samples: Vec<f32>,
    echo: Option<Listening>,
    /// Zeros since the last sound.
    zeros: usize,
    told_of_zeros: bool,
    told_of_drone: bool,
}

/// A seat that is listened to.
struct Listening {
    echo: Echo,
    player: Player,
    /// Frames heard since its echo was over.
    since: usize,
}

/// A note that is asked of a seat just now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Echo {
    /// The first bar of its turn, and which note of the line.
    place: (u32, usize),
    seat: u16,
    instrument: &'static Instrument,
    written: Written,
    tuning: Tuning,
}

impl Echo {
    /// What is asked of a seat at `position` of `plan`; nothing outside the echoes of a roll.
    pub(super) fn at(plan: &Plan, room: &Room, position: &Position) -> Option<Self> {
        let bar = plan.bar(position.bar).filter(|bar| bar.turn == TurnKind::Echo && position.beat >= 0.0)?;
        let seat = plan.station_of(bar)?.seat?;
        let section = bar.sections.iter().next()?;
        let top = plan.turn_around(position.bar).start;
        let before: Beats = plan.bars.get(top as usize..position.bar as usize)?.iter().map(|bar| bar.length).sum();
        let beat = before.as_f64() + position.beat;
        let Part::Notes(notes) = plan.part(section) else { return None };
        let sounding = |note: &sequencer::plan::PartNote| note.start.as_f64() <= beat && beat < (note.start + note.length).as_f64();
        let (index, note) = notes.iter().enumerate().find(|(_, note)| sounding(note))?;
        let tuning = Tuning { reference: room.reference, ..Tuning::default() };
        let instrument = room.section(section)?.instrument;
        Some(Self { place: (top, index), seat, instrument, written: note.pitch?.written, tuning })
    }
}

impl Microphone {
    /// Asks for the microphone called so, or the usual one.
    pub(super) fn open(wanted: Wanted) -> Self {
        let capture = Capture::start(wanted, SampleRate::DEFAULT, FRAMES);
        Self { capture, sound: None, samples: Vec::new(), echo: None, zeros: 0, told_of_zeros: false, told_of_drone: false }
    }

    /// Lets it go.
    pub(super) fn close(self) {
        self.capture.stop();
    }

    /// Hears what came since it was last asked, while `now` is asked of a seat. Under a drone nobody is judged: it would be heard for the
    /// player.
    pub(super) fn poll(&mut self, now: Option<Echo>, drone: bool) -> Vec<Action> {
        let mut news = Vec::new();
        if drone && now.is_some() && !self.told_of_drone {
            news.push(Action::Tell(crate::text::ear::UNDER_A_DRONE.to_owned()));
        }
        self.told_of_drone = drone && (now.is_some() || self.told_of_drone);
        let now = now.filter(|_| !drone);
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
        if let Some(listening) = &mut self.echo {
            listening.player.hear(&self.samples, |_| ());
            let over = now != Some(listening.echo);
            listening.since = if over { listening.since + self.samples.len() } else { 0 };
            let told = listening.since as u64 >= rate.span(AFTER).0;
            if over && (now.is_some() || told) {
                let judged = hearing::judged_untimed(&mut listening.player);
                let Echo { seat, written, .. } = listening.echo;
                news.push(Action::Echoed(SeatHeard { seat, target: written, judged }));
                self.echo = None;
            }
        }
        if self.echo.is_none()
            && let Some(echo) = now
            && let Ok(mut player) = Player::new(echo.instrument, rate, echo.tuning)
        {
            player.expect(Some(echo.written));
            self.echo = Some(Listening { echo, player, since: 0 });
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
