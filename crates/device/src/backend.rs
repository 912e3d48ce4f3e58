//! What a way to the sound device must offer: to open one. Playing starts with opening; dropping the stream closes it.

use crossbeam_channel::Sender;
use std::sync::Arc;
use thiserror::Error;
use units::SampleRate;

use crate::custody::Custody;
use crate::feed::{Feed, Heart, Missed};
use crate::output::Wanted;

/// A way to the device. Called on a thread of its own, so it may block; whoever called may have stopped waiting.
pub(crate) trait Backend: Send + Sync + 'static {
    /// Finds the wanted device anew, opens a stream on it and lets it play. Devices change and die: nothing found is kept.
    fn open(&self, wish: &Wish, line: &Line) -> Result<Opened, OpenError>;
}

/// What to open.
#[derive(Clone, Debug)]
pub(crate) struct Wish {
    pub(crate) wanted: Wanted,
    pub(crate) rate: SampleRate,
    /// How many frames to ask for at a time.
    pub(crate) frames: u32,
    /// Whether the way of last resort may be tried too.
    pub(crate) last_resort: bool,
}

/// An open stream that plays until it is dropped.
pub(crate) struct Opened {
    pub(crate) stream: Box<dyn Send>,
    pub(crate) device: String,
    pub(crate) host: String,
    /// Its id; empty if it would not say.
    pub(crate) id: String,
    /// It was reached by the way of last resort.
    pub(crate) last_resort: bool,
}

/// What ties a stream to this side.
#[derive(Clone)]
pub(crate) struct Line {
    pub(crate) id: u32,
    pub(crate) rate: SampleRate,
    pub(crate) custody: Arc<Custody>,
    pub(crate) heart: Arc<Heart>,
    pub(crate) missed: Sender<Missed>,
    pub(crate) faults: Sender<Fault>,
}

impl Line {
    /// The body of a callback with `channels` channels.
    pub(crate) fn feed(&self, channels: usize) -> Feed {
        Feed::new(self, channels)
    }

    /// For the stream's error callback, which may run on the audio thread and may be called thousands of times a second.
    pub(crate) fn fault(&self, kind: FaultKind, why: impl FnOnce() -> String) {
        let news = match kind {
            FaultKind::Suspicious => self.heart.suspect(self.custody.clock()),
            FaultKind::Fatal | FaultKind::Moved => true,
        };
        if news && !self.faults.is_full() {
            let _ = self.faults.try_send(Fault { id: self.id, kind, why: why() });
        }
    }
}

/// Something a stream complained about.
#[derive(Clone, Debug)]
pub(crate) struct Fault {
    pub(crate) id: u32,
    pub(crate) kind: FaultKind,
    pub(crate) why: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum FaultKind {
    /// The stream is dead.
    Fatal,
    /// It may be; its callbacks tell.
    Suspicious,
    /// The system moved it to another device.
    Moved,
}

/// Why no device could be opened. In order of what tells the teacher most.
#[derive(Clone, Debug, Error, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum OpenError {
    #[error("this program was built without sound")]
    #[cfg_attr(feature = "sound", allow(dead_code, reason = "the other build's error"))]
    BuiltWithout,
    #[error("no sound system answers and no sound card opens")]
    NoHost,
    #[error("the sound system failed: {0}")]
    Failed(String),
    #[error("there is no output device called \"{0}\"")]
    NotFound(String),
    #[error("there is no microphone{0}")]
    NoMicrophone(String),
    #[error("{0} is used by another program")]
    Busy(String),
    #[error("access to {0} was refused")]
    Denied(String),
    #[error("this program may not use the microphone {0}")]
    MicrophoneDenied(String),
    #[error("{device} does not take {wanted} Hz")]
    Rate { device: String, wanted: u32, offered: Vec<u32> },
    #[error("{0} offers no sample format that can be served")]
    Format(String),
    #[error("{0} takes no sound; it may be suspended")]
    Mute(String),
    #[error("{0} gives no sound; it may be suspended")]
    Deaf(String),
    #[error("the sound system does not answer")]
    Hangs,
}

impl OpenError {
    /// What to do about it.
    pub(crate) fn mend(&self) -> String {
        match self {
            Self::BuiltWithout => "build it with the feature \"sound\" to hear something; until then the console runs silently".to_owned(),
            Self::NoHost => {
                "start the sound server (PipeWire or PulseAudio) or plug in a device; `precentor doctor` lists what is there".to_owned()
            }
            Self::Failed(_) => "unplug the device and plug it in again, or see `precentor doctor`".to_owned(),
            Self::NoMicrophone(_) => {
                "plug one in and choose it in the system's sound settings, or take a recorded file with --from".to_owned()
            }
            Self::NotFound(_) => "plug it in, or take a name from `precentor doctor`".to_owned(),
            Self::Busy(_) => "close the other program, or choose another device".to_owned(),
            Self::Denied(_) => "log in at this machine or join its group \"audio\", then start again".to_owned(),
            Self::MicrophoneDenied(_) => {
                "let it in the system's privacy settings; on Linux log in at this machine or join its group \"audio\"".to_owned()
            }
            Self::Rate { offered, .. } => rate_mend(offered),
            Self::Format(_) => "choose another device from `precentor doctor`".to_owned(),
            Self::Mute(_) | Self::Deaf(_) => "switch it on in the system's sound settings, or choose another device".to_owned(),
            Self::Hangs => "restart the sound server: `systemctl --user restart pipewire-pulse` or `pulseaudio --kill`".to_owned(),
        }
    }
}

fn rate_mend(offered: &[u32]) -> String {
    let list = offered.iter().map(u32::to_string).collect::<Vec<_>>().join(", ");
    match offered {
        [] => "choose another device from `precentor doctor`".to_owned(),
        [only] => format!("the device offers {only} Hz only; start with --rate {only}"),
        [first, ..] => format!("the device offers {list} Hz; start with --rate {first}"),
    }
}

/// The backend of this build.
pub(crate) fn ours() -> Arc<dyn Backend> {
    #[cfg(feature = "sound")]
    return Arc::new(crate::sound::System);
    #[cfg(not(feature = "sound"))]
    return Arc::new(NoSound);
}

#[cfg(not(feature = "sound"))]
struct NoSound;

#[cfg(not(feature = "sound"))]
impl Backend for NoSound {
    fn open(&self, _wish: &Wish, _line: &Line) -> Result<Opened, OpenError> {
        Err(OpenError::BuiltWithout)
    }
}
