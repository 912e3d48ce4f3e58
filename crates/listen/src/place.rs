//! Where a sound stands beside the note asked for: on it, on another partial of the same fingering, an octave or a twelfth away, or nowhere.

use pitch::{Concert, Fingering, Instrument, Key, Tuning, Written};
use units::{Cents, Hertz};

/// What lies further from a note than this is not that note, in cents.
pub const NEAR: Cents = Cents(50.0);
/// Above this the partials of a brass tube lie closer than two [`NEAR`]s, and nothing is said of them.
pub const HIGHEST_PARTIAL: u8 = 16;
/// From a note to the third partial over it.
const TWELFTH: f64 = 1901.955;

/// Where a sound stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// On the note asked for.
    Target,
    /// On another partial of the fingering in use (brass). Partial 2 for 4, and 8 for 4, are the wrong octave: see [`Place::octaves`].
    Partial {
        /// The partial that sounds.
        heard: u8,
        /// The partial of the note asked for.
        wanted: u8,
    },
    /// The right note in another octave, so many up or (negative) down.
    Octave(i8),
    /// A twelfth too high (1) or too low (-1): what a clarinet does that overblows, or does not.
    Twelfth(i8),
    /// On none of the partials of the fingering in use (brass): another fingering, or no note at all.
    OffTheSeries,
    /// Another note.
    Other,
}

impl Place {
    /// By how many octaves the right note is missed, if that is what is wrong.
    #[must_use]
    pub fn octaves(self) -> Option<i8> {
        match self {
            Self::Octave(octaves) => Some(octaves),
            Self::Partial { heard, wanted } => (1..=4).find_map(|n: i8| {
                let times = 1_u16 << n;
                let (heard, wanted) = (u16::from(heard), u16::from(wanted));
                if heard == wanted * times {
                    Some(n)
                } else if wanted == heard * times {
                    Some(-n)
                } else {
                    None
                }
            }),
            _ => None,
        }
    }
}

/// Where a sound stands, and how far off that place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Where.
    pub place: Place,
    /// How far the sound lies above (negative: below) the middle of that place; off the series or on another note, above the note
    /// asked for.
    pub cents: Cents,
}

/// Places a sound of `heard` beside the note asked for: its frequency `wanted`, and on brass how it is fingered.
///
/// ```
/// use listen::place::{Place, place};
/// use pitch::{Instrument, Tuning};
/// use units::{Cents, Hertz};
/// let horn = Instrument::find("horn in F")?;
/// let written = "G4".parse()?; // the sixth partial of the open F horn
/// let wanted = Tuning::default().frequency(horn.sounding(written));
/// let fourth = wanted.moved(Cents(-702.0));
/// let placed = place(wanted, horn.fingering(written), fourth);
/// assert_eq!(placed.place, Place::Partial { heard: 4, wanted: 6 });
/// assert!(placed.cents.0.abs() < 0.1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn place(wanted: Hertz, fingering: Option<Fingering>, heard: Hertz) -> Placed {
    let off = heard.cents_above(wanted);
    let near = |cents: f64| Cents(off.0 - cents).0.abs() <= NEAR.0;
    if near(0.0) {
        return Placed { place: Place::Target, cents: off };
    }
    if let Some(fingering) = fingering {
        let partial = heard.hz() / (wanted.hz() / f64::from(fingering.partial));
        let nearest = partial.round();
        if nearest >= 1.0 && nearest <= f64::from(HIGHEST_PARTIAL) {
            let cents = Cents(1200.0 * (partial / nearest).log2());
            let (heard, wanted) = (nearest as u8, fingering.partial);
            if cents.0.abs() <= NEAR.0 && heard != wanted {
                return Placed { place: Place::Partial { heard, wanted }, cents };
            }
        }
        return Placed { place: Place::OffTheSeries, cents: off };
    }
    let octaves = (off.0 / 1200.0).round();
    if octaves != 0.0 && octaves.abs() <= 4.0 && near(1200.0 * octaves) {
        return Placed { place: Place::Octave(octaves as i8), cents: Cents(off.0 - 1200.0 * octaves) };
    }
    for way in [1_i8, -1] {
        let twelfth = TWELFTH * f64::from(way);
        if near(twelfth) {
            return Placed { place: Place::Twelfth(way), cents: Cents(off.0 - twelfth) };
        }
    }
    Placed { place: Place::Other, cents: off }
}

