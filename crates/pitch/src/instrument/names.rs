//! Finding an instrument by what people call it.

use super::Instrument;
use thiserror::Error;

/// A name that is no instrument of the table, or more than one.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum UnknownInstrument {
    /// No instrument is called so.
    #[error("\"{given}\" is not an instrument of the table; did you mean \"{nearest}\"?")]
    Unknown {
        /// The name as given.
        given: String,
        /// The known name nearest to it by edit distance.
        nearest: &'static str,
    },
    /// The name alone does not say how the part sounds.
    #[error("\"{given}\" can be read in two ways; write \"{}\" ({}) or \"{}\" ({})", readings[0].0, readings[0].1, readings[1].0, readings[1].1)]
    TwoReadings {
        /// The name as given.
        given: String,
        /// A name for each reading, and how it sounds.
        readings: [(&'static str, &'static str); 2],
    },
}

impl UnknownInstrument {
    /// A known name near to the one given.
    #[must_use]
    pub const fn nearest(&self) -> &'static str {
        match self {
            Self::Unknown { nearest, .. } => nearest,
            Self::TwoReadings { readings, .. } => readings[0].0,
        }
    }
}

/// Bass-clef horn parts are not to be guessed at.
const HORN_IN_BASS_CLEF: [&str; 2] = ["horn f bass clef", "horn bass clef"];
const HORN_READINGS: [(&str, &str); 2] = [
    ("horn in F bass clef new notation", "sounds a fifth below the page"),
    ("horn in F bass clef old notation", "sounds a fourth above the page"),
];

impl Instrument {
    /// The instrument of that id, label or usual name, in any case and number: `horn_f`, "Horn in F", "french horns", "alto sax".
    ///
    /// # Errors
    /// [`UnknownInstrument`] with the nearest known name, or both readings of a name that has two.
    pub fn find(name: &str) -> Result<&'static Self, UnknownInstrument> {
        let wanted = plain(name);
        let known = |instrument: &'static Self| instrument.all_names().map(move |name| (instrument, name));
        let names = || Self::all().iter().chain(Self::drums()).flat_map(known);
        if let Some((instrument, _)) = names().find(|(_, name)| plain(name) == wanted) {
            return Ok(instrument);
        }
        if HORN_IN_BASS_CLEF.contains(&wanted.as_str()) {
            return Err(UnknownInstrument::TwoReadings { given: name.to_owned(), readings: HORN_READINGS });
        }
        let nearest = names().map(|(_, name)| name).min_by_key(|name| strsim::damerau_levenshtein(&plain(name), &wanted));
        Err(UnknownInstrument::Unknown { given: name.to_owned(), nearest: nearest.unwrap_or("flute") })
    }

    fn all_names(&self) -> impl Iterator<Item = &'static str> + use<> {
        self.names.iter().copied().chain([self.id, self.label])
    }
}

/// A name as it is compared: small letters, singular words, flats as "eb", without the words that carry nothing.
fn plain(name: &str) -> String {
    let name = name.to_lowercase().replace('♭', "b");
    let words = name.split(|c: char| !c.is_alphanumeric()).filter(|word| !matches!(*word, "" | "in" | "the" | "french"));
    let mut plain: Vec<String> = Vec::new();
    for word in words {
        match (word, plain.last_mut()) {
            ("flat", Some(letter)) if letter.len() == 1 => letter.push('b'),
            ("saxophone" | "saxophones" | "saxes", _) => plain.push("sax".to_owned()),
            ("bari", _) => plain.push("baritone".to_owned()),
            ("basses", _) => plain.push("bass".to_owned()),
            _ => {
                let plural = word.len() > 3 && word.ends_with('s') && !word.ends_with("ss");
                plain.push(word[..word.len() - usize::from(plural)].to_owned());
            }
        }
    }
    plain.join(" ")
}
