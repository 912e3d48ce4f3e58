//! Steps, alterations, pitch classes and pitches as they are spelled. Octaves are scientific: middle C is C4, MIDI note 60,
//! and the octave number belongs to the letter, so that Cb4 sounds as B3.

use crate::Interval;
use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;
use thiserror::Error;
use units::MidiNumber;

/// A letter name, in the order of the octave.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Step {
    /// C, where an octave begins.
    C,
    /// D.
    D,
    /// E.
    E,
    /// F.
    F,
    /// G.
    G,
    /// A.
    A,
    /// B, where an octave ends.
    B,
}

impl Step {
    /// All seven, from C up.
    pub const ALL: [Self; 7] = [Self::C, Self::D, Self::E, Self::F, Self::G, Self::A, Self::B];

    /// Letters above C: 0 for C to 6 for B.
    #[must_use]
    pub const fn index(self) -> i32 {
        self as i32
    }

    /// Semitones of the natural note above C: 0, 2, 4, 5, 7, 9 or 11.
    #[must_use]
    pub const fn semitone(self) -> i32 {
        [0, 2, 4, 5, 7, 9, 11][self as usize]
    }

    const fn from_letter(letter: u8) -> Option<Self> {
        Some(match letter.to_ascii_uppercase() {
            b'C' => Self::C,
            b'D' => Self::D,
            b'E' => Self::E,
            b'F' => Self::F,
            b'G' => Self::G,
            b'A' => Self::A,
            b'B' => Self::B,
            _ => return None,
        })
    }
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self, f)
    }
}

/// How far a note is raised or lowered from its letter. Natural is a value like the others.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Alteration {
    /// Two semitones lower, `bb`.
    DoubleFlat,
    /// A semitone lower, `b`.
    Flat,
    /// As the letter stands, nothing written.
    #[default]
    Natural,
    /// A semitone higher, `#`.
    Sharp,
    /// Two semitones higher, `##`.
    DoubleSharp,
}

impl Alteration {
    /// Semitones above the natural note, -2 to 2.
    #[must_use]
    pub const fn semitones(self) -> i32 {
        self as i32 - 2
    }

    /// The alteration by `semitones`, or nothing outside -2 to 2.
    #[must_use]
    pub const fn from_semitones(semitones: i32) -> Option<Self> {
        Some(match semitones {
            -2 => Self::DoubleFlat,
            -1 => Self::Flat,
            0 => Self::Natural,
            1 => Self::Sharp,
            2 => Self::DoubleSharp,
            _ => return None,
        })
    }

    /// Whether this is more than one flat or sharp.
    #[must_use]
    pub const fn is_double(self) -> bool {
        matches!(self, Self::DoubleFlat | Self::DoubleSharp)
    }

    /// The leading accidental of `text`, and how many bytes it takes; nothing for three or a mixture.
    const fn leading(text: &[u8]) -> Option<(Self, usize)> {
        let (mut flats, mut sharps, mut at) = (0, 0, 0);
        while at < text.len() {
            match text[at] {
                b'b' => flats += 1,
                b'#' => sharps += 1,
                _ => break,
            }
            at += 1;
        }
        if flats > 0 && sharps > 0 {
            return None;
        }
        match Self::from_semitones(sharps - flats) {
            Some(alteration) => Some((alteration, at)),
            None => None,
        }
    }
}

impl fmt::Display for Alteration {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(["bb", "b", "", "#", "##"][*self as usize])
    }
}

/// A note name without its octave, as spelled: B flat and A sharp are two.
///
/// ```
/// use pitch::PitchClass;
/// let b_flat: PitchClass = "Bb".parse()?;
/// assert_eq!((b_flat.semitone(), b_flat.to_string()), (10, "Bb".to_owned()));
/// # Ok::<(), pitch::PitchError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PitchClass {
    step: Step,
    alteration: Alteration,
}

impl PitchClass {
    /// The name `step` with `alteration`.
    #[must_use]
    pub const fn new(step: Step, alteration: Alteration) -> Self {
        Self { step, alteration }
    }

    /// The letter.
    #[must_use]
    pub const fn step(self) -> Step {
        self.step
    }

    /// How the letter is altered.
    #[must_use]
    pub const fn alteration(self) -> Alteration {
        self.alteration
    }

    /// Semitones above C within the octave, 0 to 11.
    #[must_use]
    pub const fn semitone(self) -> i32 {
        (self.step.semitone() + self.alteration.semitones()).rem_euclid(12)
    }

