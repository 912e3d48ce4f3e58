//! Bytes as text, in the encodings that scores come in.

use book::{Fault, Faults};
use std::borrow::Cow;

/// The text of `bytes`: UTF-8, UTF-16 with its mark, or Latin-1 where the file says so.
pub(super) fn decode<'b>(name: &str, bytes: &'b [u8]) -> Result<Cow<'b, str>, Faults> {
    match bytes {
        [0xff, 0xfe, rest @ ..] => utf16(name, rest, u16::from_le_bytes),
        [0xfe, 0xff, rest @ ..] => utf16(name, rest, u16::from_be_bytes),
        [0xef, 0xbb, 0xbf, rest @ ..] => utf8(name, rest),
        bytes => utf8(name, bytes),
    }
}

fn utf8<'b>(name: &str, bytes: &'b [u8]) -> Result<Cow<'b, str>, Faults> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(Cow::Borrowed(text)),
        // each byte of Latin-1 is the character of the same number
        Err(_) if says_latin(bytes) => Ok(bytes.iter().map(|byte| char::from(*byte)).collect()),
        Err(error) => {
            let before = bytes.get(..error.valid_up_to()).unwrap_or(bytes);
            let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
            let message = format!("this is not UTF-8 text: byte {}, in line {line}, is no part of a character", before.len());
            Err(Fault::of_file(name, message, "export it again as MusicXML; name a .musicxml, .xml or .mxl file").into())
        }
    }
}

/// Whether the first line says that the text is in Latin-1.
fn says_latin(bytes: &[u8]) -> bool {
    let head = bytes.get(..bytes.len().min(200)).unwrap_or_default().to_ascii_lowercase();
    let head = String::from_utf8_lossy(&head);
    let declaration = head.split("?>").next().unwrap_or_default();
    ["iso-8859-1", "latin-1", "latin1", "windows-1252"].iter().any(|encoding| declaration.contains(encoding))
}

fn utf16(name: &str, bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<Cow<'static, str>, Faults> {
    let pairs = bytes.chunks_exact(2);
    let whole = pairs.remainder().is_empty();
    let units = pairs.filter_map(|pair| <[u8; 2]>::try_from(pair).ok()).map(unit);
    let text: Result<String, _> = char::decode_utf16(units).collect();
    text.ok().filter(|_| whole).map(Cow::Owned).ok_or_else(|| {
        Fault::of_file(name, "this begins as UTF-16 text and is none", "export it again, as UTF-8 if there is a choice").into()
    })
}
