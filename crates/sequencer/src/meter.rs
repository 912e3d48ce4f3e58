//! How a bar is counted.

use std::fmt;
use std::str::FromStr;
use thiserror::Error;
use units::tempo::TempoError;
use units::{Beats, Tempo};

use crate::words;

/// A meter with the beat that is counted.
///
/// Over eighths and sixteenths, six, nine, twelve and so on are compound: 6/8 goes in two unless it is written `6/8 in 6`. Every other meter
/// counts its own notes, 5/8 its eighths, unless threes are asked for, as in `3/4 in 1` or `6/4 in 2`. An additive meter such as `3+2/8`
/// counts its own notes too. A tempo always counts this beat: at 80, a bar of 6/8 in two lasts 1.5 s. Common practice; see the table beside
/// `tests/outside/counting.rs` for the sources of counting.
///
/// ```
/// use sequencer::Meter;
/// let meter: Meter = "6/8".parse()?;
/// assert_eq!((meter.beats(), meter.divides_into()), (2, 3));
/// assert_eq!("6/8 in 6".parse::<Meter>()?.beats(), 6);
/// assert_eq!("3+2/8".parse::<Meter>()?.beats(), 5);
/// assert_eq!("4/5".parse::<Meter>().unwrap_err().to_string(),
///     "\"4/5\" is not a meter; write up to 16 beats over 2, 4, 8 or 16, such as 4/4, 2/2, 7/8, 6/8, 6/8 in 6 or 3+2/8");
/// # Ok::<(), sequencer::meter::MeterError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Meter {
    /// The upper number, or the parts of an additive one; zeros behind.
    parts: [u8; Self::MOST_PARTS],
    lower: u8,
    beats: u8,
}

/// Text that names no meter the engine counts.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{0}\" is not a meter; write up to 16 beats over 2, 4, 8 or 16, such as 4/4, 2/2, 7/8, 6/8, 6/8 in 6 or 3+2/8")]
pub struct MeterError(pub String);

impl Meter {
    /// Four quarter-note beats.
    pub const COMMON: Self = Self { parts: [4, 0, 0, 0, 0, 0], lower: 4, beats: 4 };

    /// The most parts of an additive meter.
    const MOST_PARTS: usize = 6;

    /// The meter of `parts` (one, unless it is additive) over `lower`, counted as usual.
    #[must_use]
    pub fn new(parts: &[u8], lower: u8) -> Option<Self> {
        let compound = parts.len() == 1 && lower >= 8 && parts.iter().all(|upper| *upper > 3 && upper.is_multiple_of(3));
        let upper = parts.iter().try_fold(0_u8, |sum, part| sum.checked_add(*part))?;
        Self::counted(parts, lower, if compound { upper / 3 } else { upper })
    }

    /// The same counted in `beats`.
    fn counted(parts: &[u8], lower: u8, beats: u8) -> Option<Self> {
        let upper = parts.iter().try_fold(0_u8, |sum, part| sum.checked_add(*part))?;
        let in_threes = parts.len() == 1 && beats.checked_mul(3) == Some(upper);
        let counts = beats == upper || in_threes;
        if !matches!(lower, 2 | 4 | 8 | 16) || !counts || parts.contains(&0) || words::count(usize::from(beats)).is_none() {
            return None;
        }
        let mut kept = [0; Self::MOST_PARTS];
        kept.get_mut(..parts.len())?.copy_from_slice(parts);
        Some(Self { parts: kept, lower, beats })
    }

    /// Counted beats in a bar, 1 to 16: as far as the words for counting go.
    #[must_use]
    pub const fn beats(self) -> u8 {
        self.beats
    }

    /// The length of a bar.
    #[must_use]
    pub const fn bar(self) -> Beats {
        Beats::whole(self.beats as i64)
    }

    /// How the beat divides: 2 in simple meters, 3 in compound ones.
    #[must_use]
    pub fn divides_into(self) -> u8 {
        if self.beats < self.upper() { 3 } else { 2 }
    }

    /// How many quarter notes the counted beat lasts: 3/2 in 6/8 in two.
    #[must_use]
    pub fn quarters_in_beat(self) -> Beats {
        Beats::new(4 * i64::from(self.upper()), i64::from(self.lower) * i64::from(self.beats))
    }

    /// The tempo at which this meter's beat goes where it takes over from `before` at `tempo` and every note value keeps its speed: from 4/4 at
    /// 120 into 2/2 at 60.
    ///
    /// # Errors
    /// [`TempoError::OutOfBounds`] if its beat would go slower or quicker than a tempo may.
    pub fn keeping_speed(self, before: Self, tempo: Tempo) -> Result<Tempo, TempoError> {
        let (old, new) = (before.quarters_in_beat(), self.quarters_in_beat());
        let ratio = (old.numerator() * new.denominator()) as f64 / (old.denominator() * new.numerator()) as f64;
        Tempo::new(tempo.bpm() * ratio)
    }

    /// The upper number, parts taken together.
    fn upper(self) -> u8 {
        self.parts.iter().sum()
    }

