//! A piece as the band's page has it: its bars under their own numbers, with meters, tempi, marks, repeats and passages.

use std::ops::Range;
use thiserror::Error;
use units::{Beats, Tempo};

use crate::Meter;

/// The most bars one piece holds.
pub const MAX_PIECE_BARS: usize = 5_000;

/// A piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Piece {
    /// What it is called.
    pub title: String,
    /// In the order of the page, at least one. The first says its tempo.
    pub bars: Vec<PieceBar>,
    /// Rehearsal marks, in the order of the page.
    pub marks: Vec<Mark>,
    /// Where the page is played more than once; none overlaps another.
    pub repeats: Vec<Repeat>,
    /// What the teacher practises by itself.
    pub passages: Vec<Passage>,
}

/// A bar of the page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PieceBar {
    /// How the page numbers it: "17", but also "0" for a pick-up bar or "12a".
    pub number: String,
    /// How it is counted.
    pub meter: Meter,
    /// Where in its meter it begins: past the start in a pick-up bar.
    pub opens_at: Beats,
    /// How long it lasts: its meter's bar, or less in a bar left incomplete.
    pub length: Beats,
    /// The concert tempo from here on; nothing keeps the one before.
    pub tempo: Option<Tempo>,
}

/// A rehearsal mark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// As the page has it: "B", "2", "Trio".
    pub name: String,
    /// The bar it stands over, from zero in [`Piece::bars`].
    pub bar: usize,
}

/// Bars played more than once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Repeat {
    /// Which, from zero in [`Piece::bars`].
    pub bars: Range<usize>,
    /// How often they are played in all, at least twice.
    pub times: u8,
    /// The first ending: bars at their end that are left out the last time.
    pub first_ending: Option<Range<usize>>,
}

/// Bars practised by themselves.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Passage {
    /// What the teacher calls it.
    pub name: String,
    /// Which, from zero in [`Piece::bars`], at least one.
    pub bars: Range<usize>,
}

/// A bar that is not on the page.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{piece} has no bar or mark {wanted}; it goes from bar {first} to bar {last}")]
pub struct NoSuchBar {
    /// The piece's title.
    pub piece: String,
    /// What was asked for.
    pub wanted: String,
    /// The first bar's number.
    pub first: String,
    /// The last bar's number.
    pub last: String,
}

impl PieceBar {
    /// A whole bar.
    #[must_use]
    pub fn whole(number: String, meter: Meter) -> Self {
        Self { number, meter, opens_at: Beats::ZERO, length: meter.bar(), tempo: None }
    }
}

impl Piece {
    /// So many bars of one meter and tempo: what a bare tempo is practised on.
    #[must_use]
    pub fn bare(title: String, tempo: Tempo, meter: Meter, bars: u16) -> Self {
        let mut all: Vec<_> = (1..=bars.max(1)).map(|number| PieceBar::whole(number.to_string(), meter)).collect();
        if let Some(first) = all.first_mut() {
            first.tempo = Some(tempo);
        }
        Self { title, bars: all, marks: Vec::new(), repeats: Vec::new(), passages: Vec::new() }
    }

    /// All of it.
    #[must_use]
    pub fn whole(&self) -> Passage {
        Passage { name: self.title.clone(), bars: 0..self.bars.len() }
    }

    /// The passage called `name`, whatever its case.
    #[must_use]
    pub fn passage(&self, name: &str) -> Option<&Passage> {
        let wanted = name.to_lowercase();
        self.passages.iter().find(|passage| passage.name.to_lowercase() == wanted)
    }

    /// The bar with this number, or under this mark.
    ///
    /// # Errors
    /// [`NoSuchBar`], with what there is.
    pub fn find(&self, place: &str) -> Result<usize, NoSuchBar> {
        let place = place.trim();
        let numbered = self.bars.iter().position(|bar| bar.number == place);
        let marked = || self.marks.iter().find(|mark| mark.name.eq_ignore_ascii_case(place)).map(|mark| mark.bar);
        numbered.or_else(marked).ok_or_else(|| {
            let number = |bar: Option<&PieceBar>| bar.map(|bar| bar.number.clone()).unwrap_or_default();
            NoSuchBar {
                piece: self.title.clone(),
                wanted: place.to_owned(),
                first: number(self.bars.first()),
                last: number(self.bars.last()),
            }
        })
    }

    /// The concert tempo in force at a bar.
    #[must_use]
    pub fn tempo_at(&self, bar: usize) -> Tempo {
        self.bars.iter().take(bar + 1).rev().find_map(|bar| bar.tempo).unwrap_or(Tempo::SLOWEST)
    }

    /// The bars in the order they are played, from zero in [`Self::bars`]. A repeat counts if all of it lies in the passage.
    #[must_use]
    pub fn played(&self, passage: &Range<usize>) -> Vec<usize> {
        let end = passage.end.min(self.bars.len());
        let mut order = Vec::new();
        let mut bar = passage.start;
        while bar < end {
            let repeat = self.repeats.iter().find(|repeat| repeat.bars.start == bar && repeat.bars.end <= end && !repeat.bars.is_empty());
            let Some(repeat) = repeat else {
                order.push(bar);
                bar += 1;
                continue;
            };
            for time in 1..=repeat.times {
                let left_out = repeat.first_ending.clone().filter(|_| time == repeat.times).unwrap_or(0..0);
                order.extend(repeat.bars.clone().filter(|bar| !left_out.contains(bar)));
            }
            bar = repeat.bars.end;
        }
        order
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece() -> Piece {
        let tempo = Tempo::new(120.0).unwrap();
        let mut piece = Piece::bare("Lantern March".to_owned(), tempo, Meter::COMMON, 8);
        piece.bars[4].tempo = Some(Tempo::new(96.0).unwrap());
        piece.marks.push(Mark { name: "B".to_owned(), bar: 4 });
        piece.repeats.push(Repeat { bars: 0..4, times: 2, first_ending: Some(3..4) });
        piece
    }

    #[test]
    fn repeats_are_played_out_and_the_first_ending_left_out_the_last_time() {
        assert_eq!(piece().played(&(0..8)), [0, 1, 2, 3, 0, 1, 2, 4, 5, 6, 7]);
    }

    #[test]
    fn a_repeat_that_is_cut_by_the_passage_is_played_once() {
        assert_eq!(piece().played(&(1..6)), [1, 2, 3, 4, 5]);
        assert_eq!(piece().played(&(0..3)), [0, 1, 2]);
    }

    #[test]
    fn bars_are_found_by_number_and_by_mark() {
        assert_eq!(piece().find("3"), Ok(2));
        assert_eq!(piece().find(" b "), Ok(4));
        let message = piece().find("9").unwrap_err().to_string();
        assert_eq!(message, "Lantern March has no bar or mark 9; it goes from bar 1 to bar 8");
    }

    #[test]
    fn a_tempo_counts_until_the_next() {
        assert_eq!([0, 3, 4, 7].map(|bar| piece().tempo_at(bar).bpm()), [120.0, 120.0, 96.0, 96.0]);
    }
}
