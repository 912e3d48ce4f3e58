//! Writes single tones, as the band sounds them before its mixer, for a program that compares them with recordings.
//!
//! `cargo run -p synth --example tones < LIST > FRAMES`: each line of LIST is a timbre's name with underscores, a frequency in hertz, a
//! level and the seconds the tone is held; FRAMES are 32-bit floats at 48 kHz, little-endian, 3.5 seconds for each line.

use std::error::Error;
use std::io::{Read, Write};
use synth::{BLOCK, Band, Bus, ClipBank, Stems, Timbre, Tone};
use units::{FrameInstant, Gain, Hertz, SampleRate};

const SECONDS: f64 = 3.5;

fn main() -> Result<(), Box<dyn Error>> {
    let mut list = String::new();
    std::io::stdin().read_to_string(&mut list)?;
    let mut frames = Vec::new();
    for line in list.lines() {
        let [name, hz, level, held] = line.split_whitespace().collect::<Vec<_>>()[..] else {
            return Err(format!("`{line}` is not a timbre, a frequency, a level and seconds").into());
        };
        let timbre = Timbre::ALL.into_iter().find(|timbre| timbre.name().replace(' ', "_") == name);
        let timbre = timbre.ok_or_else(|| format!("no timbre is called `{name}`"))?;
        let end = FrameInstant::default() + SampleRate::DEFAULT.span(held.parse()?);
        let (frequency, level) = (Hertz::new(hz.parse()?)?, Gain::new(level.parse()?));
        let (start, bus) = (FrameInstant::default(), Bus::Section(0));
        frames.extend(sound(&Tone { timbre, frequency, start, end, level, bus, slide: None }));
    }
    let bytes: Vec<u8> = frames.into_iter().flat_map(f32::to_le_bytes).collect();
    std::io::stdout().write_all(&bytes)?;
    Ok(())
}

/// The tone by itself, from its first frame on.
fn sound(tone: &Tone) -> Vec<f32> {
    let mut band = Band::new(SampleRate::DEFAULT);
    let clips = ClipBank::new(Vec::new());
    let mut stems = Stems::new();
    band.tone(*tone);
    let blocks = SampleRate::DEFAULT.span(SECONDS).0 / BLOCK as u64;
    let mut frames = Vec::new();
    for block in 0..blocks {
        let mut out = [[0.0; 2]; BLOCK];
        band.render(FrameInstant(block * BLOCK as u64), &clips, &mut out, Some(&mut stems));
        frames.extend(stems.get(tone.bus));
    }
    frames
}
