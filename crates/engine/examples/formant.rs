//! Renders the project's own synthesiser for `assets-synth/voice/build_voice.py`: every word of a language at its
//! natural length.
//!
//! `formant LANGUAGE FOLDER` writes `FOLDER/ID.wav` for each and `FOLDER/table.tsv`: id, perceptual attack and vowel in ms.

use engine::speech::Tier;
use engine::speech::formant::{RATE, Speaker, entries, say};
use sequencer::Language;
use std::error::Error;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [language, folder] = arguments.as_slice() else { return Err("name a language (en, es, fr) and a folder".into()) };
    let language = Language::of_code(language).ok_or("the languages are en, es and fr")?;
    let folder = Path::new(folder);
    let mut table = String::new();
    for word in entries(language) {
        let said = say(&word.sounds, word.beat, Tier::Natural, &Speaker::USUAL).ok_or_else(|| format!("{} has no vowel", word.id))?;
        fs::write(folder.join(format!("{}.wav", word.id)), wav(&said.samples))?;
        writeln!(table, "{}\t{:.3}\t{:.3}", word.id, said.attack_ms, said.vowel_ms)?;
    }
    fs::write(folder.join("table.tsv"), table)?;
    Ok(())
}

/// A mono WAV file of 32-bit floats.
fn wav(samples: &[f32]) -> Vec<u8> {
    let bytes = (samples.len() * 4) as u32;
    let mut out = Vec::with_capacity(44 + samples.len() * 4);
    out.extend(b"RIFF");
    out.extend((36 + bytes).to_le_bytes());
    out.extend(b"WAVEfmt ");
    out.extend(16_u32.to_le_bytes());
    out.extend([3_u16, 1].map(u16::to_le_bytes).concat()); // IEEE float, one channel
    out.extend([RATE, RATE * 4].map(u32::to_le_bytes).concat());
    out.extend([4_u16, 32].map(u16::to_le_bytes).concat());
    out.extend(b"data");
    out.extend(bytes.to_le_bytes());
    out.extend(samples.iter().flat_map(|sample| sample.to_le_bytes()));
    out
}
