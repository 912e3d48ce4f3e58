//! Measures the sound with code that shares nothing with what makes it.

mod any_calls;
mod beats;
mod broken;
mod care;
mod drone;
mod likeness;
mod loudness;
mod measure;
mod pitch;
mod repeat;
mod sampled;
mod silence;
mod slopes;
mod timbres;
mod twins;

use crate::{BLOCK, Band, Breath, Bus, ClickKind, Clip, ClipBank, DroneChord, DroneTone, Drum, Stems, Timbre, Tone};
use units::{Cents, FrameInstant, FrameSpan, Gain, Hertz, SampleRate};

const RATE: u32 = 48_000;

/// A band with its clips, a frame clock, and all it has rendered.
struct Stage {
    band: Band,
    clips: ClipBank,
    now: u64,
    out: Vec<[f32; 2]>,
    stems: Stems,
    /// The stem of the bus that is watched.
    stem: Vec<f32>,
    watched: Bus,
}

impl Stage {
    fn new() -> Self {
        Self::with_clips(Vec::new())
    }

    /// A stage whose master passes everything as it is.
    fn with_clips(clips: Vec<Vec<f32>>) -> Self {
        Self::at(0, clips)
    }

    fn at(now: u64, clips: Vec<Vec<f32>>) -> Self {
        let clip = |samples: Vec<f32>| Clip::new(samples.into_boxed_slice(), FrameSpan::ZERO, SampleRate::DEFAULT);
        let clips = clips.into_iter().map(clip).collect();
        let mut stage = Self {
            band: Band::new(SampleRate::DEFAULT),
            clips: ClipBank::new(clips),
            now,
            out: Vec::new(),
            stems: Stems::new(),
            stem: Vec::new(),
            watched: Bus::Section(0),
        };
        stage.band.set_master(Gain::UNITY);
        stage.run(0.03);
        stage.forget();
        stage
    }

    fn block(&mut self) {
        let mut block = [[0.0; 2]; BLOCK];
        self.band.render(FrameInstant(self.now), &self.clips, &mut block, Some(&mut self.stems));
        self.now += BLOCK as u64;
        self.out.extend(block);
        self.stem.extend(self.stems.get(self.watched));
    }

    fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds * f64::from(RATE) / BLOCK as f64).ceil() as usize {
            self.block();
        }
    }

    fn forget(&mut self) {
        self.out.clear();
        self.stem.clear();
    }

    fn tone(&mut self, timbre: Timbre, hz: f64, after: u64, seconds: f64, level: f32, section: u8) {
        let start = FrameInstant(self.now + after);
        let end = start + SampleRate::DEFAULT.span(seconds);
        self.band.tone(Tone { timbre, frequency: hertz(hz), start, end, level: Gain::new(level), bus: Bus::Section(section), slide: None });
    }

    fn left(&self) -> Vec<f32> {
        self.out.iter().map(|frame| frame[0]).collect()
    }
}

fn hertz(hz: f64) -> Hertz {
    Hertz::new(hz).unwrap()
}

fn chord(root: f64, tones: &[(u32, u32, f64)]) -> DroneChord {
    let mut chord = DroneChord { root: hertz(root), tones: [None; 8] };
    for (place, (upper, lower, cents)) in chord.tones.iter_mut().zip(tones) {
        *place = Some(DroneTone { ratio: (*upper, *lower), detune: Cents(*cents), level: Gain::UNITY });
    }
    chord
}

/// Everything at once: 96 tones of all timbres, a drone, words, clicks, a breath.
fn tutti(stage: &mut Stage, level: f32) {
    for voice in 0..96_u32 {
        let timbre = Timbre::ALL[voice as usize % Timbre::ALL.len()];
        let hz = 70.0 * 2_f64.powf(f64::from(voice) / 24.0);
        stage.tone(timbre, hz, u64::from(voice % 50), 5.0, level, (voice % 24) as u8);
    }
    stage.band.set_drone(Some(chord(116.54, &[(1, 1, 0.0), (3, 2, 0.0), (2, 1, 0.0), (5, 2, 0.0)])));
    let now = FrameInstant(stage.now);
    for clip in 0..stage.clips.len() as u16 {
        stage.band.say(clip, now + FrameSpan(u64::from(clip) * 7), None);
    }
    stage.band.click(ClickKind::Downbeat, now + FrameSpan(5), Gain::new(level));
    stage.band.breath(Breath { start: now, end: now + FrameSpan(96_000) }, Gain::new(level));
}
