//! Reads what is sound in a document. What is not has been told of by the walk and is passed over here.

use std::ops::Range;
use std::str::FromStr;
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use units::Beats;

use crate::source::Source;
use crate::tokens;
use crate::walk::{self, Walker};

/// A table of the document.
#[derive(Clone, Copy)]
pub(crate) struct View<'d> {
    source: &'d Source,
    pub(crate) table: &'d DeTable<'d>,
}

/// A text of the document.
pub(crate) struct Text<'d> {
    /// What it says.
    pub(crate) value: &'d str,
    /// Where it stands, with its quotes.
    pub(crate) span: Range<usize>,
    /// Where what it says begins; nothing if it is written with escapes.
    begins: Option<usize>,
}

/// A bar that something names.
#[derive(Clone, Debug)]
pub(crate) struct Bar {
    pub(crate) name: BarName,
    pub(crate) span: Range<usize>,
}

/// How a bar is named.
#[derive(Clone, Debug)]
pub(crate) enum BarName {
    /// By its number.
    Number(u16),
    /// By a rehearsal mark, or by a number that is no whole one.
    Text(String),
}

impl<'d> View<'d> {
    pub(crate) const fn new(source: &'d Source, table: &'d DeTable<'d>) -> Self {
        Self { source, table }
    }

    fn value(self, key: &str) -> Option<&'d Spanned<DeValue<'d>>> {
        self.table.get(key)
    }

    pub(crate) fn has(self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    pub(crate) fn is_empty(self) -> bool {
        self.table.is_empty()
    }

    pub(crate) fn span(self, key: &str) -> Option<Range<usize>> {
        self.value(key).map(Spanned::span)
    }

    pub(crate) fn text(self, key: &str) -> Option<Text<'d>> {
        Text::read(self.source, self.value(key)?)
    }

    pub(crate) fn whole<T: TryFrom<i64>>(self, key: &str) -> Option<T> {
        walk::whole(self.value(key)?.get_ref().as_integer()?).and_then(|number| T::try_from(number).ok())
    }

    pub(crate) fn number(self, key: &str) -> Option<f64> {
        walk::number(self.value(key)?.get_ref())
    }

    /// A bar of the page.
    pub(crate) fn bar(self, key: &str) -> Option<Bar> {
        let value = self.value(key)?;
        let name = match value.get_ref() {
            DeValue::Integer(number) => BarName::Number(u16::try_from(walk::whole(number)?).ok()?),
            value => BarName::Text(value.as_str()?.trim().to_owned()),
        };
        Some(Bar { name, span: value.span() })
    }

    /// A length in beats; what is none becomes a fault.
    pub(crate) fn beats(self, walker: &mut Walker<'_>, key: &str) -> Option<Beats> {
        let value = self.value(key)?;
        let text = match value.get_ref() {
            DeValue::Integer(number) => number.to_string(),
            DeValue::Float(number) => number.as_str().to_owned(),
            value => value.as_str()?.trim().to_owned(),
        };
        tokens::length(walker, &text, value.span())
    }

    pub(crate) fn flag(self, key: &str) -> Option<bool> {
        self.value(key)?.get_ref().as_bool()
    }

    pub(crate) fn table(self, key: &str) -> Option<Self> {
        self.value(key)?.get_ref().as_table().map(|table| Self { table, ..self })
    }

    /// The tables of a list, each with its span.
    pub(crate) fn tables(self, key: &str) -> Vec<(Self, Range<usize>)> {
        let tables = self.list(key).iter().filter_map(|item| Some((item.get_ref().as_table()?, item.span())));
        tables.map(|(table, span)| (Self { table, ..self }, span)).collect()
    }

    /// The texts of a list.
    pub(crate) fn texts(self, key: &str) -> Vec<Text<'d>> {
        self.list(key).iter().filter_map(|item| Text::read(self.source, item)).collect()
    }

    /// The lists of texts in a list, each with its span.
    pub(crate) fn lists(self, key: &str) -> Vec<(Vec<Text<'d>>, Range<usize>)> {
        let texts = |items: &'d [Spanned<DeValue<'d>>]| items.iter().filter_map(|item| Text::read(self.source, item)).collect();
        self.list(key).iter().filter_map(|item| Some((texts(item.get_ref().as_array()?), item.span()))).collect()
    }

    fn list(self, key: &str) -> &'d [Spanned<DeValue<'d>>] {
        self.value(key).and_then(|value| value.get_ref().as_array()).map_or(&[], |array| array)
    }

    /// Every key that holds a table, in the order of the text.
    pub(crate) fn entries(self) -> Vec<(&'d Spanned<std::borrow::Cow<'d, str>>, Self)> {
        let mut entries: Vec<_> =
            self.table.iter().filter_map(|(name, value)| value.get_ref().as_table().map(|table| (name, Self { table, ..self }))).collect();
        entries.sort_by_key(|(name, _)| name.span().start);
        entries
    }

    /// A text that `T` reads; what `T` refuses becomes a fault.
    pub(crate) fn parsed<T: FromStr<Err: ToString>>(self, walker: &mut Walker<'_>, key: &str) -> Option<T> {
        self.text(key)?.parsed(walker)
    }
}

impl<'d> Text<'d> {
    fn read(source: &'d Source, value: &'d Spanned<DeValue<'d>>) -> Option<Self> {
        let text = value.get_ref().as_str()?;
        let span = value.span();
        let begins = source.text.get(span.clone()).and_then(|raw| raw.find(text)).map(|offset| span.start + offset);
        Some(Self { value: text, span, begins })
    }

    /// Where the part of the text at `range` stands in the document.
    pub(crate) fn part(&self, range: Range<usize>) -> Range<usize> {
        self.begins.map_or(self.span.clone(), |begins| begins + range.start..begins + range.end)
    }

    /// What the text says, without its quotes.
    pub(crate) fn inside(&self) -> Range<usize> {
        self.part(0..self.value.len())
    }

    /// What `T` reads in it; what `T` refuses becomes a fault.
    pub(crate) fn parsed<T: FromStr<Err: ToString>>(&self, walker: &mut Walker<'_>) -> Option<T> {
        self.value.parse().map_err(|error: T::Err| walker.error(self.inside(), &error)).ok()
    }
}
