//! A list that filters by typing.

use crate::inputs::{Entry, Place, table};

/// What was typed, and the marked line of what is left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finder {
    /// The screen whose commands are listed.
    pub about: Place,
    /// What was typed.
    pub typed: String,
    /// The marked line.
    pub mark: usize,
}

impl Finder {
    /// Everything that can be done at `about`.
    #[must_use]
    pub const fn new(about: Place) -> Self {
        Self { about, typed: String::new(), mark: 0 }
    }

    /// What is left: every typed word must begin a word of the entry's name or be one of its keys, or else occur in its sentence. Names
    /// come before sentences.
    #[must_use]
    pub fn found(&self) -> Vec<&'static Entry> {
        let typed = self.typed.trim().to_lowercase();
        let by_name = |entry: &&Entry| {
            let keys = table::keys_for(self.about, entry.command);
            entry.word.starts_with(&typed)
                || entry.word.split(' ').any(|word| word.starts_with(&typed))
                || keys.iter().any(|key| key.to_string().to_lowercase() == typed)
        };
        let by_sentence = |entry: &&Entry| entry.meaning.to_lowercase().contains(&typed);
        let named: Vec<&Entry> = table::entries(self.about).filter(by_name).collect();
        let mut found = named.clone();
        found.extend(table::entries(self.about).filter(by_sentence).filter(|entry| !named.iter().any(|name| std::ptr::eq(*name, *entry))));
        found
    }

    /// The marked entry.
    #[must_use]
    pub fn marked(&self) -> Option<&'static Entry> {
        self.found().get(self.mark).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inputs::Command;
    use sequencer::Cue;

    #[test]
    fn typing_finds_by_word_key_and_sentence() {
        let find = |typed: &str| Finder { typed: typed.to_owned(), ..Finder::new(Place::Stage) }.marked().map(|entry| entry.command);
        assert_eq!(find("ag"), Some(Command::Cue(Cue::Again)));
        assert_eq!(find("pgup"), Some(Command::Cue(Cue::Again)));
        assert_eq!(find("view"), Some(Command::RoomView));
        assert_eq!(find("anchor notes"), Some(Command::Landmarks));
        assert_eq!(find("zebra"), None);
        assert_eq!(Finder::new(Place::Stage).found().len(), table::entries(Place::Stage).count());
    }
}
