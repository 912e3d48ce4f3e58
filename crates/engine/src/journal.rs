//! The journal: every cue and fault of one run with its frame, as JSON Lines. A run is played again from it, sample for sample.
//!
//! The first line is a [`Head`], each line after it an [`Entry`]. A last line that was cut off by a power failure is passed over.

use serde::{Deserialize, Serialize};
use synth::{Bus, DroneChord, DroneTone};
use thiserror::Error;
use units::{Cents, Gain, Hertz, SampleRate};

use crate::command::Dial;

/// The format's version, in every head.
pub const VERSION: u32 = 1;

/// What the whole run was made with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Head {
    /// [`VERSION`].
    pub journal: u32,
    /// Frames per second.
    pub rate: u32,
    /// The version of the program.
    pub program: String,
}

/// Something that was done, and the frame it took hold at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// The frame.
    pub frame: u64,
    /// What was done.
    #[serde(flatten)]
    pub deed: Deed,
}

/// What was done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "lowercase")]
pub enum Deed {
    /// A plan was loaded.
    Load {
        /// How it was made.
        recipe: Recipe,
        /// The bar and tempo it was taken up at, if not its top.
        place: Option<(u32, f64)>,
    },
    /// The plan was exchanged for an edited one.
    Amend {
        /// How it was made.
        recipe: Recipe,
    },
    /// What comes by itself after the plan in force, or nothing.
    Queue {
        /// How it was made.
        recipe: Option<Recipe>,
        /// How many frames from then on the plan in force might begin new rounds.
        within: Option<u64>,
    },
    /// The director's word.
    Cue {
        /// Which.
        cue: String,
    },
    /// Another drone, or none.
    Drone {
        /// What it sounds.
        drone: Option<DroneNote>,
    },
    /// The voice's clips arrived.
    Voice,
    /// A known sound was played to measure with.
    Probe {
        /// Which: `sweep`.
        kind: String,
    },
    /// A remark was said in a rest.
    Say {
        /// Its words, by id.
        words: Vec<String>,
    },
    /// A level changed.
    Level {
        /// `master`, `drone`, `voice`, `click`, `breath`, or `section N` counted from 1.
        dial: String,
        /// The linear gain, exactly as it was.
        gain: f32,
    },
    /// The device was lost and the plan stood.
    Halt {
        /// Why.
        why: String,
    },
    /// Something outside went wrong; nothing to play again.
    Fault {
        /// What.
        fault: String,
    },
    /// The run ended here.
    End,
}

impl Deed {
    /// How the plan it brings was made, if it brings one.
    #[must_use]
    pub const fn recipe(&self) -> Option<&Recipe> {
        match self {
            Self::Load { recipe, .. } | Self::Amend { recipe } | Self::Queue { recipe: Some(recipe), .. } => Some(recipe),
            _ => None,
        }
    }
}

/// How a plan was made, with the whole text of the files it came from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recipe {
    /// `drill`, `roll`, `landmarks`, `in turn`, `drill in turn`, `climb`, `bare climb`, `recheck` or `item`.
    pub kind: String,
    /// The text of the room file.
    pub room: String,
    /// The text of the drill file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drill: Option<String>,
    /// The section it is for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section: Option<String>,
    /// The concert pitch it is for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub concert: Option<String>,
    /// The text of the piece file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<String>,
    /// The passage of the piece, if not all of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub passage: Option<String>,
    /// The tempo, meter and bars of a climb with no piece.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bare: Option<(f64, String, u16)>,
    /// The text of the lesson file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lesson: Option<String>,
    /// Which item of the lesson, from zero.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub item: Option<usize>,
    /// The SoundFont its sections sang from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub soundfont: Option<FontNote>,
}

/// A SoundFont that was used: only the same file sounds the same again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FontNote {
    /// Where it lies.
    pub path: String,
    /// What [`crate::soundfont::SoundFontFile::mark`] says of its content, in hexadecimal.
    pub mark: String,
}

/// A drone as it sounded.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DroneNote {
    root_hz: f64,
    tones: Vec<DroneToneNote>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct DroneToneNote {
    ratio: (u32, u32),
    cents: f64,
    level: f32,
}

