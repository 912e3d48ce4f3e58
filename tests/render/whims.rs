//! A class whose director and device do anything at any time: the same whims for the same seed. Also part of `tests/rtsan`.

use engine::journal::Recipe;
use engine::{Controls, Dial, Renderer, Score};
use sequencer::{Cue, Drone, Room};
use std::sync::Arc;
use synth::{Bus, ClipBank, Probe};
use units::{FrameSpan, Gain, SampleRate};

/// The largest buffer the device asks for, in frames.
const LARGEST: u64 = 2048;

/// Numbers by chance, the same for the same seed: SplitMix64 (Steele, Lea and Flood 2014).
pub struct Chance(pub u64);

impl Chance {
    /// A number under `limit`.
    pub fn under(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % limit
    }

    fn one_of<T: Clone>(&mut self, all: &[T]) -> T {
        all[self.under(all.len() as u64) as usize].clone()
    }
}

/// The class.
pub struct Whims {
    pub controls: Controls,
    pub renderer: Renderer,
    pub chance: Chance,
    room: Room,
    scores: Vec<Arc<Score>>,
    clips: Arc<ClipBank>,
    sweep: Probe,
    out: Vec<f32>,
    /// Whims obeyed so far.
    pub obeyed: u64,
}

impl Whims {
    /// A class of `room` that is led through `scores`.
    pub fn new(seed: u64, rate: SampleRate, room: Room, scores: Vec<Arc<Score>>, clips: Arc<ClipBank>) -> Self {
        let (mut controls, renderer) = engine::pair(rate);
        let rise: Vec<f32> = (0..rate.span(3.0).0).map(|n| (n as f32 * n as f32 * 4e-7).sin()).collect();
        let sweep = Probe::new("rise", &rise);
        controls.clips(Arc::clone(&clips));
        controls.want_sent(true);
        controls.load(Arc::clone(&scores[0]), None, Recipe::default());
        controls.cue(Cue::Go);
        Self { controls, renderer, chance: Chance(seed), room, scores, clips, sweep, out: vec![0.0; 8 * LARGEST as usize], obeyed: 0 }
    }

    /// One callback, of a size and with channels by chance, filled by `fill`; now and then the director wants something before it. What came
    /// out, and its channels.
    pub fn callback(&mut self, fill: impl FnOnce(&mut Renderer, &mut [f32], usize)) -> (&[f32], usize) {
        // some sixty whims a minute
        if self.chance.under(50) == 0 {
            self.obeyed += 1;
            self.obey();
        }
        let channels = 1 + self.chance.under(8) as usize;
        let frames = if self.chance.under(4) == 0 { 1 + self.chance.under(LARGEST) as usize } else { 512 };
        let out = &mut self.out[..frames * channels];
        fill(&mut self.renderer, out, channels);
        // not every time: what is worn out must be able to wait
        if self.chance.under(4) != 0 {
            self.controls.poll();
            self.controls.sent(|_, _| {});
            self.controls.take_entries();
        }
        (&self.out[..frames * channels], channels)
    }

    fn obey(&mut self) {
        match self.chance.under(23) {
            0..9 => {
                let cue = self.chance.one_of(&Cue::ALL);
                self.controls.cue(cue);
                if cue == Cue::Hush {
                    self.controls.cue(Cue::Go);
                }
            }
            9..12 => {
                let score = self.chance.one_of(&self.scores);
                self.controls.load(score, None, Recipe::default());
                self.controls.cue(Cue::Go);
            }
            12 => {
                let score = self.chance.one_of(&self.scores);
                self.controls.amend(score, Recipe::default());
            }
            13..16 => {
                let root = self.chance.one_of(&["Bb2", "F3", "Ab3", "C4", "Eb3"]).parse().expect("a pitch");
                let drone = Drone { root, ..self.room.drone.clone() };
                self.controls.drone(Some((&drone, &self.room)));
            }
            16 => self.controls.drone(None),
            17 => {
                let bus = self.chance.one_of(&Bus::all().collect::<Vec<_>>());
                self.controls.set_level(Dial::Bus(bus), Gain::new(self.chance.under(150) as f32 / 100.0));
            }
            18 => self.controls.clips(Arc::clone(&self.clips)),
            19 => {
                let score = self.chance.one_of(&self.scores);
                let within = (self.chance.under(2) == 0).then(|| FrameSpan(self.chance.under(960_000)));
                self.controls.queue(Some((score, Recipe::default())), within);
            }
            20 => self.controls.queue(None, None),
            21 => self.controls.halt("a whim"),
            _ => {
                self.controls.hush();
                self.controls.probe(self.sweep.clone());
            }
        }
    }
}
