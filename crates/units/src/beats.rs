//! Musical time as exact fractions: a third of a beat stays a third of a beat.

use num_rational::Ratio;
use std::fmt;
use std::ops::{Add, AddAssign, Mul, Sub};
use std::str::FromStr;
use thiserror::Error;

/// A position or length in beats, exact.
///
/// ```
/// use units::Beats;
/// let third: Beats = "1/3".parse()?;
/// assert_eq!(third + third + third, Beats::whole(1));
/// assert_eq!("1.5".parse::<Beats>()?, Beats::new(3, 2));
/// assert_eq!("x".parse::<Beats>().unwrap_err().to_string(),
///     "\"x\" is not a number of beats; write 4, 1.5 or 1/3");
/// # Ok::<(), units::beats::BeatsError>(())
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Beats(Ratio<i64>);

/// Text that is no number of beats.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum BeatsError {
    /// Not a number, decimal or fraction.
    #[error("\"{0}\" is not a number of beats; write 4, 1.5 or 1/3")]
    NotANumber(String),
    /// A fraction finer than 1/960 or a length over 10,000.
    #[error("{0} beats is out of bounds; lengths go up to 10000 and fractions down to 1/960")]
    OutOfBounds(String),
}

impl Beats {
    /// No beats.
    pub const ZERO: Self = Self(Ratio::new_raw(0, 1));

    /// `numerator / denominator` beats.
    ///
    /// # Panics
    /// If `denominator` is zero.
    #[must_use]
    pub fn new(numerator: i64, denominator: i64) -> Self {
        Self(Ratio::new(numerator, denominator))
    }

    /// A whole number of beats.
    #[must_use]
    pub const fn whole(beats: i64) -> Self {
        Self(Ratio::new_raw(beats, 1))
    }

    /// The fraction's upper part, in lowest terms.
    #[must_use]
    pub fn numerator(self) -> i64 {
        *self.0.numer()
    }

    /// The fraction's lower part, in lowest terms, always positive.
    #[must_use]
    pub fn denominator(self) -> i64 {
        *self.0.denom()
    }

    /// The beats already over: the largest whole number not above this.
    #[must_use]
    pub fn floor(self) -> i64 {
        self.0.floor().to_integer()
    }

    /// The nearest floating-point value, for display only.
    #[must_use]
    pub fn as_f64(self) -> f64 {
        self.numerator() as f64 / self.denominator() as f64
    }
}

impl Add for Beats {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl AddAssign for Beats {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sub for Beats {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Mul<i64> for Beats {
    type Output = Self;
    fn mul(self, times: i64) -> Self {
        Self(self.0 * times)
    }
}

impl std::iter::Sum for Beats {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        parts.fold(Self::ZERO, Add::add)
    }
}

impl fmt::Display for Beats {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.denominator() == 1 { write!(f, "{}", self.numerator()) } else { write!(f, "{}/{}", self.numerator(), self.denominator()) }
    }
}

impl FromStr for Beats {
    type Err = BeatsError;

    fn from_str(text: &str) -> Result<Self, BeatsError> {
        let not_a_number = || BeatsError::NotANumber(text.to_owned());
        let digits = |part: &str| -> Result<i64, BeatsError> {
            if part.is_empty() || part.len() > 12 || !part.bytes().all(|b| b.is_ascii_digit()) {
                return Err(not_a_number());
            }
            part.parse().map_err(|_| not_a_number())
        };
        let (numerator, denominator) = if let Some((upper, lower)) = text.split_once('/') {
            (digits(upper)?, digits(lower)?)
        } else if let Some((whole, decimals)) = text.split_once('.') {
            if decimals.len() > 6 {
                return Err(BeatsError::OutOfBounds(text.to_owned()));
            }
            let scale = 10_i64.pow(decimals.len() as u32);
            (digits(whole)?.saturating_mul(scale).saturating_add(digits(decimals)?), scale)
        } else {
            (digits(text)?, 1)
        };
        if denominator == 0 {
            return Err(not_a_number());
        }
        let beats = Self::new(numerator, denominator);
        if beats.denominator() > 960 || beats > Self::whole(10_000) {
            return Err(BeatsError::OutOfBounds(text.to_owned()));
        }
        Ok(beats)
    }
}
