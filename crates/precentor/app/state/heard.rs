//! What the microphone heard: of a seat, of a section that answered alone, of a child that plays freely.

use listen::Shares;
use listen::section::entries::Entries;
use listen::section::heads::Share;
use pitch::{Concert, Written};
use sequencer::SectionIndex;
use units::{Cents, Decibels, Hertz};

use crate::hearing::Judged;
use device::Level;

/// What was heard of a seat's echo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeatHeard {
    /// Which seat, from 1.
    pub seat: u16,
    /// The note asked for, as it is read.
    pub target: Written,
    /// What came.
    pub judged: Judged,
    /// Whether no other note of the echo comes after it.
    pub last: bool,
}

/// What was heard of a section that answered alone, in one note of its echo.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionHeard {
    /// Which section.
    pub section: SectionIndex,
    /// The note asked for, as it is read.
    pub target: Written,
    /// How many play, as the room has it.
    pub heads: u8,
    /// Whether it is the last note of the echo.
    pub last: bool,
    /// Who sat where; nothing if no section was to be heard.
    pub seated: Option<Seated>,
    /// How they came in, where the beat in what is heard is known.
    pub entries: Option<Entries>,
}

/// Who of a section sat on which note.
#[derive(Clone, Debug, PartialEq)]
pub struct Seated {
    /// The share on each note that was told apart, from the lowest.
    pub notes: Vec<SeatedOn>,
    /// How far the section's mean tuning lies above (negative: below) the notes.
    pub tuning: Cents,
    /// The share of the sound that lies on none of the notes.
    pub elsewhere: f64,
}

/// The share of a section on one note.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeatedOn {
    /// As it is read.
    pub written: Written,
    /// The share of heads, 0 to 1.
    pub share: f64,
    /// Between these it lies in nine cases of ten.
    pub bounds: (f64, f64),
    /// How likely this is the largest group, 0 to 1.
    pub leads: f64,
}

impl Seated {
    /// What `shares` say, with the name of every partial.
    #[must_use]
    pub fn new(shares: &Shares, names: &[(Written, u8)]) -> Self {
        let on = |share: &Share| {
            let (written, _) = names.iter().find(|(_, partial)| *partial == share.partial)?;
            Some(SeatedOn { written: *written, share: share.share, bounds: share.bounds, leads: share.leads })
        };
        Self { notes: shares.as_slice().iter().filter_map(on).collect(), tuning: shares.tuning, elsewhere: shares.elsewhere }
    }
}

impl SectionHeard {
    /// The share on the note asked for, if a section was to be heard.
    #[must_use]
    pub fn on_target(&self) -> Option<SeatedOn> {
        self.seated.as_ref()?.notes.iter().copied().find(|note| note.written.semitone() == self.target.semitone())
    }

    /// The note with the largest group beside the one asked for.
    #[must_use]
    pub fn astray(&self) -> Option<SeatedOn> {
        let others = self.seated.as_ref()?.notes.iter().copied().filter(|note| note.written.semitone() != self.target.semitone());
        others.max_by(|a, b| a.share.total_cmp(&b.share))
    }

    /// So many heads are a share.
    #[must_use]
    pub fn heads_of(&self, share: f64) -> u8 {
        (share * f64::from(self.heads)).round().clamp(0.0, f64::from(self.heads)) as u8
    }
}

/// How the microphone stands just now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Input {
    /// The mean level of the last moment in whole dB under the microphone's own full scale; it says nothing of dB in the room. None of
    /// digital silence.
    pub mean: Option<i32>,
    /// The largest sample of it, likewise.
    pub peak: Option<i32>,
    /// Whether the microphone is overdriven.
    pub clips: bool,
    /// Whether a drone sounds that cannot be taken out of what is heard.
    pub under_a_drone: bool,
}

impl Input {
    /// At `level`.
    #[must_use]
    pub fn new(level: Level, under_a_drone: bool) -> Self {
        let whole = |level: Decibels| (level > device::level::NOTHING).then(|| level.0.round() as i32);
        Self { mean: whole(level.rms), peak: whole(level.peak), clips: level.clips(), under_a_drone }
    }
}

/// Who is heard while the drone's screen is open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtTheDesk {
    /// Of which section they are taken to be.
    pub section: SectionIndex,
    /// What sounds just now.
    pub sounding: Option<Sounding>,
}

/// What sounds just now from somebody who plays freely.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sounding {
    /// The note as the instrument reads it.
    pub written: Written,
    /// In the air.
    pub concert: Concert,
    /// The frequency.
    pub frequency: Hertz,
    /// How far it lies above (negative: below) that note.
    pub cents: Cents,
    /// The partial of its usual fingering, on brass.
    pub partial: Option<u8>,
    /// The level of the microphone against full scale; not of the air.
    pub level: Decibels,
}
