//! Who has the renderer. It outlives every stream: each callback takes it, fills and puts it back; so does the silent clock.
//!
//! One word, the seat, says who may take it, so that a stream that was given up can never take it again, however late its thread wakes.

use crossbeam_utils::atomic::AtomicCell;
use engine::Renderer;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};
use units::FrameInstant;

const _: () = assert!(AtomicCell::<Option<Box<Renderer>>>::is_lock_free());

/// Who asks for the renderer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum User {
    SilentClock,
    /// A stream, by its number; numbers start at 1.
    Stream(u32),
}

/// The renderer's place between two users.
pub(crate) struct Custody {
    renderer: AtomicCell<Option<Box<Renderer>>>,
    /// The number of the stream that may play, times two, plus one once it does. While the last bit is 0 the silent clock has the renderer.
    seat: AtomicU64,
    /// The renderer after a panic, to be freed where freeing is allowed.
    broken: AtomicCell<Option<Box<Renderer>>>,
    panicked: AtomicBool,
    /// The engine's next frame.
    frame: AtomicU64,
    epoch: Instant,
}

impl Custody {
    pub(crate) fn new(renderer: Renderer) -> Self {
        let frame = AtomicU64::new(renderer.now().0);
        Self {
            renderer: AtomicCell::new(Some(Box::new(renderer))),
            seat: AtomicU64::new(0),
            broken: AtomicCell::new(None),
            panicked: AtomicBool::new(false),
            frame,
            epoch: Instant::now(),
        }
    }

    /// Nanoseconds of the monotonic clock since this began.
    pub(crate) fn clock(&self) -> u64 {
        self.epoch.elapsed().as_nanos() as u64
    }

    /// When the clock read `nanos`.
    pub(crate) fn instant(&self, nanos: u64) -> Instant {
        self.epoch + Duration::from_nanos(nanos)
    }

    /// The engine's next frame, as last seen.
    pub(crate) fn frame(&self) -> FrameInstant {
        FrameInstant(self.frame.load(Ordering::Relaxed))
    }

    /// Watcher: stream `id` may take the renderer from the silent clock when it is ready to; every other stream may no longer.
    pub(crate) fn expect(&self, id: u32) {
        self.seat.store(u64::from(id) << 1, Ordering::SeqCst);
    }

    /// Watcher: no stream may take the renderer; the silent clock has it.
    pub(crate) fn recall(&self) {
        self.seat.store(0, Ordering::SeqCst);
    }

    /// Audio thread of stream `id`: takes the renderer over from the silent clock, if it is expected; whether it did.
    pub(crate) fn claim(&self, id: u32) -> bool {
        let expected = u64::from(id) << 1;
        self.seat.compare_exchange(expected, expected | 1, Ordering::SeqCst, Ordering::Relaxed).is_ok()
    }

    /// Whether the silent clock has the renderer.
    pub(crate) fn is_idle(&self) -> bool {
        self.seat.load(Ordering::SeqCst) & 1 == 0
    }

    fn is_entitled(&self, user: User) -> bool {
        let seat = self.seat.load(Ordering::SeqCst);
        match user {
            User::SilentClock => seat & 1 == 0,
            User::Stream(id) => seat == (u64::from(id) << 1 | 1),
        }
    }

    /// Audio thread: lends the renderer to `user` for one call. False if it is another's, or in another's hands for the moment.
    ///
    /// A panic inside is caught; the renderer, whose state nobody can vouch for then, is never lent again.
    pub(crate) fn lend(&self, user: User, work: impl FnOnce(&mut Renderer)) -> bool {
        if !self.is_entitled(user) {
            return false;
        }
        let Some(mut renderer) = self.renderer.take() else { return false };
        if catch_unwind(AssertUnwindSafe(|| work(&mut renderer))).is_err() {
            self.broken.store(Some(renderer));
            self.panicked.store(true, Ordering::SeqCst);
            return false;
        }
        self.frame.store(renderer.now().0, Ordering::Relaxed);
        // the place is empty, so nothing is freed here
        self.renderer.store(Some(renderer));
        true
    }

    /// Whether the renderer panicked.
    pub(crate) fn has_panicked(&self) -> bool {
        self.panicked.load(Ordering::SeqCst)
    }

    /// Watcher: frees what can be freed here and now.
    pub(crate) fn clear(&self) {
        self.recall();
        drop(self.renderer.take());
        drop(self.broken.take());
    }
}
