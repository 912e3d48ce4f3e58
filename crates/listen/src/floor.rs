//! How loud the noise between the harmonics is, from the spectrum alone.

use std::ops::Range;

/// The share of a band's bins that lie at or under its floor.
const SHARE: f64 = 0.4;
/// Octaves of a band.
const BAND: f64 = 0.5;
/// Bins of the narrowest band.
const FEWEST: usize = 6;

/// Reads the floor by bands half an octave wide, straight between their middles; allocates nothing once built.
#[derive(Debug)]
pub(crate) struct Floor {
    bands: Vec<Range<usize>>,
    sorted: Vec<f32>,
    heights: Vec<f32>,
    /// For every bin of the range: the band whose middle lies below, and how far on to the next.
    places: Vec<(usize, f32)>,
    first: usize,
}

impl Floor {
    /// The floor under the bins of `range`.
    pub(crate) fn new(range: Range<usize>) -> Self {
        let mut bands = Vec::new();
        let mut start = range.start.max(1);
        while start < range.end {
            let end = ((start as f64 * BAND.exp2()) as usize).max(start + FEWEST).min(range.end);
            bands.push(start..end);
            start = end;
        }
        let middles: Vec<f32> = bands.iter().map(|band| (band.start + band.end) as f32 / 2.0).collect();
        let place = |bin: usize| {
            let x = bin as f32;
            let above = middles.iter().position(|middle| *middle > x).unwrap_or(middles.len());
            match above {
                0 => (0, 0.0),
                _ if above == middles.len() => (above - 1, 0.0),
                _ => (above - 1, (x - middles[above - 1]) / (middles[above] - middles[above - 1])),
            }
        };
        let widest = bands.iter().map(ExactSizeIterator::len).max().unwrap_or(0);
        Self {
            places: range.clone().map(place).collect(),
            heights: vec![0.0; bands.len()],
            sorted: vec![0.0; widest],
            bands,
            first: range.start,
        }
    }

    /// Reads `power`.
    pub(crate) fn read(&mut self, power: &[f32]) {
        for (band, height) in self.bands.iter().zip(&mut self.heights) {
            let bins = &mut self.sorted[..band.len()];
            bins.copy_from_slice(&power[band.clone()]);
            let at = ((bins.len() - 1) as f64 * SHARE) as usize;
            *height = bins.select_nth_unstable_by(at, f32::total_cmp).1.max(1e-20);
        }
    }

    /// The floor at `bin`, one of the range.
    pub(crate) fn at(&self, bin: usize) -> f32 {
        let (band, part) = self.places[bin - self.first];
        let next = self.heights[(band + 1).min(self.heights.len() - 1)];
        self.heights[band] + part * (next - self.heights[band])
    }
}
