//! How a section comes in: its players' mean entry, and how far they are apart.
//!
//! What rises in sixty bands around the beat is brought to numbers, and these are weighed by a ridge fitted to generated
//! sections by `benches/listening/entries.py`. A player's entry is where the tone has risen to a tenth of its amplitude, as for one player.
//!
//! ```
//! use listen::section::entries::SectionEntries;
//! use units::{FrameInstant, SampleRate};
//! let mut entries = SectionEntries::new(SampleRate::DEFAULT);
//! entries.hear(&[0.0; 96_000]);
//! assert!(entries.told(FrameInstant(24_000)).is_none(), "nobody came in");
//! ```

mod bands;
mod curves;
#[cfg(test)]
mod tests;
mod weights;

use bands::Bands;
use curves::Curves;
use units::{FrameInstant, SampleRate};
use weights::{BASE, DOUBT, WEIGHTS};

/// How close a section's entries are, in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Word {
    /// Nobody is heard apart: a spread under [`TOGETHER`].
    Together,
    /// In between.
    Loose,
    /// Anybody hears it: a spread over [`RAGGED`].
    Ragged,
}

/// Spreads in milliseconds below and above which a word is chosen. They lie towards the middle of what they mean, 30 and 50 ms, as the
/// spreads that are told do.
pub const TOGETHER: f64 = 32.0;
/// See [`TOGETHER`].
pub const RAGGED: f64 = 46.0;

/// How a section came in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entries {
    /// The players' mean entry after the beat (negative: before it), in milliseconds. It leans towards the beat, where most sections
    /// come in: of 60 ms by which a section is early as a whole, about half is told, and the doubt is then too small.
    pub mean_ms: f64,
    /// In two of three cases the true mean lies no further than this from [`Self::mean_ms`].
    pub mean_doubt_ms: f64,
    /// The standard deviation of the players' entries, in milliseconds.
    pub spread_ms: f64,
    /// In two of three cases the true spread lies no further than this from [`Self::spread_ms`].
    pub doubt_ms: f64,
    /// The spread in a word.
    pub word: Word,
}

/// Hears a section come in. Allocates when built and never after.
#[derive(Debug)]
pub struct SectionEntries {
    bands: Bands,
    curves: Curves,
}

/// How far the mean that the sound alone tells is off, as a standard deviation in seconds: that of a font by what was learnt of the other.
const HEARD: f64 = 0.026;
/// How a section's mean entry is distributed around [`USUAL`] before anything is heard, by standard deviations in seconds and how often:
/// most are on the beat, some are late or early as a whole.
const LATENESS: [(f64, f64); 2] = [(0.0144, 0.6), (0.0514, 0.4)];
/// A tone begun on the beat has risen to a tenth of its amplitude so many seconds after it.
const USUAL: f64 = 0.016;
/// The players whose entries make up the mean, as far as is known.
const PLAYERS: f64 = 7.0;

impl SectionEntries {
    /// Listens to sound at `rate`.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        Self { bands: Bands::new(rate), curves: Curves::new() }
    }

    /// The frame the next block begins with.
    #[must_use]
    pub const fn now(&self) -> FrameInstant {
        self.bands.now()
    }

    /// Says which frame the next block begins with, after sound was lost; what was heard before is forgotten.
    pub fn resume(&mut self, at: FrameInstant) {
        self.bands.resume(at);
    }

    /// Forgets what was heard; frames are counted on.
    pub fn clear(&mut self) {
        self.bands.resume(self.bands.now());
    }

    /// Takes the next block of any length.
    pub fn hear(&mut self, block: &[f32]) {
        self.bands.hear(block);
    }

    /// How the section came in that was to begin its tone on `beat`. From 0.44 s before the beat to 1.14 s after it all should be heard, and
    /// not be older than 3 s; until then, and if nobody came in, there is nothing to tell.
    #[must_use]
    pub fn told(&mut self, beat: FrameInstant) -> Option<Entries> {
        let (middle, numbers) = self.curves.read(&self.bands, beat)?;
        let [mut spread, mut mean] = BASE;
        for (number, [centre, deviation, for_spread, for_mean]) in numbers.iter().zip(WEIGHTS) {
            // bent, so that none outweighs the rest
            let bent = 2.0 * ((number - f64::from(centre)) / f64::from(deviation) / 2.0).tanh();
            spread += f64::from(for_spread) * bent;
            mean += f64::from(for_mean) * bent;
        }
        let spread = spread.max(0.0);
        let (mean, mean_doubt) = expected(middle + mean, spread);
        let word = match 1000.0 * spread {
            spread if spread < TOGETHER => Word::Together,
            spread if spread > RAGGED => Word::Ragged,
            _ => Word::Loose,
        };
        Some(Entries {
            mean_ms: 1000.0 * mean,
            mean_doubt_ms: 1000.0 * mean_doubt,
            spread_ms: 1000.0 * spread,
            doubt_ms: 1000.0 * (DOUBT[0] + DOUBT[1] * spread),
            word,
        })
    }

    /// What [`Self::told`] weighs, for those who fit the weights: the middle of the rise in seconds after `beat`, and the numbers.
    #[must_use]
    pub fn numbers(&mut self, beat: FrameInstant) -> Option<(f64, &[f64])> {
        self.curves.read(&self.bands, beat).map(|(middle, numbers)| (middle, numbers.as_slice()))
    }
}

/// What is to be expected of a mean entry of which the sound tells `heard`, and its standard deviation: by Bayes' rule over [`LATENESS`].
fn expected(heard: f64, spread: f64) -> (f64, f64) {
    let (mut sum, mut mean, mut square) = (0.0, 0.0, 0.0);
    for (deviation, often) in LATENESS {
        let variance = deviation * deviation + spread * spread / PLAYERS;
        let both = variance + HEARD * HEARD;
        let off = heard - USUAL;
        let likely = often / both.sqrt() * (-0.5 * off * off / both).exp();
        let own = USUAL + variance / both * off;
        sum += likely;
        mean += likely * own;
        square += likely * (own * own + variance * HEARD * HEARD / both);
    }
    if sum < 1e-300 {
        return (heard, HEARD);
    }
    (mean / sum, (square / sum - (mean / sum).powi(2)).max(0.0).sqrt())
}
