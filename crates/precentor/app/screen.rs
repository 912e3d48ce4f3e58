//! The terminal: taken over while the console is up, given back whatever happens.
//!
//! Everything that is switched on here is switched off in [`give_back`], which runs on quit, on an error and in a panic of the thread that
//! draws. Libraries that write to stderr would ruin the screen, so stderr goes to a log file meanwhile.

use crossterm::event::{DisableFocusChange, EnableFocusChange};
use crossterm::terminal::{EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode};
use crossterm::{cursor, execute};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use std::io::{self, Stdout, stdout};
use std::path::Path;
use std::sync::Once;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, ThreadId};

/// Whether the screen is ours just now.
static SCREEN: AtomicBool = AtomicBool::new(false);
/// Whether keys come to us one by one just now.
static RAW: AtomicBool = AtomicBool::new(false);

pub(crate) struct Screen {
    pub(crate) terminal: Terminal<CrosstermBackend<Stdout>>,
}

impl Screen {
    /// Takes the terminal over.
    pub(crate) fn take() -> io::Result<Self> {
        install_hook(thread::current().id());
        SCREEN.store(true, Ordering::SeqCst);
        RAW.store(true, Ordering::SeqCst);
        let opened = (|| {
            enable_raw_mode()?;
            execute!(stdout(), EnterAlternateScreen, EnableFocusChange, cursor::Hide)?;
            Terminal::new(CrosstermBackend::new(stdout()))
        })();
        match opened {
            Ok(terminal) => Ok(Self { terminal }),
            Err(error) => {
                give_back();
                Err(error)
            }
        }
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        give_back();
    }
}

/// Keys one by one, without taking the screen.
pub(crate) struct RawKeys;

impl RawKeys {
    pub(crate) fn take() -> io::Result<Self> {
        install_hook(thread::current().id());
        enable_raw_mode()?;
        RAW.store(true, Ordering::SeqCst);
        Ok(Self)
    }
}

impl Drop for RawKeys {
    fn drop(&mut self) {
        give_back();
    }
}

/// While it lives, messages for stderr go to a log file: libraries of sound systems write there whatever is on the screen.
pub(crate) struct QuietStderr;

impl QuietStderr {
    pub(crate) fn redirect(log: Option<&Path>) -> Self {
        install_hook(thread::current().id());
        stderr::redirect(log);
        Self
    }
}

impl Drop for QuietStderr {
    fn drop(&mut self) {
        stderr::restore();
    }
}

/// Gives the terminal back as it was. A terminal that is gone cannot be mended, so errors are passed over.
pub(crate) fn give_back() {
    if SCREEN.swap(false, Ordering::SeqCst) {
        let _ = execute!(stdout(), DisableFocusChange, LeaveAlternateScreen, cursor::Show);
    }
    if RAW.swap(false, Ordering::SeqCst) {
        let _ = disable_raw_mode();
    }
}

/// A panic of the thread that draws gives the terminal back before its message is printed; one of any other thread goes to the log and
/// leaves the screen alone.
fn install_hook(drawing: ThreadId) {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            if thread::current().id() == drawing {
                give_back();
                stderr::restore();
            }
            before(info);
        }));
    });
}

#[cfg(unix)]
mod stderr {
    use std::fs::File;
    use std::os::fd::OwnedFd;
    use std::path::Path;
    use std::sync::Mutex;

    /// Where stderr went before.
    static BEFORE: Mutex<Option<OwnedFd>> = Mutex::new(None);

    pub(super) fn redirect(log: Option<&Path>) {
        let Some(file) = log.and_then(|log| File::options().create(true).append(true).open(log).ok()) else { return };
        let Ok(before) = rustix::io::dup(rustix::stdio::stderr()) else { return };
        if rustix::stdio::dup2_stderr(&file).is_ok()
            && let Ok(mut slot) = BEFORE.lock()
        {
            *slot = Some(before);
        }
    }

    pub(super) fn restore() {
        if let Ok(mut slot) = BEFORE.lock()
            && let Some(before) = slot.take()
        {
            let _ = rustix::stdio::dup2_stderr(&before);
        }
    }
}

#[cfg(not(unix))]
mod stderr {
    use std::path::Path;

    pub(super) fn redirect(_log: Option<&Path>) {}

    pub(super) fn restore() {}
}
