//! Which beats are ticked: all, some or none, so that a band keeps its own pulse.

use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// How much of a bar is ticked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Ticked {
    /// Every beat.
    Every,
    /// Every other beat, from the downbeat.
    Half,
    /// The downbeat only.
    Downbeat,
    /// Nothing: the pulse goes on unheard.
    Silent,
}

/// So many bars ticked one way, then so many another, over and over.
///
/// ```
/// use sequencer::click::{ClickPattern, Ticked};
/// let fading: ClickPattern = "every:4 half:4 downbeat:4 silent:16".parse()?;
/// assert_eq!(fading.at(11), Ticked::Downbeat);
/// assert_eq!((fading.at(12), fading.at(27), fading.at(28)), (Ticked::Silent, Ticked::Silent, Ticked::Every));
/// # Ok::<(), sequencer::click::ClickError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClickPattern(Vec<(Ticked, u16)>);

/// A text that is no click pattern.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ClickError {
    /// A word that names no way of ticking.
    #[error("\"{0}\" is no way to tick a bar; write every, half, downbeat or silent")]
    Unknown(String),
    /// Bars that are no number of bars.
    #[error("\"{0}\" is no number of bars; write 1 to 64 behind the colon, such as silent:4")]
    Bars(String),
    /// Several ways and one without its bars.
    #[error("\"{0}\" lasts for ever and others come after it; say for how many bars, such as {0}:4")]
    Endless(String),
    /// Nothing.
    #[error("a click pattern says nothing here; write every, or how it fades, such as every:4 half:4 downbeat:4 silent:4")]
    Empty,
}

impl Ticked {
    /// All of them, from the fullest.
    pub const ALL: [Self; 4] = [Self::Every, Self::Half, Self::Downbeat, Self::Silent];

    /// Its word in files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Every => "every",
            Self::Half => "half",
            Self::Downbeat => "downbeat",
            Self::Silent => "silent",
        }
    }

    /// Whether the beat at `beat` of its bar, from zero, is ticked.
    #[must_use]
    pub const fn ticks(self, beat: i64) -> bool {
        match self {
            Self::Every => true,
            Self::Half => beat % 2 == 0,
            Self::Downbeat => beat == 0,
            Self::Silent => false,
        }
    }
}

impl ClickPattern {
    /// Every beat of every bar.
    #[must_use]
    pub fn steady() -> Self {
        Self(vec![(Ticked::Every, 1)])
    }

    /// How the bar at `bar`, from zero, is ticked.
    #[must_use]
    pub fn at(&self, bar: usize) -> Ticked {
        let all: usize = self.0.iter().map(|(_, bars)| usize::from(*bars)).sum();
        let mut left = bar % all.max(1);
        for (ticked, bars) in &self.0 {
            match left.checked_sub(usize::from(*bars)) {
                None => return *ticked,
                Some(rest) => left = rest,
            }
        }
        Ticked::Every
    }
}

impl Default for ClickPattern {
    fn default() -> Self {
        Self::steady()
    }
}

impl FromStr for ClickPattern {
    type Err = ClickError;

    fn from_str(text: &str) -> Result<Self, ClickError> {
        let words: Vec<_> = text.split_whitespace().collect();
        let step = |word: &&str| {
            let (name, bars) = word.split_once(':').map_or((*word, None), |(name, bars)| (name, Some(bars)));
            let ticked =
                Ticked::ALL.into_iter().find(|ticked| ticked.word() == name).ok_or_else(|| ClickError::Unknown(name.to_owned()))?;
            let bars = match bars {
                Some(bars) => bars.parse().ok().filter(|bars| (1..=64).contains(bars)).ok_or_else(|| ClickError::Bars(bars.to_owned()))?,
                None if words.len() == 1 => 1,
                None => return Err(ClickError::Endless(name.to_owned())),
            };
            Ok((ticked, bars))
        };
        let steps = words.iter().map(step).collect::<Result<Vec<_>, _>>()?;
        if steps.is_empty() { Err(ClickError::Empty) } else { Ok(Self(steps)) }
    }
}

impl fmt::Display for ClickPattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let steps: Vec<_> = match self.0.as_slice() {
            [(ticked, 1)] => vec![ticked.word().to_owned()],
            steps => steps.iter().map(|(ticked, bars)| format!("{}:{bars}", ticked.word())).collect(),
        };
        f.write_str(&steps.join(" "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pattern_is_written_as_it_is_read() {
        for text in ["every", "downbeat", "every:4 half:4 downbeat:4 silent:16"] {
            assert_eq!(text.parse::<ClickPattern>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn what_is_wrong_is_told_with_its_mend() {
        let message = |text: &str| text.parse::<ClickPattern>().unwrap_err().to_string();
        assert!(message("none").starts_with("\"none\" is no way to tick a bar"));
        assert!(message("every:0").starts_with("\"0\" is no number of bars"));
        assert!(message("every half:4").contains("every:4"));
        assert!(message(" ").starts_with("a click pattern says nothing"));
    }

    #[test]
    fn half_of_three_beats_are_the_first_and_the_third() {
        assert_eq!([0, 1, 2].map(|beat| Ticked::Half.ticks(beat)), [true, false, true]);
    }
}