    /// Place on the line of fifths, C being 0, G 1, F -1, B flat -2.
    #[must_use]
    pub(crate) const fn fifths(self) -> i32 {
        [0, 2, 4, -1, 1, 3, 5][self.step as usize] + 7 * self.alteration.semitones()
    }

    /// The name at a place on the line of fifths.
    ///
    /// # Panics
    /// Outside -15 to 19, where a triple accidental would be needed; keys and single accidentals reach -8 to 12.
    pub(crate) const fn at_fifths(fifths: i32) -> Self {
        let Some(alteration) = Alteration::from_semitones((fifths + 1).div_euclid(7)) else { panic!("a triple accidental") };
        Self::new(Step::ALL[(4 * fifths).rem_euclid(7) as usize], alteration)
    }

    /// The pitch of this name that sounds `semitone` (60 is middle C).
    ///
    /// The caller promises that the name sounds that semitone in some octave.
    pub(crate) fn sounding(self, semitone: i32) -> Pitch {
        let octave = (semitone - self.step.semitone() - self.alteration.semitones()).div_euclid(12) - 1;
        Pitch { class: self, octave }
    }
}

impl fmt::Display for PitchClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.step, self.alteration)
    }
}

impl FromStr for PitchClass {
    type Err = PitchError;

    fn from_str(text: &str) -> Result<Self, PitchError> {
        match split(&ascii(text)) {
            Ok((class, "")) => Ok(class),
            Ok((class, octave)) if octave.parse::<i32>().is_ok() => {
                Err(PitchError::UnwantedOctave { given: text.to_owned(), name: class.to_string() })
            }
            Ok(_) => Err(PitchError::NotAName(text.to_owned())),
            Err(Unsplit::Letter) => Err(PitchError::NotAName(text.to_owned())),
            Err(Unsplit::Accidental) => Err(PitchError::Accidental(text.to_owned())),
        }
    }
}

/// A pitch as spelled: letter, alteration and octave.
///
/// Pitches made or read lie in octaves -1 to 9; transposing may carry one further. Equality is of spelling: A#3 is not Bb3.
/// There is deliberately no order on spellings; compare [`Pitch::semitone`], or use [`Pitch::cmp_by_sound`].
///
/// ```
/// use pitch::Pitch;
/// let pitch: Pitch = "Cb5".parse()?;
/// assert_eq!(pitch.semitone(), 71);
/// assert_eq!("F##4".parse::<Pitch>()?.to_string(), "F##4");
/// assert_eq!("Bb".parse::<Pitch>().unwrap_err().to_string(),
///     "\"Bb\" has no octave; write Bb3 or Bb4, for example (middle C is C4)");
/// # Ok::<(), pitch::PitchError>(())
/// ```
///
/// ```compile_fail
/// let a: pitch::Pitch = "C4".parse().unwrap();
/// let higher = a > a;
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Pitch {
    class: PitchClass,
    octave: i32,
}

/// Text that is no pitch or pitch name.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum PitchError {
    /// No letter A to G in front, or something after the octave.
    #[error("\"{0}\" is not a pitch; write a letter A to G, b or # if altered, and an octave, such as Bb3, F#4 or C4")]
    NotAPitch(String),
    /// No letter A to G in front, or something after the accidental.
    #[error("\"{0}\" is not a note name; write a letter A to G, and b or # if altered, such as Bb, F# or C")]
    NotAName(String),
    /// Three accidentals, or flats mixed with sharps.
    #[error("\"{0}\" has accidentals that no note carries; write b, bb, # or ## after the letter, or nothing")]
    Accidental(String),
    /// A name without its octave.
    #[error("\"{0}\" has no octave; write {0}3 or {0}4, for example (middle C is C4)")]
    NoOctave(String),
    /// A name with an octave where none belongs.
    #[error("\"{given}\" has an octave, which a note name does not take here; write {name}")]
    UnwantedOctave {
        /// The text as given.
        given: String,
        /// The name in it.
        name: String,
    },
    /// An octave outside -1 to 9.
    #[error("\"{0}\" is out of bounds; octaves go from -1 to 9, and middle C is C4")]
    OctaveOutOfBounds(String),
}

impl Pitch {
    /// The pitch `step` with `alteration` in `octave`.
    ///
    /// # Errors
    /// [`PitchError::OctaveOutOfBounds`] for an octave outside -1 to 9.
    pub fn new(step: Step, alteration: Alteration, octave: i32) -> Result<Self, PitchError> {
        let pitch = Self { class: PitchClass::new(step, alteration), octave };
        if (-1..=9).contains(&octave) { Ok(pitch) } else { Err(PitchError::OctaveOutOfBounds(pitch.to_string())) }
    }

