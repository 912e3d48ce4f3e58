//! The console from start to end.

use anyhow::Context;
use crossbeam_channel::{Receiver, unbounded};
use crossterm::event::Event;
use device::{BUFFER_FRAMES, Output, Wanted};
use records::Days;
use std::io::{IsTerminal, stdin, stdout};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;
use std::time::{Duration, Instant};
use synth::ClipBank;
use units::SampleRate;

use super::action::Focus;
use super::screen::{QuietStderr, Screen};
use super::session::{self, Opening, Session};
use super::state::{Over, State, Voice};
use super::{Action, update};
use super::{device_link, plain};
use crate::folders::Folders;
use crate::inputs::{Arrival, Arrived, Guard, Inlet, Key, Place, Signal, Typed, Typing, arrivals, midi, table};
use crate::text::{pedals, told};
use crate::view::{self, Glyphs, Look};
use crate::workshop::Workshop;

/// The shortest time between two drawings: 30 a second.
const FRAME: Duration = Duration::from_millis(33);
/// How often the engine is looked at while nothing comes.
pub(super) const LOOK: Duration = Duration::from_millis(25);
/// How long a signal may take to be obeyed; a normal end takes a quarter of it.
const OBEY: Duration = Duration::from_millis(1_000);
/// How long the engine may take to go quiet before the device is let go, which fades what is left: leaving must not take 200 ms altogether,
/// not even with a sound system that hangs.
const FADE: Duration = Duration::from_millis(20);
/// Exit code for a file with faults.
const BAD_FILE: u8 = 2;

/// How to lead.
#[derive(Clone, Debug)]
pub struct LeadOptions {
    /// A room or drill file; nothing opens the last room, or the demo.
    pub file: Option<PathBuf>,
    /// Lines instead of a screen, whatever the terminal can do.
    pub plain: bool,
    /// The signs the terminal can show; nothing finds out.
    pub glyphs: Option<Glyphs>,
    /// The sound device.
    pub device: Wanted,
    /// How many frames the device is asked to take at a time at first, one of [`BUFFER_FRAMES`].
    pub frames: u32,
    /// Frames per second.
    pub rate: SampleRate,
    /// For how long the sound of echoes is kept; nothing forgets it at once.
    pub keep_audio: Option<Days>,
}

impl Default for LeadOptions {
    fn default() -> Self {
        Self {
            file: None,
            plain: false,
            glyphs: None,
            device: Wanted::Default,
            frames: BUFFER_FRAMES[0],
            rate: SampleRate::DEFAULT,
            keep_audio: None,
        }
    }
}

/// Opens the console and leads until the director leaves.
///
/// # Errors
/// If the voice built in is not whole or the terminal fails. A file with faults is told on stderr and gives exit code 2.
pub fn lead(options: LeadOptions) -> anyhow::Result<ExitCode> {
    let folders = Folders::find().and_then(|folders| folders.create().map(|()| folders));
    let no_folders = folders.as_ref().err().map(ToString::to_string);
    let folders = folders.ok();
    // the device first: it opens while the rest is made ready
    let log = folders.as_ref().map(|folders| folders.state.join("console.log"));
    let quiet = QuietStderr::redirect(log.as_deref());
    let (controls, renderer) = engine::pair(options.rate);
    let silent = options.device == Wanted::None;
    let device = Output::start(renderer, options.device, options.frames);
    let workshop = Arc::new(Workshop::new(options.rate).with_own_voices(folders.as_ref().map(|folders| folders.voices.clone())));
    let Opening { room: opened, lesson, faults } = match session::opening(options.file.as_deref(), folders.as_ref(), &workshop) {
        Ok(opening) => opening,
        Err(faults) => {
            drop(quiet);
            eprintln!("{faults}");
            return Ok(ExitCode::from(BAD_FILE));
        }
    };

    let state = State::new(Arc::clone(&opened.room), opened.source.clone());
    let session = Session::new(controls, Arc::clone(&workshop), folders.clone(), (opened.source.clone(), opened.text.clone()));
    let (inlet, arrivals) = arrivals::channel();
    let mut console = Console { state, session, started: Instant::now(), guard: Guard::default(), arrivals };
    if folders.as_ref().is_some_and(|folders| !session::cautions_were_read(folders)) {
        console.state.over = Some(Over::Cautions);
    }
    if silent {
        console.apply(device_link::no_sound_wanted());
    }
    console.session.keep_sound(options.keep_audio);
    console.state.recording = options.keep_audio.map(Days::get);
    let standings = console.session.remember_standings();
    let records = console.session.keep_records();
    console.apply(Action::Room(Box::new(opened)));
    console.state.told = None;
    let told = [console.session.keep_journal(), console.session.watch_files(), standings, records, no_folders.map(Action::Tell)];
    told.into_iter().flatten().for_each(|action| console.apply(action));
    if let Some(lesson) = lesson {
        console.session.adopt_lesson(&lesson);
        console.apply(Action::Lesson(Box::new((None, lesson))));
    }
    console.session.remember_room();
    if let Some(faults) = faults {
        console.apply(Action::Faulty { what: told::LAST_ROOM_FAULTY.to_owned(), faults: faults.to_string() });
    }
    let clips = decode(workshop);
    let signal = signals().context("signals cannot be watched")?;
    console.apply_bindings();
    midi::listen(inlet.clone());

    let outcome = if wants_lines(options.plain) {
        plain::run(&mut console, inlet, &device, &clips, &signal)
    } else {
        let screen = Screen::take().context("the terminal cannot be taken over; try precentor lead --plain");
        screen.and_then(|mut screen| console.run(&mut screen, inlet, Look::find(options.glyphs), &device, &clips, &signal))
    };

    let fading = Instant::now();
    while fading.elapsed() < FADE {
        thread::sleep(Duration::from_millis(10));
        console.session.poll(console.started.elapsed());
    }
    device.stop();
    let lost = console.session.end();
    drop(quiet);
    if let Some(lost) = lost {
        eprintln!("{lost}");
    }
    outcome?;
    Ok(match signal.load(Ordering::Relaxed) {
        0 => ExitCode::SUCCESS,
        signal => ExitCode::from(128_u8.saturating_add(signal as u8)),
    })
}