/// A sound by name.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Named {
    /// What sounds.
    pub concert: Concert,
    /// What a player of the instrument calls it.
    pub written: Written,
    /// How far the sound lies above (negative: below) that note.
    pub cents: Cents,
}

/// The note of `tuning` nearest to `heard`, as `instrument` reads it; spelled with at most one accidental. Beyond the ten octaves that
/// have names there is none.
#[must_use]
pub fn name(instrument: &Instrument, tuning: &Tuning, heard: Hertz) -> Option<Named> {
    let above = 69.0 + heard.cents_above(tuning.reference.hertz()).0 / 100.0;
    if !(0.0..=127.0).contains(&above) {
        return None;
    }
    let middle = above.round() as i32;
    let named = (middle - 1..=middle + 1).map(|semitone| {
        let concert = Concert::new(Key::default().spell(semitone));
        Named { concert, written: instrument.writing_simple(concert), cents: heard.cents_above(tuning.frequency(concert)) }
    });
    named.min_by(|a, b| a.cents.0.abs().total_cmp(&b.cents.0.abs()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn placed(instrument: &str, written: &str, cents: f64) -> Placed {
        let instrument = Instrument::find(instrument).unwrap();
        let written: Written = written.parse().unwrap();
        let wanted = Tuning::default().frequency(instrument.sounding(written));
        place(wanted, instrument.fingering(written), wanted.moved(Cents(cents)))
    }

    #[test]
    fn a_brass_note_stands_on_a_partial_of_its_fingering_or_off_the_series() {
        // written G4 on the trumpet is the third partial of the open tube
        assert_eq!(placed("trumpet", "G4", -20.0).place, Place::Target);
        assert!((placed("trumpet", "G4", -20.0).cents.0 + 20.0).abs() < 1e-9);
        assert_eq!(placed("trumpet", "G4", -702.0).place, Place::Partial { heard: 2, wanted: 3 });
        assert_eq!(placed("trumpet", "G4", 498.0 + 30.0).place, Place::Partial { heard: 4, wanted: 3 });
        assert_eq!(placed("trumpet", "G4", 200.0).place, Place::OffTheSeries);
        assert_eq!(placed("trumpet", "G4", -100.0).place, Place::OffTheSeries);
        assert_eq!(placed("trumpet", "C5", -1200.0).place.octaves(), Some(-1));
        assert_eq!(placed("trumpet", "G4", -702.0).place.octaves(), None);
    }

    #[test]
    fn a_woodwind_misses_by_octaves_twelfths_or_another_note() {
        assert_eq!(placed("flute", "G4", 1190.0).place, Place::Octave(1));
        assert!((placed("flute", "G4", 1190.0).cents.0 + 10.0).abs() < 1e-9);
        assert_eq!(placed("flute", "G4", -2400.0).place.octaves(), Some(-2));
        assert_eq!(placed("clarinet", "G4", 1910.0).place, Place::Twelfth(1));
        assert_eq!(placed("clarinet", "D5", -1895.0).place, Place::Twelfth(-1));
        assert_eq!(placed("clarinet", "G4", 100.0).place, Place::Other);
        assert_eq!(placed("oboe", "C5", 49.9).place, Place::Target);
    }

    #[test]
    fn every_note_of_every_instrument_is_called_by_its_own_name_in_any_tuning() {
        let just = Tuning { temperament: pitch::Temperament::Just, tonic: "F".parse().unwrap(), ..Tuning::default() };
        for tuning in [Tuning::default(), just] {
            for instrument in Instrument::all() {
                let written = instrument.comfortable().low();
                let hertz = tuning.frequency(instrument.sounding(written)).moved(Cents(-20.0));
                let named = name(instrument, &tuning, hertz).unwrap();
                assert_eq!(named.written.semitone(), written.semitone(), "{}", instrument.id());
                assert!((named.cents.0 + 20.0).abs() < 1e-6);
            }
        }
        assert_eq!(name(Instrument::find("flute").unwrap(), &Tuning::default(), Hertz::new(1.0).unwrap()), None);
    }
}
