//! From a concert pitch to hertz.

use crate::{Alteration, Concert, PitchClass, Step};
use std::fmt;
use std::str::FromStr;
use thiserror::Error;
use units::{Cents, Hertz};

/// How the twelve notes of the octave are spaced.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Temperament {
    /// Twelve equal semitones, as on a piano or an electronic tuner.
    #[default]
    Equal,
    /// Pure fifths stacked both ways from the tonic (fourth 4/3, minor third 32/27).
    Pythagorean,
    /// Five-limit just intonation: pure fifths and thirds above the tonic, minor seventh 9/5 (a fifth above the minor third).
    Just,
}

// Semitone by semitone above the tonic. Pythagorean: five fifths down, six up. Just: Ellis's duodene.
const PYTHAGOREAN: [(u32, u32); 12] =
    [(1, 1), (256, 243), (9, 8), (32, 27), (81, 64), (4, 3), (729, 512), (3, 2), (128, 81), (27, 16), (16, 9), (243, 128)];
const JUST: [(u32, u32); 12] = [(1, 1), (16, 15), (9, 8), (6, 5), (5, 4), (4, 3), (45, 32), (3, 2), (8, 5), (5, 3), (9, 5), (15, 8)];

impl Temperament {
    /// All three.
    pub const ALL: [Self; 3] = [Self::Equal, Self::Pythagorean, Self::Just];

    /// The exact frequency ratio of the note `semitones` above the tonic, in lowest terms; nothing for equal temperament, whose
    /// ratios are irrational.
    ///
    /// ```
    /// use pitch::Temperament;
    /// assert_eq!(Temperament::Just.ratio(4), Some((5, 4)));
    /// assert_eq!(Temperament::Just.ratio(16), Some((5, 2)));
    /// assert_eq!(Temperament::Equal.ratio(4), None);
    /// ```
    #[must_use]
    pub fn ratio(self, semitones: u8) -> Option<(u32, u32)> {
        let table = match self {
            Self::Equal => return None,
            Self::Pythagorean => PYTHAGOREAN,
            Self::Just => JUST,
        };
        let (upper, lower) = table[usize::from(semitones % 12)];
        let octaves = u32::from(semitones / 12);
        // halving the lower number first keeps the fraction in lowest terms
        let halved = octaves.min(lower.trailing_zeros());
        Some((upper << (octaves - halved), lower >> halved))
    }

    /// How far the note `semitones` above the tonic lies above it.
    #[must_use]
    pub fn cents(self, semitones: u8) -> Cents {
        match self.ratio(semitones) {
            Some((upper, lower)) => Cents(1200.0 * (f64::from(upper) / f64::from(lower)).log2()),
            None => Cents(100.0 * f64::from(semitones)),
        }
    }
}

impl fmt::Display for Temperament {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Equal => "equal",
            Self::Pythagorean => "pythagorean",
            Self::Just => "just",
        })
    }
}

/// Text that names no temperament.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{0}\" is not a tuning; write equal, just or pythagorean")]
pub struct UnknownTemperament(pub String);

impl FromStr for Temperament {
    type Err = UnknownTemperament;

    fn from_str(text: &str) -> Result<Self, UnknownTemperament> {
        let name = text.to_lowercase();
        Self::ALL.into_iter().find(|temperament| temperament.to_string() == name).ok_or_else(|| UnknownTemperament(text.to_owned()))
    }
}

/// The frequency of A4: 415 to 466 Hz, 440 (ISO 16) unless told otherwise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reference(Hertz);

/// A reference pitch outside 415 to 466 Hz.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error("a reference of {0} Hz is out of bounds; A4 goes from 415 to 466 Hz, and 440 suits most bands")]
pub struct ReferenceError(pub f64);

impl Reference {
    /// A4 at `hz`.
    ///
    /// # Errors
    /// [`ReferenceError`] outside 415 to 466 Hz.
    pub fn new(hz: f64) -> Result<Self, ReferenceError> {
        match Hertz::new(hz) {
            Ok(hertz) if (415.0..=466.0).contains(&hz) => Ok(Self(hertz)),
            _ => Err(ReferenceError(hz)),
        }
    }