    /// A pitch of the tables in this crate, checked when compiled: letter, accidental, one digit of octave.
    ///
    /// # Panics
    /// If `text` is none, which stops the compilation.
    pub(crate) const fn constant(text: &str) -> Self {
        let bytes = text.as_bytes();
        let Some(step) = Step::from_letter(bytes[0]) else { panic!("no letter") };
        let Some((alteration, length)) = Alteration::leading(bytes.split_at(1).1) else { panic!("no such accidental") };
        assert!(bytes.len() == length + 2 && bytes[length + 1].is_ascii_digit(), "no octave");
        Self { class: PitchClass::new(step, alteration), octave: (bytes[length + 1] - b'0') as i32 }
    }

    /// The letter.
    #[must_use]
    pub const fn step(self) -> Step {
        self.class.step
    }

    /// How the letter is altered.
    #[must_use]
    pub const fn alteration(self) -> Alteration {
        self.class.alteration
    }

    /// The octave of the letter; middle C begins octave 4.
    #[must_use]
    pub const fn octave(self) -> i32 {
        self.octave
    }

    /// The name without its octave.
    #[must_use]
    pub const fn class(self) -> PitchClass {
        self.class
    }

    /// Semitones on the MIDI scale, where C4 is 60 and A4 is 69. May lie outside 0 to 127.
    #[must_use]
    pub const fn semitone(self) -> i32 {
        12 * (self.octave + 1) + self.class.step.semitone() + self.class.alteration.semitones()
    }

    /// The MIDI note number, or nothing where MIDI has none.
    #[must_use]
    pub fn midi(self) -> Option<MidiNumber> {
        MidiNumber::new(self.semitone())
    }

    /// Which sounds higher, whatever the spelling; enharmonic twins are equal here.
    #[must_use]
    pub fn cmp_by_sound(self, other: Self) -> Ordering {
        self.semitone().cmp(&other.semitone())
    }

    /// This pitch moved by an interval, letter by letter: C4 moved down a major second is Bb3, never A#3.
    ///
    /// Where the letter would need a triple accidental, the nearest spelling with at most one is given instead.
    ///
    /// ```
    /// use pitch::{Interval, Pitch};
    /// let pitch: Pitch = "Gb4".parse()?;
    /// assert_eq!(pitch.transposed(Interval::new(-5, -9)).to_string(), "Bbb3");
    /// # Ok::<(), pitch::PitchError>(())
    /// ```
    #[must_use]
    pub fn transposed(self, by: Interval) -> Self {
        let letters = 7 * self.octave + self.step().index() + by.diatonic();
        let step = Step::ALL[letters.rem_euclid(7) as usize];
        let octave = letters.div_euclid(7);
        let semitone = self.semitone() + by.semitones();
        let alteration = semitone - (12 * (octave + 1) + step.semitone());
        match Alteration::from_semitones(alteration) {
            Some(alteration) => Self { class: PitchClass::new(step, alteration), octave },
            None => Self::plain(semitone, alteration < 0),
        }
    }

    /// This pitch with at most one accidental: Bbb3 becomes A3, F##4 becomes G4; what has one or none stays as spelled.
    #[must_use]
    pub fn simple(self) -> Self {
        if self.alteration().is_double() { Self::plain(self.semitone(), matches!(self.alteration(), Alteration::DoubleFlat)) } else { self }
    }

    /// The natural note at `semitone`, or its flat or sharp spelling where there is none.
    pub(crate) fn plain(semitone: i32, flat: bool) -> Self {
        // the white keys are -1 to 5 on the line of fifths (F to B), the black -6 to -2 as flats, 6 to 10 as sharps
        let white = (-1..=5).find(|fifths| (7 * fifths - semitone).rem_euclid(12) == 0);
        let fifths = white.unwrap_or_else(|| {
            let lowest = if flat { -6 } else { 6 };
            lowest + (7 * semitone - lowest).rem_euclid(12)
        });
        PitchClass::at_fifths(fifths).sounding(semitone)
    }
}

impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.class, self.octave)
    }
}

impl FromStr for Pitch {
    type Err = PitchError;

