//! A concert line moved by octaves into a range.
//!
//! A line is moved as a whole, to the octave nearest to home that lies inside the range. Home is where the line sounds as written;
//! for an instrument that sounds whole octaves away from its page (piccolo, glockenspiel, xylophone, double bass) home is where its
//! page reads as the concert line does, for such an instrument is chosen for its other octave. The octaves in which a line fits are
//! consecutive, so two never lie equally near to home.

use crate::{Concert, Instrument, Key, Written, WrittenRange};
use std::fmt;
use thiserror::Error;

/// Where one concert note lands on an instrument's page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fit {
    /// The note to read.
    pub written: Written,
    /// Octaves by which it sounds above (negative: below) the concert note given.
    pub octaves: i32,
    /// Whether it lies inside the range. If no octave does, the one least outside is given, the lower of two.
    pub fits: bool,
}

/// A concert line as an instrument reads it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FittedLine {
    /// Octaves by which the line sounds above (negative: below) the concert line given.
    pub octaves: i32,
    /// The notes to read, `None` for a rest.
    pub written: Vec<Option<Written>>,
}

/// No octave of the line lies inside the range; says what would fit.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub struct NoFit {
    /// Who cannot play it.
    pub instrument: &'static Instrument,
    /// The range it does not fit.
    pub range: WrittenRange,
    /// The whole line in the octave that leaves the range least, if the instrument's full range holds it.
    pub unison: Option<FittedLine>,
    /// For each note, the nearest root or fifth of the key inside the range (itself, if it is one of them); `None` for a rest, or if the range holds neither.
    pub chord: Vec<Option<Written>>,
}

/// Lays one concert note onto the page of `instrument`, in the octave nearest to home inside `range`, spelled for `key` (the concert key).
///
/// ```
/// use pitch::{Instrument, Key, fit};
/// let horn = Instrument::find("horn in F")?;
/// let fitted = fit(horn, horn.comfortable(), "F4".parse()?, Key::default());
/// assert_eq!((fitted.written.to_string().as_str(), fitted.octaves, fitted.fits), ("C4", -1, true));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn fit(instrument: &'static Instrument, range: &WrittenRange, concert: Concert, key: Key) -> Fit {
    let line = [Some(concert)];
    let (octaves, fits) = match octaves_inside(instrument, range, &line) {
        Some(octaves) => (octaves, true),
        None => (octaves_least_outside(instrument, range, &line), false),
    };
    Fit { written: instrument.written_for(concert.moved_octaves(octaves), key), octaves, fits }
}

/// Lays a whole concert line (`None` for rests) onto the page of `instrument`, every note moved by the same octaves, nearest to home
/// inside `range`, spelled for `key` (the concert key). A line of rests stays at home.
///
/// # Errors
/// [`NoFit`] if no octave of the line lies inside the range.
///
/// ```
/// use pitch::{Concert, Instrument, Key, fit_line};
/// let line: Vec<Option<Concert>> = ["F4", "G4", "A4", "Bb4", "C5"].iter().map(|name| name.parse().ok()).collect();
/// let horn = Instrument::find("horn in F")?;
/// let fitted = fit_line(horn, horn.comfortable(), &line, "F".parse()?)?;
/// assert_eq!(fitted.octaves, -1);
/// assert_eq!(fitted.written, ["C4", "D4", "E4", "F4", "G4"].map(|name| name.parse().ok()));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn fit_line(instrument: &'static Instrument, range: &WrittenRange, line: &[Option<Concert>], key: Key) -> Result<FittedLine, NoFit> {
    if let Some(octaves) = octaves_inside(instrument, range, line) {
        return Ok(moved(instrument, line, octaves, key));
    }
    let octaves = octaves_least_outside(instrument, range, line);
    let unison = moved(instrument, line, octaves, key);
    let playable = unison.written.iter().flatten().all(|written| instrument.full().contains(*written));
    Err(NoFit {
        instrument,
        range: *range,
        unison: playable.then_some(unison),
        chord: line.iter().map(|note| note.and_then(|note| chord_note(instrument, range, note, key))).collect(),
    })
}

