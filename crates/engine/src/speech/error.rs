//! Why a voice cannot speak.

use thiserror::Error;

/// Why a voice pack cannot speak.
#[derive(Debug, Error)]
pub enum SpeechError {
    /// No voice of that name is built in.
    #[error("no voice is called {pack}; write one of {known}, or record your own: precentor record words")]
    Unknown {
        /// The name asked for.
        pack: String,
        /// The names built in.
        known: String,
    },
    /// A file the pack must have is not there.
    #[error("the voice {pack} has no {file}")]
    Missing {
        /// The pack's name.
        pack: String,
        /// The file's path inside the pack.
        file: String,
    },
    /// `pack.toml` is not what it must be.
    #[error("pack.toml of the voice {pack}: {source}")]
    Manifest {
        /// The pack's name.
        pack: String,
        /// What the reader says.
        source: toml::de::Error,
    },
    /// The pack speaks a language that has no rules here.
    #[error("pack.toml of the voice {pack} says language = \"{code}\"; write en, es or fr")]
    Language {
        /// The pack's name.
        pack: String,
        /// What it says.
        code: String,
    },
    /// A line of `align.tsv` is not what it must be.
    #[error("align.tsv of the voice {pack}, line {line}: {fault}")]
    Table {
        /// The pack's name.
        pack: String,
        /// The line, from 1.
        line: usize,
        /// What is wrong with it.
        fault: &'static str,
    },
    /// A clip is no file the decoder reads.
    #[error("the voice's {file} cannot be decoded: {source}; build_voice.py writes it anew")]
    Decode {
        /// The file's path inside the pack.
        file: String,
        /// What the decoder says.
        source: rodio::decoder::DecoderError,
    },
    /// A clip is not the mono sound of the table's length.
    #[error("the voice's {file} holds {channels} channels of {frames} frames at {rate} Hz, which is not what its tables say")]
    Shape {
        /// The file's path inside the pack.
        file: String,
        /// Channels in the file.
        channels: u16,
        /// Frames decoded.
        frames: usize,
        /// The file's frames per second.
        rate: u32,
    },
    /// The clips cannot be brought to the engine's rate.
    #[error("speech at {from} Hz cannot be brought to {to} Hz: {fault}")]
    Resample {
        /// The pack's frames per second.
        from: u32,
        /// The rate asked for.
        to: u32,
        /// What the resampler says.
        fault: String,
    },
}
