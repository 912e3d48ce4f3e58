//! Writing into a buffer, always inside an area.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use unicode_width::UnicodeWidthStr;

use super::look::{Look, Role};

/// A buffer and how it is to look.
pub(crate) struct Paint<'a> {
    pub(crate) buffer: &'a mut Buffer,
    pub(crate) look: Look,
}

impl<'a> Paint<'a> {
    pub(crate) fn new(buffer: &'a mut Buffer, look: Look) -> Self {
        Self { buffer, look }
    }

    /// Writes `text` at `column`, `row` of `area`, cut at its edge; the column after it.
    pub(crate) fn text(&mut self, area: Rect, column: u16, row: u16, text: &str, role: Role) -> u16 {
        self.styled(area, column, row, text, self.look.style(role))
    }

    pub(crate) fn styled(&mut self, area: Rect, column: u16, row: u16, text: &str, style: Style) -> u16 {
        if row >= area.height || column >= area.width {
            return column;
        }
        let text = plain(text, self.look);
        let (x, y) = (area.x + column, area.y + row);
        let (end, _) = self.buffer.set_stringn(x, y, text, usize::from(area.width - column), style);
        end - area.x
    }

    /// Writes `text` so that it ends at the right edge of `area`, if it fits beside the first `taken` columns.
    pub(crate) fn text_right(&mut self, area: Rect, row: u16, taken: u16, text: &str, role: Role) {
        let width = width(text);
        if area.width >= taken + width {
            self.text(area, area.width - width, row, text, role);
        }
    }

    /// Writes `text` over as many lines as it needs, cut at the bottom; how many it needed.
    pub(crate) fn paragraph(&mut self, area: Rect, text: &str, role: Role) -> u16 {
        let mut row = 0;
        for line in text.lines().flat_map(|line| wrapped(line, area.width)) {
            self.text(area, 0, row, &line, role);
            row = row.saturating_add(1);
        }
        row
    }

    /// A line across `area`.
    pub(crate) fn rule(&mut self, area: Rect, row: u16) {
        let sign = if self.look.has_blocks() { "─" } else { "-" };
        self.text(area, 0, row, &sign.repeat(usize::from(area.width)), Role::Quiet);
    }

    /// Gives every cell of a row of `area` the style of `role`.
    pub(crate) fn tint(&mut self, area: Rect, row: u16, role: Role) {
        if row < area.height {
            self.buffer.set_style(Rect { y: area.y + row, height: 1, ..area }, self.look.style(role));
        }
    }
}

/// How many columns `text` takes.
pub(crate) fn width(text: &str) -> u16 {
    text.width() as u16
}

/// `text` shortened to `columns` with a mark where it was cut.
pub(crate) fn cut(text: &str, columns: u16) -> String {
    if width(text) <= columns {
        return text.to_owned();
    }
    let mut short = String::new();
    for sign in text.chars() {
        if width(&short) + 2 > columns {
            break;
        }
        short.push(sign);
    }
    short + "~"
}

/// `text` in lines of at most `columns`, broken at blanks where there are some.
pub(crate) fn wrapped(text: &str, columns: u16) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_inclusive(' ') {
        let line = lines.last_mut().map_or(0, |line| width(line));
        if line > 0 && line + width(word.trim_end()) > columns {
            lines.push(String::new());
        }
        for sign in word.chars() {
            if lines.last().is_some_and(|line| width(line) + width(sign.encode_utf8(&mut [0; 4])) > columns) && sign != ' ' {
                lines.push(String::new());
            }
            if let Some(line) = lines.last_mut() {
                line.push(sign);
            }
        }
    }
    lines.iter().map(|line| line.trim_end().to_owned()).collect()
}

/// What goes to a terminal that shows ASCII only has its other signs replaced.
fn plain(text: &str, look: Look) -> String {
    if look.has_blocks() || text.is_ascii() {
        return text.to_owned();
    }
    text.chars()
        .map(|sign| match sign {
            '♭' => 'b',
            '♯' => '#',
            '─' => '-',
            '│' => '|',
            _ if sign.is_ascii() => sign,
            _ => '?',
        })
        .collect()
}
