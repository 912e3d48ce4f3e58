//! `precentor record align`: a word against a click, and its beat moved by hand.

use anyhow::Context;
use clap::Args;
use engine::speech::own::{Own, OwnError, Prepared, RATE};
use std::path::PathBuf;
use units::SampleRate;

use super::super::exit::Usage;
use super::super::print;
use super::super::wav::{Format, WavDraft};

/// Beats of the sample, and their tempo.
const BEATS: usize = 8;
const BPM: f64 = 60.0;
/// A tick's length in seconds, its pitch in hertz and its level: soft, for it is heard over headphones.
const TICK: (f64, f64, f64) = (0.016, 1_175.0, 0.2);

/// Where a word's beat falls: shown, moved by hand, heard against a click
///
/// The beat of every recorded word is measured. Where it sounds early or late to you, move it: +5 puts it 5 ms further into the word, so that the
/// word sounds 5 ms earlier. What was moved by hand is never measured again.
#[derive(Debug, Args)]
pub struct AlignArgs {
    /// The voice
    #[arg(value_name = "NAME")]
    name: String,
    /// The word's id; one~q, one~t or one~s for a short length by itself
    #[arg(value_name = "WORD")]
    word: String,
    /// By how many milliseconds, such as +5 or -5
    #[arg(value_name = "MS", allow_hyphen_values = true, value_parser = clap::value_parser!(i16).range(-500..=500))]
    ms: Option<i16>,
    /// Write eight beats as WAV: the click on the left, the word on the right
    #[arg(short, long, value_name = "OUT.wav")]
    output: Option<PathBuf>,
    /// Replace a file that is there already
    #[arg(long)]
    force: bool,
}

pub(super) fn run(args: &AlignArgs) -> anyhow::Result<()> {
    let folder = super::folder(&args.name)?;
    let mut own = super::read(&folder)?;
    let ms = f64::from(args.ms.unwrap_or(0));
    if args.ms.is_some() {
        let (before, after) = own.nudge(&args.word, ms).map_err(users)?;
        let moved = after - before;
        let heard = if moved < 0.0 { "later" } else { "earlier" };
        print::text(&format!(
            "{}: its beat was {before:.1} ms in, is now {after:.1} ms in; it sounds {:.1} ms {heard}\n",
            args.word,
            moved.abs()
        ))?;
    }
    let clip = own.clip(&args.word).map_err(users)?;
    if args.ms.is_none() {
        let how = if clip.by_hand { "set by hand" } else { "measured" };
        print::text(&format!("{}: its beat is {:.1} ms in, of {:.1} ms, {how}\n", clip.name, clip.p_centre_ms, clip.duration_ms()))?;
    }
    let Some(output) = &args.output else { return Ok(()) };
    let mut wav = WavDraft::begin(output, args.force, 2, SampleRate::new(RATE)?, Format::Pcm16)?;
    wav.write(&against_click(&own, clip))?;
    wav.finish()?.keep().with_context(|| format!("nothing was kept of {}", output.display()))?;
    print::text(&format!("wrote {}: the click on the left, {} on the right\n", output.display(), clip.name))
}

/// A word that is not there is a slip of the user's.
fn users(error: OwnError) -> anyhow::Error {
    match error {
        OwnError::NoWord { .. } => Usage(error.to_string()).into(),
        other => other.into(),
    }
}

/// Two channels: a tick on every beat, and the word with its beat there.
fn against_click(own: &Own, clip: &Prepared) -> Vec<f32> {
    let rate = f64::from(RATE);
    let frames = |seconds: f64| (seconds * rate).round() as usize;
    let step = frames(60.0 / BPM);
    let attack = frames((clip.p_centre_ms + own.manifest.p_centre_bias_ms).clamp(0.0, clip.duration_ms()) / 1000.0);
    let (length, pitch, level) = TICK;
    let mut out = vec![[0.0_f32; 2]; step * (BEATS + 1)];
    for beat in 0..BEATS {
        let at = step / 2 + beat * step;
        for n in 0..frames(length) {
            let fall = 1.0 - n as f64 / (length * rate);
            out[at + n][0] = (level * fall * fall * (std::f64::consts::TAU * pitch * n as f64 / rate).sin()) as f32;
        }
        // a word longer than half a beat before its attack is cut there
        let late = attack.saturating_sub(at);
        for (n, sample) in clip.samples.iter().enumerate().skip(late) {
            if let Some(frame) = out.get_mut(at + n - attack) {
                frame[1] += sample;
            }
        }
    }
    out.concat()
}
