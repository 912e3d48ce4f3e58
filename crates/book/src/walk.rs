//! Checks a document against its form and collects every fault.

use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::fault::{Fault, Faults};
use crate::form::{Form, Key, Kind, LARGEST_BAR, LONGEST_NOTATION};
use crate::source::Source;
use crate::suggest;

/// Goes through one document.
pub(crate) struct Walker<'s> {
    source: &'s Source,
    faults: Vec<Fault>,
}

impl<'s> Walker<'s> {
    pub(crate) fn new(source: &'s Source) -> Self {
        Self { source, faults: Vec::new() }
    }

    /// Notes a fault with its caret under `span`, up to the most that are collected.
    pub(crate) fn fault(&mut self, span: Range<usize>, message: impl Into<String>, mend: impl Into<String>) {
        if self.faults.len() < Faults::MOST {
            self.faults.push(self.source.fault(span, message, mend));
        }
    }

    /// Notes an error whose text says what is wrong, a semicolon, and how to mend it.
    pub(crate) fn error(&mut self, span: Range<usize>, error: &impl ToString) {
        let (message, mend) = in_two(&error.to_string());
        self.fault(span, message, mend);
    }

    pub(crate) fn is_sound(&self) -> bool {
        self.faults.is_empty()
    }

    pub(crate) fn add(&mut self, faults: impl IntoIterator<Item = Fault>) {
        self.faults.extend(faults);
        self.faults.truncate(Faults::MOST);
    }

    /// `value`, unless anything was wrong.
    pub(crate) fn finish<T>(self, value: Option<T>) -> Result<T, Faults> {
        match (Faults::new(self.faults), value) {
            (Some(faults), _) => Err(faults),
            (None, Some(value)) => Ok(value),
            (None, None) => unreachable!("what cannot be read has a fault"),
        }
    }

    /// Checks a whole file; false if it is of a version that cannot be judged.
    pub(crate) fn file(&mut self, form: &'static Form, document: &DeTable<'_>) -> bool {
        if let Some((span, number)) = foreign_version(document) {
            self.fault(span, format!("version {number} of this file is not known here"), "write version = 1, or use a newer precentor");
            return false;
        }
        let first = document.keys().map(Spanned::span).min_by_key(|span| span.start);
        self.table(form, document, &first.unwrap_or(0..0));
        true
    }

    /// Checks a table at `span`.
    pub(crate) fn table(&mut self, form: &'static Form, table: &DeTable<'_>, span: &Range<usize>) {
        for (name, value) in table {
            match (form.key(name.get_ref()), form.named) {
                (Some(key), _) => self.value(key, key.name, &key.kind, value),
                // a section may share its name with a key that belongs further up, but then it has a table
                (None, Some(named)) if value.get_ref().is_table() || above(form, name.get_ref()).is_none() => {
                    self.named(named, name, value)
                }
                _ => self.unknown(form, name),
            }
        }
        let absent: Vec<_> = form.keys.iter().filter(|key| key.needed && !table.contains_key(key.name)).collect();
        if !absent.is_empty() {
            // a misspelt key has been told of and is not missing too
            let misspelt: Vec<_> = table.keys().filter_map(|name| nearest_key(form, name.get_ref())).collect();
            for key in absent.iter().filter(|key| !misspelt.iter().any(|meant| meant == key.name)) {
                self.fault(span.clone(), format!("{} needs {}", form.what, key.name), format!("add {}", key.example));
            }
        }
        self.one_of(form, table, span);
    }

    fn one_of(&mut self, form: &'static Form, table: &DeTable<'_>, span: &Range<usize>) {
        let mut present: Vec<_> = table.keys().filter(|name| form.one_of.contains(&name.get_ref().as_ref())).collect();
        present.sort_by_key(|name| name.span().start);
        match present.as_slice() {
            // a misspelt word has been told of; another complaint would only confuse
            [] if !form.one_of.is_empty() && table.keys().all(|name| form.key(name.get_ref()).is_some()) => {
                let examples = form.keys.iter().filter(|key| form.one_of.contains(&key.name)).map(|key| key.example);
                let message = format!("{} needs one of {}", form.what, form.one_of.join(", "));
                let mend = format!("add {}, for example", examples.take(2).collect::<Vec<_>>().join(" or "));
                self.fault(span.clone(), message, mend);
            }
            [first, second, ..] => {
                let message = format!("{} holds one of {}; {first} and {second} are two", form.what, form.one_of.join(", "));
                let mend = match form.what {
                    "a turn" => format!("write [[turn]] on a line of its own before {second}"),
                    "an item" => format!("write [[item]] on a line of its own before {second}"),
                    _ => format!("take away {first} or {second}"),
                };
                self.fault(second.span(), message, mend);
            }
            _ => {}
        }
    }

