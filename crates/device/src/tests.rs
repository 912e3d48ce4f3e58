//! The output against a sound system that fails in every way on demand.

use assert_no_alloc::{AllocDisabler, assert_no_alloc, violation_count};
use crossbeam_channel::{Receiver, bounded};
use engine::pair;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering::SeqCst};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};
use units::SampleRate;

use crate::backend::{Backend, FaultKind, Line, OpenError, Opened, Wish};
use crate::custody::{Custody, User};
use crate::event::{Event, Sound};
use crate::feed::{Heart, MISSED_QUEUE};
use crate::output::{Output, Wanted};

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

const MS: Duration = Duration::from_millis(1);

/// A sound system with one device.
#[derive(Default)]
struct Fake {
    /// Opening fails with this.
    refuses: Mutex<Option<OpenError>>,
    /// Opening and closing take as long as this is set.
    hangs: AtomicBool,
    /// Streams get no callbacks.
    stalls: AtomicBool,
    /// Streams get one callback and no more.
    fills_only: AtomicBool,
    /// The fault the running stream is to report.
    fault: Mutex<Option<FaultKind>>,
    /// Frames to lose before the next callback.
    dry: AtomicU64,
    opened: AtomicU32,
    /// What was asked for, newest last.
    wishes: Mutex<Vec<Wish>>,
}

struct FakeStream {
    gone: Arc<AtomicBool>,
    system: Arc<Fake>,
}

impl Drop for FakeStream {
    fn drop(&mut self) {
        self.gone.store(true, SeqCst);
        while self.system.hangs.load(SeqCst) {
            thread::sleep(5 * MS);
        }
    }
}

impl Backend for Arc<Fake> {
    fn open(&self, wish: &Wish, line: &Line) -> Result<Opened, OpenError> {
        self.wishes.lock().unwrap().push(wish.clone());
        while self.hangs.load(SeqCst) {
            thread::sleep(5 * MS);
        }
        if let Some(error) = self.refuses.lock().unwrap().clone() {
            return Err(error);
        }
        self.opened.fetch_add(1, SeqCst);
        let gone = Arc::new(AtomicBool::new(false));
        let (system, over, line, frames) = (Arc::clone(self), Arc::clone(&gone), line.clone(), wish.frames as usize);
        let rate = f64::from(wish.rate.hz());
        thread::spawn(move || {
            let mut feed = line.feed(2);
            let mut out = vec![0.0_f32; 2 * frames];
            let mut next = Instant::now();
            let mut filled = false;
            while !over.load(SeqCst) {
                if let Some(kind) = system.fault.lock().unwrap().take() {
                    line.fault(kind, || "it was told to".to_owned());
                }
                if !system.stalls.load(SeqCst) {
                    feed.fill(&mut out);
                    filled = true;
                }
                while filled && system.fills_only.load(SeqCst) && !over.load(SeqCst) {
                    thread::sleep(MS);
                    next = Instant::now();
                }
                let dry = system.dry.swap(0, SeqCst) as f64;
                next += Duration::from_secs_f64((frames as f64 + dry) / rate);
                thread::sleep(next.saturating_duration_since(Instant::now()));
            }
        });
        let stream = FakeStream { gone, system: Arc::clone(self) };
        Ok(Opened {
            stream: Box::new(stream),
            device: "fake".to_owned(),
            id: "test:fake".to_owned(),
            host: "test".to_owned(),
            last_resort: false,
        })
    }
}

fn start(wanted: Wanted) -> (Arc<Fake>, Output, engine::Controls) {
    let system = Arc::new(Fake::default());
    let (output, controls) = start_on(&system, wanted);
    (system, output, controls)
}

fn start_on(system: &Arc<Fake>, wanted: Wanted) -> (Output, engine::Controls) {
    let (controls, renderer) = pair(SampleRate::DEFAULT);
    (Output::start_with(renderer, wanted, 512, Arc::new(Arc::clone(system))), controls)
}

fn next(events: &Receiver<Event>) -> Event {
    events.recv_timeout(8_000 * MS).expect("an event within 8 s")
}

fn is_playing(event: &Event) -> bool {
    matches!(event, Event::Playing { .. })
}

#[test]
fn a_device_plays_and_says_so() {
    let (system, output, _controls) = start(Wanted::Default);
    assert!(is_playing(&next(output.events())));
    let status = output.status();
    assert_eq!((status.sound, status.device.as_deref(), status.frames_per_callback), (Sound::Playing, Some("fake"), 512));
    let before = output.frame();
    thread::sleep(200 * MS);
    assert!(output.frame() > before);
    output.stop();
    assert_eq!(system.opened.load(SeqCst), 1);
}

