//! `precentor record words`: from prompts, or from a take, to a folder of words.

use anyhow::{Context, bail};
use clap::Args;
use device::Wanted;
use engine::speech::own::cut::{self, SILENCE_MS};
use engine::speech::own::list::{self, Listed};
use engine::speech::own::{CLIPS, MANIFEST, Own, RATE, TroubleKind, decode};
use sequencer::Language;
use std::fmt::Write as _;
use std::fs;
use std::ops::Range;
use std::path::{Path, PathBuf};
use units::SampleRate;

use super::super::exit::Usage;
use super::super::print;
use super::super::wav::{Format, WavDraft};
use super::take::{self, Take};

/// What was recorded whole, inside a voice's folder, and what was replaced.
const TAKES: &str = "takes";

/// Words in your own voice: a prompt every 2 s, or one recording of them all
///
/// Everything stays in a folder on this machine: each whole take, and each word cut from it as a file named by its id, which you may replace by
/// any other recording (WAV, FLAC, Ogg Vorbis). What you leave out is said by the built-in voice.
#[derive(Debug, Args)]
pub struct WordsArgs {
    /// What rooms call the voice: small letters, digits and dashes
    #[arg(value_name = "NAME")]
    name: String,
    /// The language, of a new voice
    #[arg(long, value_name = "CODE", value_parser = language_of)]
    language: Option<Language>,
    /// A recording of all prompts in their order, with silence of 0.4 s or more between, instead of the microphone
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    /// `start` for the 19 words a lesson needs most, `all` for the whole list, or ids
    #[arg(long, value_name = "ID", num_args = 1.., value_delimiter = ',', default_value = "start")]
    prompts: Vec<String>,
    /// The microphone, by its name or id; the system's choice unless given
    #[arg(long, value_name = "NAME", conflicts_with = "from")]
    microphone: Option<String>,
}

pub(super) fn run(args: &WordsArgs) -> anyhow::Result<()> {
    let folder = super::folder(&args.name)?;
    let old = if folder.join(CLIPS).is_dir() { Some(super::read(&folder)?) } else { None };
    let language = language(args, old.as_ref())?;
    let prompts = prompts(&list::words(language), &args.prompts)?;
    let take = match &args.from {
        Some(path) => Take::of(
            decode(path).map_err(|fault| Usage::error(format!("{}: {fault}", path.display()), "name a WAV, FLAC or Ogg Vorbis file"))?,
        ),
        None => {
            let texts: Vec<_> = prompts.iter().map(|word| word.text).collect();
            take::live(&texts, &folder, args.microphone.as_deref().map_or(Wanted::Default, Wanted::from))?
        }
    };
    let kept = keep_take(&folder, args.from.as_deref(), &take)?;
    let found = cut::words(&take.samples);
    print::text(&format!("{} of {} prompts found, between silences of {SILENCE_MS} ms and more\n", found.len(), prompts.len()))?;
    let said = assign(&found, &take, &prompts)
        .with_context(|| format!("the words do not tell which is which; the take is kept as {}", kept.display()))?;
    for (word, place) in prompts.iter().zip(&said) {
        if let Some(samples) = place.clone().and_then(|place| take.samples.get(place)) {
            write_word(&folder, word.id, samples)?;
        }
    }
    write_manifest(&folder, &args.name, language)?;
    let own = super::read(&folder)?;
    own.write_table()?;
    report(&own, args, &folder, &prompts)?;
    let unsaid: Vec<_> = prompts.iter().zip(&said).filter(|(_, place)| place.is_none()).map(|(word, _)| word.id).collect();
    let damaged = take.damaged(&prompts.iter().map(|word| word.id).collect::<Vec<_>>());
    if !damaged.is_empty() {
        print::note(&format!(
            "the machine was busy and may have lost some of {}; listen to them in {}",
            damaged.join(", "),
            folder.join(CLIPS).display()
        ));
    }
    if !unsaid.is_empty() {
        bail!("{} not heard; once more: precentor record words {} --prompts {}", unsaid.join(", "), args.name, unsaid.join(","));
    }
    Ok(())
}

fn language(args: &WordsArgs, old: Option<&Own>) -> anyhow::Result<Language> {
    match (args.language, old.map(|own| own.language)) {
        (Some(wanted), Some(spoken)) if wanted != spoken => Err(Usage::error(
            format!("the voice {} speaks \"{}\", not \"{}\"", args.name, spoken.code(), wanted.code()),
            "give the words of another language a voice of their own",
        )),
        (wanted, spoken) => Ok(wanted.or(spoken).unwrap_or_default()),
    }
}

fn language_of(code: &str) -> Result<Language, String> {
    Language::of_code(code).ok_or_else(|| format!("there is no word list for \"{code}\"; choose one of {}", Language::codes()))
}

fn prompts(words: &[Listed], wanted: &[String]) -> anyhow::Result<Vec<Listed>> {
    let mut prompts: Vec<Listed> = Vec::new();
    for wanted in wanted {
        let chosen: Vec<Listed> = match wanted.as_str() {
            "all" => words.to_vec(),
            "start" => list::START.iter().filter_map(|id| words.iter().find(|word| word.id == *id)).copied().collect(),
            id => match words.iter().find(|word| word.id == id) {
                Some(word) => vec![*word],
                None => {
                    let mend = list::nearest(words, id)
                        .map_or_else(|| "say all to see every word".to_owned(), |near| format!("did you mean {near}?"));
                    return Err(Usage::error(format!("no word is called \"{id}\""), mend));
                }
            },
        };
        for word in chosen {
            if !prompts.contains(&word) {
                prompts.push(word);
            }
        }
    }
    Ok(prompts)
}

