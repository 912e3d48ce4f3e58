//! `precentor import`: a piece file out of a MusicXML score.

use anyhow::Context;
use book::{Fault, Faults};
use clap::Args;
use schemars::JsonSchema;
use sequencer::{ClimbSettings, RecheckSettings};
use serde::Serialize;
use sheets::musicxml::{self, Imported};
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use super::exit::Usage;
use super::output::{self, Draft};
use super::print;

/// A piece file out of a MusicXML score
///
/// Reads bars, meters, tempi, rehearsal marks and repeats from MusicXML 3.1 and 4.0, plain or compressed. What the score says and a piece cannot is told, and written into the file as remarks.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor import march.musicxml                      prints the piece
  precentor import march.mxl -o march.toml             writes it, to be edited and checked
  precentor import march.mxl -o march.toml --title \"Lantern March\" --force
  precentor import march.musicxml --json

Exit codes: 0 done, 1 the work failed, 2 bad usage or a score that is broken, too large or no MusicXML.")]
pub struct ImportArgs {
    /// A .musicxml, .xml or .mxl file
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// The piece file to write; printed unless given
    #[arg(short, long, value_name = "PIECE.toml")]
    output: Option<PathBuf>,
    /// What the piece is called, instead of the score's own title
    #[arg(long, value_name = "TITLE", value_parser = title)]
    title: Option<String>,
    /// Replace a file that is there already
    #[arg(long, requires = "output")]
    force: bool,
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// What `import --json` prints.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ImportOutput {
    /// The score as it was named.
    pub file: String,
    /// The piece file that was written.
    pub output: Option<String>,
    /// What the piece is called.
    pub title: String,
    /// The bars of the page, in order.
    pub bars: Vec<BarOutput>,
    /// The rehearsal marks.
    pub marks: Vec<MarkOutput>,
    /// The bars that are played more than once.
    pub repeats: Vec<RepeatOutput>,
    /// What of the score is not in the piece, or otherwise.
    pub omissions: Vec<OmissionOutput>,
    /// The piece file's text.
    pub piece: String,
}

/// A bar.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct BarOutput {
    /// As the page numbers it.
    pub number: String,
    /// Such as `4/4`.
    pub meter: String,
    /// How many beats it lasts, as a whole number or a fraction.
    pub beats: String,
    /// How many beats of its meter are left out before it.
    pub begins: String,
    /// Beats per minute, of the beat the meter counts, where that changes.
    pub tempo: Option<f64>,
}

/// A rehearsal mark.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct MarkOutput {
    /// As the page has it.
    pub name: String,
    /// The number of its bar.
    pub bar: String,
}

/// Bars that are played more than once.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct RepeatOutput {
    /// The number of the first bar.
    pub from: String,
    /// The number of the last.
    pub to: String,
    /// How often in all.
    pub times: u8,
    /// The number of the first ending's first bar.
    pub first_ending: Option<String>,
}

/// Something that is not in the piece, or otherwise.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct OmissionOutput {
    /// The number of the bar; nothing if it is about the whole score.
    pub bar: Option<String>,
    /// In a sentence.
    pub text: String,
}

/// A title as piece files take it.
fn title(text: &str) -> Result<String, String> {
    let text = text.trim();
    let length = text.chars().count();
    if (1..=80).contains(&length) && !text.chars().any(char::is_control) {
        Ok(text.to_owned())
    } else {
        Err("write 1 to 80 characters on one line".to_owned())
    }
}

pub(super) fn run(args: &ImportArgs) -> anyhow::Result<()> {
    if let Some(target) = &args.output {
        output::free(target, args.force)?;
        if output::same(&args.file, target) {
            return Err(Usage::error(format!("{} would be written over itself", target.display()), "name another file"));
        }
    }
    let name = args.file.display().to_string();
    let outline = musicxml::read(&name, &bytes(&args.file)?)?;
    let stem = args.file.file_stem().unwrap_or_default().to_string_lossy();
    let mut imported = musicxml::piece(&outline, &title(&stem).unwrap_or_else(|_| "Untitled".to_owned()));
    if let Some(title) = &args.title {
        imported.piece.title.clone_from(title);
    }
    let text = text(&args.file, &imported);
    if let Some(target) = &args.output {
        let draft = Draft::begin(target, args.force)?;
        draft.file()?.write_all(text.as_bytes()).with_context(|| draft.fault())?;
        draft.keep()?;
    }
    if args.json {
        return print::json(&json(args, &name, imported, text));
    }
    match &args.output {
        Some(target) => {
            let bars = imported.piece.bars.len();
            print::text(&format!(
                "{}: {}, {bars} bars and {} marks\n",
                target.display(),
                imported.piece.title,
                imported.piece.marks.len()
            ))?;
        }
        None => print::text(&text)?,
    }
    for omission in &imported.omissions {
        print::note(&format!("note: {omission}"));
    }
    Ok(())
}

/// What is in the file, up to the largest that is read.
fn bytes(path: &Path) -> Result<Vec<u8>, Faults> {
    let name = path.display().to_string();
    if path.is_dir() {
        return Err(Fault::of_file(&name, "this is a folder", "name a .musicxml, .xml or .mxl file").into());
    }
    let mut bytes = Vec::new();
    let read = File::open(path).and_then(|file| file.take(musicxml::LARGEST_FILE + 1).read_to_end(&mut bytes));
    match read {
        Ok(_) => Ok(bytes),
        Err(error) => Err(Fault::of_file(&name, format!("this file cannot be read: {error}"), "check the path").into()),
    }
}

/// The piece file: where it comes from and what is not in it as remarks, then the piece.
fn text(score: &Path, imported: &Imported) -> String {
    let score = score.file_name().unwrap_or_default().to_string_lossy();
    let remark = |text: &str| format!("# {}\n", text.chars().map(|sign| if sign.is_control() { ' ' } else { sign }).collect::<String>());
    let mut text = remark(&format!("From {score}."));
    for omission in &imported.omissions {
        text += &remark(&omission.to_string());
    }
    text + &book::piece::write(&imported.piece, &ClimbSettings::default(), &RecheckSettings::default())
}

fn json(args: &ImportArgs, name: &str, imported: Imported, text: String) -> ImportOutput {
    let piece = imported.piece;
    let number = |place: usize| piece.bars.get(place).map(|bar| bar.number.clone()).unwrap_or_default();
    let bars = piece.bars.iter().map(|bar| BarOutput {
        number: bar.number.clone(),
        meter: bar.meter.to_string(),
        beats: bar.length.to_string(),
        begins: bar.opens_at.to_string(),
        tempo: bar.tempo.map(units::Tempo::bpm),
    });
    let repeats = piece.repeats.iter().map(|repeat| RepeatOutput {
        from: number(repeat.bars.start),
        to: number(repeat.bars.end.saturating_sub(1)),
        times: repeat.times,
        first_ending: repeat.first_ending.as_ref().map(|ending| number(ending.start)),
    });
    ImportOutput {
        file: name.to_owned(),
        output: args.output.as_ref().map(|path| path.display().to_string()),
        title: piece.title.clone(),
        bars: bars.collect(),
        marks: piece.marks.iter().map(|mark| MarkOutput { name: mark.name.clone(), bar: number(mark.bar) }).collect(),
        repeats: repeats.collect(),
        omissions: imported.omissions.into_iter().map(|omission| OmissionOutput { bar: omission.bar, text: omission.text }).collect(),
        piece: text,
    }
}
