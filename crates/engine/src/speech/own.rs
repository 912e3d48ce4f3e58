//! The teacher's own recorded words: a folder of recordings made ready to speak.
//!
//! ```text
//! voices/NAME/
//!   pack.toml     language, speaker, licence, p_centre_bias_ms, fallback: all may be absent
//!   clips/        one.wav, your_turn.flac, b_flat.ogg: a word each, named by its id, at any rate, mono or stereo
//!   clips/one~q.wav   the same word said quickly, if you like; otherwise it is shortened
//!   align.tsv     where each word's beat falls: written here; a line that ends in "manual" is never overwritten
//! ```
//!
//! Recordings stay as they are. Whatever is done to them (one channel, 24 kHz, trimmed, shaped, levelled, shortened, the beat found) is done when
//! the folder is read. A recording that cannot speak is left out and told; another voice speaks in its place.

mod beat;
pub mod cut;
pub mod list;
mod pack;
mod read;
mod shorten;
mod signal;
mod table;
#[cfg(test)]
mod tests;

pub use beat::{Beat, beat};
pub use pack::Opened;
pub use read::{Heard, at_our_rate, decode};
pub use signal::RATE;

use sequencer::Language;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::num::NonZero;
use std::path::{Path, PathBuf};
use std::thread;
use thiserror::Error;

use super::Tier;
use list::Listed;
use table::ByHand;

/// The folder of recordings inside a voice's folder.
pub const CLIPS: &str = "clips";
/// The table inside a voice's folder.
pub const TABLE: &str = "align.tsv";
/// What a voice says of itself.
pub const MANIFEST: &str = "pack.toml";
/// Endings of recordings that can be read.
const ENDINGS: [&str; 4] = ["wav", "flac", "ogg", "oga"];
/// A folder of a few words takes tens of milliseconds, the whole list about a second of one thread.
const MOST_THREADS: usize = 4;
/// The most recordings in one folder: the word list has some two hundred, in four lengths.
const MOST_FILES: usize = 2_000;
/// The furthest a voice's beats may be moved all alike, in milliseconds.
const MOST_BIAS: f64 = 200.0;
/// The shortest beat, in milliseconds: 208 beats a minute.
const QUICKEST_BEAT: f64 = 60_000.0 / 208.0;
/// A count or syllable that lasts longer is not understood when it is shortened to 250 ms: that is 2.5 times as quick.
const LONGEST_COUNT: f64 = 625.0;

/// Why a folder is no voice at all.
#[derive(Debug, Error)]
pub enum OwnError {
    /// A file or folder cannot be read or written.
    #[error("{path} cannot be {done}: {source}", path = path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// `read` or `written`.
        done: &'static str,
        /// What the system says.
        source: io::Error,
    },
    /// `pack.toml` is not what it must be.
    #[error("{path}: {fault}", path = path.display())]
    Manifest {
        /// Which.
        path: PathBuf,
        /// What is wrong with it, and how to mend it.
        fault: String,
    },
    /// A line of `align.tsv` that was set by hand is not what it must be.
    #[error("{path}, line {line}: {fault}; mend the line, or take it away to have it measured", path = path.display())]
    Table {
        /// Which.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
        /// What is wrong with it.
        fault: &'static str,
    },
    /// No word of that name was recorded.
    #[error("there is no recording of \"{word}\"; {mend}")]
    NoWord {
        /// The name asked for.
        word: String,
        /// The nearest, or all.
        mend: String,
    },
}

/// What a voice says of itself.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// What people call it.
    pub name: Option<String>,
    /// What is spoken; English unless given.
    pub language: Option<String>,
    /// Who speaks.
    pub speaker: Option<String>,
    /// What others may do with the recordings; nothing unless the speaker says so.
    pub licence: Option<String>,
    /// Added to every beat, in milliseconds: more makes all words sound earlier.
    #[serde(default)]
    pub p_centre_bias_ms: f64,
    /// The voice that says what this one lacks.
    pub fallback: Option<String>,
}

/// Something about a recording that the teacher should know.
#[derive(Clone, Debug, PartialEq)]
pub struct Trouble {
    /// The recording's file name.
    pub file: String,
    /// What is wrong with it.
    pub kind: TroubleKind,
}