    fn unknown(&mut self, form: &'static Form, name: &Spanned<std::borrow::Cow<'_, str>>) {
        let known = form.keys.iter().map(|key| key.name);
        let mend = if let Some(above) = above(form, name.get_ref()) {
            format!("move it up, before the first line in brackets; it is a key of {}", above.what)
        } else if let Some(nearest) = nearest_key(form, name.get_ref()) {
            format!("did you mean {nearest}?")
        } else if form.keys.is_empty() {
            "take it away; nothing goes in here".to_owned()
        } else {
            format!("{} takes {}", form.what, known.collect::<Vec<_>>().join(", "))
        };
        self.fault(name.span(), format!("\"{}\" is not a key of {}", name.get_ref(), form.what), mend);
    }

    fn named(&mut self, form: &'static Form, name: &Spanned<std::borrow::Cow<'_, str>>, value: &Spanned<DeValue<'_>>) {
        match value.get_ref().as_table() {
            Some(table) => self.table(form, table, &value.span()),
            None => {
                let examples: Vec<_> = form.keys.iter().map(|key| format!("{{ {} }}", key.example)).take(2).collect();
                let message = format!("\"{}\" is {}; it must be {} in braces", name.get_ref(), kind_of(value.get_ref()), form.what);
                self.fault(value.span(), message, format!("write {}", examples.join(" or ")));
            }
        }
    }

    fn value(&mut self, key: &'static Key, label: &str, kind: &'static Kind, value: &Spanned<DeValue<'_>>) {
        let span = value.span();
        match (kind, value.get_ref()) {
            (Kind::Version, DeValue::Integer(_)) | (Kind::Flag, DeValue::Boolean(_)) => {}
            (Kind::Words { most }, DeValue::String(text)) => self.words(key, label, text, *most, span),
            (Kind::Bar, DeValue::String(text)) => self.words(key, label, text, LARGEST_BAR.1, span),
            (Kind::Bar, DeValue::Integer(number)) => {
                let most = LARGEST_BAR.0;
                if !whole(number).is_some_and(|number| (0..=most).contains(&number)) {
                    self.out_of_bounds(key, number, format!("a bar's number from 0 to {most}"), span);
                }
            }
            (Kind::Beats, DeValue::Integer(_) | DeValue::Float(_)) => {}
            (Kind::Notation { .. } | Kind::Beats, DeValue::String(text)) => {
                if text.len() > LONGEST_NOTATION {
                    self.fault(span, format!("{label} is too long"), format!("write at most {LONGEST_NOTATION} characters"));
                }
            }
            (Kind::Choice(words), DeValue::String(text)) => {
                if !words.contains(&text.as_ref()) {
                    let mend = match suggest(text, *words) {
                        Some(nearest) => format!("did you mean \"{nearest}\"?"),
                        None => format!("write {}", words.join(" or ")),
                    };
                    self.fault(span, format!("\"{text}\" is not known for {label}"), mend);
                }
            }
            (Kind::Whole { least, most }, DeValue::Integer(number)) => {
                let within = whole(number).is_some_and(|number| (*least..=*most).contains(&number));
                if !within {
                    self.out_of_bounds(key, number, format!("a whole number from {least} to {most}"), span);
                }
            }
            (Kind::Number { least, most }, DeValue::Integer(_) | DeValue::Float(_)) => {
                let number = number(value.get_ref());
                if !number.is_some_and(|number| (*least..=*most).contains(&number)) {
                    let written = &self.source.text[span.clone()];
                    self.out_of_bounds(key, &written, format!("a number from {least} to {most}"), span);
                }
            }
            (Kind::List { of, least, most }, DeValue::Array(items)) => {
                self.length(key, label, items, (*least, *most), span);
                for item in items.iter().take(*most) {
                    self.value(key, &format!("an entry of {}", key.name), of, item);
                }
            }
            // what is in them is judged part by part
            (Kind::Parts { least, most, .. }, DeValue::Array(items)) if items.iter().all(|item| item.get_ref().is_table()) => {
                self.length(key, label, items, (*least, *most), span);
            }
            (Kind::Table(form), DeValue::Table(table)) => {
                self.table(form, table, &span);
            }
            (kind, found) => {
                let message = format!("{label} is {} here; it must be {}", kind_of(found), wanted(kind));
                self.fault(span, message, format!("write {}", key.example));
            }
        }
    }