/// The line spelled for the instrument, `octaves` away.
fn moved(instrument: &Instrument, line: &[Option<Concert>], octaves: i32, key: Key) -> FittedLine {
    let written = line.iter().map(|note| note.map(|note| instrument.written_for(note.moved_octaves(octaves), key))).collect();
    FittedLine { octaves, written }
}

/// Where a line sounds without being moved, in octaves from the concert line.
fn home(instrument: &Instrument) -> i32 {
    instrument.transposition().whole_octaves().unwrap_or(0)
}

/// The lowest and highest note of the line in written semitones, before any octave is added; nothing for a line of rests.
fn extremes(instrument: &Instrument, line: &[Option<Concert>]) -> Option<(i32, i32)> {
    let semitones = || line.iter().flatten().map(|note| note.semitone() - instrument.transposition().semitones());
    Some((semitones().min()?, semitones().max()?))
}

/// The octaves nearest to home by which the whole line lies inside the range.
fn octaves_inside(instrument: &Instrument, range: &WrittenRange, line: &[Option<Concert>]) -> Option<i32> {
    let Some((lowest, highest)) = extremes(instrument, line) else { return Some(home(instrument)) };
    let least = ceil_div(range.low().semitone() - lowest, 12);
    let most = (range.high().semitone() - highest).div_euclid(12);
    (least <= most).then(|| home(instrument).clamp(least, most))
}

fn ceil_div(a: i32, b: i32) -> i32 {
    -(-a).div_euclid(b)
}

/// The octaves by which the line leaves the range least, in semitones summed over its notes; inside the instrument's full range if that
/// can be; the lower of two.
fn octaves_least_outside(instrument: &Instrument, range: &WrittenRange, line: &[Option<Concert>]) -> i32 {
    let Some((lowest, highest)) = extremes(instrument, line) else { return home(instrument) };
    // from the octave with every note below the range to the one with every note above
    let least = (range.low().semitone() - highest).div_euclid(12);
    let most = ceil_div(range.high().semitone() - lowest, 12);
    let outside = |range: &WrittenRange, octaves: i32| -> i32 {
        let shift = 12 * octaves - instrument.transposition().semitones();
        line.iter().flatten().map(|note| range.semitones_outside(note.semitone() + shift)).sum()
    };
    (least..=most)
        .min_by_key(|octaves| (outside(instrument.full(), *octaves) > 0, outside(range, *octaves), *octaves))
        .unwrap_or_else(|| home(instrument))
}

/// The root or fifth of the key inside the range that lies nearest to where `note` would be read, the lower of two; a root or fifth
/// stays itself in another octave, if the range has it.
fn chord_note(instrument: &Instrument, range: &WrittenRange, note: Concert, key: Key) -> Option<Written> {
    let key = key.transposed_for(instrument);
    let root = key.tonic().semitone();
    let at_home = note.semitone() - instrument.transposition().semitones() + 12 * home(instrument);
    (range.low().semitone()..=range.high().semitone())
        .filter(|semitone| matches!((semitone - root).rem_euclid(12), 0 | 7))
        .min_by_key(|semitone| ((semitone - at_home) % 12 != 0, (semitone - at_home).abs(), *semitone))
        .map(|semitone| Written::new(key.spell(semitone)))
}

impl fmt::Display for NoFit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "no octave of the line lies inside {} for {}", self.range, self.instrument.label())?;
        if let Some(unison) = &self.unison {
            write!(f, "; beyond it, the unison reads {}", names(&unison.written))?;
        }
        if self.chord.iter().any(Option::is_some) {
            write!(f, "; inside it, root and fifth would read {}", names(&self.chord))?;
        }
        f.write_str("; widen the range, change the line, or give the section its own")
    }
}

