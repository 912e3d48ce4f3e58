//! Notes on a staff. One row is one step of the scale, so lines stand on every second row.

use pitch::{Clef, Written};
use ratatui::layout::Rect;

use super::look::{Glyphs, Role};
use super::paint::Paint;

/// Columns the clef takes.
const CLEF_COLUMNS: u16 = 9;
/// The fewest columns from one note to the next.
const LEAST_APART: u16 = 5;
/// The fewest columns of a staff with one note.
pub const LEAST_COLUMNS: u16 = 24;
/// The fewest rows: five lines and what lies between.
pub const LEAST_ROWS: u16 = 9;

/// The step of `written` above the bottom line of the staff, the line itself being 0.
#[must_use]
pub fn step(written: Written, clef: Clef) -> i32 {
    // the bottom line is E4 in treble clef and G2 in bass clef
    let bottom = match clef {
        // a drum's place is named as a treble clef would
        Clef::Treble | Clef::Percussion => 4 * 7 + 2,
        Clef::Bass => 2 * 7 + 4,
    };
    let pitch = written.pitch();
    pitch.octave() * 7 + pitch.step().index() - bottom
}

/// Which steps a window of `rows` rows shows: from the lowest up, so that the five lines and the notes are inside, the staff in the middle
/// if they leave a choice. Nothing if they do not fit.
fn lowest_step(rows: u16, steps: &[i32]) -> Option<i32> {
    let low = steps.iter().copied().chain([0]).min()?;
    let high = steps.iter().copied().chain([8]).max()?;
    let rows = i32::from(rows);
    if high - low + 1 > rows {
        return None;
    }
    let middle = 4 - (rows - 1) / 2;
    Some(middle.clamp(high - rows + 1, low))
}

/// Draws `notes` in `clef`, the one numbered `now` standing out. False if the notes do not fit the area; then nothing is drawn.
pub(super) fn draw(paint: &mut Paint<'_>, area: Rect, clef: Clef, notes: &[Written], now: Option<usize>) -> bool {
    let steps: Vec<i32> = notes.iter().map(|note| step(*note, clef)).collect();
    let Some(lowest) = lowest_step(area.height, &steps).filter(|_| area.width >= LEAST_COLUMNS) else { return false };
    let row_of = |step: i32| u16::try_from(i32::from(area.height) - 1 - (step - lowest)).ok().filter(|row| *row < area.height);
    let line = if paint.look.has_blocks() { "─" } else { "-" };
    for step in [0, 2, 4, 6, 8] {
        if let Some(row) = row_of(step) {
            paint.text(area, 0, row, &line.repeat(usize::from(area.width)), Role::Quiet);
        }
    }
    draw_clef(paint, area, clef, lowest);
    // as many notes as have room, those around the one under way first
    let columns = area.width.saturating_sub(CLEF_COLUMNS + 1);
    let fitting = usize::from((columns / LEAST_APART).max(1)).min(notes.len());
    let first = now.unwrap_or(0).saturating_sub(fitting / 2).min(notes.len() - fitting.min(notes.len()));
    let shown = notes.iter().zip(&steps).enumerate().skip(first).take(fitting);
    let apart = (columns / (fitting as u16).max(1)).clamp(LEAST_APART, 12);
    for (place, (index, (note, step))) in shown.enumerate() {
        let left = CLEF_COLUMNS + place as u16 * apart + if notes.len() == 1 { 3 } else { 0 };
        let role = if now.is_none_or(|now| now == index) { Role::Strong } else { Role::Quiet };
        let ledger = if paint.look.has_blocks() { "───────" } else { "-------" };
        let beyond = if *step < 0 { (*step..=-2).rev().collect::<Vec<_>>() } else { (10..=*step).collect() };
        for step in beyond.into_iter().filter(|step| step % 2 == 0) {
            if let Some(row) = row_of(step) {
                paint.text(area, left, row, ledger.get(..ledger.len() / 7 * 6).unwrap_or(ledger), Role::Quiet);
            }
        }
        if let Some(row) = row_of(*step) {
            let accidental = note.pitch().alteration().to_string();
            paint.text(area, left + 2 - accidental.len().min(2) as u16, row, &accidental, role);
            let head = match (clef, paint.look.has_blocks()) {
                (Clef::Percussion, _) => " x ",
                (_, true) => "▐█▌",
                (_, false) => "(@)",
            };
            paint.text(area, left + 2, row, head, role);
        }
    }
    true
}

