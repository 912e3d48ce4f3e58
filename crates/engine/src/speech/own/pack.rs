//! A folder of recordings as a voice that speaks.

use std::collections::HashMap;
use std::path::Path;

use super::super::{ClipInfo, Pack, Recording, Row, Source};
use super::{Own, OwnError, RATE, Trouble};

/// A folder's voice, with its gaps.
#[derive(Debug)]
pub struct Opened {
    /// The words that were recorded.
    pub pack: Pack,
    /// Their language.
    pub language: String,
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
        let language = own.language().to_owned();
        let bias = own.manifest.p_centre_bias_ms;
        let mut pack = Self { sample_rate: RATE, words: Vec::new(), by_id: HashMap::new(), sources: Vec::new() };
        for clip in own.clips {
            let duration_ms = clip.duration_ms();
            let attack_ms = (clip.p_centre_ms + bias).clamp(0.0, duration_ms);
            let row = Row { name: &clip.name, id: clip.id, text: clip.text, tier: clip.tier, duration_ms, p_centre_ms: clip.p_centre_ms };
            // a word comes once and its natural length first, and a list has fewer words than a pack has room for
            let number = pack.sources.len() as u16;
            if pack.add(&row, ClipInfo { clip: number, duration_ms, attack_ms }).is_ok() {
                pack.sources.push(Source { path: clip.name.clone(), sound: Recording::Made(clip.samples), duration_ms, attack_ms });
            }
        }
        Ok(Opened { pack, language, fallback: own.manifest.fallback, troubles: own.troubles })
    }
}
