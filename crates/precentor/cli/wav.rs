//! WAV files as they grow.

use anyhow::{Context, bail};
use clap::ValueEnum;
use hound::{SampleFormat, WavSpec, WavWriter};
use std::fs::File;
use std::io::BufWriter;
use std::path::Path;
use units::SampleRate;

use super::output::Draft;

/// A WAV file counts its bytes in 32 bits; this much of that is its head.
const HEAD: u64 = 128;

/// How samples are kept.
///
/// 32-bit float is the default because it is what the engine makes: nothing is rounded, and a run replayed is the same file bit for bit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// 32-bit float: the engine's own samples, nothing rounded
    #[default]
    Float,
    /// 24-bit whole numbers, rounded to the nearest
    Pcm24,
    /// 16-bit whole numbers, rounded to the nearest
    Pcm16,
}

impl Format {
    const fn bits(self) -> u16 {
        match self {
            Self::Float => 32,
            Self::Pcm24 => 24,
            Self::Pcm16 => 16,
        }
    }

    /// For people.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Float => "32-bit float",
            Self::Pcm24 => "24-bit",
            Self::Pcm16 => "16-bit",
        }
    }

    /// The most frames of `channels` channels one file holds.
    pub const fn most_frames(self, channels: u16) -> u64 {
        (u32::MAX as u64 - HEAD) / (self.bits() as u64 / 8 * channels as u64)
    }
}

/// A WAV file on its way.
pub struct WavDraft {
    draft: Draft,
    writer: WavWriter<BufWriter<File>>,
    format: Format,
    frames: u64,
    most: u64,
    channels: u16,
}

impl WavDraft {
    /// Begins what will be `target`.
    pub fn begin(target: &Path, force: bool, channels: u16, rate: SampleRate, format: Format) -> anyhow::Result<Self> {
        let draft = Draft::begin(target, force)?;
        let sample_format = if format == Format::Float { SampleFormat::Float } else { SampleFormat::Int };
        let spec = WavSpec { channels, sample_rate: rate.hz(), bits_per_sample: format.bits(), sample_format };
        let writer = WavWriter::new(BufWriter::with_capacity(1 << 16, draft.file()?), spec).with_context(|| draft.fault())?;
        Ok(Self { draft, writer, format, frames: 0, most: format.most_frames(channels), channels })
    }

    /// Frames so far.
    pub const fn frames(&self) -> u64 {
        self.frames
    }

    /// Adds frames: `samples` interleaved, full scale at 1.
    pub fn write(&mut self, samples: &[f32]) -> anyhow::Result<()> {
        self.frames += samples.len() as u64 / u64::from(self.channels);
        if self.frames > self.most {
            bail!("the sound is longer than a WAV file can hold; take fewer rounds, or --format pcm16");
        }
        let written = samples.iter().try_for_each(|sample| match self.format {
            Format::Float => self.writer.write_sample(*sample),
            Format::Pcm24 => self.writer.write_sample(whole(*sample, 8_388_607.0)),
            Format::Pcm16 => self.writer.write_sample(whole(*sample, 32_767.0)),
        });
        written.with_context(|| self.draft.fault())
    }

    /// Adds `frames` frames of silence.
    pub fn silence(&mut self, mut frames: u64) -> anyhow::Result<()> {
        const CHUNK: [f32; 1024] = [0.0; 1024];
        while frames > 0 {
            let now = frames.min(CHUNK.len() as u64 / u64::from(self.channels));
            self.write(CHUNK.get(..now as usize * usize::from(self.channels)).unwrap_or(&CHUNK))?;
            frames -= now;
        }
        Ok(())
    }

    /// Completes the file; it still waits to be put in place.
    pub fn finish(self) -> anyhow::Result<Draft> {
        let Self { draft, writer, .. } = self;
        writer.finalize().with_context(|| draft.fault())?;
        Ok(draft)
    }
}

/// The nearest whole number, `full` being full scale.
fn whole(sample: f32, full: f64) -> i32 {
    (f64::from(sample.clamp(-1.0, 1.0)) * full).round() as i32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(format: Format, samples: &[f32]) -> (WavSpec, Vec<f64>) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        let mut wav = WavDraft::begin(&path, false, 1, SampleRate::DEFAULT, format).unwrap();
        wav.write(samples).unwrap();
        wav.silence(1500).unwrap();
        assert_eq!(wav.frames(), samples.len() as u64 + 1500);
        wav.finish().unwrap().keep().unwrap();
        let mut reader = hound::WavReader::open(&path).unwrap();
        let spec = reader.spec();
        let read: Vec<f64> = match format {
            Format::Float => reader.samples::<f32>().map(|sample| f64::from(sample.unwrap())).collect(),
            _ => reader.samples::<i32>().map(|sample| f64::from(sample.unwrap())).collect(),
        };
        assert_eq!(read.len(), samples.len() + 1500);
        (spec, read)
    }

    #[test]
    fn each_format_holds_what_it_should() {
        let samples = [0.0, 1.0, -1.0, 0.3, -1.5];
        let (spec, read) = written(Format::Float, &samples);
        assert_eq!((spec.bits_per_sample, spec.sample_format), (32, SampleFormat::Float));
        assert_eq!(read[..5], samples.map(f64::from));
        let (spec, read) = written(Format::Pcm24, &samples);
        assert_eq!((spec.bits_per_sample, spec.sample_format), (24, SampleFormat::Int));
        assert_eq!(read[..5], [0.0, 8_388_607.0, -8_388_607.0, 2_516_582.0, -8_388_607.0]);
        let (spec, read) = written(Format::Pcm16, &samples);
        assert_eq!((spec.bits_per_sample, spec.sample_format), (16, SampleFormat::Int));
        assert_eq!(read[..5], [0.0, 32_767.0, -32_767.0, 9830.0, -32_767.0]);
    }

    #[test]
    fn no_file_outgrows_its_head() {
        assert_eq!(Format::Float.most_frames(2), (u64::from(u32::MAX) - HEAD) / 8);
        assert_eq!(Format::Pcm16.most_frames(1), (u64::from(u32::MAX) - HEAD) / 2);
    }
}
