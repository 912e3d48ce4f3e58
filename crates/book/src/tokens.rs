//! Lines of notes: `pitch:beats` tokens with blanks between.

use pitch::PitchError;
use sequencer::Line;
use std::ops::Range;
use std::str::FromStr;
use units::Beats;

use crate::view::Text;
use crate::walk::Walker;

/// The most notes in one line.
const MOST_NOTES: usize = 512;

/// A line, and where each of its tokens stands.
pub(crate) struct Tokens<P> {
    pub(crate) line: Line<P>,
    pub(crate) spans: Vec<Range<usize>>,
}

/// Reads a line; nothing if any of its tokens is at fault.
pub(crate) fn line<P: FromStr<Err = PitchError>>(walker: &mut Walker<'_>, text: &Text<'_>) -> Option<Tokens<P>> {
    let mut notes = Vec::new();
    let mut spans = Vec::new();
    let mut sound = true;
    let mut end = 0;
    for token in text.value.split_whitespace() {
        let start = text.value[end..].find(token).map_or(end, |offset| end + offset);
        end = start + token.len();
        if notes.len() == MOST_NOTES {
            walker.fault(text.part(start..end), format!("the line has over {MOST_NOTES} notes"), "share it between several drills");
            return None;
        }
        let colon = token.rfind(':');
        let name = &token[..colon.unwrap_or(token.len())];
        let pitch = match name {
            "-" => Some(None),
            "" => {
                walker.fault(
                    text.part(start..end),
                    format!("\"{token}\" has no pitch"),
                    "write pitch:beats, such as F4:4, or -:2 for a rest",
                );
                None
            }
            name => name.parse().map(Some).map_err(|error| walker.error(text.part(start..start + name.len()), &error)).ok(),
        };
        let beats = match colon {
            Some(colon) if colon + 1 < token.len() => beats(walker, text, start + colon + 1..end),
            // one complaint a token: a wrong pitch has been told of
            _ if pitch.is_some() => {
                let mend = format!("write its beats after a colon, such as {name}:4");
                walker.fault(text.part(start..end), format!("\"{token}\" has no length"), mend);
                None
            }
            _ => None,
        };
        match (pitch, beats) {
            (Some(pitch), Some(beats)) => {
                notes.push((pitch, beats));
                spans.push(text.part(start..end));
            }
            _ => sound = false,
        }
    }
    sound.then_some(Tokens { line: Line { notes }, spans })
}

fn beats(walker: &mut Walker<'_>, text: &Text<'_>, at: Range<usize>) -> Option<Beats> {
    length(walker, &text.value[at.clone()], text.part(at))
}

/// A length in beats that music has; what is none becomes a fault at `caret`.
pub(crate) fn length(walker: &mut Walker<'_>, token: &str, caret: Range<usize>) -> Option<Beats> {
    match token.parse::<Beats>() {
        Ok(beats) if beats == Beats::ZERO => walker.fault(caret, "a length of 0 beats is none", "write its length, such as 4, 1.5 or 1/3"),
        Ok(beats) if !countable(beats.denominator()) => {
            walker.fault(
                caret,
                format!("{token} divides the beat into {} parts", beats.denominator()),
                "divide it into 16 at most, or into 24, 32 or 48",
            );
        }
        Ok(beats) => return Some(beats),
        Err(error) => walker.error(caret, &error),
    }
    None
}

/// Whether a beat is divided so in music: into 16 parts at most, or into 24, 32 or 48. Keeping to few divisions also keeps every sum of lengths exact.
#[must_use]
pub const fn countable(parts: i64) -> bool {
    parts <= 16 || matches!(parts, 24 | 32 | 48)
}
