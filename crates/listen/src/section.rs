//! A section playing together: what share of it sits on which note of a fingering's series, how it is tuned, and
//! ([`entries`]) how it comes in.
//!
//! ```
//! use listen::section::{Section, Series};
//! use pitch::{Instrument, Tuning};
//! use units::SampleRate;
//! let horn = Instrument::find("horn in F")?;
//! let series = Series::around(horn, &Tuning::default(), "G4".parse()?).ok_or("no brass")?;
//! assert_eq!(series.partials(), [4, 5, 6, 8, 10]);
//! let mut horns = Section::new(series, Some(4), SampleRate::DEFAULT);
//! horns.hear(&[0.0; 48_000]);
//! assert!(horns.shares().is_none(), "silence has no shares");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod beside;
pub mod entries;
pub mod heads;
mod likely;
pub mod lines;
mod timbre;

use heads::{Heads, NOTES, Share, Timbre};
use lines::{Grid, Lines};
use pitch::{Family, Instrument, Tuning, Written, fingering};
use timbre::Timbres;
use units::{Cents, Decibels, Hertz, SampleRate};

/// The notes one fingering has: some partials of one fundamental.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Series {
    fundamental: Hertz,
    partials: [u8; NOTES],
    count: usize,
    family: Family,
    /// The partial that is asked for, whose neighbours are counted on woodwinds.
    target: u8,
}

/// What a woodwind's fingering gives: the note itself, its octave and its twelfth.
const OVERBLOWN: [u8; 3] = [1, 2, 3];

impl Series {
    /// The first [`NOTES`] of `partials` over `fundamental`, on brass; 0 is no partial.
    #[must_use]
    pub fn new(fundamental: Hertz, partials: &[u8]) -> Self {
        let mut series = Self { fundamental, partials: [0; NOTES], count: 0, family: Family::Brass, target: 0 };
        for partial in partials.iter().filter(|partial| **partial > 0).take(NOTES) {
            series.partials[series.count] = *partial;
            series.count += 1;
        }
        series
    }

    /// The note asked for and its neighbours of the same fingering: the five partials that fingering charts use, around it. Nothing for
    /// what is no brass instrument, or is not on its tube; for woodwinds see [`Self::overblown`].
    #[must_use]
    pub fn around(instrument: &Instrument, tuning: &Tuning, written: Written) -> Option<Self> {
        let wanted = instrument.fingering(written)?;
        let used = fingering::USED;
        let at = used.iter().position(|partial| *partial >= wanted.partial)?;
        let first = at.saturating_sub(NOTES / 2).min(used.len() - NOTES);
        let hertz = tuning.frequency(instrument.sounding(written));
        let fundamental = Hertz::new(hertz.hz() / f64::from(wanted.partial)).ok()?;
        Some(Self::new(fundamental, &used[first..first + NOTES]))
    }

    /// The note asked for on a woodwind, with its octave and twelfth: `partial` is 1 for a note of the low register, and for one that is
    /// overblown 2 or, on clarinets, 3. Nothing for what is no woodwind.
    ///
    /// ```
    /// use listen::section::Series;
    /// use pitch::{Instrument, Tuning};
    /// let clarinet = Instrument::find("clarinet")?;
    /// let series = Series::overblown(clarinet, &Tuning::default(), "C5".parse()?, 3).ok_or("no woodwind")?;
    /// assert_eq!(series.partials(), [1, 2, 3]);
    /// // written F3 sounds E-flat 3
    /// assert!((series.fundamental().hz() - 155.4).abs() < 0.1);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn overblown(instrument: &Instrument, tuning: &Tuning, written: Written, partial: u8) -> Option<Self> {
        if instrument.family() != Family::Woodwind || !OVERBLOWN.contains(&partial) {
            return None;
        }
        let hertz = tuning.frequency(instrument.sounding(written));
        let fundamental = Hertz::new(hertz.hz() / f64::from(partial)).ok()?;
        Some(Self::overblown_from(fundamental, partial))
    }

    /// The same over a fundamental that is known by its frequency.
    #[must_use]
    pub fn overblown_from(fundamental: Hertz, partial: u8) -> Self {
        Self { family: Family::Woodwind, target: partial, ..Self::new(fundamental, &OVERBLOWN) }
    }

    /// Whether the neighbours of the note asked for are counted.
    fn neighbours(&self) -> bool {
        self.family == Family::Woodwind && self.target > 0 && self.count + beside::SIDES <= NOTES
    }

    /// What the partials are multiples of.
    #[must_use]
    pub const fn fundamental(&self) -> Hertz {
        self.fundamental
    }

    /// The partials, from the lowest.
    #[must_use]
    pub fn partials(&self) -> &[u8] {
        &self.partials[..self.count]
    }
}