/// Whether lines are better than a screen: asked for, or the output is no terminal, or one that cannot be drawn on.
fn wants_lines(asked: bool) -> bool {
    asked || !stdout().is_terminal() || !stdin().is_terminal() || std::env::var_os("TERM").is_some_and(|term| term == "dumb")
}

/// The state with what drives it.
pub(super) struct Console {
    pub(super) state: State,
    pub(super) session: Session,
    started: Instant,
    guard: Guard,
    arrivals: Receiver<Arrival>,
}

impl Console {
    fn run(
        &mut self,
        screen: &mut Screen,
        inlet: Inlet,
        look: Look,
        device: &Output,
        clips: &Receiver<Result<Arc<ClipBank>, String>>,
        signal: &AtomicUsize,
    ) -> anyhow::Result<()> {
        let mut drawn: Option<Instant> = None;
        let _typing = Typing::start(inlet);
        while !self.session.wants_out() {
            let due = drawn.map_or(Duration::ZERO, |drawn| FRAME.saturating_sub(drawn.elapsed()));
            self.take_arrivals(if self.state.changed { due } else { LOOK })?;
            if signal.load(Ordering::Relaxed) != 0 {
                self.apply(Action::Do(crate::inputs::Command::QuitNow));
            }
            self.poll(device, clips);
            if self.state.changed && drawn.is_none_or(|drawn| drawn.elapsed() >= FRAME) {
                self.state.changed = false;
                screen.terminal.draw(|frame| view::draw(&self.state, look, frame))?;
                drawn = Some(Instant::now());
            }
        }
        Ok(())
    }

    /// Looks at the device, the voice, the engine and the files.
    pub(super) fn poll(&mut self, device: &Output, clips: &Receiver<Result<Arc<ClipBank>, String>>) {
        for event in device_link::news(device) {
            if device_link::is_a_fault(&event) {
                self.session.note_fault(&event.to_string());
            }
            if matches!(event, device::Event::Playing { .. }) {
                device_link::stamp(device);
            }
            self.apply(device_link::action_of(&event));
        }
        if let Ok(clips) = clips.try_recv() {
            let action = match clips {
                Ok(clips) => self.session.give_voice(clips),
                Err(why) => Action::Voice(Voice::Missing(why)),
            };
            self.apply(action);
        }
        for action in self.session.poll(self.started.elapsed()) {
            self.apply(action);
        }
    }

    /// Waits up to `wait` for something to come, from any source, and takes in all that waits then, up to a typed line.
    pub(super) fn take_arrivals(&mut self, wait: Duration) -> anyhow::Result<Option<Typed>> {
        let Ok(first) = self.arrivals.recv_timeout(wait) else { return Ok(None) };
        let mut typed = self.take(first)?;
        // no more than waits now: a flood must not keep the engine and the screen from being looked after
        let mut waiting = self.arrivals.len();
        while waiting > 0 && typed.is_none() {
            waiting -= 1;
            if let Ok(arrival) = self.arrivals.try_recv() {
                typed = self.take(arrival)?;
            }
        }
        Ok(typed)
    }

