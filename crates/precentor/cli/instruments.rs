//! `precentor instruments`: the instrument table.

use clap::Args;
use pitch::{Instrument, Interval, WrittenRange};
use schemars::JsonSchema;
use serde::Serialize;

use super::print;

/// The instruments it knows: ids, clefs, transpositions and ranges
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor instruments                   a table
  precentor instruments --json            for other programs")]
pub struct InstrumentsArgs {
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// What `instruments --json` prints.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct InstrumentsOutput {
    /// In score order within families.
    pub instruments: Vec<InstrumentOutput>,
}

/// One way of reading one instrument.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct InstrumentOutput {
    /// The short name that files and other commands take.
    pub id: String,
    /// The full name.
    pub name: String,
    /// `woodwind`, `brass`, `strings` or `percussion`.
    pub family: String,
    /// The clef it is read in.
    pub clef: String,
    /// From what is written to what sounds.
    pub transposition: TranspositionOutput,
    /// Written range that beginners play without strain, lowest and highest.
    pub comfortable: String,
    /// Written range in able hands, lowest and highest.
    pub full: String,
}

/// A directed interval; negative is downward.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct TranspositionOutput {
    /// Letter steps, counted from zero.
    pub diatonic: i32,
    /// Semitones.
    pub semitones: i32,
    /// In words.
    pub words: String,
}

/// The whole table.
#[must_use]
pub fn all() -> InstrumentsOutput {
    let output = |instrument: &Instrument| InstrumentOutput {
        id: instrument.id().to_owned(),
        name: instrument.label().to_owned(),
        family: instrument.family().to_string(),
        clef: instrument.clef().to_string(),
        transposition: TranspositionOutput {
            diatonic: instrument.transposition().diatonic(),
            semitones: instrument.transposition().semitones(),
            words: words(instrument.transposition()),
        },
        comfortable: range(instrument, instrument.comfortable()),
        full: range(instrument, instrument.full()),
    };
    InstrumentsOutput { instruments: Instrument::all().iter().chain(Instrument::drums()).map(output).collect() }
}

/// A range in words: drums have none.
fn range(instrument: &Instrument, range: &WrittenRange) -> String {
    if instrument.is_pitched() { range.to_string() } else { "no pitch".to_owned() }
}

/// An interval of the table in words: "major sixth down".
fn words(interval: Interval) -> String {
    let (steps, semitones) = (interval.diatonic().abs(), interval.semitones().abs());
    let (octaves, within) = (steps / 7, steps % 7);
    // semitones of the perfect or major interval of so many letter steps
    let largest = [0, 2, 4, 5, 7, 9, 11].get(within as usize).copied().unwrap_or(0);
    let quality = match (within, semitones - 12 * octaves - largest) {
        (0, 0) => "",
        (3 | 4, 0) => "perfect ",
        (_, 0) => "major ",
        _ => "minor ",
    };
    let name = ["", "second", "third", "fourth", "fifth", "sixth", "seventh"].get(within as usize).copied().unwrap_or("");
    let octaves = match (octaves, within) {
        (0, 0) => return "as written".to_owned(),
        (0, _) => String::new(),
        (1, 0) => "octave".to_owned(),
        (1, _) => "octave and ".to_owned(),
        (count, 0) => format!("{count} octaves"),
        (count, _) => format!("{count} octaves and "),
    };
    let way = if interval.semitones() > 0 { "up" } else { "down" };
    format!("{octaves}{quality}{name} {way}")
}

pub(super) fn run(args: &InstrumentsArgs) -> anyhow::Result<()> {
    let output = all();
    if args.json {
        return print::json(&output);
    }
    let mut table = print::Table::new(&["id", "name", "family", "clef", "sounds", "comfortable", "full range"]);
    for row in output.instruments {
        table.row([row.id, row.name, row.family, row.clef, row.transposition.words, row.comfortable, row.full]);
    }
    print::text(&(table.lines() + "\nRanges are written. Comfortable: notes every first-year source has in common.\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn transpositions_in_words() {
        let words = |id: &str| super::words(Instrument::find(id).unwrap().transposition());
        assert_eq!(words("flute"), "as written");
        assert_eq!(words("piccolo"), "octave up");
        assert_eq!(words("horn_f"), "perfect fifth down");
        assert_eq!(words("trumpet_bb"), "major second down");
        assert_eq!(words("clarinet_eb"), "minor third up");
        assert_eq!(words("sax_tenor"), "octave and major second down");
        assert_eq!(words("sax_baritone"), "octave and major sixth down");
    }

    #[test]
    fn the_table_is_all_there() {
        assert_eq!(all().instruments.len(), Instrument::all().len() + Instrument::drums().len());
    }
}
