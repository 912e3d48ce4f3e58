//! Beats of a played tone against a drone.
//!
//! Two tones of nearly the same frequency beat as often in a second as their frequencies differ (H. von Helmholtz, On the Sensations
//! of Tone, part II, chapter VIII); of two tones that stand in an interval, those overtones beat that nearly coincide (chapter X).

use units::{Cents, Hertz};

/// The highest harmonic of either tone that is taken to be heard beating (common practice, no source).
pub const HARMONICS: u32 = 8;
/// Harmonics further apart than this are heard as two tones and beat with none, in cents; half a semitone, as for a note.
pub const NEAR: Cents = Cents(50.0);

/// How a played tone beats against one tone of a drone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beating {
    /// The tone of the drone, by its place in the list.
    pub tone: usize,
    /// The harmonic of the played tone that beats, from 1.
    pub played: u32,
    /// The harmonic of the drone's tone it beats with, from 1.
    pub drone: u32,
    /// Beats in a second, 0 or more.
    pub per_second: f64,
    /// How far the played tone lies above (negative: below) the place where the two do not beat.
    pub cents: Cents,
}

/// How a tone of `played` beats against a drone: by the lowest two harmonics that lie within [`NEAR`] of each other, and of equally low
/// ones by the nearest. `None` without a drone, or where nothing of either comes near the other.
///
/// ```
/// use units::Hertz;
/// let [d, a] = [146.83, 220.0].map(|hz| Hertz::new(hz).unwrap());
/// // near the drone's A, so that it beats with that; a fifth from its D as well, which is not as near
/// let beating = listen::beating(Hertz::new(221.0).unwrap(), &[d, a]).unwrap();
/// assert_eq!((beating.tone, beating.played, beating.drone), (1, 1, 1));
/// assert!((beating.per_second - 1.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn beating(played: Hertz, drone: &[Hertz]) -> Option<Beating> {
    let pairs = drone.iter().enumerate().flat_map(|(tone, hz)| {
        let harmonics = (1..=HARMONICS).flat_map(|p| (1..=HARMONICS).map(move |d| (p, d)));
        harmonics.map(move |(p, d)| {
            let (own, other) = (f64::from(p) * played.hz(), f64::from(d) * hz.hz());
            let cents = Cents(1200.0 * (own / other).log2());
            Beating { tone, played: p, drone: d, per_second: (own - other).abs(), cents }
        })
    });
    let near = pairs.filter(|pair| pair.cents.0.abs() <= NEAR.0);
    // the lowest sum is the simplest interval: 1 and 1 a unison, 2 and 1 an octave, 3 and 2 a fifth
    near.min_by(|a, b| (a.played + a.drone).cmp(&(b.played + b.drone)).then(a.cents.0.abs().total_cmp(&b.cents.0.abs())))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hertz(hz: f64) -> Hertz {
        Hertz::new(hz).unwrap()
    }

    #[test]
    fn a_unison_beats_by_the_difference() {
        let sharp = beating(hertz(442.0), &[hertz(220.0), hertz(440.0)]).unwrap();
        assert_eq!((sharp.tone, sharp.played, sharp.drone), (1, 1, 1));
        assert!((sharp.per_second - 2.0).abs() < 1e-9);
        assert!((sharp.cents.0 - 7.851).abs() < 1e-3);
        let flat = beating(hertz(439.0), &[hertz(440.0)]).unwrap();
        assert!((flat.per_second - 1.0).abs() < 1e-9 && flat.cents.0 < 0.0);
        assert_eq!(beating(hertz(440.0), &[hertz(440.0)]).unwrap().per_second, 0.0);
    }

    #[test]
    fn intervals_beat_by_the_lowest_harmonics_that_nearly_meet() {
        // equal temperament, computed from 440 Hz: the fifth A3 E4 beats 0.74 times a second (3 x 220 - 2 x 329.63), the major third
        // A3 C#4 8.73 times (5 x 220 - 4 x 277.18): the figures of tuners' tables for these intervals, from memory
        for (above, played, drone, per_second) in [(700.0, 2, 3, 0.745), (400.0, 4, 5, 8.731), (500.0, 3, 4, 0.994), (1200.0, 1, 2, 0.0)] {
            let low = hertz(220.0);
            let found = beating(low.moved(Cents(above)), &[low]).unwrap();
            assert_eq!((found.played, found.drone), (played, drone), "{above}");
            assert!((found.per_second - per_second).abs() < 2e-3, "{above}: {}", found.per_second);
        }
        // an octave below the drone: the player's second harmonic
        let below = beating(hertz(111.0), &[hertz(220.0)]).unwrap();
        assert_eq!((below.played, below.drone), (2, 1));
        assert!((below.per_second - 2.0).abs() < 1e-9);
    }

    #[test]
    fn the_cents_are_how_far_the_player_must_move_to_stop_the_beats() {
        for above in [-1230.0, -480.0, -30.0, 0.0, 20.0, 310.0, 390.0, 700.0, 1180.0, 1920.0] {
            let drone = [hertz(196.0), hertz(294.0)];
            let played = drone[0].moved(Cents(above));
            let found = beating(played, &drone).unwrap();
            let still = beating(played.moved(Cents(-found.cents.0)), &drone).unwrap();
            assert!(still.per_second < 1e-9, "{above}: {still:?}");
        }
    }

    #[test]
    fn far_from_every_tone_or_without_a_drone_nothing_beats() {
        assert_eq!(beating(hertz(440.0), &[]), None);
        assert_eq!(beating(hertz(4000.0), &[hertz(100.0)]), None);
    }
}
