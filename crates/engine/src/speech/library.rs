//! Where voices are found, and what speaks where one has gaps.
//!
//! The chain: the pack the room names, a folder of the teacher's own before a built-in one; the pack its `fallback` names, or the
//! built-in one of its language; the synthesiser of [`super::formant`]. A word that none of them says is a click.

use include_dir::{Dir, include_dir};
use sequencer::{Language, words};
use std::path::Path;

use super::formant::{self, Speaker};
use super::{Pack, SpeechError, Tier};

static PACKS: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/../../assets-synth/voice/packs");

/// The voice of a room that names none.
pub const DEFAULT: &str = "en-slt";
/// A fallback may name a fallback, this many times over.
const LONGEST_CHAIN: usize = 4;

/// A voice with its gaps filled.
#[derive(Debug)]
pub struct Found {
    /// Every word that can be said.
    pub pack: Pack,
    /// What the teacher should know: a voice that is not there, one that is faulty.
    pub told: Vec<String>,
}

/// The names of the voices built in.
pub fn built_in() -> impl Iterator<Item = &'static str> {
    PACKS.dirs().filter_map(|pack| pack.path().to_str())
}

/// The built-in voice called `name` as it is, with its gaps.
///
/// # Errors
/// [`SpeechError`] if there is none, or it is not whole.
pub fn built_in_pack(name: &str) -> Result<Pack, SpeechError> {
    let unknown = || SpeechError::Unknown { pack: name.to_owned(), known: built_in().collect::<Vec<_>>().join(", ") };
    Pack::parse(name, PACKS.get_dir(name).ok_or_else(unknown)?)
}

/// The voice called `name`, its gaps filled. `own` is the folder the teacher's own voices lie in. There is always one: what cannot be had is
/// told, and another speaks.
#[must_use]
pub fn find(name: Option<&str>, own: Option<&Path>) -> Found {
    let mut told = Vec::new();
    let mut chain: Vec<Pack> = Vec::new();
    let mut tried: Vec<String> = Vec::new();
    let mut next = Some(name.unwrap_or(DEFAULT).to_owned());
    while let Some(name) = next.take().filter(|name| tried.len() < LONGEST_CHAIN && !tried.contains(name)) {
        let language = match one(&name, own, &mut told) {
            Ok((pack, fallback)) => {
                next = fallback;
                let language = pack.language();
                chain.push(pack);
                language
            }
            Err(error) => {
                told.push(error);
                // the language of what is broken or missing can often be told from its name
                name.get(..2).and_then(Language::of_code).unwrap_or_default()
            }
        };
        next = next.or_else(|| Some(built_in_for(language).to_owned()));
        tried.push(name);
    }
    let mut chain = chain.into_iter();
    let mut pack = chain.next().unwrap_or_else(|| Pack::empty(DEFAULT, Language::English, formant::RATE));
    for fallback in chain {
        pack.fill_from(fallback);
    }
    speak_what_lacks(&mut pack);
    Found { pack, told }
}

/// The built-in voice of a language.
fn built_in_for(language: Language) -> &'static str {
    let of_language = |name: &&str| name.get(..2) == Some(language.code());
    built_in().find(of_language).unwrap_or(DEFAULT)
}

/// The voice called `name` with its gaps, and the one it names for them; or why it cannot be had.
fn one(name: &str, own: Option<&Path>, told: &mut Vec<String>) -> Result<(Pack, Option<String>), String> {
    let Some(folder) = own.map(|own| own.join(name)).filter(|folder| folder.is_dir()) else {
        return built_in_pack(name).map(|pack| (pack, None)).map_err(|error| error.to_string());
    };
    let opened = Pack::open(&folder).map_err(|error| error.to_string())?;
    told.extend(opened.troubles.iter().map(|trouble| format!("{} of the voice {name}: {}", trouble.file, trouble.kind)));
    Ok((opened.pack, opened.fallback))
}

/// Lets the synthesiser say every word of a plan that no recording says.
pub(super) fn speak_what_lacks(pack: &mut Pack) {
    let language = pack.language();
    let lacks: Vec<_> = words::vocabulary(language).into_iter().filter(|id| pack.index_of(id).is_none()).collect();
    for entry in formant::entries(language).filter(|entry| lacks.contains(&entry.id)) {
        for tier in Tier::ALL.into_iter().filter(|tier| *tier == Tier::Natural || entry.tiers.contains(tier.letter())) {
            if let Some(said) = formant::say(&entry.sounds, entry.beat, tier, &Speaker::USUAL) {
                pack.add_made(entry.id, entry.text, tier, said);
            }
        }
    }
}