fn draw_clef(paint: &mut Paint<'_>, area: Rect, clef: Clef, lowest: i32) {
    let row_of = |step: i32| u16::try_from(i32::from(area.height) - 1 - (step - lowest)).ok().filter(|row| *row < area.height);
    match paint.look.glyphs {
        Glyphs::Ascii => {
            // the letter that gave the clef its shape, on the line it names
            let (sign, step) = match clef {
                Clef::Treble => ("(G)", 2),
                Clef::Bass => ("(F):", 6),
                Clef::Percussion => ("||", 4),
            };
            if let Some(row) = row_of(step) {
                paint.text(area, 1, row, sign, Role::Strong);
            }
        }
        Glyphs::Rich => draw_curve(paint, area, clef, lowest, Dots { across: 2, down: 4 }),
        Glyphs::Blocks => draw_curve(paint, area, clef, lowest, Dots { across: 1, down: 2 }),
    }
}

/// How many dots a cell is cut into.
#[derive(Clone, Copy)]
struct Dots {
    across: u16,
    down: u16,
}

/// Points of our own treble clef: columns from the left, steps from the bottom line; a smooth curve runs through them.
const TREBLE: [(f64, f64); 24] = [
    (3.7, 1.5),
    (3.5, 2.4),
    (4.3, 3.2),
    (5.6, 3.2),
    (6.5, 2.0),
    (5.9, 0.4),
    (4.4, -0.2),
    (2.5, 0.3),
    (1.3, 1.9),
    (1.5, 3.6),
    (2.9, 5.2),
    (4.6, 6.9),
    (5.4, 8.4),
    (5.2, 9.8),
    (4.7, 10.2),
    (4.0, 9.2),
    (3.9, 7.6),
    (4.3, 4.5),
    (4.8, 1.0),
    (5.0, -1.2),
    (4.5, -2.3),
    (3.5, -2.5),
    (2.8, -2.0),
    (3.2, -1.5),
];
/// Points of our own bass clef.
const BASS: [(f64, f64); 9] = [(1.6, 5.6), (1.2, 6.2), (1.8, 7.4), (3.4, 8.0), (4.9, 7.2), (5.3, 5.6), (4.6, 3.8), (3.0, 2.2), (1.0, 1.0)];
/// The bass clef's two dots and the ball it starts from.
const BASS_DOTS: [(f64, f64); 3] = [(6.7, 7.0), (6.7, 5.0), (1.6, 6.0)];

