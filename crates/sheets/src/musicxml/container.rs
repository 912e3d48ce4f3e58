//! A compressed score, opened without trusting what it says of its sizes.

use book::{Fault, Faults};
use std::io::{Cursor, Read};
use zip::ZipArchive;
use zip::result::ZipError;

use super::xml::{Tag, Xml};
use super::{LONGEST_TEXT, text};

/// Where a compressed score lists its files (MusicXML 4.0, "Compressed .mxl files").
const CONTAINER: &str = "META-INF/container.xml";
/// The longest list of files.
const LONGEST_LIST: u64 = 1 << 16;
/// The most files in one compressed score.
const MOST_FILES: usize = 2_000;
/// No score is packed tighter than so many times; short ones may be.
const TIGHTEST: u64 = 250;
const SHORT: u64 = 1 << 20;

/// Whether `bytes` begin as a zip file does.
pub(super) fn is_one(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06")
}

/// The score in `bytes`: what faults call it, and its text.
pub(super) fn open(name: &str, bytes: &[u8]) -> Result<(String, String), Faults> {
    let broken = |error: ZipError| fault(name, format!("this compressed score is broken: {error}"), "export it again, or as .musicxml");
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(broken)?;
    if archive.len() > MOST_FILES {
        return Err(fault(name, format!("it holds {} files, over the most of {MOST_FILES}", archive.len()), "export the score again"));
    }
    let path = match unpack(name, &mut archive, CONTAINER, LONGEST_LIST)? {
        Some(list) => {
            let called = format!("{name}: {CONTAINER}");
            rootfile(&called, &text::decode(&called, &list)?)?
        }
        None => only_score(&archive).ok_or_else(|| {
            fault(name, format!("this zip file has no {CONTAINER}"), "name a score that was exported as compressed MusicXML")
        })?,
    };
    let Some(score) = unpack(name, &mut archive, &path, LONGEST_TEXT)? else {
        return Err(fault(name, format!("it lists the score {path}, and does not hold it"), "export it again, or as .musicxml"));
    };
    let called = format!("{name}: {path}");
    let text = text::decode(&called, &score)?.into_owned();
    Ok((called, text))
}

fn fault(name: &str, message: impl Into<String>, mend: &str) -> Faults {
    Fault::of_file(name, message, mend).into()
}

/// The file at `path`, if there is one, in memory never more than `most` bytes.
fn unpack(name: &str, archive: &mut ZipArchive<Cursor<&[u8]>>, path: &str, most: u64) -> Result<Option<Vec<u8>>, Faults> {
    let file = match archive.by_name(path) {
        Ok(file) => file,
        Err(ZipError::FileNotFound) => return Ok(None),
        Err(error) => {
            return Err(fault(name, format!("{path} in it cannot be read: {error}"), "export it again, or as .musicxml"));
        }
    };
    // what was really packed is part of this file, so it bounds what may come out
    let most = most.min(file.compressed_size().saturating_mul(TIGHTEST).max(SHORT));
    let mut bytes = Vec::new();
    if let Err(error) = file.take(most + 1).read_to_end(&mut bytes) {
        return Err(fault(name, format!("{path} in it is broken: {error}"), "export it again, or as .musicxml"));
    }
    if bytes.len() as u64 > most {
        let message = format!("{path} in it unpacks to over {} KiB, more than a score of this size holds", most >> 10);
        return Err(fault(name, message, "open it in a notation program and export it again"));
    }
    Ok(Some(bytes))
}

/// The score a list of files names first.
fn rootfile(name: &str, text: &str) -> Result<String, Faults> {
    let mut xml = Xml::new(name, text);
    while let Some(tag) = xml.next()? {
        if let Tag::Open { name: "rootfile", attributes } = tag {
            let kind = xml.attribute(&attributes, "media-type")?;
            if kind.is_none_or(|kind| kind.contains("musicxml"))
                && let Some(path) = xml.attribute(&attributes, "full-path")?
            {
                return Ok(path);
            }
        }
    }
    Err(fault(name, "it names no score", "export it again, or as .musicxml"))
}

/// The one file that can be a score, where no list names it.
fn only_score(archive: &ZipArchive<Cursor<&[u8]>>) -> Option<String> {
    let names = archive.file_names().filter_map(Result::ok);
    let mut scores = names.filter(|name| (name.ends_with(".xml") || name.ends_with(".musicxml")) && !name.starts_with("META-INF"));
    let first = scores.next()?.into_owned();
    scores.next().is_none().then_some(first)
}
