//! A take from the microphone, with prompts.

use anyhow::bail;
use device::{Capture, CaptureEvent, Listening, Wanted};
use engine::speech::own::{Heard, RATE};
use std::io::{BufRead, IsTerminal, Write};
use std::ops::Range;
use std::path::Path;
use std::thread;
use std::time::{Duration, Instant};
use units::SampleRate;

use super::super::exit::Usage;
use super::super::print;

/// How long a prompt stands.
const PROMPT: Duration = Duration::from_secs(2);
/// How long it is lit.
const FLASH: Duration = Duration::from_millis(300);
/// Quiet before the first: the room is measured by it.
const QUIET: Duration = Duration::from_secs(1);
/// How long a microphone may take to open, and then to give its first sound.
const OPENING: Duration = Duration::from_secs(5);
/// A microphone that gives nothing for so long has stopped.
const STALLED: Duration = Duration::from_secs(1);
/// How often what was heard is fetched.
const FETCH: Duration = Duration::from_millis(20);
/// Frames asked for at a time: nobody waits for them, and large buffers lose nothing.
const FRAMES: u32 = 2048;

/// A whole recording.
pub(super) struct Take {
    /// At [`RATE`].
    pub(super) samples: Vec<f64>,
    /// Where each prompt was shown, if there were prompts.
    pub(super) shown: Option<Vec<usize>>,
    /// Places where the machine lost sound.
    gaps: Vec<usize>,
}

impl Take {
    pub(super) fn of(heard: Heard) -> Self {
        Self { samples: heard.samples, shown: None, gaps: Vec::new() }
    }

    /// The prompts of which some was lost.
    pub(super) fn damaged<'a>(&self, ids: &[&'a str]) -> Vec<&'a str> {
        let shown = self.shown.as_deref().unwrap_or(&[]);
        let time = |prompt: usize| -> Range<usize> {
            shown.get(prompt).copied().unwrap_or(0)..shown.get(prompt + 1).copied().unwrap_or(usize::MAX)
        };
        let lost = |prompt: usize| self.gaps.iter().any(|gap| time(prompt).contains(gap));
        ids.iter().enumerate().filter(|(prompt, _)| lost(*prompt)).map(|(_, id)| *id).collect()
    }
}

/// Shows `prompts` one after another and records what is said. Asks first.
pub(super) fn live(prompts: &[&str], folder: &Path, wanted: Wanted) -> anyhow::Result<Take> {
    let seconds = (PROMPT * prompts.len() as u32 + QUIET).as_secs();
    print::text(&format!(
        "This records your own voice, and only yours: let nobody else be heard, least of all a pupil.\nIt stays on this machine, in {}.\n\n\
         {} words, one every 2 s, {seconds} s in all. Say each one when it lights up, briskly, as you would count in.\n\
         ENTER begins; end of input or Ctrl-C leaves, and nothing is recorded.\n",
        folder.display(),
        prompts.len(),
    ))?;
    if std::io::stdin().lock().read_line(&mut String::new()).unwrap_or(0) == 0 {
        return Err(Usage::error("nothing was recorded", "press ENTER to begin, or take a recorded file with --from"));
    }
    let capture = Capture::start(wanted, SampleRate::DEFAULT, FRAMES);
    let recorded = record(&capture, prompts);
    capture.stop();
    recorded
}

fn record(capture: &Capture, prompts: &[&str]) -> anyhow::Result<Take> {
    let mut listening = open(capture)?;
    let rate = listening.sound.rate();
    print::text(&format!("listening to {}: quiet, please\n\n", listening.device))?;
    let mut heard: Vec<f32> = Vec::new();
    let mut gaps = Vec::new();
    let mut last = Instant::now();
    let mut fetch = |until: Instant, heard: &mut Vec<f32>| -> anyhow::Result<()> {
        while Instant::now() < until {
            thread::sleep(FETCH.min(until.saturating_duration_since(Instant::now())));
            let before = heard.len();
            listening.sound.read(heard);
            if heard.len() > before {
                last = Instant::now();
            } else if last.elapsed() > STALLED {
                bail!("the microphone gives no sound any more; begin again, or restart the sound system");
            }
            gaps.extend(listening.sound.gaps().map(|gap| gap.at.0 as usize));
            if let Ok(CaptureEvent::Lost { why }) = capture.events().try_recv() {
                bail!("the microphone was lost ({why}); plug it in and begin again");
            }
        }
        Ok(())
    };
    let mut at = Instant::now() + QUIET;
    fetch(at, &mut heard)?;
    let mut shown = Vec::new();
    for (number, text) in prompts.iter().enumerate() {
        shown.push(heard.len());
        let line = format!("  {:>3} of {}  ", number + 1, prompts.len());
        show(&line, text, true)?;
        fetch(at + FLASH, &mut heard)?;
        show(&line, text, false)?;
        at += PROMPT;
        fetch(at, &mut heard)?;
    }
    // what is on its way
    fetch(at + QUIET / 2, &mut heard)?;
    let lost = listening.sound.lost();
    if lost > 0 {
        bail!(
            "the machine was too busy and lost {:.1} s of sound; close other programs and begin again",
            rate.seconds(units::FrameSpan(lost))
        );
    }
    let place = |at: usize| (at as f64 * f64::from(RATE) / f64::from(rate.hz())) as usize;
    Ok(Take {
        samples: engine::speech::own::at_our_rate(heard, rate)?,
        shown: Some(shown.into_iter().map(place).collect()),
        gaps: gaps.into_iter().map(place).collect(),
    })
}

/// Waits until the microphone gives sound.
fn open(capture: &Capture) -> anyhow::Result<Listening> {
    let listening = match capture.events().recv_timeout(OPENING) {
        Ok(CaptureEvent::Listening(listening)) => listening,
        Ok(CaptureEvent::Refused { why, mend }) => bail!("{why}; {mend}"),
        Ok(CaptureEvent::Lost { why }) => bail!("the microphone was lost ({why}); plug it in and begin again"),
        Err(_) => {
            bail!("the microphone does not answer; choose another in the system's sound settings, or take a recorded file with --from")
        }
    };
    let deadline = Instant::now() + OPENING;
    while listening.sound.heard() == 0 {
        if Instant::now() > deadline {
            bail!("{} gives no sound; switch it on in the system's sound settings, or choose another with --microphone", listening.device);
        }
        thread::sleep(FETCH);
    }
    Ok(listening)
}

/// A prompt, large and calm: lit at first on a terminal; elsewhere one plain line.
fn show(line: &str, text: &str, lit: bool) -> anyhow::Result<()> {
    let terminal = std::io::stdout().is_terminal();
    let spaced: String = text.to_uppercase().chars().flat_map(|letter| [letter, ' ']).collect();
    match (terminal, lit) {
        (true, true) => print::text(&format!("\r{line}\x1b[1;7m   {spaced}  \x1b[0m"))?,
        (true, false) => print::text(&format!("\r{line}\x1b[1m   {spaced}  \x1b[0m\n\n"))?,
        (false, true) => print::text(&format!("{line}{text}\n"))?,
        (false, false) => {}
    }
    let _ = std::io::stdout().flush();
    Ok(())
}
