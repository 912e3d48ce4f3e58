//! Key signatures, and spelling within them.

use crate::{Instrument, Pitch, PitchClass};
use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// Major or minor.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Mode {
    /// Major.
    #[default]
    Major,
    /// Minor, with its raised leading note.
    Minor,
}

/// A key: its signature of up to seven flats or sharps, and its mode. C major unless told otherwise.
///
/// ```
/// use pitch::Key;
/// let key: Key = "Bb".parse()?;
/// assert_eq!((key.fifths(), key.to_string()), (-2, "Bb major".to_owned()));
/// assert_eq!("g minor".parse::<Key>()?.fifths(), -2);
/// assert_eq!("C#".parse::<Key>()?.flipped().to_string(), "Db major");
/// assert_eq!("F#".parse::<Key>()?.flipped().to_string(), "F# major");
/// # Ok::<(), pitch::KeyError>(())
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Key {
    fifths: i32,
    mode: Mode,
}

/// Text that names no key.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum KeyError {
    /// Not a note name, or a mode other than major and minor.
    #[error("\"{0}\" is not a key; write Bb, Bb major or G minor, for example")]
    NotAKey(String),
    /// A small letter alone, which some read as minor.
    #[error("\"{given}\" could be major or minor; write {name} major or {name} minor")]
    Unclear {
        /// The text as given.
        given: String,
        /// The tonic in it.
        name: String,
    },
    /// A key of eight or more flats or sharps.
    #[error("{given} would take {count} {kind}; write {instead}, which sounds the same")]
    TooMany {
        /// The key as given.
        given: String,
        /// How many accidentals its signature would have.
        count: i32,
        /// Flats or sharps.
        kind: &'static str,
        /// The enharmonic key that can be written.
        instead: Key,
    },
}

impl Key {
    /// The major key of a signature: sharps counted upward, flats downward. Nothing outside -7 to 7.
    #[must_use]
    pub const fn major(fifths: i32) -> Option<Self> {
        if fifths >= -7 && fifths <= 7 { Some(Self { fifths, mode: Mode::Major }) } else { None }
    }

    /// The minor key of the same signature.
    #[must_use]
    pub const fn relative_minor(self) -> Self {
        Self { fifths: self.fifths, mode: Mode::Minor }
    }

    /// Sharps in the signature, or (negative) flats, -7 to 7.
    #[must_use]
    pub const fn fifths(self) -> i32 {
        self.fifths
    }

    /// Major or minor.
    #[must_use]
    pub const fn mode(self) -> Mode {
        self.mode
    }

    /// The note the key is named after.
    #[must_use]
    pub fn tonic(self) -> PitchClass {
        PitchClass::at_fifths(self.tonic_fifths())
    }

    /// The same key with at most six accidentals: seven sharps become five flats, and the other way round. Six stay as they are
    /// (the threshold is common practice, no source).
    #[must_use]
    pub const fn flipped(self) -> Self {
        Self { fifths: at_most_six(self.fifths), mode: self.mode }
    }

    /// This concert key as `instrument` reads it, flipped to at most six accidentals.
    ///
    /// ```
    /// use pitch::{Instrument, Key};
    /// let concert: Key = "B".parse()?;
    /// let alto = Instrument::find("alto sax")?;
    /// assert_eq!(concert.transposed_for(alto).to_string(), "Ab major");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub const fn transposed_for(self, instrument: &Instrument) -> Self {
        Self { fifths: at_most_six(self.fifths + instrument.key_shift_fifths()), mode: self.mode }
    }

    /// The pitch that sounds `semitone` (60 is middle C), spelled as this key has it.
    ///
    /// Notes of the key are spelled as in its scale (in minor the leading note is raised: B# in C# minor). Of the others, a white
    /// key of the piano takes its natural name, a black one the flat or sharp nearer to the tonic on the line of fifths. Never a
    /// double flat or sharp.
    ///
    /// ```
    /// use pitch::Key;
    /// let key: Key = "Gb".parse()?;
    /// assert_eq!(key.spell(71).to_string(), "Cb5");
    /// assert_eq!(key.spell(69).to_string(), "A4");
    /// # Ok::<(), pitch::KeyError>(())
    /// ```
    #[must_use]
    pub fn spell(self, semitone: i32) -> Pitch {
        self.member(semitone).unwrap_or_else(|| {
            // the twelve places from the flat second to the raised fourth; black keys are sharps from place 6 up
            let lowest = self.tonic_fifths() - 5;
            Pitch::plain(semitone, lowest + (7 * semitone - lowest).rem_euclid(12) < 6)
        })
    }

    /// The note of this key that sounds `semitone`, if there is one.
    pub(crate) fn member(self, semitone: i32) -> Option<Pitch> {
        let scale = self.fifths - 1..=self.fifths + 5;
        let leading_note = match self.mode {
            Mode::Minor => Some(self.tonic_fifths() + 5).filter(|fifths| *fifths <= 12),
            Mode::Major => None,
        };
        let fifths = scale.chain(leading_note).find(|fifths| (7 * fifths - semitone).rem_euclid(12) == 0)?;
        Some(PitchClass::at_fifths(fifths).sounding(semitone))
    }

    /// Place of the tonic on the line of fifths.
    const fn tonic_fifths(self) -> i32 {
        match self.mode {
            Mode::Major => self.fifths,
            Mode::Minor => self.fifths + 3,
        }
    }
}

