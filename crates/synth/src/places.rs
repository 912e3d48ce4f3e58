//! A fixed number of places for sounds that come and go: what clicks, breaths and words have in common.

use crate::care::HUSH_SECONDS;
use crate::fade::Fade;
use crate::{BLOCK, Block};
use units::SampleRate;

/// A sound that has its place.
#[derive(Clone, Copy)]
pub(crate) struct Placed<S> {
    /// Its first frame.
    pub(crate) start: u64,
    pub(crate) fade: Fade,
    pub(crate) sound: S,
    /// Not rendered yet.
    fresh: bool,
}

impl<S: Copy> Placed<S> {
    /// Adds the block at `start` of a waveform that began at the sound's first frame; whether there is more to come.
    pub(crate) fn play(&mut self, start: u64, wave: &[f32], level: f32, out: &mut Block) -> bool {
        let age = start.wrapping_sub(self.start) as i64;
        let mut gain = [level; BLOCK];
        let faded = self.fade.apply(start, &mut gain);
        let wait = (-age).clamp(0, BLOCK as i64) as usize;
        let here = wave.get(age.max(0) as usize..).unwrap_or_default();
        for ((out, gain), sample) in out.iter_mut().zip(&gain).skip(wait).zip(here) {
            *out += sample * gain;
        }
        !faded && age + (BLOCK as i64) < wave.len() as i64
    }
}

/// At most `N` sounds at once.
pub(crate) struct Places<S, const N: usize> {
    places: [Option<Placed<S>>; N],
}

impl<S: Copy, const N: usize> Places<S, N> {
    pub(crate) fn new() -> Self {
        Self { places: [None; N] }
    }

    /// Gives `sound` a free place; one too many is not heard.
    pub(crate) fn start(&mut self, start: u64, sound: S) {
        if let Some(place) = self.places.iter_mut().find(|place| place.is_none()) {
            *place = Some(Placed { start, fade: Fade::default(), sound, fresh: true });
        }
    }

    pub(crate) fn iter_mut(&mut self) -> impl Iterator<Item = &mut Placed<S>> {
        self.places.iter_mut().flatten()
    }

    /// Drops what has not begun by `next` and fades the rest.
    pub(crate) fn hush(&mut self, next: u64, rate: SampleRate) {
        for place in &mut self.places {
            let Some(placed) = place else { continue };
            if placed.fresh || placed.start >= next {
                *place = None;
            } else {
                placed.fade.ask(HUSH_SECONDS * rate.hz() as f32);
            }
        }
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.places.iter().all(Option::is_none)
    }

    /// Lets `render` add each sound's block at `start`, and frees the places of those it says are over.
    pub(crate) fn render(&mut self, start: u64, mut render: impl FnMut(&mut Placed<S>) -> bool) {
        for place in &mut self.places {
            let Some(placed) = place else { continue };
            if placed.fresh {
                // a sound asked for late starts with the block
                placed.fresh = false;
                placed.start = placed.start.max(start);
            }
            if !render(placed) {
                *place = None;
            }
        }
    }
}