/// What is wrong with a recording.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum TroubleKind {
    /// Its name is no word of the list.
    #[error("no word is called so; {0}")]
    UnknownWord(String),
    /// It is no sound file that can be read.
    #[error("it cannot be read ({0}); record it again as WAV, FLAC or Ogg Vorbis")]
    Unreadable(String),
    /// Nothing is heard in it.
    #[error("it is silent; record it again nearer to the microphone")]
    Silent,
    /// Another recording of the same word stands beside it.
    #[error("{0} is the same word; take one of the two away")]
    Twice(String),
    /// It was too loud for the microphone.
    #[error("it is clipped; record it again, softer or further away")]
    Clipped,
    /// The room is loud behind the voice.
    #[error("the room is only {0:.0} dB under the voice; record it again where it is quiet")]
    Noisy(f64),
    /// It is said too slowly for quick tempi.
    #[error("it lasts {0:.0} ms, too long to be understood at 208 bpm; say it shorter, or add a quick one as {1}")]
    TooLong(f64, String),
}

impl TroubleKind {
    /// Whether the recording is left out because of it.
    #[must_use]
    pub const fn leaves_out(&self) -> bool {
        matches!(self, Self::UnknownWord(_) | Self::Unreadable(_) | Self::Silent | Self::Twice(_))
    }
}

/// A clip ready to be spoken.
#[derive(Clone, Debug, PartialEq)]
pub struct Prepared {
    /// The id, and `~q`, `~t` or `~s` for a short length.
    pub name: String,
    /// What the word is asked for by.
    pub id: &'static str,
    /// The word for the eye.
    pub text: &'static str,
    /// What it is for.
    pub group: &'static str,
    /// How short it is.
    pub tier: Tier,
    /// The sound, at [`RATE`].
    pub samples: Vec<f32>,
    /// The beat in milliseconds from the first sample, without the voice's bias.
    pub p_centre_ms: f64,
    /// Where the vowel begins.
    pub vowel_ms: f64,
    /// Whether the beat was set by hand.
    pub by_hand: bool,
}

impl Prepared {
    /// How long it lasts, in milliseconds.
    #[must_use]
    pub fn duration_ms(&self) -> f64 {
        duration_ms(self.samples.len())
    }
}

/// A folder of recordings, read and made ready.
#[derive(Clone, Debug)]
pub struct Own {
    folder: PathBuf,
    /// What the voice says of itself.
    pub manifest: Manifest,
    /// What is spoken.
    pub language: Language,
    /// The language's word list.
    pub words: Vec<Listed>,
    /// Every clip, a word's natural one before its short ones, in the list's order.
    pub clips: Vec<Prepared>,
    /// What the teacher should know, by file.
    pub troubles: Vec<Trouble>,
    by_hand: ByHand,
}