/// A signature turned into its enharmonic twin until it has six accidentals or fewer.
const fn at_most_six(fifths: i32) -> i32 {
    if fifths > 6 {
        fifths - 12
    } else if fifths < -6 {
        fifths + 12
    } else {
        fifths
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mode = match self.mode {
            Mode::Major => "major",
            Mode::Minor => "minor",
        };
        write!(f, "{} {mode}", self.tonic())
    }
}

impl FromStr for Key {
    type Err = KeyError;

    fn from_str(text: &str) -> Result<Self, KeyError> {
        let not_a_key = || KeyError::NotAKey(text.to_owned());
        let mut words = text.split_whitespace();
        let tonic: PitchClass = words.next().and_then(|name| name.parse().ok()).ok_or_else(not_a_key)?;
        let mode = match (words.next().map(str::to_lowercase).as_deref(), words.next()) {
            (None, _) if text.trim_start().starts_with(|letter: char| letter.is_ascii_lowercase()) => {
                return Err(KeyError::Unclear { given: text.to_owned(), name: tonic.to_string() });
            }
            (None | Some("major"), None) => Mode::Major,
            (Some("minor"), None) => Mode::Minor,
            _ => return Err(not_a_key()),
        };
        let fifths = match mode {
            Mode::Major => tonic.fifths(),
            Mode::Minor => tonic.fifths() - 3,
        };
        if (-7..=7).contains(&fifths) {
            return Ok(Self { fifths, mode });
        }
        let instead = Self { fifths: at_most_six(at_most_six(fifths)), mode };
        let kind = if fifths < 0 { "flats" } else { "sharps" };
        Err(KeyError::TooMany { given: text.to_owned(), count: fifths.abs(), kind, instead })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(text: &str) -> Key {
        text.parse().unwrap()
    }

    #[test]
    fn keys_print_as_they_are_read() {
        for fifths in -7..=7 {
            let major = Key::major(fifths).unwrap();
            for key in [major, major.relative_minor()] {
                assert_eq!(key.to_string().parse::<Key>().unwrap(), key);
                assert!(key.flipped().fifths().abs() <= 6);
            }
        }
        assert_eq!(Key::major(8), None);
        assert_eq!(key("C#  Minor").fifths(), 4);
    }

    #[test]
    fn what_is_no_key_is_answered_with_one() {
        let message = |text: &str| text.parse::<Key>().unwrap_err().to_string();
        assert_eq!(message("G#"), "G# would take 8 sharps; write Ab major, which sounds the same");
        assert_eq!(message("Fb minor"), "Fb minor would take 11 flats; write E minor, which sounds the same");
        assert_eq!(message("g"), "\"g\" could be major or minor; write G major or G minor");
        assert_eq!(message("H"), "\"H\" is not a key; write Bb, Bb major or G minor, for example");
        assert!("Bb dorian".parse::<Key>().is_err() && "Bb major key".parse::<Key>().is_err() && "".parse::<Key>().is_err());
    }

    #[test]
    fn every_note_of_every_key_is_spelled_with_one_accidental_at_most() {
        for fifths in -7..=7 {
            let major = Key::major(fifths).unwrap();
            for key in [major, major.relative_minor()] {
                for semitone in 0..128 {
                    let pitch = key.spell(semitone);
                    assert_eq!(pitch.semitone(), semitone, "{key}");
                    assert!(!pitch.alteration().is_double(), "{key}");
                }
            }
        }
    }

    #[test]
    fn notes_outside_the_key_lean_to_its_side() {
        let spelled = |text: &str, semitone: i32| key(text).spell(semitone).to_string();
        assert_eq!(spelled("C", 66), "F#4");
        assert_eq!(spelled("C", 70), "Bb4");
        assert_eq!(spelled("F", 66), "Gb4");
        assert_eq!(spelled("E", 70), "A#4");
        assert_eq!(spelled("C# minor", 72), "B#4");
        assert_eq!(spelled("F#", 65), "E#4");
    }
}
