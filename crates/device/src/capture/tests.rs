//! The microphone against a sound system that fails in every way on demand.

use super::*;
use crate::tap::tap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering::SeqCst};

const MS: Duration = Duration::from_millis(1);
const RATE: SampleRate = SampleRate::DEFAULT;

/// A sound system with one microphone.
#[derive(Default)]
struct Fake {
    refuses: Mutex<Option<OpenError>>,
    /// Opening takes as long as this is set.
    hangs: AtomicBool,
    /// No callbacks.
    stalls: AtomicBool,
    /// The stream is to end with an error.
    dies: AtomicBool,
    opened: AtomicU32,
    running: Arc<AtomicU32>,
}

struct FakeStream(Arc<AtomicBool>, Arc<AtomicU32>);

impl Drop for FakeStream {
    fn drop(&mut self) {
        self.0.store(true, SeqCst);
        self.1.fetch_sub(1, SeqCst);
    }
}

struct FakeEars(Arc<Fake>);

impl Ears for FakeEars {
    fn open(&self, wish: &EarWish, ends: &Sender<String>) -> Result<OpenEar, OpenError> {
        let system = Arc::clone(&self.0);
        while system.hangs.load(SeqCst) {
            thread::sleep(5 * MS);
        }
        if let Some(error) = system.refuses.lock().unwrap().clone() {
            return Err(error);
        }
        system.opened.fetch_add(1, SeqCst);
        system.running.fetch_add(1, SeqCst);
        let (mut tap, sound) = tap(wish.rate, 1.0);
        let gone = Arc::new(AtomicBool::new(false));
        let stream = FakeStream(Arc::clone(&gone), Arc::clone(&system.running));
        let (ends, start) = (ends.clone(), Instant::now());
        thread::spawn(move || {
            while !gone.load(SeqCst) {
                if system.dies.swap(false, SeqCst) {
                    let _ = ends.try_send("it was unplugged".to_owned());
                    return;
                }
                if !system.stalls.load(SeqCst) {
                    tap.take(&[0.25; 480], 1, start.elapsed().as_nanos() as u64);
                }
                thread::sleep(10 * MS);
            }
        });
        let listening = Listening { device: "fake".to_owned(), host: "test".to_owned(), id: "test:fake".to_owned(), sound, returned: None };
        Ok(OpenEar { stream: Box::new(stream), listening, last_resort: false })
    }
}

fn start(prepare: impl FnOnce(&Fake)) -> (Arc<Fake>, Capture) {
    let system = Arc::new(Fake::default());
    prepare(&system);
    let capture = Capture::start_with(Wanted::Default, RATE, 1024, Arc::new(FakeEars(Arc::clone(&system))));
    (system, capture)
}

fn next(capture: &Capture) -> CaptureEvent {
    capture.events().recv_timeout(20_000 * MS).expect("news within 20 s")
}

fn listening(capture: &Capture) -> Listening {
    match next(capture) {
        CaptureEvent::Listening(listening) => listening,
        CaptureEvent::Refused { why, .. } | CaptureEvent::Lost { why } => panic!("{why}"),
    }
}

fn lost(capture: &Capture) -> String {
    match next(capture) {
        CaptureEvent::Lost { why } => why,
        CaptureEvent::Refused { why, .. } => panic!("refused: {why}"),
        CaptureEvent::Listening(_) => panic!("open"),
    }
}

#[test]
fn a_microphone_that_dies_comes_back_by_itself_and_counts_anew() {
    let (system, capture) = start(|_| {});
    let mut first = listening(&capture);
    assert_eq!((first.returned, first.id.as_str()), (None, "test:fake"));
    for _ in 0..3 {
        thread::sleep(300 * MS);
        let mut heard = Vec::new();
        assert_eq!(first.sound.read(&mut heard).0, 0);
        assert!(heard.len() > 4_800, "{}", heard.len());
        system.dies.store(true, SeqCst);
        assert_eq!(lost(&capture), "it was unplugged");
        let again = listening(&capture);
        assert!(again.returned.unwrap() < 500 * MS);
        first = again;
    }
    capture.stop();
    thread::sleep(50 * MS);
    assert_eq!((system.opened.load(SeqCst), system.running.load(SeqCst)), (4, 0));
}

#[test]
fn a_microphone_that_falls_silent_without_a_word_is_found_lost() {
    let (system, capture) = start(|_| {});
    let _first = listening(&capture);
    thread::sleep(200 * MS);
    let stalled = Instant::now();
    system.stalls.store(true, SeqCst);
    assert!(lost(&capture).contains("gives no sound"));
    assert!((700 * MS..1_500 * MS).contains(&stalled.elapsed()), "{:?}", stalled.elapsed());
    system.stalls.store(false, SeqCst);
    assert!(listening(&capture).returned.is_some());
    capture.stop();
}

#[test]
fn one_that_is_not_there_is_told_once_and_found_when_it_comes() {
    let none = OpenError::NoMicrophone(String::new());
    let (system, capture) = start(|system| *system.refuses.lock().unwrap() = Some(none.clone()));
    let CaptureEvent::Refused { why, mend } = next(&capture) else { panic!("no refusal") };
    assert_eq!((why, mend), (none.to_string(), none.mend()));
    assert!(capture.events().recv_timeout(2_000 * MS).is_err(), "told once");
    *system.refuses.lock().unwrap() = Some(OpenError::MicrophoneDenied("fake".to_owned()));
    let CaptureEvent::Refused { why, mend } = next(&capture) else { panic!("no refusal") };
    assert!(why.contains("may not use the microphone fake") && mend.contains("privacy settings"), "{why}; {mend}");
    *system.refuses.lock().unwrap() = None;
    assert_eq!(listening(&capture).returned, None, "it was never lost");
    capture.stop();
}

#[test]
fn opening_that_hangs_is_told_and_does_not_hang_the_end() {
    let (system, capture) = start(|system| system.hangs.store(true, SeqCst));
    let CaptureEvent::Refused { why, .. } = next(&capture) else { panic!("no refusal") };
    assert!(why.contains("does not answer"), "{why}");
    // it answers after all
    system.hangs.store(false, SeqCst);
    let _listening = listening(&capture);
    system.hangs.store(true, SeqCst);
    system.dies.store(true, SeqCst);
    lost(&capture);
    thread::sleep(100 * MS);
    let stopping = Instant::now();
    capture.stop();
    assert!(stopping.elapsed() < 200 * MS, "{:?}", stopping.elapsed());
    system.hangs.store(false, SeqCst);
    thread::sleep(100 * MS);
    assert_eq!(system.running.load(SeqCst), 0, "what came too late was let go");
}

#[test]
fn a_real_one_that_is_not_there_is_refused_with_a_mend() {
    let capture = Capture::start(Wanted::Named("the organ loft".to_owned()), RATE, 1024);
    let Ok(CaptureEvent::Refused { why, mend }) = capture.events().recv_timeout(Duration::from_secs(10)) else { panic!("no refusal") };
    assert!(!why.is_empty() && !mend.is_empty());
    capture.stop();
}
