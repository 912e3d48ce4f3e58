//! The beat made audible.

use crate::curve::s_curve;
use crate::places::{Placed, Places};
use crate::{BLOCK, Block};
use units::{Gain, SampleRate};

/// Which beat a click marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ClickKind {
    /// The first beat of a bar: highest and longest.
    Downbeat,
    /// Any other beat.
    Beat,
    /// A part of a beat: softest and shortest.
    Subdivision,
}

/// Clicks that can sound at once.
const PLAYERS: usize = 8;
/// Seconds of attack: as soft as a tick can be.
const ATTACK: f32 = 0.001;

/// One click being played.
#[derive(Clone, Copy)]
struct Tick {
    kind: ClickKind,
    level: f32,
}

/// Plays clicks from waveforms made once.
pub(crate) struct Clicks {
    waves: [Box<[f32]>; 3],
    players: Places<Tick, PLAYERS>,
    rate: SampleRate,
}

impl ClickKind {
    const ALL: [Self; 3] = [Self::Downbeat, Self::Beat, Self::Subdivision];

    /// Pitch in hertz, length in seconds, peak at level 1.
    const fn recipe(self) -> (f32, f32, f32) {
        match self {
            Self::Downbeat => (1_568.0, 0.020, 0.36),
            Self::Beat => (1_175.0, 0.016, 0.30),
            Self::Subdivision => (988.0, 0.012, 0.18),
        }
    }
}

/// A short wooden tick: a decaying tone and a fainter, quicker one above it, both gone smoothly at the end.
fn tick(kind: ClickKind, rate: SampleRate) -> Box<[f32]> {
    let (pitch, seconds, peak) = kind.recipe();
    let hz = rate.hz() as f32;
    let length = (seconds * hz).floor();
    let turn = std::f32::consts::TAU;
    let upper = if pitch * 2.7 < 0.4 * hz { 0.3 } else { 0.0 };
    let mut wave: Box<[f32]> = (0..length as usize)
        .map(|frame| {
            let (at, share) = (frame as f32 / hz, frame as f32 / length);
            let body = (turn * pitch * at).sin() * (-4.0 * share).exp();
            let knock = upper * (turn * 2.7 * pitch * at).sin() * (-10.0 * share).exp();
            (body + knock) * s_curve(at / ATTACK) * s_curve((1.0 - share) / 0.4)
        })
        .collect();
    let top = wave.iter().fold(f32::MIN_POSITIVE, |top, sample| top.max(sample.abs()));
    wave.iter_mut().for_each(|sample| *sample *= peak / top);
    wave
}

impl Clicks {
    pub(crate) fn new(rate: SampleRate) -> Self {
        Self { waves: ClickKind::ALL.map(|kind| tick(kind, rate)), players: Places::new(), rate }
    }

    /// Starts a click; one too many is not heard.
    pub(crate) fn start(&mut self, kind: ClickKind, start: u64, level: Gain) {
        self.players.start(start, Tick { kind, level: level.amplitude() });
    }

    pub(crate) fn hush(&mut self, next: u64) {
        self.players.hush(next, self.rate);
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.players.is_silent()
    }

    /// Adds the block at `start`.
    pub(crate) fn render(&mut self, start: u64, out: &mut Block) {
        let waves = &self.waves;
        self.players.render(start, |placed| {
            let wave = waves.get(placed.sound.kind as usize).map(|wave| &wave[..]).unwrap_or_default();
            placed.render(start, wave, out)
        });
    }
}

impl Placed<Tick> {
    /// Adds the block at `start`; whether there is more to come.
    fn render(&mut self, start: u64, wave: &[f32], out: &mut Block) -> bool {
        let age = start.wrapping_sub(self.start) as i64;
        let mut gain = [self.sound.level; BLOCK];
        let faded = self.fade.apply(start, &mut gain);
        let wait = (-age).clamp(0, BLOCK as i64) as usize;
        let here = wave.get(age.max(0) as usize..).unwrap_or_default();
        for ((out, gain), sample) in out.iter_mut().zip(&gain).skip(wait).zip(here) {
            *out += sample * gain;
        }
        !faded && age + (BLOCK as i64) < wave.len() as i64
    }
}
