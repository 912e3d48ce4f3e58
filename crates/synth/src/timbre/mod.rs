//! The instruments a tone can imitate.
//!
//! `tables` holds what was measured, `model` says which measurement each instrument uses, `spectrum` turns both into the harmonics of one
//! tone from its first frame to its last, `strike` into the partials of a struck one, all timbres equally loud. Loudness is the rms of
//! the harmonics behind the K weighting of ITU-R BS.1770-5.

mod model;
mod spectrum;
mod strike;
#[allow(clippy::approx_constant)] // measured, whatever they resemble
mod tables;

pub(crate) use model::{Model, Sustained};
pub(crate) use spectrum::{Moment, Spectrum, equal_loudness};
pub(crate) use strike::{MODES, Mode, Strike};

/// What was measured of a sustained tone at one pitch.
struct Register {
    /// Its pitch in hertz.
    hz: f32,
    /// Rms of its noise relative to its harmonics.
    noise: f32,
    /// Rms of the noise of its attack (tongue, breath, bow) over that, soft, medium and loud.
    burst: [f32; 3],
    /// Seconds in which the noise of its attack falls to 1/e.
    burst_fall: f32,
    /// Centre of that noise's spectrum by amplitude, under 8 kHz, in hertz.
    hiss: f32,
    /// How much stronger than in the long run it is after its attack.
    settle: f32,
    /// Seconds in which it falls from 90 to 10 % of its level once it is let go.
    release: f32,
    /// When each harmonic begins and ends to rise, in seconds from the tone's start; what follows the last rises with it.
    speaks: &'static [(f32, f32)],
    /// Strengths of its harmonics when soft, their rms 1; what follows the last is not heard.
    soft: &'static [f32],
    /// The same at a medium strength.
    medium: &'static [f32],
    /// The same when loud.
    loud: &'static [f32],
}

/// What was measured of a struck tone at one pitch.
struct StruckRegister {
    /// Its pitch in hertz.
    hz: f32,
    /// Seconds of attack, soft, medium and loud.
    attacks: [f32; 3],
    /// Its partials, the lowest first.
    partials: &'static [Partial],
}

/// One partial of a struck tone.
struct Partial {
    /// Its frequency relative to the lowest.
    ratio: f32,
    /// Its strength as it is struck, soft, medium and loud, relative to the strongest.
    amplitudes: [f32; 3],
    /// Seconds in which it falls by 60 dB.
    fall: f32,
}

/// What a tone sounds like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Timbre {
    /// Piccolo.
    Piccolo,
    /// Flute.
    Flute,
    /// Oboe.
    Oboe,
    /// Bassoon.
    Bassoon,
    /// Soprano clarinets.
    Clarinet,
    /// Bass clarinet.
    BassClarinet,
    /// Soprano saxophone.
    SopranoSax,
    /// Alto saxophone.
    AltoSax,
    /// Tenor saxophone.
    TenorSax,
    /// Baritone saxophone.
    BaritoneSax,
    /// Trumpet.
    Trumpet,
    /// Cornet.
    Cornet,
    /// Flugelhorn.
    Flugelhorn,
    /// Horn.
    Horn,
    /// Trombone.
    Trombone,
    /// Baritone horn.
    Baritone,
    /// Euphonium.
    Euphonium,
    /// Tuba.
    Tuba,
    /// Double bass, bowed.
    DoubleBass,
    /// Glockenspiel.
    Glockenspiel,
    /// Xylophone.
    Xylophone,
    /// Marimba.
    Marimba,
    /// Vibraphone.
    Vibraphone,
    /// Timpani.
    Timpani,
}

impl Timbre {
    /// Every timbre, in score order.
    pub const ALL: [Self; 24] = [
        Self::Piccolo,
        Self::Flute,
        Self::Oboe,
        Self::Bassoon,
        Self::Clarinet,
        Self::BassClarinet,
        Self::SopranoSax,
        Self::AltoSax,
        Self::TenorSax,
        Self::BaritoneSax,
        Self::Trumpet,
        Self::Cornet,
        Self::Flugelhorn,
        Self::Horn,
        Self::Trombone,
        Self::Baritone,
        Self::Euphonium,
        Self::Tuba,
        Self::DoubleBass,
        Self::Glockenspiel,
        Self::Xylophone,
        Self::Marimba,
        Self::Vibraphone,
        Self::Timpani,
    ];

    /// The instrument's name in plain lower-case words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Piccolo => "piccolo",
            Self::Flute => "flute",
            Self::Oboe => "oboe",
            Self::Bassoon => "bassoon",
            Self::Clarinet => "clarinet",
            Self::BassClarinet => "bass clarinet",
            Self::SopranoSax => "soprano saxophone",
            Self::AltoSax => "alto saxophone",
            Self::TenorSax => "tenor saxophone",
            Self::BaritoneSax => "baritone saxophone",
            Self::Trumpet => "trumpet",
            Self::Cornet => "cornet",
            Self::Flugelhorn => "flugelhorn",
            Self::Horn => "horn",
            Self::Trombone => "trombone",
            Self::Baritone => "baritone",
            Self::Euphonium => "euphonium",
            Self::Tuba => "tuba",
            Self::DoubleBass => "double bass",
            Self::Glockenspiel => "glockenspiel",
            Self::Xylophone => "xylophone",
            Self::Marimba => "marimba",
            Self::Vibraphone => "vibraphone",
            Self::Timpani => "timpani",
        }
    }

    /// The timbre for an instrument of the instrument table, by its id (`horn_f`, `trumpet_bb`, `sax_alto` ...).
    #[must_use]
    pub fn for_instrument(id: &str) -> Option<Self> {
        Some(match id {
            "piccolo" => Self::Piccolo,
            "flute" => Self::Flute,
            "oboe" => Self::Oboe,
            "bassoon" => Self::Bassoon,
            "clarinet_eb" | "clarinet_bb" => Self::Clarinet,
            "clarinet_alto_eb" | "bass_clarinet_treble" | "bass_clarinet_bass" => Self::BassClarinet,
            "sax_soprano" => Self::SopranoSax,
            "sax_alto" => Self::AltoSax,
            "sax_tenor" => Self::TenorSax,
            "sax_baritone" => Self::BaritoneSax,
            "trumpet_bb" => Self::Trumpet,
            "cornet_bb" => Self::Cornet,
            "flugelhorn_bb" => Self::Flugelhorn,
            "horn_f" | "horn_f_bass_new" | "horn_f_bass_old" => Self::Horn,
            "trombone" => Self::Trombone,
            "baritone_bc" | "baritone_tc" => Self::Baritone,
            "euphonium_bc" | "euphonium_tc" => Self::Euphonium,
            "tuba" => Self::Tuba,
            "double_bass" => Self::DoubleBass,
            "glockenspiel" => Self::Glockenspiel,
            "xylophone" => Self::Xylophone,
            "marimba" => Self::Marimba,
            "vibraphone" => Self::Vibraphone,
            "timpani" => Self::Timpani,
            _ => return None,
        })
    }
}