/// Which piece of the take is which prompt: in order if there are as many, else by the time at which each prompt was shown.
fn assign(found: &[Range<usize>], take: &Take, prompts: &[Listed]) -> anyhow::Result<Vec<Option<Range<usize>>>> {
    if found.len() == prompts.len() {
        return Ok(found.iter().cloned().map(Some).collect());
    }
    if let Some(shown) = &take.shown {
        return Ok(cut::by_prompt(found, shown));
    }
    let mut places = String::new();
    for place in found {
        let _ = write!(places, "\n  {:7.2} s, {:.2} s long", cut::seconds(place.start), cut::seconds(place.len()));
    }
    bail!(
        "{} sounds were found where {} words were asked for; say one word at a time with half a second between, or name what is in it with \
         --prompts{places}",
        found.len(),
        prompts.len()
    )
}

/// Puts the whole take into the voice's folder; says where.
fn keep_take(folder: &Path, from: Option<&Path>, take: &Take) -> anyhow::Result<PathBuf> {
    let takes = folder.join(TAKES);
    for path in [&folder.join(CLIPS), &takes] {
        fs::create_dir_all(path).with_context(|| format!("the folder {} cannot be made", path.display()))?;
    }
    let ending = from.and_then(Path::extension).map_or("wav".into(), |ending| ending.to_string_lossy().to_lowercase());
    let path = unused(&takes, &jiff::ZonedDateTime::now().datetime().strftime("%Y-%m-%d_%H-%M-%S").to_string(), &ending);
    match from {
        Some(from) => fs::copy(from, &path).map(drop).with_context(|| format!("{} cannot be written", path.display()))?,
        None => write_wav(&path, &take.samples)?,
    }
    Ok(path)
}

/// A file in `folder` that is not there yet.
fn unused(folder: &Path, stem: &str, ending: &str) -> PathBuf {
    let named = |name: String| folder.join(format!("{name}.{ending}"));
    let more = (2_u32..).map(|number| named(format!("{stem}_{number}")));
    std::iter::once(named(stem.to_owned())).chain(more).find(|path| !path.exists()).unwrap_or_else(|| named(stem.to_owned()))
}

/// Puts a word into the folder. A recording it replaces goes to the takes.
fn write_word(folder: &Path, id: &str, samples: &[f64]) -> anyhow::Result<()> {
    let clips = folder.join(CLIPS);
    for entry in fs::read_dir(&clips).with_context(|| format!("{} cannot be read", clips.display()))?.flatten() {
        let old = entry.path();
        if old.file_stem().is_some_and(|stem| stem == id) {
            let ending = old.extension().unwrap_or_default().to_string_lossy().into_owned();
            fs::rename(&old, unused(&folder.join(TAKES), id, &ending))
                .with_context(|| format!("{} cannot be moved to {TAKES}", old.display()))?;
        }
    }
    write_wav(&clips.join(format!("{id}.wav")), samples)
}

fn write_wav(path: &Path, samples: &[f64]) -> anyhow::Result<()> {
    let mut wav = WavDraft::begin(path, true, 1, SampleRate::new(RATE)?, Format::Pcm24)?;
    let samples: Vec<f32> = samples.iter().map(|sample| *sample as f32).collect();
    wav.write(&samples)?;
    wav.finish()?.keep()
}

fn write_manifest(folder: &Path, name: &str, language: Language) -> anyhow::Result<()> {
    let path = folder.join(MANIFEST);
    if path.exists() {
        return Ok(());
    }
    let text = format!(
        "name = \"{name}\"\nlanguage = \"{}\"\n# What others may do with your recordings. Empty: nothing.\nlicence = \"\"\n\
         # Added to every beat, in milliseconds: more makes all words sound earlier.\np_centre_bias_ms = 0.0\n",
        language.code()
    );
    fs::write(&path, text).with_context(|| format!("{} cannot be written", path.display()))
}

fn report(own: &Own, args: &WordsArgs, folder: &Path, prompts: &[Listed]) -> anyhow::Result<()> {
    let mut table = print::Table::new(&["word", "lasts ms", "beat at ms", "shortest ms", ""]);
    for word in prompts {
        let mut lengths = own.clips.iter().filter(|clip| clip.id == word.id);
        let Some(whole) = lengths.next() else { continue };
        let shortest = lengths.next_back().map_or(String::new(), |clip| format!("{:.0}", clip.duration_ms()));
        let hand = if whole.by_hand { "set by hand before: listen to it with precentor record align" } else { "" };
        table.row([
            word.id.to_owned(),
            format!("{:.0}", whole.duration_ms()),
            format!("{:.0}", whole.p_centre_ms),
            shortest,
            hand.to_owned(),
        ]);
    }
    let mut text = table.lines();
    for trouble in &own.troubles {
        let left_out = if trouble.kind.leaves_out() { "left out: " } else { "" };
        let _ = writeln!(text, "{left_out}{}: {}", trouble.file, trouble.kind);
    }
    let again: Vec<_> = own
        .troubles
        .iter()
        .filter(|trouble| !matches!(trouble.kind, TroubleKind::UnknownWord(_) | TroubleKind::Twice(_)))
        .filter_map(|trouble| trouble.file.split(['.', '~']).next())
        .collect();
    if !again.is_empty() {
        let _ = writeln!(text, "once more: precentor record words {} --prompts {}", args.name, again.join(","));
    }
    let (recorded, missing) = (own.words.len() - own.missing().count(), own.missing().count());
    let _ = writeln!(
        text,
        "{} speaks {recorded} words, in {}; the other {missing} of the list are said by another voice\nin the room file: voice = \"{}\"",
        args.name,
        folder.display(),
        args.name
    );
    print::text(&text)
}
