//! `precentor records summary`: who has which note.

use ::records::export::moment;
use ::records::{Counts, Group, KeptAudio, RecordsError, ShareSummary, Summary, Tally, Verdict};
use clap::Args;
use jiff::tz::TimeZone;
use schemars::JsonSchema;
use serde::Serialize;
use std::num::NonZeroI8;

use super::place::SoundOutput;
use super::share::{self, ShareGroupOutput};
use super::{NONE, Which, counted, sound, store};
use crate::cli::print::{self, Table};
use crate::folders::Folders;

/// Who has which note: counts and shares for each section and seat
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor records summary                                  all rooms
  precentor records summary --section Horns --weeks          the horns, week by week
  precentor records summary --note G4 --since 2031-02-03     one note, from a Monday on
  precentor records summary --json                           for other programs")]
pub struct SummaryArgs {
    #[command(flatten)]
    which: Which,
    /// A row for each week as well, Monday to Sunday
    #[arg(long, help_heading = "Output")]
    weeks: bool,
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// What `records summary --json` prints.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SummaryOutput {
    /// How many verdicts were counted.
    pub verdicts: u64,
    /// The first of them, in UTC.
    pub first: Option<String>,
    /// The last of them, in UTC.
    pub last: Option<String>,
    /// Each section on each note: all its verdicts.
    pub sections: Vec<GroupOutput>,
    /// Each seat on each note.
    pub seats: Vec<GroupOutput>,
    /// Where each whole section sat, on each note asked for.
    pub shares: Vec<ShareGroupOutput>,
    /// The sound that is kept.
    pub sound: SoundOutput,
}

/// The verdicts of a section or a seat on one note.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct GroupOutput {
    /// The room's name.
    pub room: String,
    /// The section's name.
    pub section: String,
    /// The seat; nothing for the section.
    pub seat: Option<u16>,
    /// The written note asked for; nothing for instruments without a pitch.
    pub target: Option<String>,
    /// All of them.
    pub tally: TallyOutput,
    /// The same, week by week.
    pub weeks: Vec<WeekOutput>,
    /// Each verdict, the commonest first.
    pub verdicts: Vec<VerdictOutput>,
}

/// How many verdicts were of each kind.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TallyOutput {
    /// How many there are.
    pub all: u64,
    /// On the note.
    pub on_it: u64,
    /// On the note, but flat, sharp, late or early.
    pub near: u64,
    /// Lower.
    pub low: u64,
    /// Higher.
    pub high: u64,
    /// Off the series, or another note.
    pub astray: u64,
    /// Nothing came.
    pub nothing: u64,
    /// Those on the note beside all, 0 to 1.
    pub share_on_it: f64,
}

/// One week.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WeekOutput {
    /// Such as `2031-W06`, after ISO 8601.
    pub week: String,
    /// Its verdicts.
    pub tally: TallyOutput,
}

/// One verdict and how often it was given.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct VerdictOutput {
    /// Its word.
    pub verdict: String,
    /// How many partials away, negative for lower.
    pub partials_off: Option<i8>,
    /// How many octaves away, negative for lower.
    pub octaves_off: Option<i8>,
    /// How often.
    pub count: u64,
}

impl From<&Tally> for TallyOutput {
    fn from(tally: &Tally) -> Self {
        let Tally { on_it, near, low, high, astray, nothing } = *tally;
        Self { all: tally.all(), on_it, near, low, high, astray, nothing, share_on_it: share_of(tally) }
    }
}

impl From<&Group> for GroupOutput {
    fn from(group: &Group) -> Self {
        let verdict = |(verdict, count): &(Verdict, u64)| {
            let steps = verdict.steps().map(NonZeroI8::get);
            VerdictOutput {
                verdict: verdict.word().to_owned(),
                partials_off: steps.filter(|_| matches!(verdict, Verdict::Partials(_))),
                octaves_off: steps.filter(|_| matches!(verdict, Verdict::Octaves(_))),
                count: *count,
            }
        };
        Self {
            room: group.room.clone(),
            section: group.section.clone(),
            seat: group.seat.map(Into::into),
            target: group.target.map(|note| note.to_string()),
            tally: (&group.tally).into(),
            weeks: group.weeks.iter().map(|(week, tally)| WeekOutput { week: week.to_string(), tally: tally.into() }).collect(),
            verdicts: group.verdicts.iter().map(verdict).collect(),
        }
    }
}

