//! The real console on the real engine, without a terminal, a device or a clock: the test turns the renderer.

use precentor::app::action::Action;
use precentor::app::lead::action_of;
use precentor::app::session::{Opening, Session, opening};
use precentor::app::state::State;
use precentor::app::update;
use precentor::folders::Folders;
use precentor::inputs::{Guard, Key, Signal};
use precentor::view::{self, Colour, Glyphs, Look};
use precentor::workshop::Workshop;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use ratatui::style::{Color, Modifier};
use std::collections::VecDeque;
use std::fmt::Write;
use std::path::Path;
use std::sync::{Arc, LazyLock};
use std::time::Duration;
use synth::ClipBank;
use units::SampleRate;

pub static WORKSHOP: LazyLock<Arc<Workshop>> = LazyLock::new(|| Arc::new(Workshop::new(SampleRate::DEFAULT)));
static CLIPS: LazyLock<Arc<ClipBank>> = LazyLock::new(|| WORKSHOP.clips().unwrap());

/// How often the console looks at the engine, in blocks: about every 25 ms.
const BLOCKS_PER_LOOK: usize = 25 * 48 / synth::BLOCK;

pub struct Rig {
    pub state: State,
    pub session: Session,
    renderer: engine::Renderer,
    guard: Guard,
    /// The loudest sample since it was last asked for.
    loudest: f32,
}

impl Rig {
    /// A console on the demo room, its voice loaded, nothing kept on disk.
    pub fn demo() -> Self {
        Self::on(None, None)
    }

    /// A console on a file.
    pub fn file(path: &Path) -> Self {
        Self::on(Some(path), None)
    }

    pub fn on(path: Option<&Path>, folders: Option<Folders>) -> Self {
        let Opening { room: opened, lesson, faults } = opening(path, folders.as_ref(), &WORKSHOP).unwrap();
        assert!(faults.is_none());
        let (controls, renderer) = engine::pair(SampleRate::DEFAULT);
        let state = State::new(Arc::clone(&opened.room), opened.source.clone());
        let session = Session::new(controls, Arc::clone(&WORKSHOP), folders, (opened.source.clone(), opened.text.clone()));
        let mut rig = Self { state, session, renderer, guard: Guard::default(), loudest: 0.0 };
        rig.session.remember_standings();
        rig.session.keep_records();
        rig.apply(Action::Room(Box::new(opened)));
        let voice = rig.session.give_voice(Arc::clone(&CLIPS));
        rig.apply(voice);
        rig.state.told = None;
        rig.idle();
        if let Some(lesson) = lesson {
            rig.session.adopt_lesson(&lesson);
            rig.apply(Action::Lesson(Box::new((None, lesson))));
            rig.idle();
        }
        rig
    }

    pub fn apply(&mut self, action: Action) {
        let mut waiting = VecDeque::from([action]);
        while let Some(action) = waiting.pop_front() {
            for effect in update(&mut self.state, action) {
                waiting.extend(self.session.perform(effect));
            }
        }
    }

    /// Since the start, by the engine's own frames.
    pub fn now(&self) -> Duration {
        Duration::from_secs_f64(self.renderer.now().0 as f64 / 48_000.0)
    }

    pub fn press(&mut self, key: impl Into<Signal>) {
        let now = self.now();
        if let Some(action) = action_of(&self.state, &mut self.guard, key.into(), None, now) {
            self.apply(action);
        }
    }

    /// A MIDI message comes from a pedal.
    pub fn sends(&mut self, message: &[u8]) {
        let (port, now) = (Arc::from("Foot Board"), self.now());
        let Some(signal) = Signal::of_midi(message) else { return };
        if let Some(action) = action_of(&self.state, &mut self.guard, signal, Some(&port), now) {
            self.apply(action);
        }
    }

    /// Presses `keys` in turn, names parted by blanks, with half a second between; then lets the console settle.
    pub fn keys(&mut self, keys: &str) -> &mut Self {
        for name in keys.split(' ') {
            self.press(key(name));
            self.run(0.5);
        }
        self
    }

    /// Types `text` into a finder.
    pub fn types(&mut self, text: &str) {
        for sign in text.chars() {
            self.press(if sign == ' ' { Key::Space } else { Key::Sign(sign) });
        }
    }

