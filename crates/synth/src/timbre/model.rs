//! Which measurement each instrument uses, and how it speaks.

use super::{Register, StruckRegister, Timbre, tables};

/// How a timbre is made.
pub(crate) enum Model {
    /// Blown or bowed.
    Sustained(Sustained),
    /// Struck, then left to ring.
    Struck(Struck),
}

/// A blown or bowed timbre: a measured instrument, or one derived from a measured relative.
pub(crate) struct Sustained {
    pub(super) registers: &'static [Register],
    /// The relative is asked for the pitch times this: half for an instrument of half its size.
    pub(super) pitch: f32,
    /// Harmonic k is weaker than the relative's by k to this power: a wider bore, a softer edge.
    pub(super) darker: f32,
}

/// A struck timbre.
pub(crate) struct Struck {
    pub(super) registers: &'static [StruckRegister],
}

impl Timbre {
    /// How this timbre is made.
    ///
    /// Five instruments have no recording of their own in the measured collection. Each is derived from a measured relative by one of two
    /// rules: a tube of the same kind but half (twice) as long has the other's spectrum an octave up (down), as every length of the
    /// instrument scales alike; a more conical bore takes an even slope off the upper harmonics. Which relative, and how steep the slope,
    /// is by ear: common practice, no source.
    pub(crate) fn model(self) -> Model {
        let measured = |registers| Model::Sustained(Sustained { registers, pitch: 1.0, darker: 0.0 });
        let sized = |registers, pitch| Model::Sustained(Sustained { registers, pitch, darker: 0.0 });
        let conical = |registers, darker| Model::Sustained(Sustained { registers, pitch: 1.0, darker });
        let struck = |registers| Model::Struck(Struck { registers });
        match self {
            Self::Piccolo => measured(tables::PICCOLO),
            Self::Flute => measured(tables::FLUTE),
            Self::Oboe => measured(tables::OBOE),
            Self::Bassoon => measured(tables::BASSOON),
            Self::Clarinet => measured(tables::CLARINET),
            // derived: a clarinet twice as long
            Self::BassClarinet => sized(tables::CLARINET, 2.0),
            Self::SopranoSax => measured(tables::SOPRANO_SAX),
            Self::AltoSax => measured(tables::ALTO_SAX),
            Self::TenorSax => measured(tables::TENOR_SAX),
            Self::BaritoneSax => measured(tables::BARITONE_SAX),
            Self::Trumpet => measured(tables::TRUMPET),
            // derived: a trumpet with a bore that widens sooner, 2 dB an octave darker
            Self::Cornet => conical(tables::TRUMPET, 0.35),
            // derived: a trumpet with a bore that widens throughout, 5 dB an octave darker
            Self::Flugelhorn => conical(tables::TRUMPET, 0.90),
            Self::Horn => measured(tables::HORN),
            Self::Trombone => measured(tables::TROMBONE),
            // derived: a trombone with a bore that widens sooner, 3 dB an octave darker
            Self::Baritone => conical(tables::TROMBONE, 0.50),
            // derived: a tuba half as long
            Self::Euphonium => sized(tables::TUBA, 0.5),
            Self::Tuba => measured(tables::TUBA),
            Self::DoubleBass => measured(tables::DOUBLE_BASS),
            Self::Glockenspiel => struck(tables::GLOCKENSPIEL),
            Self::Xylophone => struck(tables::XYLOPHONE),
            Self::Marimba => struck(tables::MARIMBA),
            Self::Vibraphone => struck(tables::VIBRAPHONE),
            Self::Timpani => struck(tables::TIMPANI),
        }
    }
}