/// Who sits where.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shares {
    list: [Share; NOTES],
    count: usize,
    /// Where in the list the neighbours stand, if they are counted.
    neighbours: Option<usize>,
    /// How far the section's mean tuning lies above (negative: below) the series.
    pub tuning: Cents,
    /// The share that is on none of them. On woodwinds these are the heads a semitone or a whole tone beside the note asked for, and with
    /// the shares they make up 1; on brass, whose shares make up 1 by themselves, it is the share of the sound, over its noise, that
    /// lies on no line of the series: other notes, or other instruments.
    pub elsewhere: f64,
}

impl Shares {
    /// The share of each partial, from the lowest.
    #[must_use]
    pub fn as_slice(&self) -> &[Share] {
        &self.list[..self.count]
    }

    /// The share on one partial.
    #[must_use]
    pub fn on(&self, partial: u8) -> Option<Share> {
        self.as_slice().iter().copied().find(|share| share.partial == partial)
    }

    /// On woodwinds, the shares a semitone or a whole tone below the note asked for and above it; their partial is 0. Nothing on brass.
    #[must_use]
    pub fn beside(&self) -> Option<[Share; 2]> {
        let at = self.neighbours?;
        Some([self.list[at], self.list[at + 1]])
    }

    /// The partial that most likely has the largest group.
    #[must_use]
    pub fn largest(&self) -> Option<Share> {
        self.as_slice().iter().copied().max_by(|a, b| a.leads.total_cmp(&b.leads))
    }
}

/// Listens to a section on one series. Allocates when built and never after.
#[derive(Debug)]
pub struct Section {
    series: Series,
    timbres: Timbres,
    lines: Lines,
    heads: Heads,
}

/// Under this level there is no section to be heard.
const SILENCE: Decibels = Decibels(-70.0);

impl Section {
    /// Listens for `series`; `heads` are the players of the section, if the room knows them.
    #[must_use]
    pub fn new(series: Series, heads: Option<u8>, rate: SampleRate) -> Self {
        Self {
            heads: Heads::new(series.partials(), heads, series.neighbours()),
            lines: Lines::new(rate),
            timbres: Timbres::of(series.family),
            series,
        }
    }

    /// Goes by one timbre, learnt in the room, in place of those that the family may have.
    pub const fn set_timbre(&mut self, timbre: Timbre) {
        self.timbres = Timbres::one(timbre);
    }

    /// Weighs one more timbre beside those that the family may have: that of these players, learnt from their solos.
    pub fn add_timbre(&mut self, timbre: Timbre) {
        self.timbres.add(timbre);
    }

    /// Forgets what was heard, before the next note.
    pub fn clear(&mut self) {
        self.lines.clear();
    }

    /// Takes the next block of any length. Everything since [`Self::clear`] counts, so begin when all have begun.
    pub fn hear(&mut self, block: &[f32]) {
        self.lines.hear(block);
    }

    /// The grid of what was heard; a solo's teaches a [`Timbre`]. Nothing before 0.34 s, or in silence.
    #[must_use]
    pub fn grid(&self) -> Option<Grid> {
        let grid = self.lines.read(self.series.fundamental, self.series.partials());
        let power: f64 = grid.power.iter().sum();
        (self.lines.windows() > 0 && 10.0 * power.max(1e-20).log10() > SILENCE.0).then_some(grid)
    }

    /// The shares of what was heard: a first answer after 0.4 s, a better one by 1.4 s. Takes some milliseconds: ask now and then.
    #[must_use]
    pub fn shares(&mut self) -> Option<Shares> {
        let grid = self.grid()?;
        let first = usize::from(self.series.partials().first().copied().unwrap_or(2)).clamp(1, 2);
        let (power, own) = self.lines.aside(&grid, self.series.fundamental, first);
        let beside = self.lines.beside(&grid, self.series.fundamental, self.series.target);
        let list = self.heads.weigh(&grid, &beside, &self.timbres);
        let elsewhere = match self.series.neighbours() {
            true => list[self.series.count].share + list[self.series.count + 1].share,
            false => power / (power + own).max(1e-20),
        };
        let neighbours = self.series.neighbours().then_some(self.series.count);
        Some(Shares { list, count: self.series.count, neighbours, tuning: grid.tuning, elsewhere })
    }
}