    fn look(&mut self) {
        let now = self.now();
        for action in self.session.poll(now) {
            self.apply(action);
        }
    }

    fn turn(&mut self) {
        for _ in 0..BLOCKS_PER_LOOK {
            let block = self.renderer.next_block(&mut (), None);
            self.loudest = block.iter().flatten().fold(self.loudest, |loudest, sample| loudest.max(sample.abs()));
        }
        self.look();
    }

    /// Lets the engine run for `seconds`.
    pub fn run(&mut self, seconds: f64) {
        let end = self.now() + Duration::from_secs_f64(seconds);
        while self.now() < end {
            self.turn();
        }
    }

    /// Until the engine has taken up what it was told.
    pub fn idle(&mut self) {
        self.turn();
        self.turn();
    }

    /// Lets the engine run until `seen` is true of the state; fails after two minutes of music.
    pub fn until(&mut self, what: &str, seen: impl Fn(&State) -> bool) {
        let end = self.now() + Duration::from_secs(120);
        while !seen(&self.state) {
            assert!(self.now() < end, "never came: {what}\n{}", self.text(80, 24));
            self.turn();
        }
    }

    /// The loudest sample since this was last asked.
    pub fn loudest(&mut self) -> f32 {
        std::mem::take(&mut self.loudest)
    }

    pub fn buffer(&self, width: u16, height: u16, look: Look) -> Buffer {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal.draw(|frame| view::draw(&self.state, look, frame)).unwrap();
        terminal.backend().buffer().clone()
    }

    /// The screen's letters.
    pub fn text(&self, width: u16, height: u16) -> String {
        letters(&self.buffer(width, height, RICH))
    }
}

pub const RICH: Look = Look { glyphs: Glyphs::Rich, colour: Colour::Sixteen };
pub const LOOKS: [Look; 4] = [
    RICH,
    Look { glyphs: Glyphs::Rich, colour: Colour::None },
    Look { glyphs: Glyphs::Blocks, colour: Colour::Sixteen },
    Look { glyphs: Glyphs::Ascii, colour: Colour::None },
];
pub const SIZES: [(u16, u16); 5] = [(60, 16), (80, 24), (100, 30), (120, 40), (160, 45)];

pub fn key(name: &str) -> Key {
    let mut signs = name.chars();
    if let (Some(sign), None) = (signs.next(), signs.next()) {
        return Key::Sign(sign);
    }
    name.parse().unwrap_or_else(|()| panic!("no key {name}"))
}

pub fn letters(buffer: &Buffer) -> String {
    let mut text = String::new();
    for y in 0..buffer.area.height {
        let line: String = (0..buffer.area.width).map(|x| buffer[(x, y)].symbol()).collect();
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// Letters and styles: under each line that has styles a second one, a letter per cell: `*` reversed, `b` bold, `d` dim, and `B` `M` `R` for
/// bold in blue, magenta and red.
pub fn dump(buffer: &Buffer) -> String {
    let mut text = String::new();
    for y in 0..buffer.area.height {
        let line: String = (0..buffer.area.width).map(|x| buffer[(x, y)].symbol()).collect();
        let styles: String = (0..buffer.area.width)
            .map(|x| {
                let cell = &buffer[(x, y)];
                match (cell.fg, cell.modifier) {
                    (_, modifier) if modifier.contains(Modifier::REVERSED) => '*',
                    (Color::Blue, _) => 'B',
                    (Color::Magenta, _) => 'M',
                    (Color::Red, _) => 'R',
                    (Color::Reset, modifier) if modifier.contains(Modifier::BOLD) => 'b',
                    (Color::Reset, modifier) if modifier.contains(Modifier::DIM) => 'd',
                    (Color::Reset, modifier) if modifier.is_empty() => ' ',
                    other => panic!("a style the dump has no letter for: {other:?}"),
                }
            })
            .collect();
        writeln!(text, "|{}", line.trim_end()).unwrap();
        if !styles.trim().is_empty() {
            writeln!(text, "`{}", styles.trim_end()).unwrap();
        }
    }
    text
}