fn draw_curve(paint: &mut Paint<'_>, area: Rect, clef: Clef, lowest: i32, dots: Dots) {
    let (across, down) = (f64::from(dots.across), f64::from(dots.down));
    let width = usize::from(CLEF_COLUMNS * dots.across);
    let height = usize::from(area.height * dots.down);
    let mut lit = vec![false; width * height];
    let mut light = |x: f64, step: f64| {
        // a step's row has its middle on the step
        let from_top = f64::from(i32::from(area.height) - 1 + lowest) - step + 0.5;
        let (x, y) = ((x * across) as i64, (from_top * down).floor() as i64);
        if (0..width as i64).contains(&x) && (0..height as i64).contains(&y) {
            lit[y as usize * width + x as usize] = true;
        }
    };
    let points: &[(f64, f64)] = match clef {
        Clef::Treble => &TREBLE,
        Clef::Bass => &BASS,
        Clef::Percussion => &[],
    };
    for index in 0..points.len().saturating_sub(1) {
        for part in 0..24 {
            let (x, step) = catmull_rom(points, index, f64::from(part) / 24.0);
            light(x, step);
            light(x + 0.4, step);
        }
    }
    if clef == Clef::Percussion {
        // two upright strokes between the second and the fourth line
        for part in 0..=16 {
            for x in [2.0, 2.4, 4.0, 4.4] {
                light(x, 2.0 + f64::from(part) / 4.0);
            }
        }
    }
    if clef == Clef::Bass {
        for (x, step) in BASS_DOTS {
            for (aside, up) in [(0.0, 0.1), (0.4, 0.1), (0.0, -0.2), (0.4, -0.2)] {
                light(x + aside, step + up);
            }
        }
    }
    for row in 0..area.height {
        for column in 0..CLEF_COLUMNS {
            let is_lit =
                |x: u16, y: u16| lit.get(usize::from(row * dots.down + y) * width + usize::from(column * dots.across + x)) == Some(&true);
            let sign = match dots.across {
                2 => braille(is_lit),
                _ => match (is_lit(0, 0), is_lit(0, 1)) {
                    (false, false) => None,
                    (true, false) => Some('▀'),
                    (false, true) => Some('▄'),
                    (true, true) => Some('█'),
                },
            };
            if let Some(sign) = sign {
                paint.text(area, column, row, sign.encode_utf8(&mut [0; 4]), Role::Strong);
            }
        }
    }
}

/// The braille sign of a cell of two by four dots; nothing for an empty one.
fn braille(is_lit: impl Fn(u16, u16) -> bool) -> Option<char> {
    // the order of the dots' bits is Unicode's: down the left, down the right, then the lowest row
    const BITS: [[u32; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];
    let mut bits = 0;
    for (y, row) in BITS.iter().enumerate() {
        for (x, bit) in row.iter().enumerate() {
            if is_lit(x as u16, y as u16) {
                bits |= bit;
            }
        }
    }
    char::from_u32(0x2800 + bits).filter(|_| bits != 0)
}

/// A point `part` of the way from the point at `index` to the next, on a smooth curve through all of them.
fn catmull_rom(points: &[(f64, f64)], index: usize, part: f64) -> (f64, f64) {
    let at = |index: usize| points.get(index.min(points.len() - 1)).copied().unwrap_or_default();
    let (a, b, c, d) = (at(index.saturating_sub(1)), at(index), at(index + 1), at(index + 2));
    let blend = |a: f64, b: f64, c: f64, d: f64| {
        0.5 * (2.0 * b
            + (c - a) * part
            + (2.0 * a - 5.0 * b + 4.0 * c - d) * part * part
            + (3.0 * b - a - 3.0 * c + d) * part * part * part)
    };
    (blend(a.0, b.0, c.0, d.0), blend(a.1, b.1, c.1, d.1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(note: &str, clef: Clef) -> i32 {
        step(note.parse().unwrap(), clef)
    }

    #[test]
    fn lines_and_spaces_are_where_primers_have_them() {
        // the names of lines and spaces of both clefs: common practice, no source
        for (index, name) in ["E4", "F4", "G4", "A4", "B4", "C5", "D5", "E5", "F5"].into_iter().enumerate() {
            assert_eq!(at(name, Clef::Treble), index as i32);
        }
        for (index, name) in ["G2", "A2", "B2", "C3", "D3", "E3", "F3", "G3", "A3"].into_iter().enumerate() {
            assert_eq!(at(name, Clef::Bass), index as i32);
        }
        // middle C lies on the first ledger line below one and above the other
        assert_eq!((at("C4", Clef::Treble), at("C4", Clef::Bass)), (-2, 10));
        assert_eq!(at("Bb4", Clef::Treble), at("B4", Clef::Treble));
    }

    #[test]
    fn a_window_holds_the_lines_and_the_notes_or_says_that_it_cannot() {
        assert_eq!(lowest_step(9, &[]), Some(0));
        assert_eq!(lowest_step(13, &[-2]), Some(-2));
        assert_eq!(lowest_step(13, &[12]), Some(0));
        assert_eq!(lowest_step(11, &[-3, 4]), None);
    }
}
