//! The instruments: how each reads, sounds and is called.

mod names;
mod table;

use crate::fingering::Brass;
use crate::overblown::Overblown;
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
    /// Two upright strokes: lines and spaces name drums, not pitches.
    Percussion,
}

impl fmt::Display for Clef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Treble => "treble",
            Self::Bass => "bass",
            Self::Percussion => "percussion",
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
    /// On woodwinds.
    register: Option<Overblown>,
}

impl Instrument {
    /// Every instrument with pitches, in score order within families.
    #[must_use]
    pub fn all() -> &'static [Self] {
        &table::TABLE
    }

    /// The drums without a pitch: they take a line's rhythm. What they read has one place on the staff, and that place alone as its range.
    #[must_use]
    pub fn drums() -> &'static [Self] {
        &table::DRUMS
    }

    /// Whether it plays pitches.
    #[must_use]
    pub fn is_pitched(&self) -> bool {
        self.clef != Clef::Percussion
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

    pub(crate) const fn register(&self) -> Option<Overblown> {
        self.register
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Alteration, Pitch, Step};
    use proptest::prelude::*;
    use std::collections::HashSet;

    /// Every spelling in a range with at most one accidental.
    fn spellings(range: &WrittenRange) -> Vec<Written> {
        let alterations = [Alteration::Flat, Alteration::Natural, Alteration::Sharp];
        let pitches = (-1..=9).flat_map(|octave| Step::ALL.into_iter().map(move |step| (octave, step)));
        pitches
            .flat_map(|(octave, step)| alterations.map(|alteration| Written::new(Pitch::new(step, alteration, octave).unwrap())))
            .filter(|written| range.contains(*written))
            .collect()
    }

    #[test]
    fn written_to_concert_and_back_is_the_same_page_for_every_instrument() {
        for instrument in Instrument::all() {
            let pages = spellings(instrument.full());
            assert!(pages.len() > 30, "{}", instrument.id());
            for written in pages {
                assert_eq!(instrument.writing(instrument.sounding(written)), written, "{}", instrument.id());
            }
        }
    }

    #[test]
    fn ids_labels_and_names_each_find_their_one_instrument() {
        let mut ids = HashSet::new();
        for instrument in Instrument::all() {
            assert!(ids.insert(instrument.id()));
            for name in instrument.names.iter().copied().chain([instrument.id, instrument.label]) {
                assert_eq!(Instrument::find(name).unwrap(), instrument, "{name}");
                assert_eq!(Instrument::find(&name.to_uppercase()).unwrap(), instrument, "{name}");
            }
        }
    }

    #[test]
    fn drums_are_found_and_have_no_pitch() {
        for (name, id) in
            [("snare drum", "snare_drum"), ("Snare drums", "snare_drum"), ("bass drum", "bass_drum"), ("side drum", "snare_drum")]
        {
            assert_eq!(Instrument::find(name).unwrap().id(), id, "{name}");
        }
        assert!(Instrument::drums().iter().all(|drum| !drum.is_pitched() && drum.full().low() == drum.full().high()));
        assert!(Instrument::all().iter().all(Instrument::is_pitched));
    }

    #[test]
    fn plurals_and_short_names_are_understood() {
        for (name, id) in [
            ("French horns", "horn_f"),
            ("Flutes", "flute"),
            ("alto saxes", "sax_alto"),
            ("bari sax", "sax_baritone"),
            ("trumpets in B♭", "trumpet_bb"),
            ("Trumpet in Bb", "trumpet_bb"),
            ("Eb clarinet", "clarinet_eb"),
            ("E-flat clarinets", "clarinet_eb"),
            ("double basses", "double_bass"),
            ("euphonium, treble clef", "euphonium_tc"),
        ] {
            assert_eq!(Instrument::find(name).unwrap().id(), id, "{name}");
        }
    }

    #[test]
    fn an_unknown_name_is_answered_with_the_nearest() {
        assert_eq!(Instrument::find("trumpit").unwrap_err().nearest(), "trumpet");
        assert_eq!(Instrument::find("clarnet").unwrap_err().nearest(), "clarinet");
        assert!(Instrument::find("").is_err());
    }

    #[test]
    fn comfortable_lies_inside_full() {
        for instrument in Instrument::all() {
            let (comfortable, full) = (instrument.comfortable(), instrument.full());
            assert!(full.contains(comfortable.low()) && full.contains(comfortable.high()), "{}", instrument.id());
        }
    }

    proptest! {
        #[test]
        fn a_page_in_any_key_sounds_right_and_has_no_double_accidental(
            at in 0..31_usize, step in 0..7_usize, alteration in -2..=2_i32, octave in 1..7_i32, fifths in -7..=7_i32, minor: bool,
        ) {
            let instrument = &Instrument::all()[at];
            let concert = Concert::new(Pitch::new(Step::ALL[step], Alteration::from_semitones(alteration).unwrap(), octave).unwrap());
            let major = Key::major(fifths).unwrap();
            let key = if minor { major.relative_minor() } else { major };
            let written = instrument.written_for(concert, key);
            prop_assert_eq!(instrument.sounding(written).semitone(), concert.semitone());
            prop_assert!(!written.pitch().alteration().is_double());
            prop_assert!(!instrument.writing_simple(concert).pitch().alteration().is_double());
            prop_assert_eq!(instrument.sounding(instrument.writing(concert)).semitone(), concert.semitone());
        }
    }
}
