//! A text of XML tag by tag. Nothing is expanded but the five entities every XML has, and characters by their numbers.

use book::{Fault, Faults};
use quick_xml::escape::unescape;
use quick_xml::events::attributes::Attributes;
use quick_xml::events::{BytesStart, Event};
use quick_xml::{Error, Reader};

/// The deepest that tags stand in each other; a score of MusicXML 4.0 needs a dozen.
const DEEPEST: usize = 64;
/// The most bytes of one text that are kept.
const LONGEST: usize = 1_000;

/// What comes next.
pub(super) enum Tag<'t> {
    /// A tag opens.
    Open {
        /// Its name.
        name: &'t str,
        /// What is said of it.
        attributes: BytesStart<'t>,
    },
    /// The innermost open tag closes.
    Close,
    /// Text between tags.
    Text(String),
}

/// A text of XML, read from its beginning.
pub(super) struct Xml<'t> {
    name: &'t str,
    text: &'t str,
    reader: Reader<&'t [u8]>,
    /// The names of the open tags.
    open: Vec<&'t str>,
    /// A tag that opened and closed in one.
    empty: bool,
    /// Where what was read last begins.
    begins: usize,
}

impl<'t> Xml<'t> {
    pub(super) fn new(name: &'t str, text: &'t str) -> Self {
        let mut reader = Reader::from_str(text);
        reader.config_mut().check_end_names = true;
        Self { name, text, reader, open: Vec::new(), empty: false, begins: 0 }
    }

    /// A fault at the tag or text that was read last.
    pub(super) fn fault(&self, message: impl Into<String>, mend: impl Into<String>) -> Faults {
        let ends = usize::try_from(self.reader.buffer_position()).unwrap_or(self.text.len());
        Fault::in_text(self.name, self.text, self.begins..ends.max(self.begins), message, mend).into()
    }

    /// What comes next; nothing at the end of the text.
    pub(super) fn next(&mut self) -> Result<Option<Tag<'t>>, Faults> {
        if std::mem::take(&mut self.empty) {
            self.open.pop();
            return Ok(Some(Tag::Close));
        }
        loop {
            self.begins = usize::try_from(self.reader.buffer_position()).unwrap_or(self.text.len());
            let event = self.reader.read_event();
            return match event {
                Ok(Event::Start(start)) => self.opened(start).map(Some),
                Ok(Event::Empty(start)) => {
                    self.empty = true;
                    self.opened(start).map(Some)
                }
                Ok(Event::End(_)) => {
                    self.open.pop();
                    Ok(Some(Tag::Close))
                }
                Ok(Event::Text(text)) => Ok(Some(Tag::Text(kept(&text)))),
                Ok(Event::CData(text)) => Ok(Some(Tag::Text(kept(&text)))),
                Ok(Event::GeneralRef(reference)) => self.character(&reference).map(|text| Some(Tag::Text(text))),
                // a document type is never looked into: what it declares is not expanded
                Ok(Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::DocType(_)) => continue,
                Ok(Event::Eof) => match self.open.last() {
                    None => Ok(None),
                    Some(open) => Err(self.fault(
                        format!("the file ends inside <{open}>"),
                        "it was cut off; export it again, or fetch it again where it comes from",
                    )),
                },
                Err(error) => {
                    self.begins = usize::try_from(self.reader.error_position()).unwrap_or(self.begins).min(self.text.len());
                    Err(self.broken(&error))
                }
            };
        }
    }

    fn opened(&mut self, start: BytesStart<'t>) -> Result<Tag<'t>, Faults> {
        if self.open.len() == DEEPEST {
            return Err(self.fault(format!("tags stand over {DEEPEST} deep in each other"), "this is no score; export it again"));
        }
        let offset = self.text.get(self.begins..).and_then(|rest| rest.find('<')).map_or(self.begins, |at| self.begins + at) + 1;
        let length = start.name().as_ref().len();
        let name = self.text.get(offset..offset + length).unwrap_or_default();
        self.open.push(name);
        Ok(Tag::Open { name, attributes: start })
    }

    fn character(&self, reference: &quick_xml::events::BytesRef<'_>) -> Result<String, Faults> {
        unescape(&format!("&{};", &**reference)).map(|text| text.into_owned()).map_err(|_| {
            self.fault(
                format!("&{}; stands for nothing that is known here", &**reference),
                "export the score again; MusicXML needs no entities",
            )
        })
    }

    fn broken(&self, error: &Error) -> Faults {
        let message = match error {
            Error::IllFormed(error) => error.to_string(),
            Error::Syntax(error) => error.to_string(),
            error => error.to_string(),
        };
        self.fault(format!("this is broken XML: {message}"), "export it again, or fetch it again where it comes from")
    }

    /// The attribute called `wanted`.
    pub(super) fn attribute(&self, tag: &BytesStart<'_>, wanted: &str) -> Result<Option<String>, Faults> {
        let mut attributes: Attributes<'_> = tag.attributes();
        attributes.with_checks(false);
        for attribute in attributes {
            let attribute = attribute.map_err(|error| {
                self.fault(format!("this tag is broken XML: {error}"), "export it again, or fetch it again where it comes from")
            })?;
            if attribute.key.as_ref() == wanted {
                let value = unescape(&attribute.value).map_err(|error| {
                    self.fault(format!("this tag is broken XML: {error}"), "export the score again; MusicXML needs no entities")
                })?;
                return Ok(Some(kept(&value)));
            }
        }
        Ok(None)
    }

    /// Passes over what comes until only `depth` tags are open.
    pub(super) fn skip_to(&mut self, depth: usize) -> Result<(), Faults> {
        while self.open.len() > depth && self.next()?.is_some() {}
        Ok(())
    }

    /// The text inside the tag that opened last, to its end, blanks taken together.
    pub(super) fn words(&mut self) -> Result<String, Faults> {
        let depth = self.open.len();
        let mut words = String::new();
        while self.open.len() >= depth {
            match self.next()? {
                Some(Tag::Text(text)) if words.len() < LONGEST => words += &text,
                None => break,
                _ => {}
            }
        }
        Ok(words.split_whitespace().collect::<Vec<_>>().join(" "))
    }

    /// How many tags are open.
    pub(super) fn depth(&self) -> usize {
        self.open.len()
    }
}

/// As much of a text as is kept.
fn kept(text: &str) -> String {
    let mut end = text.len().min(LONGEST);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text.get(..end).unwrap_or_default().to_owned()
}
