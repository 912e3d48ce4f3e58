//! Drums without a pitch, for the part a percussion section plays: a snare drum and a bass drum.
//!
//! Both are made once from their physics. The partials of a struck skin stand in the ratios of the zeros of Bessel functions (an ideal
//! circular membrane; Abramowitz and Stegun, table 9.5); where the lowest lies, how long each rings and how the snares hiss is by ear:
//! common practice, no source. Air and shell move a real drum's partials by a tenth or so from the ideal ones.

use crate::Bus;
use crate::care::RELEASE_SECONDS;
use crate::curve::s_curve;
use crate::mixer::Mixer;
use crate::noise::{Filter, chance, tangent};
use crate::places::Places;
use units::{Gain, SampleRate};

/// A drum.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Drum {
    /// A small drum with snares across its lower head.
    Snare,
    /// The largest drum of a band.
    Bass,
}

/// Strokes that can sound at once.
const PLAYERS: usize = 32;
/// Seconds of a stroke's attack.
const ATTACK: f32 = 0.001;
/// Of the end of a stroke's waveform, how much fades away.
const ENDING: f32 = 0.25;
/// Zeros of the Bessel functions J0, J1, J2, J0, J3, J1 in rising order: the modes (0,1) (1,1) (2,1) (0,2) (3,1) (1,2) of a membrane.
const ZEROS: [f32; 6] = [2.404_826, 3.831_706, 5.135_622, 5.520_078, 6.380_162, 7.015_587];

/// What a drum is made of.
struct Recipe {
    /// Pitch of the lowest mode in hertz.
    lowest: f32,
    /// Amplitude of each mode where it is struck, and seconds in which it falls by 60 dB.
    modes: [(f32, f32); 6],
    /// Centre in hertz, damping (1/Q), amplitude, and seconds to fall by 60 dB of the noise: snares, or the beater.
    noise: (f32, f32, f32, f32),
    /// Length in seconds.
    length: f32,
    /// Peak at level 1.
    peak: f32,
}

impl Drum {
    /// Every drum.
    pub const ALL: [Self; 2] = [Self::Snare, Self::Bass];

    /// The drum for an instrument of the instrument table, by its id.
    #[must_use]
    pub fn for_instrument(id: &str) -> Option<Self> {
        match id {
            "snare_drum" => Some(Self::Snare),
            "bass_drum" => Some(Self::Bass),
            _ => None,
        }
    }

    const fn recipe(self) -> Recipe {
        match self {
            // struck near the middle: the modes with a nodal line through it are weak
            Self::Snare => Recipe {
                lowest: 185.0,
                modes: [(1.0, 0.22), (0.45, 0.16), (0.25, 0.12), (0.40, 0.10), (0.15, 0.09), (0.12, 0.08)],
                noise: (4_200.0, 1.5, 2.2, 0.30),
                length: 0.35,
                peak: 0.50,
            },
            // struck a little off the middle with a soft beater
            Self::Bass => Recipe {
                lowest: 58.0,
                modes: [(1.0, 0.90), (0.70, 0.60), (0.45, 0.45), (0.40, 0.40), (0.28, 0.30), (0.20, 0.25)],
                noise: (320.0, 1.2, 1.6, 0.09),
                length: 0.90,
                peak: 0.75,
            },
        }
    }
}

/// A drum's stroke.
fn stroke(drum: Drum, rate: SampleRate) -> Box<[f32]> {
    let recipe = drum.recipe();
    let hz = rate.hz() as f32;
    let length = (recipe.length * hz).floor();
    let falls = |seconds: f32| 10_f32.powf(-3.0 / (seconds * hz));
    let (centre, damping, hiss, hiss_fall) = recipe.noise;
    let mut filter = Filter::default();
    let tangent = tangent(centre, rate);
    let mut wave: Box<[f32]> = {
        let (mut level, keeps) = (hiss, falls(hiss_fall));
        let noise = |frame: usize| {
            level *= keeps;
            level * filter.band(chance(frame as u64 ^ ((drum as u64) << 40)), tangent, damping)
        };
        (0..length as usize).map(noise).collect()
    };
    for (zero, (amplitude, fall)) in ZEROS.iter().zip(recipe.modes) {
        let pitch = recipe.lowest * zero / ZEROS[0];
        if pitch > 0.4 * hz {
            continue;
        }
        // a sine that shrinks, by turning and scaling a point of the plane
        let (sin, cos) = (std::f32::consts::TAU * pitch / hz).sin_cos();
        let keeps = falls(fall);
        let (mut x, mut y) = (amplitude, 0.0);
        for sample in &mut wave {
            *sample += y;
            (x, y) = (keeps * (x * cos - y * sin), keeps * (x * sin + y * cos));
        }
    }
    for (frame, sample) in wave.iter_mut().enumerate() {
        *sample *= s_curve(frame as f32 / hz / ATTACK) * s_curve((1.0 - frame as f32 / length) / ENDING);
    }
    let top = wave.iter().fold(f32::MIN_POSITIVE, |top, sample| top.max(sample.abs()));
    wave.iter_mut().for_each(|sample| *sample *= recipe.peak / top);
    wave
}

/// One stroke being played.
#[derive(Clone, Copy)]
struct Stroke {
    drum: Drum,
    level: f32,
    bus: Bus,
}

/// Plays drums from waveforms made once.
pub(crate) struct Drums {
    waves: [Box<[f32]>; 2],
    players: Places<Stroke, PLAYERS>,
    rate: SampleRate,
}

impl Drums {
    pub(crate) fn new(rate: SampleRate) -> Self {
        Self { waves: Drum::ALL.map(|drum| stroke(drum, rate)), players: Places::new(), rate }
    }

    /// Starts a stroke; one too many is not heard.
    pub(crate) fn start(&mut self, drum: Drum, start: u64, level: Gain, bus: Bus) {
        self.players.start(start, Stroke { drum, level: level.amplitude(), bus });
    }

    /// Fades the strokes that began before `at`, as when a model is cut short.
    pub(crate) fn release(&mut self, at: u64) {
        let length = RELEASE_SECONDS * self.rate.hz() as f32;
        for placed in self.players.iter_mut().filter(|placed| placed.start < at) {
            placed.fade.from(at, length);
        }
    }

    pub(crate) fn hush(&mut self, next: u64) {
        self.players.hush(next, self.rate);
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.players.is_silent()
    }

    /// Adds the block at `start`, each stroke to its bus.
    pub(crate) fn render(&mut self, start: u64, mixer: &mut Mixer) {
        let waves = &self.waves;
        self.players.render(start, |placed| {
            let wave = waves.get(placed.sound.drum as usize).map(|wave| &wave[..]).unwrap_or_default();
            let (level, bus) = (placed.sound.level, placed.sound.bus);
            mixer.bus(bus).is_some_and(|out| placed.play(start, wave, level, out))
        });
    }
}