/// Those on the note beside all; zero of none.
fn share_of(tally: &Tally) -> f64 {
    if tally.all() == 0 { 0.0 } else { tally.on_it as f64 / tally.all() as f64 }
}

pub(super) fn run(args: &SummaryArgs) -> anyhow::Result<()> {
    let zone = TimeZone::system();
    let store = store()?;
    let filter = args.which.filter(store.as_ref())?;
    let (mut summary, mut shares) = (Summary::default(), ShareSummary::default());
    if let Some(store) = &store {
        store.each::<RecordsError>(&filter, |record| {
            summary.add(&record, &zone);
            Ok(())
        })?;
        store.each_section::<RecordsError>(&filter, |record| {
            shares.add(&record, &zone);
            Ok(())
        })?;
    }
    let audio = KeptAudio::beside(&Folders::find()?.records);
    let clips = audio.clips()?;
    if args.json {
        let (first, last) = summary.span().unzip();
        return print::json(&SummaryOutput {
            verdicts: summary.verdicts(),
            first: first.map(moment),
            last: last.map(moment),
            sections: summary.sections().map(GroupOutput::from).collect(),
            seats: summary.seats().map(GroupOutput::from).collect(),
            shares: shares.groups().map(ShareGroupOutput::from).collect(),
            sound: SoundOutput::of(&audio, &clips),
        });
    }
    let sound = sound(&clips).map(|sound| format!("{sound}; see: precentor records where\n")).unwrap_or_default();
    let told = match (summary.span(), shares.span()) {
        (None, None) => NONE.to_owned(),
        (None, Some(_)) => share::text(&shares, &zone, args.weeks),
        (Some(_), None) => text(&summary, &zone, args.weeks),
        (Some(_), Some(_)) => format!("{}\n{}", text(&summary, &zone, args.weeks), share::text(&shares, &zone, args.weeks)),
    };
    print::text(&(told + &sound))
}

/// A table for each room: a section's note with all its verdicts, then seat by seat.
fn text(summary: &Summary, zone: &TimeZone, weeks: bool) -> String {
    let Some((first, last)) = summary.span() else { return NONE.to_owned() };
    let mut text = String::new();
    let mut rooms: Vec<&str> = summary.sections().map(|group| group.room.as_str()).collect();
    rooms.dedup();
    for room in rooms {
        let mut table = Table::new(&HEADS);
        for section in summary.sections().filter(|group| group.room == room) {
            rows(&mut table, section, weeks);
            let own = |seat: &&Group| (&seat.room, &seat.section, seat.target) == (&section.room, &section.section, section.target);
            summary.seats().filter(own).for_each(|seat| rows(&mut table, seat, weeks));
        }
        text += &format!("{room}\n{}\n", table.lines());
    }
    let day = |moment| zone.to_datetime(moment).date();
    text + &format!(
        "{}, {} to {}. Where there are few, a share says little.\n",
        counted(Counts { verdicts: summary.verdicts(), ..Counts::default() }),
        day(first),
        day(last)
    )
}

const HEADS: [&str; 13] =
    ["section", "seat", "note", "week", "verdicts", "on it", "share", "near", "low", "high", "astray", "nothing", "most often"];

fn rows(table: &mut Table, group: &Group, weeks: bool) {
    let seat = group.seat.map_or("all".to_owned(), |seat| seat.to_string());
    let note = group.target.map_or("-".to_owned(), |note| note.to_string());
    let mut row = |week: String, tally: &Tally, most: String| {
        let counts = [tally.near, tally.low, tally.high, tally.astray, tally.nothing].map(|count| count.to_string());
        let head = [group.section.clone(), seat.clone(), note.clone(), week, tally.all().to_string(), tally.on_it.to_string()];
        table.row(head.into_iter().chain([format!("{:.0} %", 100.0 * share_of(tally))]).chain(counts).chain([most]));
    };
    let most = group.verdicts.first().map(|(verdict, count)| format!("{verdict}, {count} of {}", group.tally.all()));
    row(String::new(), &group.tally, most.unwrap_or_default());
    if weeks {
        group.weeks.iter().for_each(|(week, tally)| row(week.to_string(), tally, String::new()));
    }
}
