//! `precentor check`: the files people write, all errors at once.

mod lesson;

use book::{Fault, Faults};
use clap::Args;
use engine::soundfont::Tuning;
use schemars::JsonSchema;
use sequencer::{Piece, Plan, Room};
use serde::Serialize;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::{exit, print, sources};
use crate::fonts::FontShelf;
use crate::inputs::Bindings;
use crate::workshop::{DrillText, FileText};

/// A vibrato from this many cents on, rms, is told of: a beginner hears it as out of tune (common practice, no source).
const MOST_SWAY: f32 = 3.0;

/// Checks the files you write: every error at once, each at its place with its mend
///
/// A drill is also tried in a room: the one named, else the only room among the files, else a room file beside it, else the demo room. A lesson
/// is tried in the room it names, and every file it names is checked too.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor check middle-note.toml
  precentor check *.toml
  precentor check week-seven.toml
  precentor check two-notes.toml --room alder-street.toml --json

Exit codes: 0 all sound, 2 something to mend.")]
pub struct CheckArgs {
    /// Room, drill, piece and lesson files, and the inputs.toml of your own pedals and keys
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// The room to try drills and lessons in
    #[arg(long, value_name = "FILE")]
    room: Option<PathBuf>,
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// What `check --json` prints.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct CheckOutput {
    /// Whether nothing is to be mended.
    pub ok: bool,
    /// Each file in the order given.
    pub files: Vec<FileOutput>,
}

/// What was found in one file.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct FileOutput {
    /// The file as it was named.
    pub file: String,
    /// `room`, `drill`, `piece`, `lesson` or `file of bindings`; nothing if it cannot be read as any.
    pub kind: Option<String>,
    /// Whether nothing is to be mended.
    pub ok: bool,
    /// What it is, in a few words.
    pub says: Option<String>,
    /// The room a drill or lesson was tried in.
    pub room: Option<String>,
    /// What is to be mended.
    pub faults: Vec<FaultOutput>,
    /// What to know before starting: who sits out, whose notes lie outside their comfortable range.
    pub notices: Vec<NoticeOutput>,
}

/// One thing to mend.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct FaultOutput {
    /// The file it is in: the one checked, or the room it was tried in.
    pub file: String,
    /// From 1; nothing for a file as a whole.
    pub line: Option<usize>,
    /// In characters, from 1; nothing for a file as a whole.
    pub column: Option<usize>,
    /// The first byte of the exact words.
    pub start: Option<usize>,
    /// The byte after the exact words.
    pub end: Option<usize>,
    /// What is wrong.
    pub message: String,
    /// How to mend it.
    pub mend: String,
}

/// Something to know.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct NoticeOutput {
    /// About which section.
    pub section: Option<String>,
    /// In a sentence.
    pub text: String,
}

pub(super) fn run(args: &CheckArgs) -> anyhow::Result<ExitCode> {
    let beside = only_room(&args.files);
    // a built-in drill is at home in the built-in room
    let room = |path: &Path| args.room.as_deref().or(beside.filter(|_| !sources::is_built_in(path)));
    let mut checked: Vec<_> = args.files.iter().map(|path| check(path, room(path))).collect();
    for (path, room) in named(&args.files, args.room.as_deref()) {
        checked.push(check(&path, room.as_deref()));
    }
    let ok = checked.iter().all(|(file, _)| file.ok);
    if args.json {
        print::json(&CheckOutput { ok, files: checked.into_iter().map(|(file, _)| file).collect() })?;
    } else {
        for (file, faults) in &checked {
            match faults {
                Some(faults) => print::note(&faults.to_string()),
                None => print::text(&told(file))?,
            }
        }
    }
    Ok(if ok { ExitCode::SUCCESS } else { ExitCode::from(exit::BAD) })
}

/// The one room among the files, in which the drills beside it are meant to be tried.
fn only_room(files: &[PathBuf]) -> Option<&Path> {
    let mut rooms = files.iter().filter(|path| matches!(sources::file(path), Ok(FileText::Room(_))));
    let first = rooms.next()?;
    rooms.next().is_none().then_some(first.as_path())
}

/// The files that lessons among `files` name and that are not among them, each with the room to try it in.
fn named(files: &[PathBuf], given: Option<&Path>) -> Vec<(PathBuf, Option<PathBuf>)> {
    let mut named: Vec<(PathBuf, Option<PathBuf>)> = Vec::new();
    for path in files {
        let Some(lesson) = sources::lesson(path) else { continue };
        let own = lesson.lesson.room.as_deref().map(|room| sources::beside(path, room));
        let room = given.map(Path::to_owned).or(own);
        for file in lesson::named(path, &lesson) {
            if !files.contains(&file) && !named.iter().any(|(known, _)| *known == file) {
                named.push((file, room.clone()));
            }
        }
    }
    named
}

fn check(path: &Path, room: Option<&Path>) -> (FileOutput, Option<Faults>) {
    let mut output = FileOutput { file: path.display().to_string(), ..FileOutput::default() };
    match look(path, room, &mut output) {
        Ok(()) => {
            output.ok = true;
            (output, None)
        }
        Err(faults) => {
            output.faults = faults.iter().map(fault).collect();
            (output, Some(faults))
        }
    }
}

