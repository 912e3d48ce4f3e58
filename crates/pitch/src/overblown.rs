//! Where a woodwind's notes are overblown: played with the fingers of a note an octave lower or, on clarinets, a twelfth.

use crate::{Instrument, Written, WrittenRange};

/// The first overblown register of a woodwind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Overblown {
    /// Its written notes.
    notes: WrittenRange,
    /// Which partial of the low register's note they are: 2 or, on clarinets, 3.
    partial: u8,
}

impl Overblown {
    /// By octaves, from `low` to `high`.
    pub(crate) const fn octaves(low: &str, high: &str) -> Option<Self> {
        Some(Self { notes: WrittenRange::constant(low, high), partial: 2 })
    }

    /// By twelfths.
    pub(crate) const fn twelfths(low: &str, high: &str) -> Option<Self> {
        Some(Self { notes: WrittenRange::constant(low, high), partial: 3 })
    }
}

impl Instrument {
    /// Which partial a woodwind's note is of the lowest its fingers have: 1 in the low register, in the one above it 2 (octaves) or, on
    /// clarinets, 3 (twelfths). Nothing in higher registers, outside the instrument's range, and for what is no woodwind.
    ///
    /// ```
    /// use pitch::Instrument;
    /// let clarinet = Instrument::find("clarinet")?;
    /// assert_eq!(clarinet.overblown("Bb4".parse()?), Some(1));
    /// assert_eq!(clarinet.overblown("B4".parse()?), Some(3));
    /// assert_eq!(clarinet.overblown("E6".parse()?), None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn overblown(&self, written: Written) -> Option<u8> {
        let register = self.register()?;
        let (at, first) = (written.semitone(), register.notes.low().semitone());
        if !self.full().contains(written) || at > register.notes.high().semitone() {
            return None;
        }
        Some(if at < first { 1 } else { register.partial })
    }

    /// The highest written note of a woodwind's first overblown register; nothing for what is no woodwind.
    #[must_use]
    pub fn overblown_up_to(&self) -> Option<Written> {
        self.register().map(|register| register.notes.high())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Family;

    fn partial(instrument: &str, written: &str) -> Option<u8> {
        Instrument::find(instrument).unwrap().overblown(written.parse().unwrap())
    }

    /// Common practice, no source.
    #[test]
    fn each_register_begins_where_players_cross_to_it() {
        for (instrument, last_low, first_high, by) in [
            ("flute", "C#5", "D5", 2),
            ("piccolo", "C#5", "D5", 2),
            ("oboe", "C5", "C#5", 2),
            ("bassoon", "F3", "F#3", 2),
            ("clarinet", "A#4", "B4", 3),
            ("E-flat clarinet", "Bb4", "B4", 3),
            ("alto clarinet", "Bb4", "B4", 3),
            ("bass clarinet", "Bb4", "B4", 3),
            ("bass clarinet bass clef", "Bb3", "B3", 3),
            ("alto sax", "C#5", "D5", 2),
            ("baritone sax", "Db5", "D5", 2),
        ] {
            assert_eq!((partial(instrument, last_low), partial(instrument, first_high)), (Some(1), Some(by)), "{instrument}");
        }
    }

    #[test]
    fn woodwinds_have_a_rule_and_nobody_else() {
        for instrument in Instrument::all() {
            assert_eq!(instrument.overblown_up_to().is_some(), instrument.family() == Family::Woodwind, "{}", instrument.id());
            if let Some(high) = instrument.overblown_up_to() {
                let comfortable = instrument.comfortable();
                assert!(instrument.overblown(comfortable.low()).is_some() && instrument.overblown(comfortable.high()).is_some());
                assert!(instrument.full().contains(high), "{}", instrument.id());
            }
        }
    }

    #[test]
    fn what_lies_outside_is_no_note_of_the_two_registers() {
        for (instrument, written) in [
            ("flute", "D6"),
            ("flute", "B3"),
            ("clarinet", "C#6"),
            ("clarinet", "D3"),
            ("bassoon", "Eb4"),
            ("horn", "C4"),
            ("snare drum", "C5"),
        ] {
            assert_eq!(partial(instrument, written), None, "{instrument} {written}");
        }
    }

    #[test]
    fn every_overblown_note_s_fingers_have_a_low_note() {
        for instrument in Instrument::all() {
            for semitone in instrument.full().low().semitone()..=instrument.full().high().semitone() {
                let written = Written::new(crate::Key::major(0).unwrap().spell(semitone));
                let down = match instrument.overblown(written) {
                    Some(2) => 12,
                    Some(3) => 19,
                    _ => continue,
                };
                assert!(semitone - down >= instrument.full().low().semitone(), "{} {written}", instrument.id());
            }
        }
    }

    #[test]
    fn both_ways_of_writing_a_bass_clarinet_cross_on_the_same_key() {
        let crosses = |name: &str| {
            let instrument = Instrument::find(name).unwrap();
            instrument.sounding(instrument.register().unwrap().notes.low()).semitone()
        };
        assert_eq!(crosses("bass clarinet"), crosses("bass clarinet bass clef"));
    }
}