    /// The frequency of A4.
    #[must_use]
    pub const fn hertz(self) -> Hertz {
        self.0
    }
}

impl Default for Reference {
    fn default() -> Self {
        Hertz::new(440.0).map(Self).unwrap_or_else(|_| unreachable!("440 Hz is a frequency"))
    }
}

impl fmt::Display for Reference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.hz())
    }
}

/// How concert pitches become frequencies.
///
/// The tonic keeps its equal-tempered frequency in every octave; the other notes stand above it by the ratios of the temperament.
///
/// ```
/// use pitch::{Reference, Temperament, Tuning};
/// let tuning = Tuning { temperament: Temperament::Just, tonic: "F".parse()?, ..Tuning::default() };
/// let (f, a) = (tuning.frequency("F3".parse()?), tuning.frequency("A3".parse()?));
/// assert!((a.hz() / f.hz() - 1.25).abs() < 1e-12);
/// assert!((Tuning::default().frequency("C4".parse()?).hz() - 261.625565).abs() < 1e-6);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tuning {
    /// How the octave is divided.
    pub temperament: Temperament,
    /// The note the ratios stand on; without effect in equal temperament.
    pub tonic: PitchClass,
    /// The frequency of A4 in equal temperament.
    pub reference: Reference,
}

impl Tuning {
    /// The frequency of `concert`.
    #[must_use]
    pub fn frequency(&self, concert: Concert) -> Hertz {
        let semitone = concert.semitone();
        let above_tonic = (semitone - self.tonic.semitone()).rem_euclid(12);
        let tonic = semitone - above_tonic;
        let cents = 100.0 * f64::from(tonic - A4) + self.temperament.cents(above_tonic as u8).0;
        self.reference.hertz().moved(Cents(cents))
    }
}

/// A4 on the MIDI scale.
const A4: i32 = 69;

impl Default for Tuning {
    /// Equal temperament on C, A4 at 440 Hz.
    fn default() -> Self {
        Self { temperament: Temperament::default(), tonic: PitchClass::new(Step::C, Alteration::Natural), reference: Reference::default() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ratios_are_in_lowest_terms_in_every_octave() {
        for temperament in [Temperament::Pythagorean, Temperament::Just] {
            for semitones in 0..=u8::MAX {
                let (upper, lower) = temperament.ratio(semitones).unwrap();
                assert!(upper % 2 == 1 || lower % 2 == 1, "{semitones}: {upper}/{lower}");
                let octaves = f64::from(u32::from(semitones / 12));
                let (first, second) = temperament.ratio(semitones % 12).unwrap();
                let expected = f64::from(first) / f64::from(second) * octaves.exp2();
                assert!((f64::from(upper) / f64::from(lower) - expected).abs() < 1e-9 * expected);
            }
        }
    }

    #[test]
    fn the_tonic_keeps_its_equal_frequency_in_every_octave() {
        let equal = Tuning::default();
        for name in ["Bb1", "Bb3", "Bb6"] {
            for temperament in Temperament::ALL {
                let tuning = Tuning { temperament, tonic: "Bb".parse().unwrap(), ..equal };
                let concert: Concert = name.parse().unwrap();
                assert!(tuning.frequency(concert).cents_above(equal.frequency(concert)).0.abs() < 1e-9);
            }
        }
    }

    #[test]
    fn references_and_names_out_of_bounds_are_mended() {
        assert!(Reference::new(415.0).is_ok() && Reference::new(466.0).is_ok());
        for hz in [414.9, 466.1, f64::NAN, f64::INFINITY, -440.0] {
            assert!(Reference::new(hz).is_err(), "{hz}");
        }
        assert_eq!(
            Reference::new(400.0).unwrap_err().to_string(),
            "a reference of 400 Hz is out of bounds; A4 goes from 415 to 466 Hz, and 440 suits most bands"
        );
        assert_eq!("Just".parse(), Ok(Temperament::Just));
        assert_eq!("well".parse::<Temperament>().unwrap_err().to_string(), "\"well\" is not a tuning; write equal, just or pythagorean");
    }
}
