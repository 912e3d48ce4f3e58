//! The JSON Schema of everything printed as JSON. Fields may be added, never renamed, so the schemas allow more than they name.

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};

/// What `render --cues` writes: every sound of a rendering, with its frames. The engine's list in the shape it is promised in.
#[derive(JsonSchema)]
#[schemars(title = "CuesOutput")]
#[allow(dead_code, reason = "only its shape is used")]
struct CuesOutput {
    /// Frames per second.
    rate: u32,
    /// How long the rendering is.
    frames: u64,
    /// Beats per minute at the start.
    tempo: f64,
    /// Such as `4/4`.
    meter: String,
    /// In order of their frames.
    cues: Vec<CueOutput>,
}

/// One line of the list.
#[derive(JsonSchema)]
#[allow(dead_code, reason = "only its shape is used")]
struct CueOutput {
    /// The frame of the beat it belongs to: where a tone starts, where a word's perceptual attack sits.
    at: u64,
    /// The frame it is over at.
    end: u64,
    /// Bars since the start, from 1.
    bar: u32,
    /// The beat in that bar, from 1, as a whole number or a fraction.
    #[schemars(regex(pattern = r"^[0-9]+(/[0-9]+)?$"))]
    beat: String,
    /// What the bar is for.
    turn: Turn,
    /// What it is.
    kind: Kind,
    /// The round, from 1.
    round: u16,
    /// The group, seat, landmark or section it belongs to.
    group: String,
    /// A word's id.
    #[serde(skip_serializing_if = "Option::is_none")]
    word: Option<String>,
    /// The first frame of a word's clip.
    #[serde(skip_serializing_if = "Option::is_none")]
    start: Option<u64>,
    /// Whose tone.
    #[serde(skip_serializing_if = "Option::is_none")]
    section: Option<String>,
    /// What is read.
    #[serde(skip_serializing_if = "Option::is_none")]
    written: Option<String>,
    /// What sounds.
    #[serde(skip_serializing_if = "Option::is_none")]
    concert: Option<String>,
    /// At which frequency.
    #[serde(skip_serializing_if = "Option::is_none")]
    hz: Option<f64>,
    /// Whose turn.
    #[serde(skip_serializing_if = "Option::is_none")]
    sections: Option<Vec<String>>,
    /// The seat, in a roll.
    #[serde(skip_serializing_if = "Option::is_none")]
    seat: Option<u16>,
    /// Whether a click is the bar's first.
    #[serde(skip_serializing_if = "Option::is_none")]
    downbeat: Option<bool>,
}

/// What a bar is for.
#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
#[allow(dead_code, reason = "only its shape is used")]
enum Turn {
    Call,
    Count,
    Model,
    Echo,
    Breath,
    Rest,
    Talk,
    Clap,
    Air,
    Play,
    Percussion,
    Ask,
    Hold,
}

/// What a line of the list is.
#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
#[allow(dead_code, reason = "only its shape is used")]
enum Kind {
    Turn,
    Word,
    Tone,
    Click,
    Breath,
}

/// Each schema with its name: `NAME.schema.json`.
#[must_use]
pub fn all() -> [(&'static str, Schema); 15] {
    [
        ("written", of::<super::written::WrittenOutput>()),
        ("concert", of::<super::concert::ConcertOutput>()),
        ("instruments", of::<super::instruments::InstrumentsOutput>()),
        ("climb", of::<super::climb::ClimbOutput>()),
        ("hear", of::<super::hear::HearOutput>()),
        ("import", of::<super::import::ImportOutput>()),
        ("check", of::<super::check::CheckOutput>()),
        ("doctor", of::<super::doctor::DoctorOutput>()),
        ("cues", of::<CuesOutput>()),
        ("records-summary", of::<super::records::SummaryOutput>()),
        ("records-show", of::<super::records::ShowOutput>()),
        ("records-row", of::<records::Row>()),
        ("records-share", of::<records::ShareRow>()),
        ("records-forget", of::<super::records::ForgetOutput>()),
        ("records-where", of::<super::records::WhereOutput>()),
    ]
}

/// The schema of what is written, not of what would be read: a field that is always there is required.
fn of<T: JsonSchema>() -> Schema {
    SchemaSettings::draft2020_12().for_serialize().into_generator().into_root_schema_for::<T>()
}
