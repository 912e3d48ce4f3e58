//! A fixed number of places for sounds that come and go: what clicks, breaths and words have in common.

use crate::care::HUSH_SECONDS;
use crate::fade::Fade;
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
