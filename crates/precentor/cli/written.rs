//! `precentor written`: a concert pitch as each player reads it.

use clap::Args;
use pitch::{Concert, Fit, HornSide, Instrument, Key, WrittenRange};
use schemars::JsonSchema;
use sequencer::Room;
use sequencer::compile::key_for;
use serde::Serialize;
use std::path::PathBuf;

use super::{print, sources};

/// A concert pitch as each player reads it
///
/// In a room every section gets the octave nearest to the pitch that lies in its comfortable range, as in a drill. An instrument by itself gets
/// the pitch as it is, or the nearest octave it has.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor written F4                                     every section of the last room
  precentor written F4 --instrument horn_f                 the horn's page: C5, open, partial 8
  precentor written Bb3 --room alder-street.toml --json    for other programs
  precentor written F#4 --key \"D major\" --instrument \"alto sax\"")]
pub struct WrittenArgs {
    /// What sounds: letter, b or # if altered, octave; middle C is C4
    #[arg(value_name = "PITCH")]
    concert: Concert,
    /// The class, by its room file, or `demo`; the room used last if nothing is named
    #[arg(long, value_name = "FILE", help_heading = "For whom", conflicts_with = "instrument")]
    room: Option<PathBuf>,
    /// An instrument by name or id (`precentor instruments` lists them); may be given more than once
    #[arg(long, value_name = "NAME", help_heading = "For whom", value_parser = instrument)]
    instrument: Vec<&'static Instrument>,
    /// The concert key the notes are spelled in, such as Bb or "G minor"; the pitch decides unless given
    #[arg(long, value_name = "KEY")]
    key: Option<Key>,
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// The instrument called `name`.
pub(super) fn instrument(name: &str) -> Result<&'static Instrument, String> {
    let found = Instrument::find(name).map_err(|error| error.to_string())?;
    if found.is_pitched() { Ok(found) } else { Err(format!("the {} has no pitch; name another instrument", found.label().to_lowercase())) }
}

/// What `written --json` prints.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct WrittenOutput {
    /// The concert pitch asked for.
    pub concert: String,
    /// The concert key the pages are spelled in.
    pub key: String,
    /// The room, if the parts are a room's sections.
    pub room: Option<String>,
    /// A part for each section or instrument, in order.
    pub parts: Vec<PartOutput>,
}

/// What one section or instrument reads.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct PartOutput {
    /// The section, in a room.
    pub section: Option<String>,
    /// The instrument's id.
    pub instrument: String,
    /// The note on the page.
    pub written: String,
    /// The clef it is read in.
    pub clef: String,
    /// The MIDI number of what sounds; nothing outside 0 to 127.
    pub midi: Option<u8>,
    /// Valves or slide position, on brass; on a horn, the F side.
    pub fingering: Option<String>,
    /// The partial the fingering stands on, from the fundamental of the tube in use.
    pub partial: Option<u8>,
    /// Whether the note lies in `range`. If not, it is the octave least outside.
    pub fits: bool,
    /// Octaves by which it sounds above (negative: below) the pitch asked for.
    pub octaves: i32,
    /// The written range that decided: the section's comfortable one, or all the instrument has.
    pub range: String,
    /// The fingering with the thumb valve, on a horn.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fingering_b_flat_side: Option<String>,
}

/// What the sections of `room` read for `concert`.
#[must_use]
pub fn in_room(room: &Room, concert: Concert, key: Option<Key>) -> WrittenOutput {
    let key = key.unwrap_or_else(|| key_for([concert]));
    let part = |section: &sequencer::Section| {
        let fitted = pitch::fit(section.instrument, &section.comfortable, concert, key);
        part(Some(section.name.clone()), section.instrument, &section.comfortable, fitted)
    };
    let parts = room.sections.iter().filter(|section| section.instrument.is_pitched()).map(part).collect();
    WrittenOutput { concert: concert.to_string(), key: key.to_string(), room: Some(room.name.clone()), parts }
}

/// What `instruments` by themselves read for `concert`.
#[must_use]
pub fn for_instruments(instruments: &[&'static Instrument], concert: Concert, key: Option<Key>) -> WrittenOutput {
    let key = key.unwrap_or_else(|| key_for([concert]));
    let part = |instrument: &&'static Instrument| {
        let as_it_is = instrument.written_for(concert, key);
        let fitted = if instrument.full().contains(as_it_is) {
            Fit { written: as_it_is, octaves: 0, fits: true }
        } else {
            pitch::fit(instrument, instrument.full(), concert, key)
        };
        part(None, instrument, instrument.full(), fitted)
    };
    WrittenOutput { concert: concert.to_string(), key: key.to_string(), room: None, parts: instruments.iter().map(part).collect() }
}

fn part(section: Option<String>, instrument: &Instrument, range: &WrittenRange, fitted: Fit) -> PartOutput {
    let Fit { written, octaves, fits } = fitted;
    let fingering = instrument.fingering(written);
    PartOutput {
        section,
        instrument: instrument.id().to_owned(),
        written: written.to_string(),
        clef: instrument.clef().to_string(),
        midi: instrument.sounding(written).pitch().midi().map(units::MidiNumber::number),
        fingering: fingering.map(|fingering| fingering.text.to_owned()),
        partial: fingering.map(|fingering| fingering.partial),
        fits,
        octaves,
        range: range.to_string(),
        fingering_b_flat_side: instrument.fingering_on(HornSide::BFlat, written).map(|fingering| fingering.text.to_owned()),
    }
}

pub(super) fn run(args: &WrittenArgs) -> anyhow::Result<()> {
    let (output, why) = if args.instrument.is_empty() {
        let chosen = match &args.room {
            Some(path) => sources::ChosenRoom { text: sources::room(path)?, why: path.display().to_string() },
            None => sources::usual_room()?,
        };
        (in_room(&chosen.text.read()?, args.concert, args.key), Some(chosen.why))
    } else {
        (for_instruments(&args.instrument, args.concert, args.key), None)
    };
    if args.json {
        return print::json(&output);
    }
    let head = match (&output.room, why) {
        (Some(room), Some(why)) => format!("concert {} in {room} ({why}), spelled for {}\n\n", output.concert, output.key),
        _ => format!("concert {}, spelled for {}\n\n", output.concert, output.key),
    };
    print::text(&(head + &table(&output)))
}

fn table(output: &WrittenOutput) -> String {
    let mut table = print::Table::new(&["section", "instrument", "written", "clef", "fingering", "partial", "octave", "remark"]);
    for part in &output.parts {
        let fingering = match (&part.fingering, &part.fingering_b_flat_side) {
            (Some(fingering), Some(other)) => format!("{fingering} or {other}"),
            (fingering, other) => fingering.clone().or_else(|| other.clone()).unwrap_or_default(),
        };
        let octave = match part.octaves {
            0 => "as given".to_owned(),
            octaves => format!("{} {}", octaves.abs(), if octaves > 0 { "higher" } else { "lower" }),
        };
        let remark = if part.fits { String::new() } else { format!("no octave fits {}", part.range) };
        let partial = part.partial.map(|partial| partial.to_string()).unwrap_or_default();
        let section = part.section.clone().unwrap_or_default();
        table.row([section, part.instrument.clone(), part.written.clone(), part.clef.clone(), fingering, partial, octave, remark]);
    }
    table.lines()
}