fn look(path: &Path, room: Option<&Path>, output: &mut FileOutput) -> Result<(), Faults> {
    if let Some(file) = sources::lesson(path) {
        return lesson::look(path, file, room, output);
    }
    if let Ok(text) = book::read_file(path)
        && (book::bindings::is_bindings(&text) || path.file_name().is_some_and(|name| name == crate::folders::INPUTS))
    {
        output.kind = Some("file of bindings".to_owned());
        let (own, faults) = Bindings::read(&path.display().to_string(), &text);
        output.says = Some(count(own.all().count(), "binding"));
        return faults.map_or(Ok(()), Err);
    }
    match sources::file(path)? {
        FileText::Room(text) => {
            let room = text.read()?;
            output.kind = Some("room".to_owned());
            output.says = Some(of_room(&room));
            output.notices = room_notices(&room);
            let found = FontShelf::default().find(&room, &text.name, &text.text, None);
            output.notices.extend(found.tunings.iter().filter_map(|(index, tuning)| tuning_notice(&room, *index, tuning)));
            if let Some(faults) = found.faults {
                return Err(faults);
            }
        }
        FileText::Drill(text) => {
            output.kind = Some("drill".to_owned());
            drill(path, &text, room, output)?;
        }
        FileText::Piece(text) => {
            let file = text.read()?;
            output.kind = Some("piece".to_owned());
            output.says = Some(of_piece(&file.piece));
        }
        // one that is sound as a whole has been looked at above
        FileText::Lesson(text) => {
            text.read()?;
        }
    }
    Ok(())
}

fn drill(path: &Path, text: &DrillText, room: Option<&Path>, output: &mut FileOutput) -> Result<(), Faults> {
    let chosen = sources::room_for(path, room)?;
    let room = chosen.text.read()?;
    output.room = Some(room.name.clone());
    let plan = text.read()?.compile(&room)?;
    output.says = Some(format!("{}, in {} ({})", of_plan(&plan), room.name, chosen.why));
    output.notices = plan.notices.iter().map(|told| notice(&room, told)).collect();
    Ok(())
}

fn notice(room: &Room, notice: &sequencer::plan::Notice) -> NoticeOutput {
    NoticeOutput {
        section: notice.section.and_then(|section| room.section(section)).map(|section| section.name.clone()),
        text: notice.text.clone(),
    }
}

fn of_room(room: &Room) -> String {
    let seats: u32 = room.sections.iter().map(|section| u32::from(section.seats.get())).sum();
    format!("{}, {} and {}", room.name, count(room.sections.len(), "section"), count(seats as usize, "seat"))
}

fn of_plan(plan: &Plan) -> String {
    format!(
        "{}: {} of {} at {}, {}",
        plan.title,
        count(plan.bars.len(), "bar"),
        plan.meter,
        plan.tempo,
        count(plan.stations.len(), "group")
    )
}

fn of_piece(piece: &Piece) -> String {
    let first = piece.bars.first();
    let (number, meter) = (first.map_or("", |bar| &bar.number), first.map(|bar| bar.meter.to_string()).unwrap_or_default());
    let last = piece.bars.last().map_or("", |bar| &bar.number);
    let tempo = piece.tempo_at(0);
    format!("{}: bars {number} to {last}, from {meter} at {tempo}, {}", piece.title, count(piece.passages.len(), "passage"))
}

fn count(number: usize, what: &str) -> String {
    format!("{number} {what}{}", if number == 1 { "" } else { "s" })
}

/// Landmarks that lie outside a section's own comfortable range are allowed, and told of.
fn room_notices(room: &Room) -> Vec<NoticeOutput> {
    let outside = |section: &sequencer::Section| {
        let notes: Vec<String> =
            section.landmarks.iter().filter(|note| !section.comfortable.contains(**note)).map(ToString::to_string).collect();
        (!notes.is_empty()).then(|| NoticeOutput {
            section: Some(section.name.clone()),
            text: format!("{}: landmarks {} outside their comfortable {}", section.name, notes.join(", "), section.comfortable),
        })
    };
    room.sections.iter().filter_map(outside).collect()
}

/// A recorded sound whose pitch cannot be held to what the built-in ones keep is allowed, and told of.
fn tuning_notice(room: &Room, index: usize, tuning: &Tuning) -> Option<NoticeOutput> {
    let section = &room.sections.get(index)?.name;
    let text = if tuning.untuned > 0 {
        let (untuned, all) = (tuning.untuned, tuning.samples);
        format!("{section}: no pitch found in {untuned} of the {all} samples of its preset; they sound where the SoundFont says")
    } else if tuning.sway_cents >= MOST_SWAY {
        format!("{section}: its preset was recorded with a vibrato of {:.0} cents; only the average is in tune", tuning.sway_cents)
    } else {
        return None;
    };
    Some(NoticeOutput { section: Some(section.clone()), text })
}

fn fault(fault: &Fault) -> FaultOutput {
    let span = fault.place.as_ref().map(|place| place.span.clone());
    FaultOutput {
        file: fault.file.clone(),
        line: fault.line(),
        column: fault.column(),
        start: span.as_ref().map(|span| span.start),
        end: span.map(|span| span.end),
        message: fault.message.clone(),
        mend: fault.mend.clone(),
    }
}

fn told(file: &FileOutput) -> String {
    let kind = file.kind.as_deref().unwrap_or("file");
    let mut text = format!("{}: a sound {kind}: {}\n", file.file, file.says.as_deref().unwrap_or_default());
    for notice in &file.notices {
        text += &format!("  note: {}\n", notice.text);
    }
    text
}
