//! Where whole sections sat and how together they came: the part of the summary that is no count of verdicts.

use ::records::{Counts, Sat, ShareGroup, ShareSummary};
use jiff::tz::TimeZone;
use schemars::JsonSchema;
use serde::Serialize;

use super::counted;
use crate::cli::print::Table;

/// The echoes of a whole section on one note.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ShareGroupOutput {
    /// The room's name.
    pub room: String,
    /// The section's name.
    pub section: String,
    /// The written note asked for.
    pub target: Option<String>,
    /// All of them.
    pub all: SatOutput,
    /// The same, week by week.
    pub weeks: Vec<SatWeekOutput>,
}

/// One week of a section on one note.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SatWeekOutput {
    /// Such as `2031-W06`, after ISO 8601.
    pub week: String,
    /// Its echoes.
    pub all: SatOutput,
}

/// What echoes came to: means over all of them.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SatOutput {
    /// How many.
    pub echoes: u64,
    /// The share on the note asked for, 0 to 1.
    pub share: Option<f64>,
    /// It is at least this: no narrower for many echoes.
    pub low: Option<f64>,
    /// It is at most this.
    pub high: Option<f64>,
    /// The share of the sound on none of the notes listened for.
    pub elsewhere: Option<f64>,
    /// The note that was most often that of the biggest group.
    pub largest: Option<String>,
    /// In how many echoes it was that.
    pub largest_in: Option<u64>,
    /// How far the mean tuning lies above (negative: below) the notes, in cents.
    pub cents: Option<f64>,
    /// Milliseconds after the beat, negative before it.
    pub entry_ms: Option<f64>,
    /// How far apart they came: the standard deviation, in milliseconds.
    pub spread_ms: Option<f64>,
}

impl From<&Sat> for SatOutput {
    fn from(sat: &Sat) -> Self {
        let on_it = sat.on_it();
        Self {
            echoes: sat.echoes(),
            share: on_it.map(|(share, ..)| share),
            low: on_it.map(|(_, low, _)| low),
            high: on_it.map(|(.., high)| high),
            elsewhere: sat.elsewhere(),
            largest: sat.largest().map(|(note, _)| note.to_string()),
            largest_in: sat.largest().map(|(_, count)| count),
            cents: sat.cents(),
            entry_ms: sat.entry_ms(),
            spread_ms: sat.spread_ms(),
        }
    }
}

impl From<&ShareGroup> for ShareGroupOutput {
    fn from(group: &ShareGroup) -> Self {
        Self {
            room: group.room.clone(),
            section: group.section.clone(),
            target: group.target.map(|note| note.to_string()),
            all: (&group.all).into(),
            weeks: group.weeks.iter().map(|(week, sat)| SatWeekOutput { week: week.to_string(), all: sat.into() }).collect(),
        }
    }
}

/// A table for each room: a section on each note, with the weeks if they are asked for.
pub(super) fn text(summary: &ShareSummary, zone: &TimeZone, weeks: bool) -> String {
    let mut text = String::new();
    let mut rooms: Vec<&str> = summary.groups().map(|group| group.room.as_str()).collect();
    rooms.dedup();
    for room in rooms {
        let mut table =
            Table::new(&["section", "note", "week", "echoes", "on it", "at least", "at most", "biggest group", "cents", "entry", "spread"]);
        for group in summary.groups().filter(|group| group.room == room) {
            row(&mut table, group, String::new(), &group.all);
            if weeks {
                group.weeks.iter().for_each(|(week, sat)| row(&mut table, group, week.to_string(), sat));
            }
        }
        text += &format!("{room}, whole sections\n{}\n", table.lines());
    }
    let Some((first, last)) = summary.span() else { return text };
    let day = |moment| zone.to_datetime(moment).date();
    let counted = counted(Counts { sections: summary.echoes(), ..Counts::default() });
    text + &format!(
        "{counted}, {} to {}. Shares are what the microphone makes of loudness: a loud player counts for more.\n",
        day(first),
        day(last)
    )
}

fn row(table: &mut Table, group: &ShareGroup, week: String, sat: &Sat) {
    let percent = |share: Option<f64>| share.map(|share| format!("{:.0} %", 100.0 * share)).unwrap_or_default();
    let on_it = sat.on_it();
    table.row([
        group.section.clone(),
        group.target.map_or("-".to_owned(), |note| note.to_string()),
        week,
        sat.echoes().to_string(),
        percent(on_it.map(|(share, ..)| share)),
        percent(on_it.map(|(_, low, _)| low)),
        percent(on_it.map(|(.., high)| high)),
        sat.largest().map(|(note, count)| format!("{note}, {count} of {}", sat.echoes())).unwrap_or_default(),
        sat.cents().map(|cents| format!("{cents:+.0}")).unwrap_or_default(),
        sat.entry_ms().map(|entry| format!("{entry:+.0} ms")).unwrap_or_default(),
        sat.spread_ms().map(|spread| format!("{spread:.0} ms")).unwrap_or_default(),
    ]);
}