    fn written_parts(&self) -> &[u8] {
        let end = self.parts.iter().position(|part| *part == 0).unwrap_or(self.parts.len());
        self.parts.get(..end).unwrap_or(&[])
    }
}

impl FromStr for Meter {
    type Err = MeterError;

    fn from_str(text: &str) -> Result<Self, MeterError> {
        let number = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse::<u8>().ok()).flatten();
        let read = || {
            let (fraction, beats) = match text.trim().split_once(" in ") {
                Some((fraction, beats)) => (fraction, Some(number(beats)?)),
                None => (text.trim(), None),
            };
            let (upper, lower) = fraction.split_once('/')?;
            let parts = upper.split('+').map(number).collect::<Option<Vec<_>>>()?;
            match beats {
                Some(beats) => Self::counted(&parts, number(lower)?, beats),
                None => Self::new(&parts, number(lower)?),
            }
        };
        read().ok_or_else(|| MeterError(text.to_owned()))
    }
}

impl fmt::Display for Meter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts: Vec<_> = self.written_parts().iter().map(u8::to_string).collect();
        write!(f, "{}/{}", parts.join("+"), self.lower)?;
        let usual = Self::new(self.written_parts(), self.lower).is_some_and(|usual| usual.beats == self.beats);
        if usual { Ok(()) } else { write!(f, " in {}", self.beats) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn meter(text: &str) -> Meter {
        text.parse().unwrap()
    }

    #[test]
    fn beats_are_counted_as_usual() {
        let rows = [
            ("2/4", 2, 2),
            ("5/4", 5, 2),
            ("6/4", 6, 2),
            ("6/4 in 2", 2, 3),
            ("3/2", 3, 2),
            ("1/4", 1, 2),
            ("3/4 in 1", 1, 3),
            ("3/8", 3, 2),
            ("5/8", 5, 2),
            ("6/8", 2, 3),
            ("7/8", 7, 2),
            ("9/8", 3, 3),
            ("12/8", 4, 3),
            ("15/8", 5, 3),
            ("12/16", 4, 3),
            ("9/8 in 9", 9, 2),
            ("3+2/8", 5, 2),
            ("2+2+3/8", 7, 2),
            ("3+3/8", 6, 2),
            ("48/16", 16, 3),
        ];
        for (text, beats, divides) in rows {
            assert_eq!((meter(text).beats(), meter(text).divides_into()), (beats, divides), "{text}");
            assert_eq!(meter(text).to_string(), text);
        }
        assert_eq!((meter("6/8 in 2"), meter("3/8 in 3").to_string()), (meter("6/8"), "3/8".to_owned()));
    }

    #[test]
    fn what_cannot_be_counted_is_no_meter() {
        for text in [
            "",
            "4",
            "4/",
            "/4",
            "0/4",
            "4/5",
            "17/4",
            "51/16",
            "6/8 in 3",
            "6/8 in 0",
            "3+0/8",
            "+4/4",
            "1+1+1+1+1+1+1/4",
            "3+3/8 in 2",
            "-4/4",
            "4/4 in",
        ] {
            assert!(text.parse::<Meter>().is_err(), "{text}");
        }
    }

    #[test]
    fn the_beat_has_its_length() {
        for (text, numerator, denominator) in
            [("4/4", 1, 1), ("2/2", 2, 1), ("6/8", 3, 2), ("6/8 in 6", 1, 2), ("3+2/8", 1, 2), ("9/16", 3, 4), ("3/4 in 1", 3, 1)]
        {
            assert_eq!(meter(text).quarters_in_beat(), Beats::new(numerator, denominator), "{text}");
        }
    }

    #[test]
    fn a_note_value_keeps_its_speed_into_another_meter() {
        let speed = |from: &str, tempo: f64, to: &str| meter(to).keeping_speed(meter(from), Tempo::new(tempo).unwrap()).map(Tempo::bpm);
        assert_eq!([speed("4/4", 120.0, "2/2"), speed("4/4", 120.0, "6/8"), speed("6/8", 80.0, "3+2/8")], [Ok(60.0), Ok(80.0), Ok(240.0)]);
        assert!(speed("4/4", 152.0, "5/8").unwrap_err().to_string().starts_with("a tempo of 304 is out of bounds"));
    }

    proptest! {
        #[test]
        fn any_meter_keeps_its_guarantees(parts in prop::collection::vec(0_u8..60, 0..8), lower in 0_u8..40, beats in prop::option::of(0_u8..60)) {
            let parts: Vec<_> = parts.iter().map(u8::to_string).collect();
            let text = format!("{}/{lower}{}", parts.join("+"), beats.map(|beats| format!(" in {beats}")).unwrap_or_default());
            if let Ok(meter) = text.parse::<Meter>() {
                prop_assert!((1..=16).contains(&meter.beats()));
                prop_assert!(words::count(usize::from(meter.beats())).is_some());
                prop_assert!([2, 3].contains(&meter.divides_into()));
                prop_assert_eq!(meter.to_string().parse::<Meter>().unwrap(), meter);
            }
        }
    }
}
