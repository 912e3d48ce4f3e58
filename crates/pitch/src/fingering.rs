//! Valves, slide positions and the partial they stand on.
//!
//! Each brass tube is given by its fundamental; a valve lowers it by two (first), one (second) or three semitones (third), the slide
//! by one a position. The usual fingering of a note is the shortest tube that has it on a partial of
//! [`USED`]; a few exceptions are listed. Above the eighth partial several answers are usual, and this gives one.

use crate::{Instrument, Pitch, Written, partials};

/// Which side of a double horn. Single horns in F have the F side alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum HornSide {
    /// The F side, without the thumb.
    F,
    /// The B-flat side, with the thumb valve `T`.
    BFlat,
}

/// How a note is played on a brass instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Fingering {
    /// Valves from the first on, as `1-2`; `0` is open, `T` the thumb of a double horn; or the slide position, `1` to `7`.
    pub text: &'static str,
    /// The partial it stands on, counted from the fundamental of the tube in use: on the F horn written C4 is 4, E4 5, G4 6.
    pub partial: u8,
    /// Semitones by which the valves or the slide lower that partial, 0 to 6.
    pub lowered: u8,
    /// The side of the horn; nothing on other instruments.
    pub side: Option<HornSide>,
}

/// What makes a brass instrument's notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Brass {
    /// Three valves on one tube, given by its written fundamental.
    Valves(Pitch),
    /// A slide of seven positions, given by the fundamental of the first.
    Slide(Pitch),
    /// A double horn, given by the written fundamentals of its F and B-flat sides.
    Horn(Pitch, Pitch),
}

/// The partials that fingering charts use. The 7th and 11th are out of tune; the 9th gives way to the 10th.
pub const USED: [u8; 8] = [2, 3, 4, 5, 6, 8, 10, 12];

const VALVES: [&str; 7] = ["0", "2", "1", "1-2", "2-3", "1-3", "1-2-3"];
const THUMBED: [&str; 7] = ["T", "T2", "T1", "T1-2", "T2-3", "T1-3", "T1-2-3"];
const POSITIONS: [&str; 7] = ["1", "2", "3", "4", "5", "6", "7"];

/// Trombone F#4 and G4 stand on the seventh partial, which a shortened position puts in tune: semitones above the fundamental,
/// partial. The plain fifth and fourth positions on the eighth are the other usual answer.
const SLIDE_EXCEPTIONS: [(i32, u8); 2] = [(32, 7), (33, 7)];
/// On the B-flat side of the horn Ab4 and A4 keep the fingers of the F side, on the sixth partial. The fifth is the other usual answer.
const THUMB_EXCEPTIONS: [(i32, u8); 2] = [(27, 6), (28, 6)];

impl Instrument {
    /// How `written` is usually played, or nothing if this is no brass instrument or the note is not on its tube. On a horn this is
    /// the F side.
    ///
    /// ```
    /// use pitch::Instrument;
    /// let horn = Instrument::find("horn in F")?;
    /// let open = horn.fingering("E4".parse()?).ok_or("none")?;
    /// assert_eq!((open.text, open.partial), ("0", 5));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn fingering(&self, written: Written) -> Option<Fingering> {
        match self.brass()? {
            Brass::Valves(fundamental) => find(fundamental, written, &VALVES, &[], None),
            Brass::Slide(fundamental) => find(fundamental, written, &POSITIONS, &SLIDE_EXCEPTIONS, None),
            Brass::Horn(..) => self.fingering_on(HornSide::F, written),
        }
    }

    /// How `written` is played on one side of a double horn; nothing on other instruments.
    #[must_use]
    pub fn fingering_on(&self, side: HornSide, written: Written) -> Option<Fingering> {
        match (self.brass()?, side) {
            (Brass::Horn(fundamental, _), HornSide::F) => find(fundamental, written, &VALVES, &[], Some(side)),
            (Brass::Horn(_, fundamental), HornSide::BFlat) => find(fundamental, written, &THUMBED, &THUMB_EXCEPTIONS, Some(side)),
            _ => None,
        }
    }

    /// The written note of partial `n` (1 to 16) on the open tube: no valve, or first position. On a horn, the F side.
    #[must_use]
    pub fn open_partial(&self, n: u8) -> Option<Written> {
        match self.brass()? {
            Brass::Valves(fundamental) | Brass::Slide(fundamental) | Brass::Horn(fundamental, _) => partial_of(fundamental, n),
        }
    }

    /// The written note of partial `n` (1 to 16) on one open side of a double horn.
    #[must_use]
    pub fn open_partial_on(&self, side: HornSide, n: u8) -> Option<Written> {
        match (self.brass()?, side) {
            (Brass::Horn(fundamental, _), HornSide::F) | (Brass::Horn(_, fundamental), HornSide::BFlat) => partial_of(fundamental, n),
            _ => None,
        }
    }
}

fn partial_of(fundamental: Pitch, n: u8) -> Option<Written> {
    partials::notated(n).map(|interval| Written::new(fundamental.transposed(interval)))
}

fn find(
    fundamental: Pitch,
    written: Written,
    texts: &[&'static str; 7],
    exceptions: &[(i32, u8)],
    side: Option<HornSide>,
) -> Option<Fingering> {
    let height = written.semitone() - fundamental.semitone();
    let listed = exceptions.iter().find(|(at, _)| *at == height).map(|(_, partial)| *partial);
    let partial = listed.or_else(|| USED.into_iter().find(|n| partials::nearest_semitones(*n) >= height))?;
    let lowered = u8::try_from(partials::nearest_semitones(partial) - height).ok()?;
    let text = texts.get(usize::from(lowered))?;
    Some(Fingering { text, partial, lowered, side })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fingering_sounds_the_note_it_is_given_for() {
        for instrument in Instrument::all() {
            for side in [HornSide::F, HornSide::BFlat] {
                for semitone in 20..100 {
                    let written = Written::new(crate::Key::default().spell(semitone));
                    if let Some(fingering) = instrument.fingering_on(side, written) {
                        let open = instrument.open_partial_on(side, fingering.partial).unwrap();
                        assert_eq!(open.semitone() - i32::from(fingering.lowered), semitone);
                        assert_eq!(fingering.text.starts_with('T'), side == HornSide::BFlat);
                    }
                }
            }
        }
    }

    #[test]
    fn notes_off_the_tube_have_no_fingering() {
        let none = |name: &str, written: &str| Instrument::find(name).unwrap().fingering(written.parse().unwrap()).is_none();
        assert!(none("trumpet", "F3"), "below 1-2-3 on the second partial");
        assert!(none("tuba", "F#4") && none("flute", "C5") && none("trumpet", "C8"));
        assert!(Instrument::find("trumpet").unwrap().fingering_on(HornSide::F, "C4".parse().unwrap()).is_none());
    }
}
