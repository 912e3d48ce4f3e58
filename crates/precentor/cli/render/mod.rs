//! `precentor render`: a drill or a room as a WAV file, without a device.

mod session;
mod stems;

use anyhow::Context;
use clap::Args;
use engine::Bounce;
use engine::listing::{Lister, Listing};
use pitch::Concert;
use sequencer::{Drone, Room};
use std::io::Write;
use std::num::NonZeroU16;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};
use units::SampleRate;

use super::exit::Usage;
use super::output::{self, Draft};
use super::wav::{Format, WavDraft};
use super::{print, sources};
use crate::folders;
use crate::workshop::{self, Choice, FileText, Made, RoomText, Workshop};
use session::{Files, Session};
use stems::StemFiles;

/// How long the drone of a room by itself is held, in seconds.
const DRONE_SECONDS: f64 = 30.0;

/// A drill, a piece or a room as a WAV file, as fast as it goes
///
/// What comes out is what the class would hear, sample for sample, with nobody cueing: talk turns go straight on. A room by itself gives its
/// drone for 30 s, then the drone's note in every section, one after another. The samples are 32-bit float unless --format says otherwise: that
/// is what the engine makes, so nothing is rounded.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor render demo -o demo.wav                         the first built-in drill
  precentor render middle-note.toml -o out.wav --cues out.json --stems stems
  precentor render two-notes.toml --room alder-street.toml -o out.wav --rounds 2
  precentor render demo -o roll.wav --roll Horns            seat by seat through the horns
  precentor render alder-street.toml -o horns.wav --landmarks Horns
  precentor render demo -o turn.wav --in-turn=F4            concert F4 in every section in turn
  precentor render lantern-march.toml -o climb.wav --passage trio
  precentor render demo:five-notes -o out.wav --drone Bb3 --format pcm16")]
pub struct RenderArgs {
    /// A drill, piece or room file, or a built-in one: demo, demo:two-notes, demo:five-notes, demo:six-eight, demo:when-it-sits,
    /// demo:lantern-march, demo:alder-street
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// The room a drill or piece is for; a room file beside it unless given, or else the demo room
    #[arg(long, value_name = "FILE")]
    room: Option<PathBuf>,

    /// The WAV file to write
    #[arg(short, long, value_name = "OUT.wav", help_heading = "Output")]
    output: PathBuf,
    /// Write the list of every sound as JSON
    #[arg(long, value_name = "OUT.json", help_heading = "Output")]
    cues: Option<PathBuf>,
    /// Write every section and role that sounds to a file of its own in this folder, as it is before panning and limiter
    #[arg(long, value_name = "DIR", help_heading = "Output")]
    stems: Option<PathBuf>,
    /// Frames per second, 8000 to 384000
    #[arg(long, value_name = "HZ", help_heading = "Output", default_value = "48000", value_parser = rate)]
    rate: SampleRate,
    /// How samples are kept
    #[arg(long, value_enum, default_value_t, help_heading = "Output")]
    format: Format,
    /// Replace files that are there already
    #[arg(long, help_heading = "Output")]
    force: bool,

    /// The passage of a piece, up to its concert tempo; all of it unless given
    #[arg(long, value_name = "NAME", help_heading = "What to render")]
    passage: Option<String>,
    /// The passage at half tempo and then at its own, instead of stage by stage
    #[arg(long, help_heading = "What to render")]
    recheck: bool,
    /// How often each group goes through the turns, instead of what the drill says
    #[arg(long, value_name = "N", help_heading = "What to render", conflicts_with = "way", value_parser = rounds)]
    rounds: Option<NonZeroU16>,
    /// The drill seat by seat through one section
    #[arg(long, value_name = "SECTION", help_heading = "What to render", group = "way")]
    roll: Option<String>,
    /// One section's landmarks
    #[arg(long, value_name = "SECTION", help_heading = "What to render", group = "way")]
    landmarks: Option<String>,
    /// A concert pitch, or the drill's model, in every section, one after another
    #[arg(long, value_name = "PITCH", help_heading = "What to render", group = "way", num_args = 0..=1, require_equals = true)]
    in_turn: Option<Option<Concert>>,
    /// Hold a drone on this concert pitch under it all, with the room's stack and tuning
    #[arg(long, value_name = "PITCH", help_heading = "What to render")]
    drone: Option<Concert>,
}

