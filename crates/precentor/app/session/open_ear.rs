//! Somebody plays freely, and the console tells what sounds while it sounds.

use listen::{Heard, Player, place};
use pitch::{Instrument, Tuning};
use std::collections::VecDeque;
use units::{Decibels, Hertz, SampleRate};

use crate::app::state::Sounding;

/// Instants, a hundred a second, over which a pitch must stand before it is shown: talk seldom holds one so long.
const STANDS: usize = 12;
/// How far one instant may lie from the others, in cents.
const STEADY: f64 = 40.0;
/// Instants without a pitch after which nothing is shown.
const GONE: usize = 40;
/// What moves less than this is not drawn again, in cents.
const LEAST: f64 = 1.0;

/// Listens to whoever plays.
pub(super) struct OpenEar {
    instrument: &'static Instrument,
    tuning: Tuning,
    player: Option<(Player, SampleRate)>,
    recent: VecDeque<f64>,
    missed: usize,
    level: Decibels,
    shown: Option<Sounding>,
}

impl OpenEar {
    pub(super) fn new(instrument: &'static Instrument, tuning: Tuning) -> Self {
        let recent = VecDeque::with_capacity(STANDS + 1);
        Self { instrument, tuning, player: None, recent, missed: 0, level: Decibels(f64::NEG_INFINITY), shown: None }
    }

    /// Takes the next sound; what sounds now, if that is another than was told last.
    pub(super) fn hear(&mut self, samples: &[f32], rate: SampleRate) -> Option<Option<Sounding>> {
        if self.player.as_ref().is_none_or(|(_, known)| *known != rate) {
            self.player = Player::new(self.instrument, rate, self.tuning).ok().map(|player| (player, rate));
        }
        let (player, _) = self.player.as_mut()?;
        let (recent, missed, level) = (&mut self.recent, &mut self.missed, &mut self.level);
        player.hear(samples, |heard| {
            let Heard::Frame(frame) = heard else { return };
            *level = frame.level;
            match frame.tone {
                Some(tone) => {
                    *missed = 0;
                    recent.push_back(tone.frequency.hz());
                    recent.drain(..recent.len().saturating_sub(STANDS));
                }
                None => {
                    *missed += 1;
                    if *missed >= GONE {
                        recent.clear();
                    }
                }
            }
        });
        let sounding = self.standing().and_then(|hz| self.sounding(hz));
        // between two notes the first stays until the next stands, or all is silent
        if sounding.is_none() && !self.recent.is_empty() {
            return None;
        }
        let same = match (&sounding, &self.shown) {
            (Some(new), Some(old)) => new.written == old.written && (new.cents.0 - old.cents.0).abs() < LEAST,
            (None, None) => true,
            _ => false,
        };
        (!same).then(|| {
            self.shown = sounding;
            sounding
        })
    }

    /// The pitch that has stood, in Hz.
    fn standing(&self) -> Option<f64> {
        if self.recent.len() < STANDS {
            return None;
        }
        let mut sorted: Vec<f64> = self.recent.iter().copied().collect();
        sorted.sort_by(f64::total_cmp);
        let middle = sorted[STANDS / 2];
        sorted.iter().all(|hz| (1200.0 * (hz / middle).log2()).abs() <= STEADY).then_some(middle)
    }

    fn sounding(&self, hz: f64) -> Option<Sounding> {
        let frequency = Hertz::new(hz).ok()?;
        let named = place::name(self.instrument, &self.tuning, frequency)?;
        let partial = self.instrument.fingering(named.written).map(|fingering| fingering.partial);
        Some(Sounding { written: named.written, concert: named.concert, cents: named.cents, frequency, partial, level: self.level })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: SampleRate = SampleRate::DEFAULT;

    fn tone(hz: f64, seconds: f64) -> Vec<f32> {
        let part = |n: u64, h: f64| (n as f64 * h * hz * std::f64::consts::TAU / 48_000.0).sin() / h;
        (0..RATE.span(seconds).0).map(|n| 0.05 * (1..6).map(|h| part(n, f64::from(h))).sum::<f64>() as f32).collect()
    }

    fn horn() -> OpenEar {
        OpenEar::new(Instrument::find("horn in F").unwrap(), Tuning::default())
    }

    /// Everything that is shown of `sound`, heard in blocks of a fiftieth of a second.
    fn shown(ear: &mut OpenEar, sound: &[f32]) -> Vec<Option<Sounding>> {
        sound.chunks(960).filter_map(|block| ear.hear(block, RATE)).collect()
    }

    #[test]
    fn a_note_is_shown_as_it_is_read_with_its_cents_and_partial_and_goes_when_it_is_over() {
        let mut ear = horn();
        // C4, seven cents high: written G4, the sixth partial
        let seen = shown(&mut ear, &tone(261.6256 * (7.0_f64 / 1200.0).exp2(), 0.8));
        let note = seen.last().unwrap().unwrap();
        assert_eq!((note.written.to_string(), note.concert.to_string(), note.partial), ("G4".to_owned(), "C4".to_owned(), Some(6)));
        assert!((note.cents.0 - 7.0).abs() < 0.5, "{:?}", note.cents);
        assert_eq!(shown(&mut ear, &vec![0.0; 48_000]), [None]);
    }

    #[test]
    fn a_note_shows_within_a_third_of_a_second_and_noise_never_does() {
        let mut ear = horn();
        let blocks: Vec<Vec<f32>> = tone(196.0, 0.34).chunks(480).map(<[f32]>::to_vec).collect();
        assert!(blocks.iter().any(|block| ear.hear(block, RATE).is_some_and(|shown| shown.is_some())));
        let mut random = 5_u32;
        let noise: Vec<f32> = std::iter::repeat_with(|| {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            ((random >> 8) as f32 / 8_388_608.0 - 1.0) * 0.05
        })
        .take(5 * 48_000)
        .collect();
        assert_eq!(shown(&mut horn(), &noise), []);
    }
}
