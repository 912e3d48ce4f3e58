//! A folder of recordings as a voice that speaks.

use std::path::Path;

use super::super::{Pack, Recording, Source};
use super::{Own, OwnError, RATE, Trouble};

/// A folder's voice, with its gaps.
#[derive(Debug)]
pub struct Opened {
    /// The words that were recorded.
    pub pack: Pack,
    /// The voice that says what this one lacks, if it names one.
    pub fallback: Option<String>,
    /// What the teacher should know of the recordings.
    pub troubles: Vec<Trouble>,
}

impl Pack {
    /// The voice in `folder`, made ready to speak. Takes tens of milliseconds for a few words, about a second for the whole list.
    ///
    /// # Errors
    /// [`OwnError`], as [`Own::read`].
    pub fn open(folder: &Path) -> Result<Opened, OwnError> {
        let own = Own::read(folder)?;
        let bias = own.manifest.p_centre_bias_ms;
        let name = folder.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let mut pack = Self::empty(&name, own.language, RATE);
        for clip in own.clips {
            let duration_ms = clip.duration_ms();
            let attack_ms = (clip.p_centre_ms + bias).clamp(0.0, duration_ms);
            let source = Source { path: clip.name, sound: Recording::Made(clip.samples), duration_ms, attack_ms };
            // a word comes once and its natural length first, and a list has fewer words than a pack has room for
            let _ = pack.add(clip.id, clip.text, clip.tier, source);
        }
        Ok(Opened { pack, fallback: own.manifest.fallback, troubles: own.troubles })
    }
}