    fn take(&mut self, arrival: Arrival) -> anyhow::Result<Option<Typed>> {
        let at = arrival.at.saturating_duration_since(self.started);
        match arrival.what {
            Arrived::Terminal(event) => self.take_event(&event, at),
            Arrived::Broken(error) => return Err(anyhow::Error::new(error).context("the terminal cannot be read any more")),
            Arrived::Typed(typed) => return Ok(Some(typed)),
            Arrived::Midi { signal, port } => self.press(signal, Some(&port), at),
            Arrived::Came(name) => self.apply(Action::Port { name, there: true }),
            Arrived::Went(name) => self.apply(Action::Port { name, there: false }),
        }
        Ok(None)
    }

    /// Takes in what the terminal says.
    fn take_event(&mut self, event: &Event, at: Duration) {
        match event {
            Event::Key(event) => {
                if let Some(key) = Key::pressed(event) {
                    self.press(Signal::Key(key), None, at);
                }
            }
            Event::Resize(..) => self.apply(Action::Redraw),
            Event::FocusGained => self.apply(Action::Focus(Focus::Here)),
            Event::FocusLost => self.apply(Action::Focus(Focus::Elsewhere)),
            Event::Mouse(_) | Event::Paste(_) => {}
        }
    }

    fn press(&mut self, signal: Signal, port: Option<&Arc<str>>, at: Duration) {
        if let Some(action) = action_of(&self.state, &mut self.guard, signal, port, at) {
            self.apply(action);
        }
    }

    /// Takes up what the teacher bound, and tells what is wrong with it.
    fn apply_bindings(&mut self) {
        let (bindings, faults) = self.session.bindings();
        self.state.pedals.bindings = bindings;
        self.state.pedals.faults = faults.map(|faults| faults.to_string());
        if self.state.pedals.faults.is_some() {
            self.apply(Action::Tell(pedals::FAULTY_FILE.to_owned()));
        }
    }

    /// Takes `action` in and does what follows from it.
    pub(super) fn apply(&mut self, action: Action) {
        let mut waiting = std::collections::VecDeque::from([action]);
        while let Some(action) = waiting.pop_front() {
            for effect in update(&mut self.state, action) {
                waiting.extend(self.session.perform(effect));
            }
        }
    }
}

/// What `signal`, pressed `at` and come through the MIDI `port` if it is no key, means where the console is; nothing if it means nothing
/// there or bounced.
#[must_use]
pub fn action_of(state: &State, guard: &mut Guard, signal: Signal, port: Option<&Arc<str>>, at: Duration) -> Option<Action> {
    let place = state.place();
    let asked = match (&state.over, signal) {
        // the learn screen shows what is pressed, but for the few keys that lead on from it
        (Some(Over::Learn(_)), Signal::Midi { .. }) => None,
        (Some(Over::Learn(_)), Signal::Key(key)) => table::command(place, key),
        _ => state.pedals.bindings.asked(place, signal),
    };
    match asked {
        Some(command) => guard.admits(signal, command, at).then_some(Action::Do(command)),
        None if matches!(state.over, Some(Over::Learn(_))) => Some(Action::Heard(signal, port.cloned())),
        None if place == Place::Finder => signal.key().and_then(Key::typed).map(Action::Type),
        None => None,
    }
}

/// Decodes the voice on a thread of its own.
fn decode(workshop: Arc<Workshop>) -> Receiver<Result<Arc<ClipBank>, String>> {
    let (sender, receiver) = unbounded();
    thread::spawn(move || {
        // nobody listens any more if the console closed meanwhile
        let _ = sender.send(workshop.clips().map_err(|error| error.to_string()));
    });
    receiver
}

/// The number of the signal that asked for the end; zero while none did.
fn signals() -> std::io::Result<Arc<AtomicUsize>> {
    use signal_hook::consts::{SIGINT, SIGTERM};
    let flag = Arc::new(AtomicUsize::new(0));
    #[cfg(unix)]
    let ends = [SIGTERM, SIGINT, signal_hook::consts::SIGHUP];
    #[cfg(not(unix))]
    let ends = [SIGTERM, SIGINT];
    for signal in ends {
        signal_hook::flag::register_usize(signal, Arc::clone(&flag), signal as usize)?;
    }
    last_resort(Arc::clone(&flag));
    Ok(flag)
}

/// Ends the process if a signal is not obeyed in time: drawing may never return once the terminal has hung up.
fn last_resort(signal: Arc<AtomicUsize>) {
    thread::spawn(move || {
        while signal.load(Ordering::Relaxed) == 0 {
            thread::sleep(Duration::from_millis(50));
        }
        thread::sleep(OBEY);
        super::screen::give_back();
        std::process::exit(128 + signal.load(Ordering::Relaxed) as i32);
    });
}