/// A sample rate as people write it.
pub(super) fn rate(text: &str) -> Result<SampleRate, String> {
    let hz: u32 = text.parse().map_err(|_| format!("\"{text}\" is not a sample rate; 48000 suits most devices"))?;
    SampleRate::new(hz).map_err(|error| error.to_string())
}

/// What is to be played.
struct Job {
    choice: Choice,
    room: RoomText,
    files: workshop::Files,
    /// Whether it is a room by itself: its drone comes first.
    room_alone: bool,
}

pub(super) fn run(args: &RenderArgs) -> anyhow::Result<()> {
    let job = job(args)?;
    let workshop = Workshop::new(args.rate).with_own_voices(folders::own_voices());
    let Made { score, room, passed_over, .. } = workshop.make_with(&job.choice, &job.room, &job.files, |drill| {
        if let Some(rounds) = args.rounds {
            drill.rounds = rounds.get();
        }
    })?;
    if let Some(faults) = passed_over {
        print::note(&format!("{faults}\nnote: built-in sounds serve meanwhile"));
    }
    let told = workshop.told_of(&room, &score);
    for told in told.iter().chain(score.plan.notices.iter().map(|notice| &notice.text)) {
        print::note(&format!("note: {told}"));
    }
    let clips = workshop.clips()?;
    let begun = Instant::now();
    let (files, cues) = begin(args, &room)?;
    let mut session = Session::new(Bounce::new(args.rate, clips), Lister::new(&room), files);
    session.controls().mix(&room.mix, &room);
    let drone = args.drone.map(|root| Drone { root, ..room.drone.clone() });
    if job.room_alone {
        session.controls().drone(Some((drone.as_ref().unwrap_or(&room.drone), &room)));
        session.for_a_while(args.rate.span(DRONE_SECONDS))?;
        session.die_away()?;
    } else if let Some(drone) = &drone {
        session.controls().drone(Some((drone, &room)));
    }
    session.play(&score)?;
    session.die_away()?;
    let (files, lister) = session.finish();
    let frames = files.wav.frames();
    let listing = lister.finish(&score, args.rate, frames);
    let stems = keep(files, cues, &listing)?;
    let sound = Duration::from_secs_f64(args.rate.seconds(units::FrameSpan(frames)));
    print::text(&summary(args, &score.plan.title, &room, sound, begun.elapsed(), stems))
}

/// Which plan the arguments ask for.
fn job(args: &RenderArgs) -> anyhow::Result<Job> {
    let file = sources::file(&args.file)?;
    let sort = file.word();
    let (room, files) = match file {
        FileText::Room(room) => {
            if args.room.is_some() {
                return Err(Usage::error(format!("{} is a room itself", args.file.display()), "leave --room away, or name a drill"));
            }
            (room, workshop::Files::default())
        }
        FileText::Drill(drill) => (sources::room_for(&args.file, args.room.as_deref())?.text, workshop::Files::drill(drill)),
        FileText::Piece(piece) => (
            sources::room_for(&args.file, args.room.as_deref())?.text,
            workshop::Files { piece: Some(piece), ..workshop::Files::default() },
        ),
        FileText::Lesson(_) => {
            return Err(Usage::error(format!("{} is a lesson", args.file.display()), "name one of the drills or pieces it leads"));
        }
    };
    if files.piece.is_none() && (args.passage.is_some() || args.recheck) {
        return Err(Usage::error(format!("{} is no piece", args.file.display()), "leave --passage and --recheck away, or name a piece"));
    }
    let room_alone = files == workshop::Files::default() && args.roll.is_none() && args.landmarks.is_none() && args.in_turn.is_none();
    let choice = if let Some(section) = &args.roll {
        Choice::Roll { section: section.clone() }
    } else if let Some(section) = &args.landmarks {
        Choice::Landmarks { section: section.clone() }
    } else {
        match args.in_turn {
            Some(Some(concert)) => Choice::InTurn { concert },
            Some(None) => Choice::DrillInTurn,
            None if room_alone => Choice::InTurn { concert: args.drone.unwrap_or(room.read()?.drone.root) },
            None if files.piece.is_some() && args.recheck => Choice::Recheck { passage: args.passage.clone() },
            None if files.piece.is_some() => Choice::Climb { passage: args.passage.clone() },
            None => Choice::Drill,
        }
    };
    if files.drill.is_none() && (matches!(choice, Choice::Roll { .. } | Choice::DrillInTurn) || args.rounds.is_some()) {
        return Err(Usage::error(
            format!("{} is a {sort}, and this takes a drill", args.file.display()),
            "name a drill, with --room for the room",
        ));
    }
    Ok(Job { choice, room, files, room_alone })
}

