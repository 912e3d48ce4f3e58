//! One measurement, once: `peers NAME`, where NAME is `ours`, `ours-render`, `fundsp` or `rustysynth SOUNDFONT`. Prints the name, the
//! voices, and the nanoseconds of processor time that each voice took per frame at 48 kHz; `ours-render` prints how many times faster than
//! real time it was. `benches/peers/compare.py` runs it again and again in turn with other programs and compares the best.

use fundsp::prelude64::{BufferArray, U1, U16, busi, sine_hz};
use rustysynth::{SoundFont, Synthesizer, SynthesizerSettings};
use std::hint::black_box;
use std::sync::Arc;
use synth::{BLOCK, Band, Bus, ClipBank, Slide, Timbre, Tone};
use units::{FrameInstant, FrameSpan, Gain, Hertz, SampleRate};

const RATE: SampleRate = SampleRate::DEFAULT;
/// Frames measured at a time.
const FRAMES: usize = 48_000;
/// Times measured; the best counts.
const TIMES: usize = 3;

/// What this thread has computed so far, in nanoseconds.
fn cpu_time() -> f64 {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    now.tv_sec as f64 * 1e9 + now.tv_nsec as f64
}

/// The least time `work` takes, in nanoseconds, of several goes.
fn best(mut work: impl FnMut()) -> f64 {
    (0..TIMES)
        .map(|_| {
            let begun = cpu_time();
            work();
            cpu_time() - begun
        })
        .fold(f64::INFINITY, f64::min)
}

/// A voice's cost: what `voices` of them take over what none take.
fn tell(name: &str, voices: usize, with: f64, without: f64) {
    println!("{name} {voices} {:.4}", (with - without) / FRAMES as f64 / voices as f64);
}

/// The pitch of voice number `index` of theirs: four octaves from A1 on, no two alike.
fn hertz(index: usize) -> f64 {
    55.0 * 2_f64.powf((index * 7 % 48) as f64 / 12.0) * (1.0 + index as f64 * 1e-5)
}

/// Bands with `voices` tones in all, held for ever, each in its section's place. So high that just sixteen harmonics lie within the band; one
/// that glides comes from below and is on its way for longer than is measured.
fn bands(voices: usize, glides: bool) -> Vec<Band> {
    const EACH: usize = 64;
    let pitch = |hz: f64| Hertz::new(hz).expect("a frequency");
    let mut bands: Vec<Band> = Vec::new();
    for index in 0..voices {
        if index % EACH == 0 {
            bands.push(Band::new(RATE));
        }
        let hz = 1280.0 + (index % 60) as f64;
        let tone = Tone {
            timbre: Timbre::Trumpet,
            frequency: pitch(hz),
            start: FrameInstant::ZERO,
            end: FrameInstant(u64::MAX),
            level: Gain::new(0.1),
            bus: Bus::Section((index % 16) as u8),
            slide: glides.then(|| Slide { from: pitch(hz * 0.97), length: FrameSpan(3600 * 48_000) }),
        };
        if let Some(band) = bands.last_mut() {
            band.tone(tone);
        }
    }
    bands
}

/// Renders on for a second; `next` is the block to begin with.
fn render(bands: &mut [Band], next: &mut usize) {
    let clips = ClipBank::default();
    let mut out = [[0.0; 2]; BLOCK];
    for _ in 0..FRAMES / BLOCK {
        for band in bands.iter_mut() {
            band.render(FrameInstant((*next * BLOCK) as u64), &clips, &mut out, None);
            black_box(&out);
        }
        *next += 1;
    }
}

/// Our full voice: sixteen harmonics, envelope, glide, breath, pan.
fn ours(name: &str, glides: bool) {
    for voices in [64, 256, 512] {
        let mut full = bands(voices, glides);
        let mut empty: Vec<Band> = full.iter().map(|_| Band::new(RATE)).collect();
        let (mut next, mut next_empty) = (0, 0);
        render(&mut full, &mut next);
        render(&mut empty, &mut next_empty);
        let with = best(|| render(&mut full, &mut next));
        let without = best(|| render(&mut empty, &mut next_empty));
        assert_eq!(full.iter().map(Band::sounding_tones).sum::<usize>(), voices);
        tell(name, voices, with, without);
    }
}

/// 32 voices with mixer and limiter against real time.
fn ours_render() {
    let mut bands = bands(32, false);
    let mut next = 0;
    render(&mut bands, &mut next);
    let time = best(|| (0..10).for_each(|_| render(&mut bands, &mut next)));
    println!("ours-render 32 {:.1}", 10e9 * FRAMES as f64 / f64::from(RATE.hz()) / time);
}

/// Sixteen sines bussed together, by blocks.
fn graph() {
    for voices in [64, 256] {
        let mut units: Vec<_> = (0..voices)
            .map(|index| {
                let f = hertz(index);
                let mut unit = busi::<U16, _, _>(|k| sine_hz((f * (k + 1) as f64) as f32) * (0.1 / (k + 1) as f32));
                unit.set_sample_rate(48_000.0);
                unit
            })
            .collect();
        let input = BufferArray::<U1>::new();
        let mut output = BufferArray::<U1>::new();
        let mut second = || {
            for _ in 0..FRAMES / BLOCK {
                for unit in &mut units {
                    unit.process(BLOCK, &input.buffer_ref(), &mut output.buffer_mut());
                    black_box(&output);
                }
            }
        };
        second();
        let time = best(second);
        tell("fundsp", voices, time, 0.0);
    }
}

/// Sustained organ notes, without reverb or chorus.
fn sampled(path: &str) {
    let mut file = std::fs::File::open(path).unwrap_or_else(|error| panic!("{path}: {error}"));
    let font = Arc::new(SoundFont::new(&mut file).expect("a soundfont"));
    let measure = |notes: usize| {
        let mut settings = SynthesizerSettings::new(48_000);
        settings.maximum_polyphony = 256;
        settings.enable_reverb_and_chorus = false;
        let mut synthesizer = Synthesizer::new(&font, &settings).expect("a synthesizer");
        let mut started = 0;
        'all: for channel in (0..16).filter(|channel| *channel != 9) {
            // a drawbar organ: one voice a note
            synthesizer.process_midi_message(channel, 0xC0, 16, 0);
            for key in (36..96).filter(|key| (key + channel) % 4 == 0) {
                if started == notes {
                    break 'all;
                }
                synthesizer.note_on(channel, key, 80);
                started += 1;
            }
        }
        let (mut left, mut right) = ([0.0; BLOCK], [0.0; BLOCK]);
        let mut second = || {
            for _ in 0..FRAMES / BLOCK {
                synthesizer.render(&mut left, &mut right);
                black_box((&left, &right));
            }
        };
        second();
        best(second)
    };
    let without = measure(0);
    for voices in [64, 200] {
        let with = measure(voices);
        tell("rustysynth", voices, with, without);
    }
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["ours"] => {
            ours("ours", true);
            ours("ours-held", false);
        }
        ["ours-render"] => ours_render(),
        ["fundsp"] => graph(),
        ["rustysynth", path] => sampled(path),
        _ => panic!("usage: peers ours | ours-render | fundsp | rustysynth SOUNDFONT"),
    }
}