    fn from_str(text: &str) -> Result<Self, PitchError> {
        let plain = ascii(text);
        let (class, octave) = match split(&plain) {
            Ok(parts) => parts,
            Err(Unsplit::Letter) => return Err(PitchError::NotAPitch(text.to_owned())),
            Err(Unsplit::Accidental) => return Err(PitchError::Accidental(text.to_owned())),
        };
        if octave.is_empty() {
            return Err(PitchError::NoOctave(class.to_string()));
        }
        let digits = octave.strip_prefix('-').unwrap_or(octave);
        if digits.is_empty() || !digits.bytes().all(|digit| digit.is_ascii_digit()) {
            return Err(PitchError::NotAPitch(text.to_owned()));
        }
        match octave.parse() {
            Ok(octave) if (-1..=9).contains(&octave) => Ok(Self { class, octave }),
            _ => Err(PitchError::OctaveOutOfBounds(text.to_owned())),
        }
    }
}

/// Why text could not be split into a name and the rest.
enum Unsplit {
    Letter,
    Accidental,
}

/// The printed signs for flat and sharp as the letters typed for them.
fn ascii(text: &str) -> String {
    text.replace('♭', "b").replace('♯', "#")
}

/// The name in front of `text`, and the rest.
fn split(text: &str) -> Result<(PitchClass, &str), Unsplit> {
    let step = text.bytes().next().and_then(Step::from_letter).ok_or(Unsplit::Letter)?;
    let (alteration, length) = Alteration::leading(&text.as_bytes()[1..]).ok_or(Unsplit::Accidental)?;
    Ok((PitchClass::new(step, alteration), &text[1 + length..]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_pitch_is_read_as_it_is_printed() {
        for octave in -1..=9 {
            for step in Step::ALL {
                for alteration in -2..=2 {
                    let pitch = Pitch::new(step, Alteration::from_semitones(alteration).unwrap(), octave).unwrap();
                    assert_eq!(pitch.to_string().parse::<Pitch>().unwrap(), pitch);
                    assert_eq!(pitch.class().sounding(pitch.semitone()), pitch);
                    assert_eq!(pitch.simple().semitone(), pitch.semitone());
                    assert!(!pitch.simple().alteration().is_double());
                }
            }
        }
    }

    #[test]
    fn what_is_no_pitch_is_answered_with_one() {
        let message = |text: &str| text.parse::<Pitch>().unwrap_err().to_string();
        let no_pitch = " is not a pitch; write a letter A to G, b or # if altered, and an octave, such as Bb3, F#4 or C4";
        for text in ["H3", "", "4", "C4x", "C-", "C 4", "C+4", "é4", "Cé"] {
            assert_eq!(message(text), format!("\"{text}\"{no_pitch}"));
        }
        let accidentals = " has accidentals that no note carries; write b, bb, # or ## after the letter, or nothing";
        for text in ["C#b4", "Dbbb4", "F###4"] {
            assert_eq!(message(text), format!("\"{text}\"{accidentals}"));
        }
        for text in ["C10", "C-2", "C99999999999"] {
            assert_eq!(message(text), format!("\"{text}\" is out of bounds; octaves go from -1 to 9, and middle C is C4"));
        }
        assert_eq!(
            "Bb3".parse::<PitchClass>().unwrap_err().to_string(),
            "\"Bb3\" has an octave, which a note name does not take here; write Bb"
        );
        assert!("Bx".parse::<PitchClass>().is_err() && "".parse::<PitchClass>().is_err());
    }

    #[test]
    fn small_letters_and_printed_signs_are_read() {
        assert_eq!("bb3".parse::<Pitch>().unwrap().to_string(), "Bb3");
        assert_eq!("F♯4".parse::<Pitch>().unwrap().to_string(), "F#4");
    }

    #[test]
    fn a_triple_accidental_is_respelled() {
        let pitch: Pitch = "Fbb4".parse().unwrap();
        let moved = pitch.transposed(Interval::new(-5, -9));
        assert_eq!((moved.to_string().as_str(), moved.semitone()), ("Gb3", pitch.semitone() - 9));
    }

    #[test]
    fn sounds_are_compared_and_not_spellings() {
        let (low, high): (Pitch, Pitch) = ("B#3".parse().unwrap(), "Cb4".parse().unwrap());
        assert_eq!(low.cmp_by_sound(high), Ordering::Greater);
        assert_eq!(low.cmp_by_sound("C4".parse().unwrap()), Ordering::Equal);
        assert_eq!(low.midi().map(|midi| midi.number()), Some(60));
        assert_eq!("B9".parse::<Pitch>().unwrap().midi(), None);
    }
}
