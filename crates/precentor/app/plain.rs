//! Line mode: keys or typed words in, numbered lines out. No screen is taken over.

use crossbeam_channel::Receiver;
use device::Output;
use std::io::{self, IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use synth::ClipBank;

use super::Action;
use super::lead::{Console, LOOK};
use super::screen::RawKeys;
use super::state::{Chooser, Over, Voice};
use crate::inputs::{Command, Deed, Inlet, Key, Place, Typed, Typing, arrivals, table};
use crate::text::{pedals, plain as words};
use crate::view::plain::{Speaker, unknown};

/// How long nothing must move after the input's end: a last `go` takes a moment to be taken up.
const LINGER: Duration = Duration::from_millis(500);

/// Leads in lines until the director leaves. Where the input is no terminal its end is the end, once the plan stands.
pub(super) fn run(
    console: &mut Console,
    inlet: Inlet,
    output: &Output,
    clips: &Receiver<Result<Arc<ClipBank>, String>>,
    signal: &AtomicUsize,
) -> anyhow::Result<()> {
    let keys = if io::stdin().is_terminal() { Some(RawKeys::take()?) } else { None };
    let _typing = match keys {
        Some(_) => Some(Typing::start(inlet)),
        None => {
            arrivals::read_lines(inlet);
            None
        }
    };
    let mut speaker = Speaker::default();
    let mut out = Lines { raw: keys.is_some() };
    out.say(speaker.answer(if keys.is_some() { words::KEYS_LEAD } else { words::WORDS_LEAD }.to_owned()))?;
    // when the input had ended and nothing moved any more
    let mut over_since: Option<Instant> = None;
    let mut more_to_come = true;
    while !console.session.wants_out() {
        console.poll(output, clips);
        out.say(speaker.news(&console.state))?;
        // what was only to be read has been read
        if matches!(console.state.over, Some(Over::Cautions | Over::Faults(_) | Over::Ear(_) | Over::Keys(_) | Over::Commands(_))) {
            console.apply(Action::Do(Command::Leave));
        }
        match console.take_arrivals(LOOK)? {
            Some(Typed::Line(line)) => out.say(take_word(console, &mut speaker, &line))?,
            Some(Typed::End) => more_to_come = false,
            None => {}
        }
        if signal.load(Ordering::Relaxed) != 0 {
            console.apply(Action::Do(Command::QuitNow));
        }
        if more_to_come || console.state.pulse.is_moving() || console.state.voice == Voice::Loading {
            over_since = None;
        } else if over_since.get_or_insert_with(Instant::now).elapsed() >= LINGER {
            console.apply(Action::Do(Command::QuitNow));
        }
    }
    Ok(())
}

/// Does what a typed line asks for; the lines that answer it.
fn take_word(console: &mut Console, speaker: &mut Speaker, line: &str) -> Vec<String> {
    let word = line.trim().to_lowercase();
    if word.is_empty() {
        return Vec::new();
    }
    if matches!(console.state.over, Some(Over::Learn(_)))
        && let Some(deed) = word.strip_prefix(pedals::DOES).map(str::trim)
    {
        match Deed::named(deed) {
            Some(deed) => console.apply(Action::Bind(Some(deed))),
            None if deed == pedals::AS_IT_COMES => console.apply(Action::Bind(None)),
            None => return speaker.answer(pedals::LINES.to_owned()),
        }
        return Vec::new();
    }
    let place = console.state.place();
    if let (Some(Over::Chooser(Chooser { of, .. })), Some(mark)) = (&console.state.over, number(&word)) {
        console.state.over = Some(Over::Chooser(Chooser { of: *of, mark }));
        console.apply(Action::Do(Command::Choose));
        return Vec::new();
    }
    // what means nothing in a list may mean something on the stage, and the list gives way
    let by_key = || match word.chars().collect::<Vec<_>>().as_slice() {
        [sign] => table::command(place, Key::Sign(*sign)),
        _ => None,
    };
    let command = table::named(place, &word).or_else(by_key).or_else(|| {
        let command = table::named(Place::Stage, &word)?;
        console.apply(Action::Do(Command::Leave));
        Some(command)
    });
    match command {
        Some(Command::Quit) => console.apply(Action::Do(Command::QuitNow)),
        Some(command) => console.apply(Action::Do(command)),
        None => return speaker.answer(unknown(place, &word)),
    }
    // the engine takes a word up within a block; what follows is told in order
    Vec::new()
}

/// A line's number in a list, from zero.
fn number(word: &str) -> Option<usize> {
    word.parse::<usize>().ok()?.checked_sub(1)
}

struct Lines {
    /// Whether the terminal is raw, so that a line end alone would not go back to the left.
    raw: bool,
}

impl Lines {
    fn say(&mut self, lines: Vec<String>) -> io::Result<()> {
        let end = if self.raw { "\r\n" } else { "\n" };
        let mut out = io::stdout().lock();
        for line in lines {
            write!(out, "{line}{end}")?;
        }
        out.flush()
    }
}
