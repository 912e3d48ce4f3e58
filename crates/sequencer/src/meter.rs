//! How a bar is counted.

use std::fmt;
use std::str::FromStr;
use thiserror::Error;
use units::Beats;

/// A meter with the beat that is counted: 6/8 goes in two unless it is written `6/8 in 6`.
///
/// A tempo always counts this beat: at 80, a bar of 6/8 in two lasts 1.5 s.
///
/// ```
/// use sequencer::Meter;
/// let meter: Meter = "6/8".parse()?;
/// assert_eq!((meter.beats(), meter.divides_into()), (2, 3));
/// assert_eq!("6/8 in 6".parse::<Meter>()?.beats(), 6);
/// assert_eq!("4/5".parse::<Meter>().unwrap_err().to_string(),
///     "\"4/5\" is not a meter; write 2/4, 3/4, 4/4, 5/4, 6/4, 2/2, 3/2, 6/8, 9/8, 12/8 or 6/8 in 6");
/// # Ok::<(), sequencer::meter::MeterError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Meter {
    upper: u8,
    lower: u8,
    beats: u8,
}

/// Text that names no meter the engine counts.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{0}\" is not a meter; write 2/4, 3/4, 4/4, 5/4, 6/4, 2/2, 3/2, 6/8, 9/8, 12/8 or 6/8 in 6")]
pub struct MeterError(pub String);

impl Meter {
    /// Four quarter-note beats.
    pub const COMMON: Self = Self { upper: 4, lower: 4, beats: 4 };

    /// Counted beats in a bar, 2 to 12.
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
    pub const fn divides_into(self) -> u8 {
        if self.lower == 8 && self.beats < self.upper { 3 } else { 2 }
    }
}

impl FromStr for Meter {
    type Err = MeterError;

    fn from_str(text: &str) -> Result<Self, MeterError> {
        let meter = |upper, lower, beats| Ok(Self { upper, lower, beats });
        match text.trim() {
            "2/4" => meter(2, 4, 2),
            "3/4" => meter(3, 4, 3),
            "4/4" => meter(4, 4, 4),
            "5/4" => meter(5, 4, 5),
            "6/4" => meter(6, 4, 6),
            "2/2" => meter(2, 2, 2),
            "3/2" => meter(3, 2, 3),
            "6/8" | "6/8 in 2" => meter(6, 8, 2),
            "9/8" | "9/8 in 3" => meter(9, 8, 3),
            "12/8" | "12/8 in 4" => meter(12, 8, 4),
            "3/8" | "3/8 in 3" => meter(3, 8, 3),
            "6/8 in 6" => meter(6, 8, 6),
            "9/8 in 9" => meter(9, 8, 9),
            "12/8 in 12" => meter(12, 8, 12),
            _ => Err(MeterError(text.to_owned())),
        }
    }
}

impl fmt::Display for Meter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.upper, self.lower)?;
        if self.lower == 8 && self.beats == self.upper && self.upper > 3 { write!(f, " in {}", self.beats) } else { Ok(()) }
    }
}