#[test]
fn a_stream_that_stalls_is_lost_and_found_again_and_time_never_goes_back() {
    let (system, output, _controls) = start(Wanted::Default);
    assert!(is_playing(&next(output.events())));
    let mut frame = output.frame();
    for _ in 0..3 {
        system.stalls.store(true, SeqCst);
        assert!(matches!(next(output.events()), Event::Lost { .. }));
        assert_eq!(output.status().sound, Sound::Searching);
        system.stalls.store(false, SeqCst);
        let Event::Returned { after, .. } = next(output.events()) else { panic!("not back") };
        assert!(after < 1_000 * MS, "{after:?}");
        assert!(output.frame() > frame);
        frame = output.frame();
    }
    assert_eq!(output.status().losses, 3);
    output.stop();
}

#[test]
fn a_fatal_fault_is_believed_at_once_and_a_suspicion_only_if_the_callbacks_stop() {
    let (system, output, _controls) = start(Wanted::Default);
    assert!(is_playing(&next(output.events())));
    *system.fault.lock().unwrap() = Some(FaultKind::Suspicious);
    thread::sleep(500 * MS);
    assert!(output.events().is_empty(), "a healthy stream was given up");
    let start = Instant::now();
    *system.fault.lock().unwrap() = Some(FaultKind::Fatal);
    assert!(matches!(next(output.events()), Event::Lost { why, .. } if why == "it was told to"));
    assert!(start.elapsed() < 200 * MS, "{:?}", start.elapsed());
    assert!(matches!(next(output.events()), Event::Returned { .. }));
    output.stop();
}

#[test]
fn without_a_device_the_clock_runs_at_the_right_pace_and_the_trouble_is_told_once() {
    let system = Arc::new(Fake::default());
    *system.refuses.lock().unwrap() = Some(OpenError::NoHost);
    let (output, _controls) = start_on(&system, Wanted::Default);
    let Event::NoDevice { why, mend } = next(output.events()) else { panic!("no trouble told") };
    assert!(why.contains("no sound card opens") && mend.contains("doctor"), "{why}; {mend}");
    assert_eq!(output.status().trouble, Some((why, mend)));
    let (start, frame) = (Instant::now(), output.frame());
    thread::sleep(1_000 * MS);
    let (passed, frames) = (start.elapsed(), output.frame().since(frame));
    let error = frames.0 as f64 / 48_000.0 - passed.as_secs_f64();
    assert!(error.abs() < 0.06, "off by {error} s");
    assert!(output.events().is_empty(), "told twice");
    *system.refuses.lock().unwrap() = None;
    assert!(is_playing(&next(output.events())));
    output.stop();
}

#[test]
fn a_device_with_another_rate_says_how_to_start() {
    let system = Arc::new(Fake::default());
    *system.refuses.lock().unwrap() = Some(OpenError::Rate { device: "Desk".to_owned(), wanted: 48_000, offered: vec![44_100] });
    let (output, _controls) = start_on(&system, Wanted::Default);
    let sentence = next(output.events()).to_string();
    assert_eq!(sentence, "no sound: Desk does not take 48000 Hz; the device offers 44100 Hz only; start with --rate 44100");
    output.stop();
}

#[test]
fn stopping_takes_less_than_200_ms_whatever_hangs() {
    // in the middle of opening
    let system = Arc::new(Fake::default());
    system.hangs.store(true, SeqCst);
    let (output, _controls) = start_on(&system, Wanted::Default);
    thread::sleep(100 * MS);
    let start = Instant::now();
    output.stop();
    assert!(start.elapsed() < 200 * MS, "{:?}", start.elapsed());
    system.hangs.store(false, SeqCst);
    // while playing
    let (output, _controls) = start_on(&system, Wanted::Default);
    assert!(is_playing(&next(output.events())));
    system.hangs.store(true, SeqCst);
    system.stalls.store(true, SeqCst);
    let start = Instant::now();
    output.stop();
    assert!(start.elapsed() < 200 * MS, "{:?}", start.elapsed());
    system.hangs.store(false, SeqCst);
}

#[test]
fn three_gaps_are_told_and_double_the_buffer() {
    let (system, output, _controls) = start(Wanted::Default);
    assert!(is_playing(&next(output.events())));
    thread::sleep(1_200 * MS);
    for _ in 0..3 {
        system.dry.store(960, SeqCst);
        let Event::Gap { frames, .. } = next(output.events()) else { panic!("no gap") };
        assert!((900..=1_100).contains(&frames.0), "{frames:?} for 960");
    }
    assert_eq!(next(output.events()), Event::BufferGrown { from: 512, to: 1024 });
    assert!(matches!(next(output.events()), Event::Playing { frames_per_callback: 1024, .. }));
    assert_eq!(output.status().gaps, 3);
    output.stop();
}

