//! From the pack's FLAC files to samples at the engine's rate.

use super::{Pack, Recording, Source, SpeechError};
use rodio::{Decoder, Source as _};
use rubato::audioadapter_buffers::direct::InterleavedSlice;
use rubato::{Fft, FixedSync, Resampler as _, WindowFunction};
use std::io::Cursor;
use std::num::NonZero;
use std::thread;
use synth::Clip;
use units::SampleRate;

/// Two suffice: the whole pack takes tens of milliseconds.
const MOST_THREADS: usize = 2;

impl Pack {
    /// Every clip at `rate`, in the order of [`super::ClipInfo::clip`]. Takes some tens of milliseconds, on up to two
    /// threads: never call it on the audio thread.
    ///
    /// # Errors
    /// [`SpeechError`] naming the clip that is not what the tables say.
    pub fn decode(&self, rate: SampleRate) -> Result<Vec<Clip>, SpeechError> {
        let threads = thread::available_parallelism().map_or(1, NonZero::get).min(MOST_THREADS);
        let share = self.sources.len().div_ceil(threads).max(1);
        thread::scope(|scope| {
            let workers: Vec<_> =
                self.sources.chunks(share).map(|sources| scope.spawn(move || clips(sources, self.sample_rate, rate))).collect();
            let mut all = Vec::with_capacity(self.sources.len());
            for worker in workers {
                all.append(&mut worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))?);
            }
            Ok(all)
        })
    }
}

fn clips(sources: &[Source], from: u32, rate: SampleRate) -> Result<Vec<Clip>, SpeechError> {
    let mut converter = Converter::new(from, rate.hz())?;
    let clip = |source: &Source| {
        let samples = converter.convert(recorded(source, from)?)?.into_boxed_slice();
        Ok(Clip::new(samples, rate.span(source.attack_ms / 1000.0), rate).levelled())
    };
    sources.iter().map(clip).collect()
}

/// The clip's samples as they are.
pub(super) fn recorded(source: &Source, rate: u32) -> Result<Vec<f32>, SpeechError> {
    match &source.sound {
        Recording::File(bytes) => flac(source, bytes, rate),
        Recording::Made(samples) => Ok(samples.clone()),
    }
}

/// The file's samples as they are, checked against the table: the decoder skips what it cannot read without a word.
fn flac(source: &Source, bytes: &'static [u8], rate: u32) -> Result<Vec<f32>, SpeechError> {
    let decoder = Decoder::builder()
        .with_data(Cursor::new(bytes))
        .with_byte_len(bytes.len() as u64)
        .with_hint("flac")
        .build()
        .map_err(|fault| SpeechError::Decode { file: source.path.clone(), source: fault })?;
    let (channels, found) = (decoder.channels().get(), decoder.sample_rate().get());
    let samples: Vec<f32> = decoder.collect();
    let wanted = source.duration_ms * f64::from(rate) / 1000.0;
    // The table's milliseconds are rounded to a tenth.
    let rounding = 0.051 * f64::from(rate) / 1000.0;
    if channels != 1 || found != rate || (samples.len() as f64 - wanted).abs() > rounding {
        let frames = samples.len() / usize::from(channels);
        return Err(SpeechError::Shape { file: source.path.clone(), channels, frames, rate: found });
    }
    Ok(samples)
}

/// Brings whole clips from one rate to another without moving them in time.
pub(super) struct Converter {
    from: u32,
    to: u32,
    /// None where the rates are the same.
    resampler: Option<Fft<f32>>,
}

impl Converter {
    /// About the input frames the filter spans: long enough to keep the top of the voice's range.
    const FILTER: u32 = 1024;

    pub(super) fn new(from: u32, to: u32) -> Result<Self, SpeechError> {
        // An even number of the smallest whole blocks: the filter's middle is then on a frame on both sides, and the delay
        // the resampler takes off is exact.
        let block = from / gcd(from, to);
        let frames = block * Self::FILTER.div_ceil(block).next_multiple_of(2);
        let new = || Fft::new_custom(from as usize, to as usize, frames as usize, 1, 1, WindowFunction::BlackmanHarris2, FixedSync::Both);
        let resampler = if from == to { None } else { Some(new().map_err(|fault| refused(from, to, &fault))?) };
        Ok(Self { from, to, resampler })
    }

    pub(super) fn convert(&mut self, clip: Vec<f32>) -> Result<Vec<f32>, SpeechError> {
        let (from, to) = (self.from, self.to);
        let Some(resampler) = &mut self.resampler else { return Ok(clip) };
        let input = InterleavedSlice::new(&clip, 1, clip.len()).map_err(|fault| refused(from, to, &fault))?;
        Ok(resampler.process_all(&input, clip.len(), None).map_err(|fault| refused(from, to, &fault))?.take_data())
    }
}

fn refused(from: u32, to: u32, fault: &impl ToString) -> SpeechError {
    SpeechError::Resample { from, to, fault: fault.to_string() }
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}
