//! The instruments: how each reads, sounds and is called.

mod names;
mod table;

use crate::fingering::Brass;
use crate::{Concert, Interval, Key, Written, WrittenRange};
use std::fmt;
use std::hash::{Hash, Hasher};

pub use names::UnknownInstrument;

/// The kind of instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Family {
    /// Flutes and reeds.
    Woodwind,
    /// Cup mouthpieces.
    Brass,
    /// Strings.
    Strings,
    /// What is struck.
    Percussion,
}

impl fmt::Display for Family {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Woodwind => "woodwind",
            Self::Brass => "brass",
            Self::Strings => "strings",
            Self::Percussion => "percussion",
        })
    }
}

/// The clef a part is read in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Clef {
    /// G on the second line.
    Treble,
    /// F on the fourth line.
    Bass,
}

impl fmt::Display for Clef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Treble => "treble",
            Self::Bass => "bass",
        })
    }
}

/// One way of reading one instrument: the euphonium in bass clef and the euphonium in treble clef are two.
///
/// Only the table makes them; everywhere else they are `&'static`.
///
/// ```
/// use pitch::Instrument;
/// let horn = Instrument::find("horn in F")?;
/// assert_eq!(horn.sounding("G4".parse()?), "C4".parse()?);
/// assert_eq!(horn.writing("F4".parse()?), "C5".parse()?);
/// assert_eq!(Instrument::find("horm").unwrap_err().to_string(),
///     "\"horm\" is not an instrument of the table; did you mean \"horn\"?");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Instrument {
    id: &'static str,
    label: &'static str,
    /// Names people use besides the id and the label, in small letters.
    names: &'static [&'static str],
    family: Family,
    clef: Clef,
    /// From what is written to what sounds.
    transposition: Interval,
    comfortable: WrittenRange,
    full: WrittenRange,
    section_word: &'static str,
    brass: Option<Brass>,
}

impl Instrument {
    /// The whole table, in score order within families.
    #[must_use]
    pub fn all() -> &'static [Self] {
        &table::TABLE
    }

    /// A short name for files and machine-readable output: `horn_f`, `sax_alto`.
    #[must_use]
    pub const fn id(&self) -> &'static str {
        self.id
    }

    /// The full name, for people: "Horn in F, treble clef".
    #[must_use]
    pub const fn label(&self) -> &'static str {
        self.label
    }

    /// The kind of instrument.
    #[must_use]
    pub const fn family(&self) -> Family {
        self.family
    }

    /// The clef it reads.
    #[must_use]
    pub const fn clef(&self) -> Clef {
        self.clef
    }

    /// The interval from what is written to what sounds.
    #[must_use]
    pub const fn transposition(&self) -> Interval {
        self.transposition
    }

    /// Fifths added to the concert key signature to get the written one, before any flip: 2 for the trumpet, 1 for the horn.
    #[must_use]
    pub const fn key_shift_fifths(&self) -> i32 {
        -self.transposition.fifths()
    }

    /// The written notes that first-year players have in common in every source read. Opinions differ by up to a sixth: a default
    /// for the leader to change.
    #[must_use]
    pub const fn comfortable(&self) -> &WrittenRange {
        &self.comfortable
    }

    /// The written notes of the instrument in able hands.
    #[must_use]
    pub const fn full(&self) -> &WrittenRange {
        &self.full
    }

    /// The id of the spoken word that calls a section of these: `horns`, `bass_clarinets`, `mallets`.
    #[must_use]
    pub const fn section_word(&self) -> &'static str {
        self.section_word
    }

    pub(crate) const fn brass(&self) -> Option<Brass> {
        self.brass
    }

    /// What sounds when `written` is played: the literal interval, so that Gb4 on an alto saxophone sounds Bbb3.
    #[must_use]
    pub fn sounding(&self, written: Written) -> Concert {
        Concert::new(written.pitch().transposed(self.transposition))
    }

    /// What sounds when `written` is played, with at most one accidental: A3 for Bbb3.
    #[must_use]
    pub fn sounding_simple(&self, written: Written) -> Concert {
        Concert::new(self.sounding(written).pitch().simple())
    }

    /// What to write for `concert` to sound: the literal interval, so that B#3 is written C##4 for a trumpet.
    #[must_use]
    pub fn writing(&self, concert: Concert) -> Written {
        Written::new(concert.pitch().transposed(-self.transposition))
    }

    /// What to write for `concert` to sound where no key is known: the literal interval with at most one accidental.
    #[must_use]
    pub fn writing_simple(&self, concert: Concert) -> Written {
        Written::new(self.writing(concert).pitch().simple())
    }

    /// What to write for `concert` to sound, spelled for a page in the concert key `key`.
    ///
    /// The page's key is `key` transposed and flipped to at most six accidentals. Notes of that key are spelled as its scale has
    /// them; others keep the letter they were given, unless that takes a double accidental, names a white key of the piano otherwise
    /// than by its natural, or the key was flipped: then [`Key::spell`] decides. Never a double flat or sharp.
    ///
    /// ```
    /// use pitch::Instrument;
    /// let alto = Instrument::find("alto sax")?;
    /// // B major would be G# major with eight sharps; the page is in A-flat
    /// assert_eq!(alto.written_for("D#4".parse()?, "B".parse()?), "C5".parse()?);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn written_for(&self, concert: Concert, key: Key) -> Written {
        let page = key.transposed_for(self);
        let literal = self.writing(concert).pitch();
        let semitone = literal.semitone();
        let flipped = page.fifths() != key.fifths() + self.key_shift_fifths();
        let spelled = page.member(semitone).unwrap_or_else(|| {
            let by_key = page.spell(semitone);
            let natural = by_key.alteration().semitones() == 0;
            if natural || flipped || literal.alteration().is_double() { by_key } else { literal }
        });
        Written::new(spelled)
    }
}

impl PartialEq for Instrument {
    fn eq(&self, other: &Self) -> bool {
        self.id == other.id
    }
}

impl Eq for Instrument {}

impl Hash for Instrument {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.id.hash(state);
    }
}
