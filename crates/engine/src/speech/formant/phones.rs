//! The sounds of speech as targets for the synthesiser.
//!
//! Formants, bandwidths and gains follow the tables of Klatt, D. H. (1980), "Software for a cascade/parallel formant
//! synthesizer", Journal of the Acoustical Society of America 67(3); values from memory, then adjusted until machine
//! recognisers named the words. Spanish and French vowels are typical male values, from memory, no source.

/// How a sound is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// Open tract, voiced.
    Vowel,
    /// A vowel with the nose open.
    NasalVowel,
    /// Approximants: w, y, r, l.
    Glide,
    /// Voice through the nose.
    Nasal,
    /// Noise.
    Fricative,
    /// Noise and voice.
    VoicedFricative,
    /// Closure, burst, breath.
    Stop,
    /// Closure with voice, burst.
    VoicedStop,
    /// Closure, then noise.
    Affricate,
    /// The same with voice.
    VoicedAffricate,
    /// Breath in the shape of what follows.
    Breath,
    /// Nothing.
    Pause,
}

impl Manner {
    /// Whether it is the middle of a syllable.
    #[must_use]
    pub const fn is_vowel(self) -> bool {
        matches!(self, Self::Vowel | Self::NasalVowel)
    }

    /// Whether the tract stays open.
    #[must_use]
    pub const fn is_open(self) -> bool {
        self.is_vowel() || matches!(self, Self::Glide)
    }
}

/// One sound's targets.
#[derive(Debug)]
pub struct Phone {
    /// Its symbol: the English ones are those of the ARPABET, in the field's use.
    pub symbol: &'static str,
    /// How it is made.
    pub manner: Manner,
    /// The lowest three formants where it begins, in hertz.
    pub from: [f64; 3],
    /// Where it ends.
    pub to: [f64; 3],
    /// Their bandwidths, in hertz.
    pub widths: [f64; 3],
    /// Gains of the noise through formants two to six, then past all of them, in decibels; zero is none.
    pub noise: [f64; 6],
    /// How long it lasts when stressed and unhurried, in milliseconds.
    pub lasts: f64,
    /// The least it is shortened to, in milliseconds.
    pub least: f64,
    /// The voice's level in it, in decibels; zero is none.
    pub voicing: f64,
}

impl Phone {
    /// The sound with this symbol.
    #[must_use]
    pub fn named(symbol: &str) -> Option<&'static Self> {
        PHONES.iter().find(|phone| phone.symbol == symbol)
    }
}

const NO_NOISE: [f64; 6] = [0.0; 6];
const SHORTEST_VOWEL: f64 = 55.0;

const fn vowel(symbol: &'static str, from: [f64; 3], to: [f64; 3], widths: [f64; 3], lasts: f64) -> Phone {
    Phone { symbol, manner: Manner::Vowel, from, to, widths, noise: NO_NOISE, lasts, least: SHORTEST_VOWEL, voicing: 60.0 }
}

const fn nasal_vowel(symbol: &'static str, from: [f64; 3], to: [f64; 3], widths: [f64; 3], lasts: f64) -> Phone {
    Phone { symbol, manner: Manner::NasalVowel, from, to, widths, noise: NO_NOISE, lasts, least: SHORTEST_VOWEL, voicing: 59.0 }
}

/// A sound whose formants stand still; `times` are its usual and its least length.
const fn still(
    symbol: &'static str,
    manner: Manner,
    at: [f64; 3],
    widths: [f64; 3],
    noise: [f64; 6],
    times: [f64; 2],
    voicing: f64,
) -> Phone {
    Phone { symbol, manner, from: at, to: at, widths, noise, lasts: times[0], least: times[1], voicing }
}

use Manner::{Affricate, Breath, Fricative, Glide, Nasal, Pause, Stop, VoicedAffricate, VoicedFricative, VoicedStop};

