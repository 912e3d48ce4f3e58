//! Which measurement each instrument uses, and how it speaks.

use super::{Register, StruckRegister, Timbre, tables};

/// How a timbre is made.
pub(crate) enum Model {
    /// Blown or bowed.
    Sustained(Sustained),
    /// Struck, then left to ring.
    Struck(Struck),
}

/// A blown or bowed timbre.
pub(crate) struct Sustained {
    pub(super) registers: &'static [Register],
    /// Darkens a shared measurement: harmonic k is weaker by k to this power.
    pub(super) darker: f32,
    /// The quickest and slowest attack in seconds: recordings that swell for a third of a second make poor models for beginners.
    pub(super) attack: (f32, f32),
    /// How much of the level the tone gives up in the quarter second after its attack.
    pub(crate) settle: f32,
    /// Least noise, relative to the harmonics: looped recordings have lost theirs.
    pub(super) breath: f32,
}

/// A struck timbre.
pub(crate) struct Struck {
    pub(super) registers: &'static [StruckRegister],
    /// Seconds of attack.
    pub(crate) attack: f32,
}

impl Timbre {
    /// How this timbre is made. The choice of a relative for an instrument without a measurement of its own (cornet, flugelhorn,
    /// baritone, euphonium, bass clarinet) and the figures beside the tables are by ear: common practice, no source.
    pub(crate) fn model(self) -> Model {
        let blown = |registers, darker, attack, settle, breath| Model::Sustained(Sustained { registers, darker, attack, settle, breath });
        let struck = |registers, attack| Model::Struck(Struck { registers, attack });
        match self {
            Self::Piccolo => blown(tables::PICCOLO, 0.0, (0.025, 0.050), 0.04, 0.012),
            Self::Flute => blown(tables::FLUTE, 0.0, (0.040, 0.075), 0.04, 0.020),
            Self::Oboe => blown(tables::OBOE, 0.0, (0.025, 0.045), 0.06, 0.004),
            Self::Bassoon => blown(tables::BASSOON, 0.0, (0.030, 0.060), 0.08, 0.005),
            Self::Clarinet => blown(tables::CLARINET, 0.0, (0.030, 0.060), 0.04, 0.006),
            Self::BassClarinet => blown(tables::CLARINET, 0.25, (0.040, 0.080), 0.04, 0.008),
            Self::SopranoSax => blown(tables::SOPRANO_SAX, 0.0, (0.022, 0.045), 0.10, 0.006),
            Self::AltoSax => blown(tables::ALTO_SAX, 0.0, (0.025, 0.050), 0.10, 0.008),
            Self::TenorSax => blown(tables::TENOR_SAX, 0.0, (0.028, 0.055), 0.10, 0.010),
            Self::BaritoneSax => blown(tables::BARITONE_SAX, 0.0, (0.030, 0.060), 0.10, 0.010),
            Self::Trumpet => blown(tables::TRUMPET, 0.0, (0.022, 0.045), 0.16, 0.003),
            Self::Cornet => blown(tables::TRUMPET, 0.35, (0.028, 0.050), 0.14, 0.004),
            Self::Flugelhorn => blown(tables::TRUMPET, 0.90, (0.035, 0.060), 0.10, 0.006),
            Self::Horn => blown(tables::HORN, 0.0, (0.035, 0.070), 0.10, 0.004),
            Self::Trombone => blown(tables::TROMBONE, 0.0, (0.025, 0.055), 0.16, 0.004),
            Self::Baritone => blown(tables::TROMBONE, 0.50, (0.032, 0.060), 0.12, 0.004),
            Self::Euphonium => blown(tables::HORN, 0.30, (0.035, 0.065), 0.10, 0.004),
            Self::Tuba => blown(tables::TUBA, 0.0, (0.045, 0.080), 0.12, 0.004),
            Self::DoubleBass => blown(tables::DOUBLE_BASS, 0.0, (0.050, 0.090), 0.06, 0.006),
            Self::Glockenspiel => struck(tables::GLOCKENSPIEL, 0.002),
            Self::Xylophone => struck(tables::XYLOPHONE, 0.002),
            Self::Marimba => struck(tables::MARIMBA, 0.004),
            Self::Vibraphone => struck(tables::VIBRAPHONE, 0.003),
            Self::Timpani => struck(tables::TIMPANI, 0.005),
        }
    }
}
