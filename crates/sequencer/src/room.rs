//! One class: its sections, their instruments, seats, comfortable ranges and landmarks.

use pitch::{Instrument, Reference, Tuning, Written, WrittenRange};
use std::fmt;
use std::num::NonZeroU16;
use units::Decibels;

use crate::{Drone, Language, Mix, Syllables};

/// The most sections one room holds.
pub const MAX_SECTIONS: usize = 24;

/// One class.
#[derive(Clone, Debug, PartialEq)]
pub struct Room {
    /// How the teacher calls the class.
    pub name: String,
    /// The sounding pitch of A4.
    pub reference: Reference,
    /// In score order, at most [`MAX_SECTIONS`].
    pub sections: Vec<Section>,
    /// The drone the room tunes to unless another is chosen.
    pub drone: Drone,
    /// What is said between the beats, in drills that do not say.
    pub syllables: Syllables,
    /// The file of recorded sounds, as the room names it; sections with a preset take their sound from it.
    pub soundfont: Option<String>,
    /// The name of the voice it hears; the built-in English one unless given.
    pub voice: Option<String>,
    /// What that voice speaks: whoever finds the voice sets it before anything is compiled.
    pub language: Language,
    /// How loud each role is.
    pub mix: Mix,
}

/// Players who read the same part.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Unique in its room.
    pub name: String,
    /// What they play.
    pub instrument: &'static Instrument,
    /// How many players; seats are numbered from 1.
    pub seats: NonZeroU16,
    /// The written notes they play without strain.
    pub comfortable: WrittenRange,
    /// Anchor notes, in the order they are played to the section.
    pub landmarks: Vec<Written>,
    /// Its sound in the room's SoundFont; nothing for the built-in one.
    pub preset: Option<PresetId>,
    /// How loud its model is beside the other sections', within [`crate::mix::SECTION_BOUNDS`].
    pub level: Decibels,
    /// Whether it keeps the pulse without help, so that it may play a `percussion` pass alone.
    pub trusted: bool,
}

impl Section {
    /// How many players, for the ear: of more than 255, so many.
    #[must_use]
    pub fn heads(&self) -> u8 {
        u8::try_from(self.seats.get()).unwrap_or(u8::MAX)
    }
}

/// A sound of a SoundFont: its bank and its number there, both from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PresetId {
    /// Its bank.
    pub bank: u16,
    /// Its number in the bank.
    pub number: u16,
}

impl fmt::Display for PresetId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} of bank {}", self.number, self.bank)
    }
}

/// A section's place in its room, from zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SectionIndex(pub u8);

/// Some of a room's sections.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct SectionSet(u32);

impl Room {
    /// Equal temperament at the room's reference: what single notes are played and judged in.
    #[must_use]
    pub fn equal_tuning(&self) -> Tuning {
        Tuning { reference: self.reference, ..Tuning::default() }
    }

    /// The section called `name`, whatever its case.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<SectionIndex> {
        let wanted = name.to_lowercase();
        self.sections.iter().position(|section| section.name.to_lowercase() == wanted).map(|index| SectionIndex(index as u8))
    }

    /// The section at `index`, if the room has it.
    #[must_use]
    pub fn section(&self, index: SectionIndex) -> Option<&Section> {
        self.sections.get(usize::from(index.0))
    }

    /// Every section with its index.
    pub fn indexed(&self) -> impl Iterator<Item = (SectionIndex, &Section)> {
        self.sections.iter().enumerate().map(|(index, section)| (SectionIndex(index as u8), section))
    }

    /// All sections of the room.
    #[must_use]
    pub fn everyone(&self) -> SectionSet {
        self.indexed().map(|(index, _)| index).collect()
    }
}

impl Section {
    /// The lowest and highest sounding note it plays without strain, on the MIDI scale.
    #[must_use]
    pub fn comfortable_semitones(&self) -> (i32, i32) {
        let sounding = |written| self.instrument.sounding(written).semitone();
        (sounding(self.comfortable.low()), sounding(self.comfortable.high()))
    }
}

impl SectionSet {
    /// No section.
    pub const EMPTY: Self = Self(0);

    /// Whether `section` is among them.
    #[must_use]
    pub fn contains(self, section: SectionIndex) -> bool {
        u32::from(section.0) < u32::BITS && self.0 & (1 << section.0) != 0
    }

    /// The sections, in score order.
    pub fn iter(self) -> impl Iterator<Item = SectionIndex> {
        (0..u32::BITS as u8).map(SectionIndex).filter(move |section| self.contains(*section))
    }

    /// How many there are.
    #[must_use]
    pub fn len(self) -> usize {
        self.0.count_ones() as usize
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }
}

impl FromIterator<SectionIndex> for SectionSet {
    fn from_iter<I: IntoIterator<Item = SectionIndex>>(sections: I) -> Self {
        Self(sections.into_iter().filter(|section| usize::from(section.0) < MAX_SECTIONS).fold(0, |bits, section| bits | 1 << section.0))
    }
}
