//! Large letters from 8 by 8 bitmaps: the public-domain font of `font8x8`, and our own flat, sharp and natural, which it lacks.

use font8x8::UnicodeFonts;
use ratatui::layout::Rect;

use super::look::Role;
use super::paint::Paint;

/// Rows from the top, the left pixel in the lowest bit, as in `font8x8`.
type Bitmap = [u8; 8];

/// A flat: a stem with a half-heart at its foot.
const FLAT: Bitmap = [0x03, 0x03, 0x03, 0x1f, 0x33, 0x33, 0x1b, 0x0f];
/// A sharp: two stems and two slanted beams.
const SHARP: Bitmap = [0x28, 0x28, 0x7c, 0x3e, 0x28, 0x7c, 0x3e, 0x14];
/// A natural: two stems, offset, joined by two beams.
const NATURAL: Bitmap = [0x06, 0x06, 0x3e, 0x36, 0x36, 0x3e, 0x30, 0x30];

/// How large.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// Eight columns by four rows.
    Four,
    /// Sixteen columns by eight rows.
    Eight,
}

impl Size {
    /// Columns of one letter.
    #[must_use]
    pub const fn columns(self) -> u16 {
        match self {
            Self::Four => 8,
            Self::Eight => 16,
        }
    }

    /// Rows of a line.
    #[must_use]
    pub const fn rows(self) -> u16 {
        match self {
            Self::Four => 4,
            Self::Eight => 8,
        }
    }
}

/// The bitmap of a sign; a sign no font has is a frame, never a gap that would read as another note.
fn bitmap(sign: char) -> Bitmap {
    match sign {
        '♭' => FLAT,
        '♯' => SHARP,
        '♮' => NATURAL,
        ' ' => [0; 8],
        _ => font8x8::BASIC_FONTS.get(sign).unwrap_or([0x7f, 0x41, 0x41, 0x41, 0x41, 0x41, 0x7f, 0]),
    }
}

/// How many columns `text` takes.
#[must_use]
pub fn width(text: &str, size: Size) -> u16 {
    text.chars().count() as u16 * size.columns()
}

/// The largest size in which `text` fits `area`; nothing if none does.
#[must_use]
pub fn fitting(text: &str, area: Rect) -> Option<Size> {
    [Size::Eight, Size::Four].into_iter().find(|size| width(text, *size) <= area.width && size.rows() <= area.height)
}

/// Draws `text` at the top left of `area`.
pub(crate) fn draw(paint: &mut Paint<'_>, area: Rect, text: &str, size: Size, role: Role) {
    let blocks = paint.look.has_blocks();
    for (index, sign) in text.chars().enumerate() {
        let rows = bitmap(sign);
        let left = index as u16 * size.columns();
        let lit = |x: u16, y: u16| rows.get(usize::from(y)).is_some_and(|row| row >> x & 1 == 1);
        for row in 0..size.rows() {
            for column in 0..size.columns() {
                let cell = match size {
                    Size::Four => match (lit(column, 2 * row), lit(column, 2 * row + 1), blocks) {
                        (false, false, _) => " ",
                        (true, true, true) => "█",
                        (true, false, true) => "▀",
                        (false, true, true) => "▄",
                        (true, true, false) => "#",
                        (true, false, false) => "\"",
                        (false, true, false) => "_",
                    },
                    Size::Eight => match (lit(column / 2, row), blocks) {
                        (false, _) => " ",
                        (true, true) => "█",
                        (true, false) => "#",
                    },
                };
                if cell != " " {
                    paint.text(area, left + column, row, cell, role);
                }
            }
        }
    }
}

/// A written note for large letters: `B♭` without its octave, or with it.
#[must_use]
pub fn note(written: pitch::Written, octave: Octave) -> String {
    let pitch = written.pitch();
    let accidental = pitch.alteration().to_string().replace('b', "♭").replace('#', "♯");
    match octave {
        Octave::Shown => format!("{}{accidental}{}", pitch.step(), pitch.octave()),
        Octave::Hidden => format!("{}{accidental}", pitch.step()),
    }
}

/// Whether a note's octave is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Octave {
    /// `Bb4`.
    Shown,
    /// `Bb`.
    Hidden,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sign_of_every_note_has_a_bitmap_of_its_own() {
        let mut seen = Vec::new();
        for sign in "ABCDEFG♭♯♮0123456789".chars() {
            let rows = bitmap(sign);
            assert!(rows.iter().any(|row| *row != 0), "{sign}");
            assert!(!seen.contains(&rows), "{sign}");
            seen.push(rows);
        }
        let frame = bitmap('\u{1d11e}');
        assert!(!seen.contains(&frame));
    }

    #[test]
    fn a_flat_is_never_dropped() {
        assert_eq!(note("Bb4".parse().unwrap(), Octave::Shown), "B♭4");
        assert_eq!(note("F#3".parse().unwrap(), Octave::Hidden), "F♯");
        assert_eq!(width("B♭4", Size::Four), 24);
    }
}
