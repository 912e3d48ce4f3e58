//! WAV files, also those whose head was never finished. Source of the layout: IBM and Microsoft, "Multimedia Programming Interface and Data
//! Specifications 1.0", 1991, "WAVE"; that programs which cannot go back leave 0 or the largest number for the length is common practice, no
//! source.

use std::fs::File;
use std::io::{self, BufReader, Cursor, Read};

use super::Samples;

/// More before the sound than this is not looked through.
const LONGEST_HEAD: u64 = 1 << 20;
/// Lengths from here on stand for "not known".
const NOT_KNOWN: u32 = 0x7fff_0000;

/// The samples of a file of `length` bytes, its channels and its frames per second.
pub(super) fn open(mut file: BufReader<File>, length: u64) -> Result<(Samples, usize, u32), hound::Error> {
    let (head, cut_off) = head(&mut file, length)?;
    let reader = hound::WavReader::new(Cursor::new(head).chain(file))?;
    let spec = reader.spec();
    let end = cut_off.then_some(None);
    let samples: Samples = match spec.sample_format {
        hound::SampleFormat::Float => Box::new(reader.into_samples::<f32>().map(Result::ok).chain(end)),
        hound::SampleFormat::Int => {
            let full = 1.0 / (1_u64 << (spec.bits_per_sample.clamp(1, 32) - 1)) as f32;
            Box::new(reader.into_samples::<i32>().map(move |sample| sample.ok().map(|sample| sample as f32 * full)).chain(end))
        }
    };
    Ok((samples, usize::from(spec.channels), spec.sample_rate))
}

/// All before the sound, saying how much sound there is; and whether the file said there was more.
fn head(file: &mut BufReader<File>, length: u64) -> io::Result<(Vec<u8>, bool)> {
    let mut head = Vec::new();
    let mut take = |head: &mut Vec<u8>, bytes: u64| file.by_ref().take(bytes).read_to_end(head).map(|came| came as u64 == bytes);
    let number = |head: &[u8], at: usize| head.get(at..at + 4).and_then(|bytes| bytes.try_into().ok()).map_or(0, u32::from_le_bytes);
    let mut frame = 1;
    let mut whole = take(&mut head, 12)?;
    while whole {
        let at = head.len();
        if !take(&mut head, 8)? {
            break;
        }
        let bytes = number(&head, at + 4);
        match head.get(at..at + 4) {
            Some(b"data") => {
                let left = length.saturating_sub(head.len() as u64);
                let there = u32::try_from(left - left % frame).unwrap_or(u32::MAX - u32::MAX % frame as u32);
                let unfinished = bytes == 0 && u64::from(number(&head, 4)) + 8 <= head.len() as u64;
                let cut_off = u64::from(bytes) > left;
                if (unfinished || cut_off) && there > 0 {
                    head.splice(at + 4.., there.to_le_bytes());
                }
                return Ok((head, cut_off && bytes < NOT_KNOWN));
            }
            Some(b"fmt ") => {
                whole = take(&mut head, u64::from(bytes).min(LONGEST_HEAD))?;
                let align = head.get(at + 20..at + 22).and_then(|bytes| bytes.try_into().ok()).map_or(1, u16::from_le_bytes);
                frame = u64::from(align.max(1));
            }
            // chunks lie on even bytes
            _ => whole = head.len() as u64 + u64::from(bytes) < LONGEST_HEAD && take(&mut head, u64::from(bytes) + u64::from(bytes % 2))?,
        }
    }
    // what is no WAV file is told by whoever reads it
    Ok((head, false))
}