/// Makes sure of every file before the first sound is made.
fn begin(args: &RenderArgs, room: &Room) -> anyhow::Result<(Files, Option<Draft>)> {
    let written: Vec<&Path> = [Some(&args.output), args.cues.as_ref()].into_iter().flatten().map(PathBuf::as_path).collect();
    let read = [Some(&args.file), args.room.as_ref()];
    for path in &written {
        if read.iter().flatten().any(|read| output::same(read, path)) {
            return Err(Usage::error(format!("{} would be written over itself", path.display()), "name another file to write"));
        }
    }
    if let [wav, cues] = written.as_slice()
        && output::same(wav, cues)
    {
        return Err(Usage::error("-o and --cues name the same file", "give each its own"));
    }
    let wav = WavDraft::begin(&args.output, args.force, 2, args.rate, args.format)?;
    let cues = args.cues.as_ref().map(|path| Draft::begin(path, args.force)).transpose()?;
    let stems = args.stems.as_ref().map(|folder| StemFiles::begin(folder, room, args.force, args.rate, args.format)).transpose()?;
    Ok((Files { wav, stems, interrupted: interruptions()? }, cues))
}

/// Completes every file, then puts all of them in place; says how many stems there are.
fn keep(files: Files, cues: Option<Draft>, listing: &Listing) -> anyhow::Result<Option<usize>> {
    let mut drafts = vec![files.wav.finish()?];
    if let Some(cues) = cues {
        let mut json = serde_json::to_string(listing).context("the list of sounds cannot be written as JSON")?;
        json.push('\n');
        cues.file()?.write_all(json.as_bytes()).with_context(|| cues.fault())?;
        drafts.push(cues);
    }
    let stems = files.stems.map(StemFiles::finish).transpose()?;
    let count = stems.as_ref().map(Vec::len);
    drafts.into_iter().chain(stems.into_iter().flatten()).try_for_each(Draft::keep)?;
    Ok(count)
}

/// Set when the user (or the system) wants an end; asked a second time, the program ends at once.
pub(super) fn interruptions() -> anyhow::Result<Arc<AtomicBool>> {
    use signal_hook::consts::{SIGINT, SIGTERM};
    let flag = Arc::new(AtomicBool::new(false));
    for signal in [SIGINT, SIGTERM] {
        // in this order: the first signal finds the flag down and raises it, the second finds it up
        signal_hook::flag::register_conditional_shutdown(signal, i32::from(super::exit::FAILED), Arc::clone(&flag))
            .and_then(|_| signal_hook::flag::register(signal, Arc::clone(&flag)))
            .context("interruptions cannot be watched for")?;
    }
    Ok(flag)
}

fn summary(args: &RenderArgs, title: &str, room: &Room, sound: Duration, took: Duration, stems: Option<usize>) -> String {
    let mut line = format!(
        "wrote {}: {title} in {}, {} at {} Hz, {}",
        args.output.display(),
        room.name,
        clock(sound),
        args.rate.hz(),
        args.format.words()
    );
    if let Some(cues) = &args.cues {
        line += &format!("; {}", cues.display());
    }
    if let (Some(folder), Some(count)) = (&args.stems, stems) {
        line += &format!("; {count} stems in {}", folder.display());
    }
    line + &format!("; {:.0} times faster than real time\n", sound.as_secs_f64() / took.as_secs_f64().max(1e-3))
}

/// A length as minutes and seconds.
pub(super) fn clock(length: Duration) -> String {
    let tenths = (length.as_secs_f64() * 10.0).round() as u64;
    format!("{} min {}.{} s", tenths / 600, tenths % 600 / 10, tenths % 10)
}

fn rounds(text: &str) -> Result<NonZeroU16, String> {
    text.parse().map_err(|_| "write a whole number from 1, such as --rounds 2".to_owned())
}