impl Own {
    /// Reads the voice in `folder`.
    ///
    /// # Errors
    /// [`OwnError`] if there is no folder of recordings, or its `pack.toml` or a line of its table set by hand is faulty. A faulty recording is
    /// no error but a [`Trouble`].
    pub fn read(folder: &Path) -> Result<Self, OwnError> {
        let manifest = manifest(&folder.join(MANIFEST))?;
        let language = match manifest.language.as_deref() {
            None => Language::default(),
            Some(code) => Language::of_code(code).ok_or_else(|| OwnError::Manifest {
                path: folder.join(MANIFEST),
                fault: format!("language = \"{code}\" has no word list; write one of {}", Language::codes()),
            })?,
        };
        let table = folder.join(TABLE);
        let by_hand = match fs::read(&table) {
            Ok(bytes) => {
                ByHand::parse(&String::from_utf8_lossy(&bytes)).map_err(|(line, fault)| OwnError::Table { path: table, line, fault })?
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => ByHand::default(),
            Err(source) => return Err(OwnError::File { path: table, done: "read", source }),
        };
        let words = list::words(language);
        let mut own = Self { folder: folder.to_owned(), manifest, language, words, clips: Vec::new(), troubles: Vec::new(), by_hand };
        own.prepare()?;
        Ok(own)
    }

    /// The words of the list that no recording says.
    pub fn missing(&self) -> impl Iterator<Item = &Listed> {
        self.words.iter().filter(|word| self.clips.iter().all(|clip| clip.id != word.id))
    }

    /// The clip called `name`.
    ///
    /// # Errors
    /// [`OwnError::NoWord`], with the nearest name.
    pub fn clip(&self, name: &str) -> Result<&Prepared, OwnError> {
        self.clips.iter().find(|clip| clip.name == name).ok_or_else(|| {
            let recorded: Vec<_> = self.words.iter().filter(|word| self.clips.iter().any(|clip| clip.id == word.id)).copied().collect();
            let all = || recorded.iter().map(|word| word.id).collect::<Vec<_>>().join(", ");
            let mend =
                list::nearest(&recorded, name).map_or_else(|| format!("there are {}", all()), |near| format!("did you mean {near}?"));
            OwnError::NoWord { word: name.to_owned(), mend }
        })
    }

    /// Writes the table anew. Lines set by hand stay as they are.
    ///
    /// # Errors
    /// [`OwnError::File`].
    pub fn write_table(&self) -> Result<(), OwnError> {
        let path = self.folder.join(TABLE);
        let passing = self.folder.join(".align.tsv.part");
        let written = fs::write(&passing, self.by_hand.table(&self.clips)).and_then(|()| fs::rename(&passing, &path));
        written.map_err(|source| OwnError::File { path, done: "written", source })
    }

    /// Moves the beat of `word` by `ms` later within the word, so that it sounds as much earlier; its short lengths in proportion. Set by hand from
    /// now on; returns the beat before and after.
    ///
    /// # Errors
    /// [`OwnError::NoWord`], or [`OwnError::File`] if the table cannot be written.
    pub fn nudge(&mut self, word: &str, ms: f64) -> Result<(f64, f64), OwnError> {
        let clip = self.clip(word)?;
        let before = clip.p_centre_ms;
        let moved = Prepared { p_centre_ms: (before + ms).clamp(0.0, clip.duration_ms()), by_hand: true, ..clip.clone() };
        let after = moved.p_centre_ms;
        self.by_hand.set(&moved);
        self.write_table()?;
        *self = Self::read(&self.folder)?;
        Ok((before, after))
    }

    fn prepare(&mut self) -> Result<(), OwnError> {
        let files = self.files()?;
        let recorded: Vec<Listed> = self.words.iter().filter(|word| files.contains_key(word.id)).copied().collect();
        let threads = thread::available_parallelism().map_or(1, NonZero::get).min(MOST_THREADS);
        let share = recorded.len().div_ceil(threads).max(1);
        let by_hand = &self.by_hand;
        let prepared: Vec<Vec<Word>> = thread::scope(|scope| {
            let files = &files;
            let work = |words| scope.spawn(move || words_of(words, files, by_hand));
            let workers: Vec<_> = recorded.chunks(share).map(work).collect();
            workers.into_iter().map(|worker| worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))).collect()
        });
        for word in prepared.into_iter().flatten() {
            self.clips.extend(word.clips);
            self.troubles.extend(word.troubles);
        }
        self.troubles.sort_by(|a, b| a.file.cmp(&b.file));
        Ok(())
    }

    /// The recordings by clip name; what is no recording of the list is told.
    fn files(&mut self) -> Result<BTreeMap<String, PathBuf>, OwnError> {
        let folder = self.folder.join(CLIPS);
        let fault = |source| OwnError::File { path: folder.clone(), done: "read", source };
        let mut found: Vec<PathBuf> = Vec::new();
        for entry in fs::read_dir(&folder).map_err(fault)?.take(MOST_FILES) {
            found.push(entry.map_err(fault)?.path());
        }
        found.sort();
        let mut files: BTreeMap<String, PathBuf> = BTreeMap::new();
        for path in found {
            let name = file_name(&path);
            let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
            let stem = path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
            let (id, mark) = stem.split_once('~').unwrap_or((&stem, ""));
            let (sound, known) = (ENDINGS.contains(&ending.as_str()), self.words.iter().any(|word| word.id == id));
            // whatever else lies there is nobody's business
            if name.starts_with('.') || !sound && !known {
                continue;
            }
            let kind = if !sound {
                TroubleKind::Unreadable("it is no WAV, FLAC or Ogg Vorbis".to_owned())
            } else if !known {
                let nearest = list::nearest(&self.words, id)
                    .map_or("see the list in the documentation".to_owned(), |near| format!("did you mean {near}?"));
                TroubleKind::UnknownWord(nearest)
            } else if !["", "q", "t", "s"].contains(&mark) {
                TroubleKind::UnknownWord(format!("a quick one is {id}~q, {id}~t or {id}~s"))
            } else if let Some(other) = files.get(&stem) {
                TroubleKind::Twice(file_name(other))
            } else {
                files.insert(stem, path);
                continue;
            };
            self.troubles.push(Trouble { file: name, kind });
        }
        Ok(files)
    }
}

/// What one word's recordings came to.
#[derive(Default)]
struct Word {
    clips: Vec<Prepared>,
    troubles: Vec<Trouble>,
}

fn words_of(words: &[Listed], files: &BTreeMap<String, PathBuf>, by_hand: &ByHand) -> Vec<Word> {
    words.iter().map(|word| Word::of(word, files, by_hand)).collect()
}

