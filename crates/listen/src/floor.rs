//! How loud the noise between the harmonics is, from the spectrum alone.

use std::ops::Range;

/// The share of a band's bins that lie at or under its floor.
const SHARE: f64 = 0.4;
/// Octaves of a band.
const BAND: f64 = 0.5;
/// No band's floor is lowered further than this under the loudest bin, for what lies lower is the skirts of a tone: where nothing but tones
/// sounds, the bands above are empty.
const DEEPEST: f32 = 1e-5;
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
    steepest: f32,
}

impl Floor {
    /// The floor under the bins of `range`, which rises at most `steepest` times from one band to the next lower.
    pub(crate) fn new(range: Range<usize>, steepest: f32) -> Self {
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
            steepest,
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
        let deepest = DEEPEST * self.bands.iter().flat_map(|band| &power[band.clone()]).copied().fold(0.0, f32::max);
        for at in (1..self.heights.len()).rev() {
            self.heights[at - 1] = self.heights[at - 1].min((self.steepest * self.heights[at]).max(deepest));
        }
    }

    /// The floor at `bin`, one of the range.
    pub(crate) fn at(&self, bin: usize) -> f32 {
        let (band, part) = self.places[bin - self.first];
        let next = self.heights[(band + 1).min(self.heights.len() - 1)];
        self.heights[band] + part * (next - self.heights[band])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tone_as_wide_as_a_low_band_is_not_taken_for_noise() {
        // bins 10 to 20 are one hump, 30 dB over noise that is 1 everywhere
        let power: Vec<f32> = (0..200).map(|bin| if (10..=20).contains(&bin) { 1000.0 } else { 1.0 }).collect();
        let under = |steepest: f32| {
            let mut floor = Floor::new(4..200, steepest);
            floor.read(&power);
            floor.at(15)
        };
        assert!(under(f32::INFINITY) > 100.0, "else the bound has nothing to mend");
        // three half octaves up the bands are free of it
        assert!(under(2.0) <= 8.0, "{}", under(2.0));
    }

    #[test]
    fn noise_that_rises_downwards_no_faster_is_left_as_it_is() {
        let power: Vec<f32> = (0..200_u8).map(|bin| 100.0 / f32::from(bin.max(1))).collect();
        let mut floors = [f32::INFINITY, 2.0].map(|steepest| Floor::new(4..200, steepest));
        for floor in &mut floors {
            floor.read(&power);
        }
        for bin in 4..200 {
            assert!((floors[0].at(bin) - floors[1].at(bin)).abs() < 1e-6, "{bin}");
        }
    }
}
