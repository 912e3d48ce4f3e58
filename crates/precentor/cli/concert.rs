//! `precentor concert`: a written pitch as it sounds.

use clap::Args;
use pitch::{Instrument, PitchClass, Reference, ReferenceError, Temperament, Tuning, Written};
use schemars::JsonSchema;
use serde::Serialize;

use super::exit::Usage;
use super::print;
use super::written::instrument;

/// A written pitch as it sounds: concert pitch, MIDI number and frequency
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor concert G4 --instrument horn_f                      sounds C4, MIDI 60, 261.63 Hz
  precentor concert C5 --instrument \"trumpet in Bb\" --reference 442
  precentor concert D5 --instrument flute --tuning just --tonic Bb --json")]
pub struct ConcertArgs {
    /// What the player reads: letter, b or # if altered, octave; middle C is C4
    #[arg(value_name = "PITCH")]
    written: Written,
    /// The instrument by name or id; `precentor instruments` lists them
    #[arg(long, value_name = "NAME", value_parser = instrument)]
    instrument: &'static Instrument,
    /// The frequency of A4 in hertz, 415 to 466
    #[arg(long, value_name = "HZ", help_heading = "Tuning", default_value = "440", value_parser = reference)]
    reference: Reference,
    /// How the octave is divided: equal, just or pythagorean
    #[arg(long, value_name = "T", help_heading = "Tuning", default_value = "equal")]
    tuning: Temperament,
    /// The concert note that the pure intervals stand on, such as Bb; only just and pythagorean need it
    #[arg(long, value_name = "NOTE", help_heading = "Tuning", default_value = "C")]
    tonic: PitchClass,
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// A reference given on the command line.
pub(super) fn reference(text: &str) -> Result<Reference, ReferenceError> {
    Reference::new(text.parse().unwrap_or(f64::NAN))
}

/// What `concert --json` prints.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ConcertOutput {
    /// The instrument's id.
    pub instrument: String,
    /// The note on the page.
    pub written: String,
    /// What sounds, spelled with one accidental at most.
    pub sounding: String,
    /// The MIDI number of what sounds.
    pub midi: u8,
    /// The frequency in hertz, to six decimals.
    pub hz: f64,
    /// What sounds as the interval spells it, where that takes a double accidental.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_interval: Option<String>,
    /// The frequency of A4 in hertz.
    pub reference: f64,
    /// `equal`, `just` or `pythagorean`.
    pub tuning: String,
    /// What the pure intervals stand on; nothing in equal temperament.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tonic: Option<String>,
    /// Whether the note lies in the instrument's full range.
    pub fits: bool,
}

/// What sounds when `instrument` plays `written`; nothing if that is outside the MIDI numbers 0 to 127.
#[must_use]
pub fn sounding(instrument: &Instrument, written: Written, tuning: Tuning) -> Option<ConcertOutput> {
    let literal = instrument.sounding(written);
    let shown = instrument.sounding_simple(written);
    Some(ConcertOutput {
        instrument: instrument.id().to_owned(),
        written: written.to_string(),
        sounding: shown.to_string(),
        midi: literal.pitch().midi()?.number(),
        hz: (tuning.frequency(literal).hz() * 1e6).round() / 1e6,
        by_interval: (shown != literal).then(|| literal.to_string()),
        reference: tuning.reference.hertz().hz(),
        tuning: tuning.temperament.to_string(),
        tonic: (tuning.temperament != Temperament::Equal).then(|| tuning.tonic.to_string()),
        fits: instrument.full().contains(written),
    })
}

pub(super) fn run(args: &ConcertArgs) -> anyhow::Result<()> {
    let tuning = Tuning { temperament: args.tuning, tonic: args.tonic, reference: args.reference };
    let outside = || Usage::error(format!("{} sounds outside the MIDI numbers 0 to 127", args.written), "name another octave");
    let output = sounding(args.instrument, args.written, tuning).ok_or_else(outside)?;
    if args.json {
        return print::json(&output);
    }
    let stand = match &output.tonic {
        Some(tonic) => format!("{} on {tonic}", output.tuning),
        None => output.tuning.clone(),
    };
    let mut text = format!(
        "{} on the page of {} sounds {}: MIDI {}, {:.6} Hz ({stand}, A4 = {} Hz)\n",
        output.written,
        args.instrument.label(),
        output.sounding,
        output.midi,
        output.hz,
        output.reference
    );
    if !output.fits {
        text += &format!("{} is outside the instrument: {} written\n", output.written, args.instrument.full());
    }
    print::text(&text)
}
