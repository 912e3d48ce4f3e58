//! The beat made audible.

use crate::Block;
use crate::curve::s_curve;
use crate::places::Places;
use units::{Gain, SampleRate};

/// Which beat a click marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ClickKind {
    /// The first beat of a bar: highest and longest, like a block of wood.
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
    ///
    /// A wind band's sound is strongest up to about 1 kHz and falls from there, and ears are keenest between 2 and 4 kHz (ISO 226), so that is
    /// where a click needs least level to be heard: it cuts through by its place and its quick start, not by its strength. The first beat
    /// stands a fourth above the others.
    const fn recipe(self) -> (f32, f32, f32) {
        match self {
            Self::Downbeat => (2_640.0, 0.036, 0.36),
            Self::Beat => (1_980.0, 0.026, 0.30),
            Self::Subdivision => (1_980.0, 0.014, 0.18),
        }
    }
}

/// The second mode of a free bar over its first (Euler and Bernoulli's beam: 4.7300 and 7.8532 squared), as a block of wood has it.
const KNOCK: f32 = 2.756_5;

/// A short wooden tick: a tone that dies away, a fainter and quicker one above it, and a dull one below that gives it body, all gone smoothly
/// at the end.
fn tick(kind: ClickKind, rate: SampleRate) -> Box<[f32]> {
    let (pitch, seconds, peak) = kind.recipe();
    let hz = rate.hz() as f32;
    let length = (seconds * hz).floor();
    // at the lowest rates there is no room for the higher ones
    let room = |pitch: f32| if pitch < 0.4 * hz { 1.0 } else { 0.0 };
    let modes: [(f32, f32, f32); 3] =
        [(0.5 * pitch, 0.35, 5.0), (pitch, room(pitch), 5.0), (KNOCK * pitch, 0.35 * room(KNOCK * pitch), 12.0)];
    let mut wave: Box<[f32]> = (0..length as usize)
        .map(|frame| {
            let (at, share) = (frame as f32 / hz, frame as f32 / length);
            let modes =
                modes.iter().map(|(pitch, amplitude, fall)| amplitude * (std::f32::consts::TAU * pitch * at).sin() * (-fall * share).exp());
            modes.sum::<f32>() * s_curve(at / ATTACK) * s_curve((1.0 - share) / 0.4)
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
            placed.play(start, wave, placed.sound.level, out)
        });
    }
}