#[test]
fn another_device_can_be_chosen_and_none() {
    let (system, output, _controls) = start(Wanted::None);
    thread::sleep(100 * MS);
    assert_eq!((output.status().sound, system.opened.load(SeqCst)), (Sound::Off, 0));
    output.use_device(Wanted::Named("fake".to_owned()));
    assert!(is_playing(&next(output.events())));
    assert_eq!(system.wishes.lock().unwrap().last().unwrap().wanted, Wanted::Named("fake".to_owned()));
    output.use_device(Wanted::None);
    thread::sleep(300 * MS);
    assert_eq!(output.status().sound, Sound::Off);
    let frame = output.frame();
    thread::sleep(100 * MS);
    assert!(output.frame() > frame, "the silent clock stands");
    output.stop();
}

#[test]
fn a_stream_that_takes_no_sound_never_gets_the_renderer() {
    let system = Arc::new(Fake::default());
    system.stalls.store(true, SeqCst);
    let (output, _controls) = start_on(&system, Wanted::Default);
    let frame = output.frame();
    let event = next(output.events());
    assert!(matches!(&event, Event::NoDevice { why, .. } if why.contains("takes no sound")), "{event:?}");
    assert!(output.frame().since(frame).0 > 3 * 48_000, "the silent clock stood");
    output.stop();
}

#[test]
fn a_stream_that_only_fills_its_buffer_does_not_keep_the_renderer() {
    let system = Arc::new(Fake::default());
    system.fills_only.store(true, SeqCst);
    let (output, _controls) = start_on(&system, Wanted::Default);
    let event = next(output.events());
    assert!(matches!(&event, Event::NoDevice { why, .. } if why.contains("takes no sound")), "{event:?}");
    assert!(output.frame().0 > 3 * 48_000, "the silent clock stood: {:?}", output.frame());
    system.fills_only.store(false, SeqCst);
    assert!(is_playing(&next(output.events())));
    output.stop();
}

#[test]
fn a_panic_is_caught_once_and_silences_for_good() {
    let (_controls, renderer) = pair(SampleRate::DEFAULT);
    let custody = Custody::new(renderer);
    assert!(custody.lend(User::SilentClock, |renderer| renderer.fill(&mut [0.0; 128], 2)));
    assert!(!custody.lend(User::SilentClock, |_| panic!("on purpose")));
    assert!(custody.has_panicked());
    assert!(!custody.lend(User::SilentClock, |_| unreachable!("lent after a panic")));
}

#[test]
fn only_the_expected_stream_gets_the_renderer() {
    let (_controls, renderer) = pair(SampleRate::DEFAULT);
    let custody = Custody::new(renderer);
    let lend = |user| custody.lend(user, |renderer| renderer.fill(&mut [0.0; 128], 2));
    custody.claim(1);
    assert!(lend(User::SilentClock) && !lend(User::Stream(1)));
    custody.expect(1);
    assert!(lend(User::SilentClock) && !lend(User::Stream(1)), "taken before it was claimed");
    custody.claim(1);
    assert!(!lend(User::SilentClock) && lend(User::Stream(1)));
    custody.expect(2);
    custody.claim(1);
    assert!(lend(User::SilentClock) && !lend(User::Stream(1)), "a stream that was given up came back");
    custody.claim(2);
    assert!(lend(User::Stream(2)));
    custody.recall();
    custody.claim(2);
    assert!(lend(User::SilentClock) && !lend(User::Stream(2)));
}

#[test]
fn a_callback_allocates_and_frees_nothing_from_its_first_frame_to_its_last() {
    let (_controls, renderer) = pair(SampleRate::DEFAULT);
    let custody = Arc::new(Custody::new(renderer));
    let heart = Arc::new(Heart::default());
    let ((missed, missed_in), (faults, _faults_in)) = (bounded(MISSED_QUEUE), bounded(16));
    let line = Line { id: 1, rate: SampleRate::DEFAULT, custody: Arc::clone(&custody), heart: Arc::clone(&heart), missed, faults };
    let mut feed = line.feed(2);
    let mut out = vec![0.0; 2 * 480];
    let mut fill = |times: u32| {
        for _ in 0..times {
            assert_no_alloc(|| feed.fill(&mut out));
            thread::sleep(10 * MS);
        }
    };
    // while it is not expected, then while it plays, then across a gap, then while it fades, then when it was given up
    fill(3);
    custody.expect(1);
    fill(120);
    assert!(heart.is_proven() && !custody.is_idle());
    thread::sleep(100 * MS);
    fill(60);
    assert!(!missed_in.is_empty(), "no gap was told");
    heart.close();
    fill(5);
    assert!(heart.has_faded());
    custody.recall();
    fill(3);
    assert_eq!(violation_count(), 0);
    assert_no_alloc(|| drop(std::hint::black_box(vec![1_u8; 64])));
    assert!(violation_count() > 0, "the allocator does not watch");
}