/// The notes of a line with `-` for none.
fn names(line: &[Option<Written>]) -> String {
    let names: Vec<String> = line.iter().map(|note| note.map_or_else(|| "-".to_owned(), |note| note.to_string())).collect();
    names.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn line(notes: &str) -> Vec<Option<Concert>> {
        notes.split(' ').map(|note| note.parse().ok()).collect()
    }

    fn instrument(name: &str) -> &'static Instrument {
        Instrument::find(name).unwrap()
    }

    fn range(text: &str) -> WrittenRange {
        text.parse().unwrap()
    }

    fn key(text: &str) -> Key {
        text.parse().unwrap()
    }

    #[test]
    fn the_line_moves_as_a_whole_and_keeps_its_rests() {
        let fitted = fit_line(instrument("tuba"), &range("F1..F2"), &line("Bb3 - F4"), key("Bb")).unwrap();
        assert_eq!(fitted.octaves, -2);
        assert_eq!(names(&fitted.written), "Bb1 - F2");
    }

    #[test]
    fn an_octave_instrument_is_at_home_where_its_page_reads_as_the_line() {
        let bells = instrument("bells");
        let fitted = fit(bells, bells.full(), "F5".parse().unwrap(), Key::default());
        assert_eq!((fitted.written.to_string().as_str(), fitted.octaves), ("F5", 2));
        let bass = instrument("double bass");
        let fitted = fit(bass, bass.full(), "Bb2".parse().unwrap(), Key::default());
        assert_eq!((fitted.written.to_string().as_str(), fitted.octaves), ("Bb2", -1));
        // a tenor saxophone sounds a ninth lower, but is at home where the line sounds
        let tenor = instrument("tenor sax");
        let fitted = fit(tenor, tenor.full(), "Bb3".parse().unwrap(), Key::default());
        assert_eq!((fitted.written.to_string().as_str(), fitted.octaves), ("C5", 0));
    }

    #[test]
    fn a_misfit_says_what_would_fit() {
        let horn = instrument("horn");
        let error = fit_line(horn, &range("C4..G4"), &line("Bb3 - F4"), key("Bb")).unwrap_err();
        assert_eq!(
            error.to_string(),
            "no octave of the line lies inside C4..G4 for Horn in F, treble clef; beyond it, the unison reads F4 - C5; \
             inside it, root and fifth would read F4 - C4; widen the range, change the line, or give the section its own"
        );
        let error = fit_line(horn, &range("G4..G4"), &line("Bb0 Bb6"), key("Bb")).unwrap_err();
        assert_eq!(error.unison, None);
        assert_eq!(error.chord, [None, None]);
    }

    #[test]
    fn a_note_outside_every_octave_is_given_where_it_leaves_the_range_least() {
        let fitted = fit(instrument("horn"), &range("C4..G4"), "Eb4".parse().unwrap(), key("Bb"));
        assert_eq!((fitted.written.to_string().as_str(), fitted.octaves, fitted.fits), ("Bb3", -1, false));
    }

    #[test]
    fn a_line_of_rests_stays_at_home() {
        let fitted = fit_line(instrument("flute"), &range("C5..C5"), &[None, None], Key::default()).unwrap();
        assert_eq!(fitted, FittedLine { octaves: 0, written: vec![None, None] });
    }

    proptest! {
        #[test]
        fn what_fits_sounds_the_line_some_octaves_away_and_no_nearer_octave_fits(
            at in 0..31_usize, notes in prop::collection::vec(20..100_i32, 1..5), low in 30..80_i32, width in 0..30_i32,
        ) {
            let instrument = &Instrument::all()[at];
            let key = Key::default();
            let line: Vec<Option<Concert>> = notes.iter().map(|note| Some(Concert::new(key.spell(*note)))).collect();
            let range = WrittenRange::new(Written::new(key.spell(low)), Written::new(key.spell(low + width))).unwrap();
            let inside = |octaves: i32| notes.iter().all(|note| {
                let written = note - instrument.transposition().semitones() + 12 * octaves;
                (low..=low + width).contains(&written)
            });
            let nearest = (-12..=12).filter(|octaves| inside(*octaves)).min_by_key(|octaves| (octaves - home(instrument)).abs());
            match fit_line(instrument, &range, &line, key) {
                Ok(fitted) => {
                    prop_assert_eq!(Some(fitted.octaves), nearest);
                    for (written, note) in fitted.written.iter().zip(&notes) {
                        let sounding = instrument.sounding(written.unwrap());
                        prop_assert_eq!(sounding.semitone(), note + 12 * fitted.octaves);
                    }
                }
                Err(error) => {
                    prop_assert_eq!(nearest, None);
                    for written in error.chord.into_iter().flatten() {
                        prop_assert!(range.contains(written));
                    }
                    for written in error.unison.into_iter().flat_map(|unison| unison.written).flatten() {
                        prop_assert!(instrument.full().contains(written));
                    }
                }
            }
        }
    }
}
