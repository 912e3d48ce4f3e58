//! A fixed number of voices, what each goes through from its first frame to its last, and who makes room when they are not enough.

use crate::care::{HUSH_SECONDS, RELEASE_SECONDS, STEAL_SECONDS};
use crate::fade::Fade;
use crate::{BLOCK, Bus, Tone};
use units::SampleRate;

/// A voice of a bank.
pub(crate) trait Singer: Copy {
    /// Where it stands between its first frame and its last.
    fn life(&mut self) -> &mut Life;
}

/// What every voice goes through.
#[derive(Clone, Copy)]
pub(crate) struct Life {
    pub(crate) bus: Bus,
    pub(crate) start: u64,
    end: u64,
    pub(crate) fade: Fade,
    /// Roughly how loud it is now, for choosing whom to silence.
    pub(crate) loudness: f32,
    fresh: bool,
}

/// Where a block lies in a life.
pub(crate) enum Stage {
    /// Before it: there is nothing to hear yet.
    Before,
    /// In it, so many frames after its start; negative if it starts inside the block.
    Within(i64),
    /// After it.
    After,
}

impl Life {
    /// The life of a tone, unless it has no length.
    pub(crate) fn of<T>(tone: &Tone<T>) -> Option<Self> {
        let (start, end) = (tone.start.0, tone.end.0);
        (end > start).then(|| Self { bus: tone.bus, start, end, fade: Fade::default(), loudness: tone.level.amplitude(), fresh: true })
    }

    /// How many frames it lasts.
    pub(crate) fn length(&self) -> u64 {
        self.end.saturating_sub(self.start)
    }

    /// Where the block at `start` lies. A voice asked for late starts with its first block.
    pub(crate) fn reach(&mut self, start: u64) -> Stage {
        if self.fresh {
            self.fresh = false;
            self.start = self.start.max(start);
        }
        let age = start.wrapping_sub(self.start) as i64;
        if start >= self.end {
            Stage::After
        } else if age <= -(BLOCK as i64) {
            Stage::Before
        } else {
            Stage::Within(age)
        }
    }

    /// Whether something comes after the block at `start`.
    pub(crate) fn goes_on(&self, start: u64) -> bool {
        start.saturating_add(BLOCK as u64) < self.end
    }

    /// Fades from the next block on, or is dropped if it has not begun; whether it stays.
    fn hush(&mut self, next: u64, length: f32) -> bool {
        let begun = !self.fresh && self.start < next;
        if begun {
            self.fade.ask(length);
        }
        begun
    }
}

/// A fixed number of voices.
pub(crate) struct Bank<V> {
    places: Box<[Option<V>]>,
    /// How many sing at once; the other places are for those that give way to fade in.
    voices: usize,
    rate: SampleRate,
    lost: u64,
    /// Kept, because many tones may start in one block and a voice is large: how many sing without a fade, and a place before which none is
    /// free.
    singing: usize,
    free: usize,
}

impl<V: Singer> Bank<V> {
    /// A bank of so many voices, and places for so many to fade in.
    pub(crate) fn new(voices: usize, fading: usize, rate: SampleRate) -> Self {
        Self { places: vec![None; voices + fading].into_boxed_slice(), voices, rate, lost: 0, singing: 0, free: 0 }
    }

    /// Lets `voice` sing; a voice too many silences the quietest and then oldest.
    pub(crate) fn start(&mut self, voice: V) {
        if self.singing >= self.voices {
            self.steal();
        }
        let free = self.places.iter_mut().enumerate().skip(self.free).find(|(_, place)| place.is_none());
        match free {
            Some((number, place)) => {
                *place = Some(voice);
                self.singing += 1;
                self.free = number + 1;
            }
            None => self.lost += 1,
        }
    }

    fn lives(&mut self) -> impl Iterator<Item = &mut Life> {
        self.places.iter_mut().flatten().map(Singer::life)
    }

    fn steal(&mut self) {
        let length = STEAL_SECONDS * self.rate.hz() as f32;
        let singing = self.lives().filter(|life| life.fade.is_none());
        let victim = singing.min_by(|a, b| a.loudness.total_cmp(&b.loudness).then(a.start.cmp(&b.start)));
        if let Some(victim) = victim {
            victim.fade.ask(length);
            self.singing -= 1;
        }
    }

    /// Counts again after voices have come to their end or begun to fade.
    fn recount(&mut self) {
        self.singing = self.lives().filter(|life| life.fade.is_none()).count();
        self.free = self.places.iter().position(Option::is_none).unwrap_or(self.places.len());
    }

    /// Keeps the voices for which `keep` says so.
    fn retain(&mut self, mut keep: impl FnMut(&mut V) -> bool) {
        let mut ended = false;
        for place in &mut self.places {
            if place.as_mut().is_some_and(|voice| !keep(voice)) {
                *place = None;
                ended = true;
            }
        }
        if ended {
            self.recount();
        }
    }

    /// Fades what began before `at`, as when a model is cut short.
    pub(crate) fn release(&mut self, at: u64) {
        let length = RELEASE_SECONDS * self.rate.hz() as f32;
        for life in self.lives().filter(|life| life.start < at) {
            life.fade.from(at, length);
        }
        self.recount();
    }

    /// Forgets what begins at `at` or later.
    pub(crate) fn drop_from(&mut self, at: u64) {
        self.retain(|voice| voice.life().start < at);
    }

    /// Drops what has not begun by `next` and fades the rest.
    pub(crate) fn hush(&mut self, next: u64) {
        let length = HUSH_SECONDS * self.rate.hz() as f32;
        self.retain(|voice| voice.life().hush(next, length));
        self.recount();
    }

    /// Lets `render` add each voice's block, and frees the places of those it says are over.
    pub(crate) fn render(&mut self, render: impl FnMut(&mut V) -> bool) {
        self.retain(render);
    }

    pub(crate) fn is_silent(&self) -> bool {
        self.places.iter().all(Option::is_none)
    }

    /// Tones that found no place, not even by stealing.
    pub(crate) fn lost(&self) -> u64 {
        self.lost
    }

    /// How many tones sound or fade now.
    pub(crate) fn sounding(&self) -> usize {
        self.places.iter().flatten().count()
    }
}