/// A journal that cannot be read.
#[derive(Debug, Error)]
pub enum JournalError {
    /// Nothing in it.
    #[error("the journal is empty; choose a file of the journals folder (see: precentor doctor)")]
    Empty,
    /// Another kind of file.
    #[error("this is no journal; choose a file of the journals folder (see: precentor doctor)")]
    NoJournal,
    /// A line that is no journal line.
    #[error("line {line} of the journal is not one this version wrote ({fault}); was the file edited?")]
    Line {
        /// Counted from 1.
        line: usize,
        /// What the reader says.
        fault: serde_json::Error,
    },
    /// Written by another version of the format.
    #[error("the journal has format {found}; this program plays format {VERSION}")]
    Version {
        /// What it says of itself.
        found: u32,
    },
    /// A value in it that cannot be.
    #[error("line {line} of the journal holds {what}; was the file edited?")]
    Value {
        /// Counted from 1.
        line: usize,
        /// What is wrong.
        what: String,
    },
    /// Frames that go backwards.
    #[error("line {line} of the journal goes back in time; was the file edited?")]
    Order {
        /// Counted from 1.
        line: usize,
    },
}

impl DroneNote {
    /// The note of a chord.
    #[must_use]
    pub fn of(chord: &DroneChord) -> Self {
        let tones = chord.tones.iter().flatten();
        let note = |tone: &DroneTone| DroneToneNote { ratio: tone.ratio, cents: tone.detune.0, level: tone.level.amplitude() };
        Self { root_hz: chord.root.hz(), tones: tones.map(note).collect() }
    }

    /// The chord of a note; nothing if it cannot sound.
    #[must_use]
    pub fn chord(&self) -> Option<DroneChord> {
        let root = Hertz::new(self.root_hz).ok()?;
        let mut tones = [None; synth::drone::DRONE_TONES];
        for (slot, tone) in tones.iter_mut().zip(&self.tones) {
            if tone.ratio.0 == 0 || tone.ratio.1 == 0 || !tone.cents.is_finite() {
                return None;
            }
            *slot = Some(DroneTone { ratio: tone.ratio, detune: Cents(tone.cents), level: Gain::new(tone.level) });
        }
        Some(DroneChord { root, tones })
    }
}

impl Deed {
    pub(crate) fn level(dial: Dial, gain: Gain) -> Self {
        Self::Level { dial: dial_name(dial), gain: gain.amplitude() }
    }
}

/// The name of a dial in journals.
#[must_use]
pub fn dial_name(dial: Dial) -> String {
    match dial {
        Dial::Master => "master".to_owned(),
        Dial::Bus(Bus::Drone) => "drone".to_owned(),
        Dial::Bus(Bus::Voice) => "voice".to_owned(),
        Dial::Bus(Bus::Click) => "click".to_owned(),
        Dial::Bus(Bus::Breath) => "breath".to_owned(),
        Dial::Bus(Bus::Section(number)) => format!("section {}", number + 1),
    }
}

/// The dial called `name`.
#[must_use]
pub fn dial_named(name: &str) -> Option<Dial> {
    Dial::all().find(|dial| dial_name(*dial) == name)
}

/// The first line of a journal.
#[must_use]
pub fn head_line(rate: SampleRate, program: &str) -> String {
    line(&Head { journal: VERSION, rate: rate.hz(), program: program.to_owned() })
}

/// A line of a journal, with its line end.
#[must_use]
pub fn entry_line(entry: &Entry) -> String {
    line(entry)
}

fn line(value: &impl Serialize) -> String {
    // these types hold only strings, finite numbers and lists, which always serialise
    serde_json::to_string(value).map(|json| json + "\n").unwrap_or_default()
}

/// Reads a whole journal.
///
/// # Errors
/// [`JournalError`], saying which line.
pub fn read(text: &str) -> Result<(Head, Vec<Entry>), JournalError> {
    let mut lines = text.split_inclusive('\n').enumerate().filter(|(_, line)| !line.trim().is_empty());
    let (_, first) = lines.next().ok_or(JournalError::Empty)?;
    let head: Head = serde_json::from_str(first).map_err(|_| JournalError::NoJournal)?;
    if head.journal != VERSION {
        return Err(JournalError::Version { found: head.journal });
    }
    SampleRate::new(head.rate).map_err(|fault| JournalError::Value { line: 1, what: fault.to_string() })?;
    let mut entries: Vec<Entry> = Vec::new();
    for (index, text) in lines {
        let line = index + 1;
        let entry: Entry = match serde_json::from_str(text) {
            Ok(entry) => entry,
            // the power went while this line was written
            Err(_) if !text.ends_with('\n') => break,
            Err(fault) => return Err(JournalError::Line { line, fault }),
        };
        // a fault is noted when it is heard of, which may be a moment after its frame
        let timed = !matches!(entry.deed, Deed::Fault { .. });
        if timed
            && entries
                .iter()
                .rev()
                .find(|before| !matches!(before.deed, Deed::Fault { .. }))
                .is_some_and(|before| before.frame > entry.frame)
        {
            return Err(JournalError::Order { line });
        }
        entries.push(entry);
    }
    Ok((head, entries))
}
