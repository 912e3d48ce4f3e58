//! What one player's note sounds like: the power of its harmonics.

use super::lines::{Grid, LINES};
use pitch::Family;

/// The relative power of the harmonics of one player's note.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timbre {
    harmonics: [f64; LINES],
    /// How many solos it was learnt from; what was given counts as [`GIVEN`].
    solos: f64,
}

/// How many solos a timbre from elsewhere is worth.
const GIVEN: f64 = 4.0;

/// Horn, trumpet, trombone and tuba, and all of them: means over 80 solos each of two `SoundFonts` (FluidR3, TimGM6mb), made by
/// `benches/listening/clips.py section --heads 1` with seeds 31 and 32, 160 a font, and read by `measure_section --grids`. From the thirteenth
/// harmonic on they fall with the square.
const BRASS: [[f64; 12]; 5] = [
    [0.15875, 0.37082, 0.19273, 0.07068, 0.08393, 0.04195, 0.01893, 0.01441, 0.00770, 0.00623, 0.00515, 0.00433],
    [0.09955, 0.17602, 0.19412, 0.10212, 0.10108, 0.10659, 0.08571, 0.06543, 0.01879, 0.01327, 0.00732, 0.00561],
    [0.05734, 0.13629, 0.24659, 0.15576, 0.10598, 0.08342, 0.04648, 0.04721, 0.03941, 0.01516, 0.03574, 0.00620],
    [0.33575, 0.22403, 0.14376, 0.08902, 0.06597, 0.03515, 0.02330, 0.02205, 0.01416, 0.00999, 0.00677, 0.00566],
    [0.12844, 0.20247, 0.18601, 0.10361, 0.09561, 0.08093, 0.06609, 0.05372, 0.02458, 0.01478, 0.01308, 0.00628],
];

/// Flute, oboe, clarinet, alto saxophone and bassoon, and all of them, in the same way: with `--woodwinds`, seeds 43 and 44, 150 a font.
const WOODWINDS: [[f64; 12]; 6] = [
    [0.18193, 0.41867, 0.17693, 0.13949, 0.05051, 0.01118, 0.00393, 0.00263, 0.00228, 0.00149, 0.00266, 0.00179],
    [0.30399, 0.16932, 0.15975, 0.13508, 0.05625, 0.02084, 0.02611, 0.02332, 0.02487, 0.01462, 0.01233, 0.02342],
    [0.28665, 0.17200, 0.32008, 0.09381, 0.06078, 0.04417, 0.00310, 0.00470, 0.00279, 0.00209, 0.00113, 0.00070],
    [0.33843, 0.02831, 0.27352, 0.01083, 0.07117, 0.00506, 0.07748, 0.00598, 0.08150, 0.01469, 0.04047, 0.00220],
    [0.68762, 0.16590, 0.10306, 0.01405, 0.01000, 0.00605, 0.00160, 0.00090, 0.00088, 0.00066, 0.00049, 0.00041],
    [0.34580, 0.19555, 0.22328, 0.08234, 0.05217, 0.01790, 0.02227, 0.00730, 0.01591, 0.00566, 0.00823, 0.00648],
];

impl Timbre {
    /// Power falling with the square of the harmonic's number: when nothing is known.
    #[must_use]
    pub fn parametric() -> Self {
        Self::of(std::array::from_fn(|h| ((h + 1) as f64).powi(-2)))
    }

    /// Brass in the hands of nobody in particular: the mean over horn, trumpet, trombone and tuba.
    #[must_use]
    pub fn brass() -> Self {
        Self::measured(&BRASS[4])
    }

    fn measured(first: &[f64; 12]) -> Self {
        // 0.62 / h^2 is what the parametric timbre has there
        Self::of(std::array::from_fn(|h| first.get(h).copied().unwrap_or(0.62 * ((h + 1) as f64).powi(-2))))
    }

    /// A timbre of these powers; what is not above zero counts as very weak.
    #[must_use]
    pub fn of(harmonics: [f64; LINES]) -> Self {
        Self { harmonics: harmonics.map(|power| if power.is_finite() { power.max(1e-6) } else { 1e-6 }), solos: GIVEN }
    }

    /// Learns from a solo on `partial`: the more solos, the less it keeps of what it was given.
    pub fn learn(&mut self, solo: &Grid, partial: u8) {
        let step = usize::from(partial.max(1));
        let count = LINES / step;
        let heard: f64 = (1..=count).map(|h| solo.power[h * step - 1]).sum();
        let mine: f64 = self.harmonics[..count].iter().sum();
        if count < 2 || !heard.is_finite() || heard <= 0.0 {
            return;
        }
        let share = 1.0 / (self.solos + 1.0);
        for h in 1..=count {
            let power = (solo.power[h * step - 1] / heard * mine).max(1e-6);
            self.harmonics[h - 1] += share * (power - self.harmonics[h - 1]);
        }
        self.solos += 1.0;
    }

    pub(super) const fn harmonics(&self) -> &[f64; LINES] {
        &self.harmonics
    }
}

/// Timbres that may be.
pub(super) const MOST_TIMBRES: usize = 8;

/// The timbres a section may have: which of them it has is not known, and is summed over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Timbres {
    list: [Timbre; MOST_TIMBRES],
    count: usize,
}

impl Timbres {
    /// A timbre that is known.
    pub(crate) const fn one(timbre: Timbre) -> Self {
        Self { list: [timbre; MOST_TIMBRES], count: 1 }
    }

    /// What a section of `family` may sound like, or not: the more unlike each other, the less a strange one deceives.
    pub(crate) fn of(family: Family) -> Self {
        let measured: &[[f64; 12]] = if family == Family::Woodwind { &WOODWINDS } else { &BRASS };
        let mut timbres = Self { list: [Timbre::parametric(); MOST_TIMBRES], count: measured.len() + 1 };
        timbres.list.iter_mut().zip(measured).for_each(|(to, first)| *to = Timbre::measured(first));
        timbres
    }

    /// One more that it may have; a later one takes the place of the last where there are as many as there may be.
    pub(crate) fn add(&mut self, timbre: Timbre) {
        let at = self.count.min(MOST_TIMBRES - 1);
        self.list[at] = timbre;
        self.count = at + 1;
    }

    pub(super) fn as_slice(&self) -> &[Timbre] {
        &self.list[..self.count]
    }
}
