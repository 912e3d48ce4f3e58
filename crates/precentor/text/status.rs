//! The status line.

use crate::app::state::{Sound, Standing};
use sequencer::{Mix, Role};

/// Before the device answers.
pub const OPENING: &str = "opening the sound device";
/// While the clips are decoded.
pub const VOICE_LOADING: &str = "voice loading";
/// Without a voice.
pub const VOICE_MISSING: &str = "no voice";

/// How the device stands, with its name.
#[must_use]
pub fn standing(sound: &Sound) -> String {
    match sound.standing {
        Standing::Opening => "SOUND opening".to_owned(),
        Standing::Playing => format!("SOUND on {}", sound.name),
        Standing::Lost => format!("SOUND LOST: {} is looked for; the place is kept", sound.name),
        Standing::Silent => format!("NO SOUND, silent clock: {}", sound.mend),
        Standing::Failed => "SOUND FAILED: quit and start again".to_owned(),
    }
}

/// The master level.
#[must_use]
pub fn level(decibels: Option<i32>) -> String {
    decibels.map_or_else(|| "level off".to_owned(), |decibels| format!("level {decibels} dB"))
}

/// Every role that is not at its usual level.
#[must_use]
pub fn roles(mix: &Mix) -> String {
    let turned = Role::ALL.into_iter().map(|role| (role, mix.level(role).0)).filter(|(_, level)| *level != 0.0);
    turned.map(|(role, level)| format!("{} {level:+}  ", role.word())).collect()
}

/// The tempo.
#[must_use]
pub fn tempo(bpm: f64) -> String {
    format!("{bpm} bpm")
}

/// Faults are there to be read.
pub const FAULTS: &str = "f: saved with faults";
/// The second press of quit.
pub const QUIT_AGAIN: &str = "again within 2 s: quit";
/// The keyboard is in another window, which MIDI pedals do not mind.
#[must_use]
pub const fn elsewhere(midi: bool) -> &'static str {
    if midi {
        "Another window has the keyboard: keys go there; MIDI pedals still lead"
    } else {
        "Another window has the keyboard: pedal and keys go there"
    }
}
/// A drone under a plan.
#[must_use]
pub fn drone(root: pitch::Concert) -> String {
    format!("DRONE {root}")
}

/// From the room view or a page.
pub const BACK_TO_STAGE: &str = "stage";
/// The drone's key while it sounds.
pub const LET_GO: &str = "let it go";
/// The drone's key while it is silent.
pub const SOUND_IT: &str = "sound it";
/// What choose does in the drone's screen.
pub const SWITCH: &str = "switch";
/// The cautions were read.
pub const UNDERSTOOD: &str = "understood";
/// A console that was told to be silent.
pub const NO_SOUND_WANTED: &str = "none is wanted (--no-sound); start without it to hear something";

/// The sound of echoes is kept, for so many days.
#[must_use]
pub fn recording(days: u16) -> String {
    format!("RECORDING (o) {days} d  ")
}
