//! Whether a file's chunks and tables are whole: what the reader trusts and would stumble over.
//!
//! Layout: SoundFont technical specification 2.04, sections 4 to 7 (sizes of the records from memory, and as the reader has them).

use std::ops::Range;

/// Record sizes of the tables of `pdta`.
const PRESET: usize = 38;
const INSTRUMENT: usize = 22;
const BAG: usize = 4;
const GENERATOR: usize = 4;
const SAMPLE: usize = 46;

/// Says what is wrong with the file, in a clause.
pub(super) fn check(bytes: &[u8]) -> Result<(), String> {
    let form = |at: usize| bytes.get(at..at + 4).unwrap_or_default();
    if form(0) != b"RIFF" || form(8) != b"sfbk" {
        return Err("it does not begin as a SoundFont does".to_owned());
    }
    let mut lists = chunks(bytes, 12..bytes.len())?.into_iter();
    let mut list = |kind: &[u8; 4]| {
        let found = lists.next().filter(|(name, body)| name == b"LIST" && form(body.start) == kind);
        found.map(|(_, body)| body).ok_or_else(|| format!("its part {} is missing", String::from_utf8_lossy(kind)))
    };
    for kind in [b"INFO", b"sdta"] {
        let body = list(kind)?;
        chunks(bytes, body.start + 4..body.end)?;
    }
    let body = list(b"pdta")?;
    let tables = chunks(bytes, body.start + 4..body.end)?;
    let table = |name: &[u8; 4], record: usize| {
        let found = tables.iter().find(|(found, _)| found == name);
        let found = found.and_then(|(_, body)| bytes.get(body.clone())).filter(|table| !table.is_empty() && table.len() % record == 0);
        found.ok_or_else(|| format!("its table {} is missing or cut off", String::from_utf8_lossy(name)))
    };
    let samples = table(b"shdr", SAMPLE)?;
    if samples.chunks_exact(SAMPLE).flat_map(|sample| [20, 24, 28, 32].map(|at| long(sample, at))).any(|frame| frame > 1 << 30) {
        return Err("a sample lies outside it".to_owned());
    }
    for (heads, head, bags, generators, bag_at) in [(b"phdr", PRESET, b"pbag", b"pgen", 24), (b"inst", INSTRUMENT, b"ibag", b"igen", 20)] {
        let heads = table(heads, head)?;
        let zones = table(bags, BAG)?;
        // the last record of each table only says where the one before it ends
        let ends = table(generators, GENERATOR)?.len() / GENERATOR - 1;
        let starts: Vec<usize> = heads.chunks_exact(head).map(|record| short(record, bag_at)).collect();
        let rising = |starts: &[usize], end: usize| {
            starts.windows(2).all(|pair| pair[0] <= pair[1]) && starts.last().is_some_and(|last| *last <= end)
        };
        let first: Vec<usize> = zones.chunks_exact(BAG).map(|record| short(record, 0)).collect();
        let whole = rising(&starts, first.len() - 1) && rising(&first, ends) && starts.windows(2).all(|pair| pair[0] < pair[1]);
        if !whole || starts.len() < 2 || first.len() < 2 {
            return Err("its tables contradict each other".to_owned());
        }
    }
    Ok(())
}

/// A chunk's name, and where its body lies.
type Chunk = ([u8; 4], Range<usize>);

/// The chunks in a range.
fn chunks(bytes: &[u8], within: Range<usize>) -> Result<Vec<Chunk>, String> {
    let mut found = Vec::new();
    let mut at = within.start;
    while at + 8 <= within.end {
        let head = bytes.get(at..at + 8).ok_or("it is cut off")?;
        let size = long(head, 4) as usize;
        let body = at + 8..(at + 8).saturating_add(size);
        if body.end > within.end {
            return Err("it is cut off".to_owned());
        }
        at = body.end;
        found.push(([head[0], head[1], head[2], head[3]], body));
    }
    Ok(found)
}

fn short(record: &[u8], at: usize) -> usize {
    record.get(at..at + 2).map_or(0, |bytes| usize::from(u16::from_le_bytes([bytes[0], bytes[1]])))
}

fn long(record: &[u8], at: usize) -> u32 {
    record.get(at..at + 4).map_or(0, |bytes| u32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]]))
}
