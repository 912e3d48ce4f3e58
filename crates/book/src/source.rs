//! A text with its name, and places in it.

use std::ops::Range;
use toml::de::DeTable;
use unicode_width::UnicodeWidthStr;

use crate::fault::{Fault, Faults, Place, clean};

/// The most characters of a line that are shown.
const WINDOW: usize = 120;
/// How many of them come before the caret in a line that is cut.
const BEFORE: usize = 40;

/// What was read from one file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Source {
    /// As the caller named it.
    pub(crate) name: String,
    /// All of it.
    pub(crate) text: String,
}

impl Source {
    pub(crate) fn new(name: &str, text: &str) -> Self {
        Self { name: name.to_owned(), text: text.to_owned() }
    }

    /// The document, or every fault of its TOML.
    pub(crate) fn document(&self) -> Result<DeTable<'_>, Faults> {
        let (document, errors) = DeTable::parse_recoverable(&self.text);
        let mut faults: Vec<Fault> = Vec::new();
        let mut lines: Vec<Range<usize>> = Vec::new();
        for error in errors {
            let span = error.span().unwrap_or(0..0);
            // the parser stumbles on over a line it did not understand
            if lines.iter().any(|line| line.start <= span.start && span.start <= line.end) {
                continue;
            }
            if faults.len() == Faults::MOST {
                break;
            }
            lines.push(self.line(boundary(&self.text, span.start)));
            faults.push(self.fault(span, error.message(), syntax_mend(error.message())));
        }
        Faults::new(faults).map_or(Ok(document.into_inner()), Err)
    }

    /// A fault with its caret under `span`.
    pub(crate) fn fault(&self, span: Range<usize>, message: impl Into<String>, mend: impl Into<String>) -> Fault {
        Fault { place: Some(self.place(span)), ..Fault::of_file(&self.name, message, mend) }
    }

    /// The line that `at` is in, without its line break.
    fn line(&self, at: usize) -> Range<usize> {
        let start = self.text[..at].rfind('\n').map_or(0, |newline| newline + 1);
        let end = self.text[at..].find('\n').map_or(self.text.len(), |newline| at + newline);
        start..end
    }

    fn place(&self, span: Range<usize>) -> Place {
        let text = self.text.as_str();
        let start = boundary(text, span.start);
        let end = boundary(text, span.end).max(start);
        let Range { start: line_start, end: line_end } = self.line(start);
        let before = text[line_start..start].trim_start_matches('\u{feff}');
        let marked = &text[start..end.min(line_end)];
        let after = text[start + marked.len()..line_end].trim_end_matches('\r');

        let column = before.chars().count() + 1;
        let (mut head, cut) = if column > WINDOW { (last(before, BEFORE), true) } else { (before.to_owned(), false) };
        if cut {
            head.insert(0, '…');
        }
        let head = clean(&head);
        let room = WINDOW.saturating_sub(head.chars().count());
        let marked_shown = clean(marked.trim_end_matches('\r')).chars().take(room).collect::<String>();
        let rest = clean(after);
        let rest_shown: String = rest.chars().take(room.saturating_sub(marked_shown.chars().count())).collect();
        let dots = if rest_shown.len() < rest.len() { "…" } else { "" };
        Place {
            line: text[..line_start].matches('\n').count() + 1,
            column,
            span: start..end,
            caret: format!("{}{}", " ".repeat(head.width()), "^".repeat(marked_shown.width().max(1))),
            excerpt: format!("{head}{marked_shown}{rest_shown}{dots}"),
        }
    }
}

/// The start of the character at or before `index`.
fn boundary(text: &str, index: usize) -> usize {
    let mut index = index.min(text.len());
    while !text.is_char_boundary(index) {
        index -= 1;
    }
    index
}

/// The last `count` characters.
fn last(text: &str, count: usize) -> String {
    let skipped = text.chars().count().saturating_sub(count);
    text.chars().skip(skipped).collect()
}

/// How to mend what the TOML parser complains about, by the beginning of its message.
fn syntax_mend(message: &str) -> &'static str {
    const MENDS: [(&str, &str); 13] = [
        (
            "string values must be quoted",
            "put text in quotes, such as name = \"Horns\"; numbers are written as they are, such as tempo = 72",
        ),
        ("invalid boolean", "write true or false, or put text in quotes, such as \"F4:4\""),
        ("invalid basic string", "close the text with a quote \" on the same line"),
        ("invalid literal string", "close the text with a quote ' on the same line"),
        ("missing escaped value", "write \\\\ for a backslash, or put the text in single quotes"),
        ("key with no value", "write key = value; a name with blanks goes in quotes, such as \"Bass Clarinets\" = { written = \"C5:4\" }"),
        ("unexpected key or value", "write one key = value on each line"),
        ("duplicate key", "keep one of the two; tables that come several times have two brackets each, such as [[section]] or [[turn]]"),
        ("unclosed array", "close the list with ]"),
        ("unclosed inline table", "close the braces with }"),
        ("unclosed", "close the brackets, such as [line] or [[turn]]"),
        ("missing comma", "put a comma between the two"),
        ("invalid unquoted key", "put a name with blanks or signs in quotes, such as \"Bass Clarinets\" = { written = \"C5:4\" }"),
    ];
    let known = MENDS.iter().find(|(beginning, _)| message.starts_with(beginning));
    known.map_or("write this line in TOML, as key = value, [table] or [[table]]", |(_, mend)| mend)
}
