//! `precentor records`: what was heard over weeks, seat by seat.

mod export;
mod forget;
mod place;
mod share;
mod show;
mod summary;

use ::records::{Clip, Counts, Filter, KeptAudio, Store};
use clap::{Args, Subcommand};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use pitch::Written;
use std::num::NonZeroU16;

use super::exit::Usage;
use crate::folders::{Folders, slug};

pub use forget::ForgetOutput;
pub use place::WhereOutput;
pub use show::ShowOutput;
pub use summary::SummaryOutput;

/// What was heard over weeks: who has which note; exported, forgotten
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor records summary                                     who has which note, all rooms
  precentor records summary --section Horns --weeks             the horns, week by week
  precentor records show --section Horns --seat 4 --last 20     the last of one seat
  precentor records export csv -o horns.csv --section Horns     for a spreadsheet
  precentor records forget --until 2031-06-30                   everything up to the end of that day
  precentor records where                                       the file, and how much is in it

Records are of seats, not names; they are on this machine alone. They come from the verdicts you give in a roll and from what the microphone
hears. No sound is kept unless you ask for it when you lead; then it lies beside the file and is deleted at the first start after its days.")]
pub struct RecordsArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    Summary(summary::SummaryArgs),
    Show(show::ShowArgs),
    Export(export::ExportArgs),
    Forget(forget::ForgetArgs),
    Where(place::WhereArgs),
}

/// Which records are meant.
#[derive(Clone, Debug, Default, PartialEq, Args)]
#[command(next_help_heading = "Which records")]
struct Which {
    /// Of this room
    #[arg(long, value_name = "NAME")]
    room: Option<String>,
    /// Of this section
    #[arg(long, value_name = "NAME")]
    section: Option<String>,
    /// Of this seat of the section
    #[arg(long, value_name = "NUMBER", requires = "section")]
    seat: Option<NonZeroU16>,
    /// Where this written note was asked for
    #[arg(long, value_name = "PITCH")]
    note: Option<Written>,
    /// From this day on, as 2031-02-03
    #[arg(long, value_name = "DATE")]
    since: Option<Date>,
    /// Up to the end of this day
    #[arg(long, value_name = "DATE")]
    until: Option<Date>,
}

pub(super) fn run(args: &RecordsArgs) -> anyhow::Result<()> {
    match &args.what {
        What::Summary(args) => summary::run(args),
        What::Show(args) => show::run(args),
        What::Export(args) => export::run(args),
        What::Forget(args) => forget::run(args),
        What::Where(args) => place::run(args),
    }
}

/// The records, if there are any yet. Kept sound that is over is deleted first, and all that belongs to no record.
fn store() -> anyhow::Result<Option<Store>> {
    let path = Folders::find()?.records;
    let now = if path.exists() { Timestamp::now() } else { Timestamp::MAX };
    KeptAudio::beside(&path).sweep(now)?;
    let store = Store::find(&path)?;
    store.as_ref().map_or(Ok(0), Store::sweep_audio)?;
    Ok(store)
}

/// What is said of sound that is kept; nothing where none is.
fn sound(clips: &[Clip]) -> Option<String> {
    let (count, bytes) = (clips.len() as u64, clips.iter().map(|clip| clip.bytes).sum::<u64>());
    let last = TimeZone::system().to_datetime(clips.last()?.until).date();
    let echoes = if count == 1 { "echo" } else { "echoes" };
    Some(format!("RECORDING: the sound of {count} {echoes} is kept, {} kB, the last until {last}", bytes.div_ceil(1000)))
}

impl Which {
    /// The filter that is meant, for what is in `store`: names are taken without regard to case and signs.
    fn filter(&self, store: Option<&Store>) -> anyhow::Result<Filter> {
        if let (Some(since), Some(until)) = (self.since, self.until)
            && since > until
        {
            return Err(Usage::error(format!("there is no day from {since} to {until}"), "put the earlier day after --since"));
        }
        let places = store.map_or(Ok(Vec::new()), Store::places)?;
        let room = known("room", self.room.as_deref(), places.iter().map(|(room, _)| room.as_str()))?;
        let sections = places.iter().filter(|(of, _)| room.as_ref().is_none_or(|room| room == of)).map(|(_, section)| section.as_str());
        let section = known("section", self.section.as_deref(), sections)?;
        let zone = TimeZone::system();
        let start = |day: Date| {
            let midnight = day.to_zoned_datetime(zone.clone());
            midnight.map(|midnight| midnight.timestamp()).map_err(|error| Usage::error(format!("{day}: {error}"), "name another day"))
        };
        let after = |day: Date| day.tomorrow().map_err(|error| Usage::error(format!("{day}: {error}"), "name another day")).and_then(start);
        Ok(Filter {
            room,
            section,
            seat: self.seat,
            note: self.note,
            since: self.since.map(start).transpose()?,
            until: self.until.map(after).transpose()?,
        })
    }
}

/// The one of the `names` that `asked` means; nothing is known where nothing is kept.
fn known<'a>(kind: &str, asked: Option<&str>, names: impl Iterator<Item = &'a str> + Clone) -> anyhow::Result<Option<String>> {
    let Some(asked) = asked else { return Ok(None) };
    let mut names: Vec<&str> = names.collect();
    names.sort_unstable();
    names.dedup();
    let exact = names.iter().find(|name| **name == asked);
    let nearly = names.iter().find(|name| slug(name) == slug(asked));
    match exact.or(nearly) {
        Some(name) => Ok(Some((*name).to_owned())),
        None if names.is_empty() => Ok(Some(asked.to_owned())),
        None => {
            let mend = match book::suggest(asked, names.iter().copied()) {
                Some(nearest) => format!("did you mean \"{nearest}\"?"),
                None => format!("there are records of {}", names.join("; ")),
            };
            Err(Usage::error(format!("there are no records of a {kind} called \"{asked}\""), mend))
        }
    }
}

/// So many verdicts, echoes of sections and clips, in words.
fn counted(counts: Counts) -> String {
    let Counts { verdicts, sections, clips } = counts;
    let number = |count: u64, one: &str, many: &str| format!("{count} {}", if count == 1 { one } else { many });
    let mut parts = Vec::new();
    if verdicts > 0 || sections == 0 {
        parts.push(number(verdicts, "verdict", "verdicts"));
    }
    if sections > 0 {
        parts.push(number(sections, "echo of a whole section", "echoes of whole sections"));
    }
    if clips > 0 {
        parts.push(format!("the sound of {}", number(clips, "echo", "echoes")));
    }
    parts.join(", ")
}

/// What is said where there is nothing.
const NONE: &str = "No verdicts are kept that this names. In a roll, 1 to 4 note a seat.\n";
