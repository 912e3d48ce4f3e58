//! `precentor lead`: the console.

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args, ValueEnum};
use device::Wanted;
use records::Days;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use units::SampleRate;

use super::render::rate;
use crate::{app, view};

/// What `lead --help` shows at its end.
pub const EXAMPLES: &str = "\
Examples:
  precentor lead                                   the room used last, or the demo room
  precentor lead alder-street.toml                 a room
  precentor lead middle-note.toml                  a drill
  precentor lead lantern-march.toml                a piece: its first passage up to concert tempo
  precentor lead week-seven.toml                   a lesson: a whole class hour
  precentor lead --no-sound                        look around without a sound
  precentor lead --plain                           one line an event, for screen readers";

// What to open and how. No doc comment: it would stand for the program's, whose arguments these are too.
#[allow(missing_docs)]
#[derive(Debug, Args)]
pub struct LeadArgs {
    /// A room, drill, piece or lesson file; a lesson left a short while ago or the room used last unless given, the first time a demo room
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// The sound device, by its name or id (`precentor doctor` lists them)
    #[arg(long, value_name = "NAME", help_heading = "Sound", conflicts_with = "no_sound")]
    device: Option<String>,
    /// Use no sound device; everything runs on a silent clock
    #[arg(long, help_heading = "Sound")]
    no_sound: bool,
    /// How many frames the device takes at a time at first; it grows by itself when the sound drops out
    #[arg(long, value_name = "FRAMES", help_heading = "Sound", default_value = "512", value_parser = buffer_frames())]
    buffer: u32,
    /// Frames per second, 8000 to 384000
    #[arg(long, value_name = "HZ", help_heading = "Sound", default_value = "48000", value_parser = rate)]
    rate: SampleRate,
    /// Keep the sound of every echo the microphone hears, for 14 days or so many; the screen then says RECORDING
    #[arg(long, value_name = "DAYS", help_heading = "Records", num_args = 0..=1, require_equals = true, default_missing_value = "14")]
    keep_audio: Option<Days>,
    /// Speak in lines instead of drawing a screen: for screen readers, pipes and plain terminals
    #[arg(long, help_heading = "Screen")]
    plain: bool,
    /// Which signs to draw with
    #[arg(long, value_enum, default_value_t, help_heading = "Screen")]
    glyphs: Glyphs,
}

/// Which signs a terminal can show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Glyphs {
    /// Find out
    #[default]
    Auto,
    /// Lines, blocks and braille
    Rich,
    /// Lines and blocks
    Blocks,
    /// ASCII alone
    Ascii,
}

impl LeadArgs {
    /// The file to open.
    pub(super) fn file(&self) -> Option<&Path> {
        self.file.as_deref()
    }
}

/// [`device::BUFFER_FRAMES`].
fn buffer_frames() -> impl TypedValueParser<Value = u32> {
    PossibleValuesParser::new(["512", "1024", "2048"]).try_map(|text| text.parse::<u32>())
}

pub(super) fn run(args: LeadArgs) -> anyhow::Result<ExitCode> {
    let glyphs = match args.glyphs {
        Glyphs::Auto => None,
        Glyphs::Rich => Some(view::Glyphs::Rich),
        Glyphs::Blocks => Some(view::Glyphs::Blocks),
        Glyphs::Ascii => Some(view::Glyphs::Ascii),
    };
    let device = match args.device {
        _ if args.no_sound => Wanted::None,
        Some(name) => Wanted::from(name.as_str()),
        None => Wanted::Default,
    };
    app::lead(app::LeadOptions { file: args.file, plain: args.plain, glyphs, device, frames: args.buffer, rate: args.rate, keep_audio: args.keep_audio })
}