#[rustfmt::skip]
static PHONES: [Phone; 61] = [
    // English vowels
    vowel("IY", [310., 2020., 2960.], [290., 2070., 2960.], [50., 200., 400.], 150.),
    vowel("IH", [400., 1800., 2570.], [450., 1650., 2600.], [50., 100., 140.], 115.),
    vowel("EY", [480., 1720., 2520.], [330., 2050., 2650.], [65., 100., 200.], 185.),
    vowel("EH", [530., 1680., 2500.], [600., 1560., 2530.], [60., 90., 200.], 135.),
    vowel("AE", [620., 1660., 2430.], [660., 1500., 2470.], [70., 130., 320.], 190.),
    vowel("AA", [700., 1220., 2600.], [700., 1220., 2600.], [110., 70., 160.], 190.),
    vowel("AO", [600., 990., 2570.], [630., 1040., 2600.], [90., 100., 80.], 190.),
    vowel("AH", [620., 1220., 2550.], [620., 1220., 2550.], [80., 60., 140.], 130.),
    vowel("AX", [500., 1400., 2500.], [500., 1400., 2500.], [80., 80., 140.], 70.),
    vowel("OW", [540., 1100., 2300.], [430., 850., 2300.], [80., 70., 70.], 180.),
    vowel("UH", [450., 1100., 2350.], [480., 1150., 2390.], [80., 100., 80.], 115.),
    vowel("UW", [350., 1250., 2200.], [320., 900., 2200.], [65., 110., 140.], 160.),
    vowel("ER", [470., 1270., 1540.], [430., 1310., 1540.], [90., 60., 110.], 165.),
    vowel("AY", [680., 1200., 2550.], [370., 1950., 2550.], [90., 80., 200.], 215.),
    vowel("AW", [680., 1280., 2550.], [400., 900., 2350.], [80., 70., 110.], 220.),
    vowel("OY", [550., 900., 2400.], [360., 1850., 2450.], [80., 60., 150.], 230.),
    // Spanish and French vowels; a trailing _ is a pure vowel
    vowel("A_", [720., 1350., 2500.], [720., 1350., 2500.], [90., 80., 150.], 150.),
    vowel("E_", [470., 1850., 2550.], [470., 1880., 2550.], [60., 90., 180.], 140.),
    vowel("I_", [300., 2200., 2950.], [300., 2200., 2950.], [50., 120., 300.], 140.),
    vowel("O_", [480., 950., 2400.], [480., 930., 2400.], [70., 80., 90.], 145.),
    vowel("U_", [330., 800., 2300.], [320., 780., 2300.], [60., 90., 120.], 145.),
    vowel("Y_", [290., 1850., 2250.], [290., 1850., 2250.], [50., 110., 160.], 145.),
    vowel("EU", [370., 1450., 2250.], [370., 1430., 2250.], [60., 80., 120.], 160.),
    vowel("OE", [540., 1420., 2350.], [540., 1420., 2350.], [70., 80., 140.], 150.),
    nasal_vowel("UN", [560., 1380., 2450.], [580., 1330., 2450.], [140., 120., 180.], 200.),
    nasal_vowel("IN", [620., 1560., 2500.], [650., 1480., 2500.], [150., 120., 180.], 190.),
    nasal_vowel("AN", [650., 1030., 2550.], [660., 980., 2550.], [150., 120., 180.], 200.),
    nasal_vowel("ON", [440., 860., 2500.], [430., 800., 2500.], [120., 110., 180.], 200.),
    // glides
    still("W", Glide, [290., 610., 2150.], [50., 80., 60.], NO_NOISE, [80., 45.], 54.),
    still("Y", Glide, [260., 2070., 3020.], [40., 250., 500.], NO_NOISE, [70., 40.], 54.),
    still("R", Glide, [320., 1080., 1400.], [70., 100., 120.], NO_NOISE, [75., 45.], 55.),
    still("L", Glide, [330., 1050., 2880.], [50., 100., 280.], NO_NOISE, [75., 45.], 54.),
    still("YW", Glide, [270., 1750., 2150.], [50., 120., 150.], NO_NOISE, [70., 40.], 54.), // French huit
    still("RR", Glide, [380., 1500., 2400.], [150., 150., 250.], NO_NOISE, [26., 22.], 46.), // a tap
    // nasals
    still("M", Nasal, [300., 1270., 2130.], [60., 200., 200.], NO_NOISE, [80., 45.], 52.),
    still("N", Nasal, [300., 1400., 2470.], [60., 300., 300.], NO_NOISE, [80., 45.], 52.),
    still("NG", Nasal, [300., 2000., 2850.], [60., 300., 300.], NO_NOISE, [90., 50.], 52.),
    still("NY", Nasal, [290., 1950., 2750.], [60., 300., 300.], NO_NOISE, [85., 50.], 52.),
    // noises
    still("F", Fricative, [340., 1100., 2080.], [200., 120., 150.], [0., 0., 0., 0., 0., 58.], [100., 60.], 0.),
    still("V", VoicedFricative, [220., 1100., 2080.], [60., 90., 120.], [0., 0., 0., 0., 0., 52.], [65., 40.], 47.),
    still("TH", Fricative, [320., 1290., 2540.], [200., 90., 200.], [0., 0., 0., 30., 40., 54.], [95., 55.], 0.),
    still("DH", VoicedFricative, [270., 1290., 2540.], [60., 80., 170.], [0., 0., 0., 0., 28., 46.], [50., 30.], 47.),
    still("S", Fricative, [320., 1390., 2530.], [200., 80., 200.], [0., 0., 38., 52., 60., 0.], [115., 65.], 0.),
    still("Z", VoicedFricative, [240., 1390., 2530.], [70., 60., 180.], [0., 0., 34., 48., 56., 0.], [80., 50.], 46.),
    still("SH", Fricative, [300., 1840., 2750.], [200., 100., 300.], [0., 57., 55., 52., 48., 0.], [115., 65.], 0.),
    still("ZH", VoicedFricative, [300., 1840., 2750.], [70., 100., 300.], [0., 52., 50., 46., 42., 0.], [70., 45.], 46.),
    still("KH", Fricative, [480., 1300., 2350.], [200., 150., 250.], [50., 50., 38., 0., 0., 40.], [85., 50.], 0.), // Spanish j
    still("RX", VoicedFricative, [480., 1150., 2350.], [120., 150., 250.], [44., 46., 34., 0., 0., 40.], [70., 40.], 45.), // French r
    // stops
    still("P", Stop, [400., 1000., 2150.], [150., 150., 220.], [0., 0., 0., 0., 0., 62.], [75., 45.], 0.),
    still("B", VoicedStop, [200., 1000., 2150.], [60., 110., 130.], [0., 0., 0., 0., 0., 60.], [65., 40.], 42.),
    still("T", Stop, [400., 1700., 2600.], [150., 120., 250.], [0., 35., 47., 58., 63., 0.], [70., 40.], 0.),
    still("D", VoicedStop, [200., 1700., 2600.], [60., 100., 170.], [0., 45., 55., 58., 58., 0.], [60., 35.], 42.),
    still("K", Stop, [300., 1800., 2500.], [150., 160., 250.], [52., 56., 46., 45., 45., 0.], [75., 45.], 0.),
    still("G", VoicedStop, [200., 1800., 2500.], [60., 150., 220.], [50., 54., 43., 42., 42., 0.], [65., 40.], 42.),
    still("CH", Affricate, [350., 1800., 2820.], [200., 90., 300.], [0., 54., 60., 55., 53., 0.], [130., 80.], 0.),
    still("JH", VoicedAffricate, [260., 1800., 2820.], [60., 80., 270.], [0., 48., 54., 50., 48., 0.], [95., 60.], 42.),
    still("HH", Breath, [0.; 3], [0.; 3], NO_NOISE, [65., 40.], 0.),
    // between the words of a phrase
    still("SIL", Pause, [500., 1500., 2500.], [100., 120., 200.], NO_NOISE, [60., 30.], 0.),
    // unaspirated stops of Spanish and French
    still("P_", Stop, [400., 1000., 2150.], [150., 150., 220.], [0., 0., 0., 0., 0., 60.], [70., 45.], 0.),
    still("T_", Stop, [400., 1500., 2550.], [150., 120., 250.], [0., 40., 50., 56., 58., 0.], [65., 40.], 0.),
    still("K_", Stop, [300., 1800., 2500.], [150., 160., 250.], [52., 56., 46., 45., 45., 0.], [70., 45.], 0.),
];
