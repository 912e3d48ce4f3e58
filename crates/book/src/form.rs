//! Which keys a file takes, and what their values may be: the one description that the reader checks by and the schemas are made from.

/// A table: its keys and how they go together.
#[derive(Debug)]
pub struct Form {
    /// What it is, with its article: "a section".
    pub what: &'static str,
    /// The keys it knows.
    pub keys: &'static [Key],
    /// Exactly one of these must be there; empty if the keys are free to come together.
    pub one_of: &'static [&'static str],
    /// What stands under keys that are names of the teacher's own; nothing if only the listed keys are known.
    pub named: Option<&'static Form>,
    /// The table whose keys are often put in here by mistake, below a heading that has already begun this one.
    pub above: Option<&'static Form>,
}

/// One key of a table.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// As it is written.
    pub name: &'static str,
    /// What it says, for editors that show the schema.
    pub about: &'static str,
    /// A whole line of TOML that would do.
    pub example: &'static str,
    /// What its value may be.
    pub kind: Kind,
    /// Whether the file is refused without it.
    pub needed: bool,
    /// What counts where it is absent, as JSON; nothing if that is told in `about`.
    pub default: Option<&'static str>,
}

/// What a value may be.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// The number 1.
    Version,
    /// A name or sentence on one line.
    Words {
        /// Characters.
        most: usize,
    },
    /// Text in a notation of its own, read further when the table is sound.
    Notation {
        /// A regular expression for editors; the reader's own rules are finer.
        pattern: &'static str,
    },
    /// One of these words.
    Choice(&'static [&'static str]),
    /// A whole number.
    Whole {
        /// The least.
        least: i64,
        /// The most.
        most: i64,
    },
    /// A number, whole or not.
    Number {
        /// The least.
        least: f64,
        /// The most.
        most: f64,
    },
    /// A bar of the page: a whole number, or a text such as a rehearsal mark.
    Bar,
    /// A length in beats: a number, or a text such as 1/3.
    Beats,
    /// True or false.
    Flag,
    /// Values of one kind.
    List {
        /// What each is.
        of: &'static Kind,
        /// The fewest.
        least: usize,
        /// The most.
        most: usize,
    },
    /// Tables that stand or fall one by one: each is judged by itself, not with its file.
    Parts {
        /// What each is.
        of: &'static Form,
        /// The fewest.
        least: usize,
        /// The most.
        most: usize,
    },
    /// A table of its own.
    Table(&'static Form),
}

/// The most characters in a text with a notation of its own.
pub const LONGEST_NOTATION: usize = 8_000;

/// A written or concert pitch.
pub const PITCH: Kind = Kind::Notation { pattern: "^[A-Ga-g](bb?|##?|♭♭?|♯♯?)?(-1|[0-9])$" };

/// The largest number of a bar, and the most characters where it is a text.
pub const LARGEST_BAR: (i64, usize) = (9_999, 40);

/// Keys of a table's own and keys that it shares with others.
#[must_use]
pub const fn joined<const OWN: usize, const SHARED: usize, const ALL: usize>(own: [Key; OWN], shared: [Key; SHARED]) -> [Key; ALL] {
    assert!(OWN + SHARED == ALL && OWN > 0);
    let mut all = [own[0]; ALL];
    let mut index = 0;
    while index < ALL {
        all[index] = if index < OWN { own[index] } else { shared[index - OWN] };
        index += 1;
    }
    all
}

impl Form {
    /// The key called `name`.
    #[must_use]
    pub fn key(&self, name: &str) -> Option<&Key> {
        self.keys.iter().find(|key| key.name == name)
    }
}

impl Key {
    /// A key that may be absent.
    #[must_use]
    pub const fn new(name: &'static str, kind: Kind, example: &'static str, about: &'static str) -> Self {
        Self { name, about, example, kind, needed: false, default: None }
    }

    /// The same key, which must be there.
    #[must_use]
    pub const fn needed(self) -> Self {
        Self { needed: true, ..self }
    }

    /// The same key with what counts in its absence, as JSON.
    #[must_use]
    pub const fn default(self, json: &'static str) -> Self {
        Self { default: Some(json), ..self }
    }

    /// The file's version, first in each kind of file.
    #[must_use]
    pub const fn version() -> Self {
        Self::new("version", Kind::Version, "version = 1", "The version of this kind of file.").needed()
    }
}