    fn length(
        &mut self,
        key: &'static Key,
        label: &str,
        items: &[Spanned<DeValue<'_>>],
        (least, most): (usize, usize),
        span: Range<usize>,
    ) {
        if items.len() < least {
            self.fault(span, format!("{label} is an empty list"), format!("write {}", key.example));
        } else if let Some(over) = items.get(most) {
            let message = format!("{label} holds {} of at most {most}", items.len());
            self.fault(over.span(), message, "take this one and all after it away");
        }
    }

    fn words(&mut self, key: &'static Key, label: &str, text: &str, most: usize, span: Range<usize>) {
        let length = text.chars().count();
        if text.trim().is_empty() {
            self.fault(span, format!("{label} is empty"), format!("write {}", key.example));
        } else if length > most {
            self.fault(span, format!("{label} is {length} characters long"), format!("write at most {most} characters"));
        } else if text.chars().any(char::is_control) {
            self.fault(span, format!("{label} holds a line break or a tab"), "write it on one line, with blanks only");
        }
    }

    fn out_of_bounds(&mut self, key: &'static Key, found: &impl std::fmt::Display, bounds: String, span: Range<usize>) {
        self.fault(span, format!("{} = {found} is out of bounds", key.name), format!("write {bounds}, such as {}", key.example));
    }
}

/// An error's text parted where its mend begins.
pub(crate) fn in_two(text: &str) -> (String, String) {
    let (message, mend) = text.rsplit_once("; ").unwrap_or((text, "change what stands here"));
    (message.to_owned(), mend.to_owned())
}

/// The key that an unknown one most likely stands for.
fn nearest_key(form: &Form, name: &str) -> Option<String> {
    let unknown = form.key(name).is_none() && form.named.is_none() && above(form, name).is_none();
    unknown.then(|| suggest(name, form.keys.iter().map(|key| key.name))).flatten()
}

/// The table further up that knows a key which this one does not.
fn above(form: &Form, name: &str) -> Option<&'static Form> {
    form.above.filter(|above| above.key(name).is_some())
}

fn foreign_version(document: &DeTable<'_>) -> Option<(Range<usize>, String)> {
    let version = document.get("version")?;
    let number = version.get_ref().as_integer()?;
    (whole(number) != Some(1)).then(|| (version.span(), number.to_string()))
}

/// A whole number, if it is one that fits.
pub(crate) fn whole(number: &toml::de::DeInteger<'_>) -> Option<i64> {
    i64::from_str_radix(number.as_str(), number.radix()).ok()
}

/// A number, whole or not.
pub(crate) fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(number) => whole(number).map(|number| number as f64),
        DeValue::Float(number) => number.as_str().parse().ok(),
        _ => None,
    }
}

fn kind_of(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number with decimals",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

fn wanted(kind: &Kind) -> &'static str {
    match kind {
        Kind::Version | Kind::Whole { .. } => "a whole number",
        Kind::Words { .. } | Kind::Notation { .. } | Kind::Choice(_) => "text in quotes",
        Kind::Number { .. } => "a number",
        Kind::Bar => "a whole number, or text in quotes",
        Kind::Beats => "a number, or text in quotes such as \"1/3\"",
        Kind::Flag => "true or false",
        Kind::List { of: Kind::Table(_), .. } | Kind::Parts { .. } => "a list of tables, each under a heading in two brackets",
        Kind::List { of: Kind::List { .. }, .. } => "a list of lists",
        Kind::List { .. } => "a list",
        Kind::Table(_) => "a table in braces or under a heading",
    }
}