impl Word {
    fn of(word: &Listed, files: &BTreeMap<String, PathBuf>, by_hand: &ByHand) -> Self {
        let mut made = Self::default();
        let Some(natural) = files.get(word.id).and_then(|path| made.hear(path)) else { return made };
        let file = files.get(word.id).map(|path| file_name(path)).unwrap_or_default();
        let quick = clip_name(word.id, Tier::Quick);
        let natural_ms = duration_ms(natural.len());
        // a word that cannot be told from its room has no length of its own
        let noisy = made.troubles.iter().any(|trouble| matches!(trouble.kind, TroubleKind::Noisy(_)));
        let for_beats = word.tiers().any(|tier| tier == Tier::Tight);
        if for_beats && natural_ms > LONGEST_COUNT && !noisy && !files.contains_key(&quick) {
            made.troubles.push(Trouble { file, kind: TroubleKind::TooLong(natural_ms, format!("{quick}.wav")) });
        }
        let whole = ready(word, Tier::Natural, &natural, by_hand, None);
        let moved = whole.by_hand.then(|| whole.p_centre_ms - beat(&natural, word.syllable).p_centre_ms).map(|by| by / natural_ms);
        made.clips.push(whole);
        // what the next shorter length is made from
        let mut said = natural;
        for tier in word.tiers().skip(1) {
            let own = files.get(&clip_name(word.id, tier)).and_then(|path| Some((made.hear(path)?, path)));
            let recorded = own.is_some();
            if let Some((quick, path)) = own {
                let ms = duration_ms(quick.len());
                if ms > QUICKEST_BEAT {
                    let file = file_name(path);
                    made.troubles.push(Trouble { kind: TroubleKind::TooLong(ms, file.clone()), file });
                }
                said = quick;
            }
            let longest = signal::samples(tier.longest_ms().unwrap_or(f64::MAX));
            if said.len() <= longest && !recorded {
                continue;
            }
            let short = shorten::shorten(&said, longest);
            made.clips.push(ready(word, tier, &short, by_hand, moved.filter(|_| !recorded)));
        }
        made
    }

    /// A recording as one trimmed word; what is wrong with it is told.
    fn hear(&mut self, path: &Path) -> Option<Vec<f64>> {
        let file = file_name(path);
        match read::word(path) {
            Ok((word, troubles)) => {
                self.troubles.extend(troubles.into_iter().map(|kind| Trouble { file: file.clone(), kind }));
                Some(word)
            }
            Err(kind) => {
                self.troubles.push(Trouble { file, kind });
                None
            }
        }
    }
}

/// A trimmed word as a clip. `moved` is how much of the natural length its beat was moved by hand.
fn ready(word: &Listed, tier: Tier, sound: &[f64], by_hand: &ByHand, moved: Option<f64>) -> Prepared {
    let name = clip_name(word.id, tier);
    let found = beat(sound, word.syllable);
    let lasts = duration_ms(sound.len());
    let set = by_hand.p_centre_ms(&name);
    let p_centre_ms = set.unwrap_or(found.p_centre_ms + moved.unwrap_or(0.0) * lasts).clamp(0.0, lasts);
    Prepared {
        name,
        id: word.id,
        text: word.text,
        group: word.group,
        tier,
        samples: signal::shape(sound),
        p_centre_ms,
        vowel_ms: found.vowel_ms,
        by_hand: set.is_some(),
    }
}

/// How long so many samples last, in milliseconds.
fn duration_ms(samples: usize) -> f64 {
    samples as f64 * 1000.0 / f64::from(RATE)
}

fn manifest(path: &Path) -> Result<Manifest, OwnError> {
    let fault = |fault| OwnError::Manifest { path: path.to_owned(), fault };
    let text = match fs::read(path) {
        Ok(bytes) => String::from_utf8(bytes).map_err(|_| fault("it is not text; write it anew".to_owned()))?,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Manifest::default()),
        Err(source) => return Err(OwnError::File { path: path.to_owned(), done: "read", source }),
    };
    let manifest: Manifest = toml::from_str(&text).map_err(|error| fault(error.to_string().trim_end().to_owned()))?;
    let bias = manifest.p_centre_bias_ms;
    if !(-MOST_BIAS..=MOST_BIAS).contains(&bias) {
        return Err(fault(format!("p_centre_bias_ms = {bias} is out of bounds; write a number from -{MOST_BIAS} to {MOST_BIAS}")));
    }
    Ok(manifest)
}

/// A clip's name: the id, and a mark for a short length.
fn clip_name(id: &str, tier: Tier) -> String {
    if tier == Tier::Natural { id.to_owned() } else { format!("{id}~{}", tier.letter().to_lowercase()) }
}

fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}
