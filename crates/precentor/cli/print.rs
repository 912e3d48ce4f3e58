//! Text, tables and JSON on the standard output, where a reader that has gone away is no error.

use anyhow::Context;
use serde::Serialize;
use std::io::{self, ErrorKind, Write};
use thiserror::Error;
use unicode_width::UnicodeWidthStr;

/// Whoever read the standard output has gone: there is nothing left to do.
#[derive(Debug, Error)]
#[error("nobody reads the standard output any more")]
pub struct Closed;

/// Prints `text` as it is.
///
/// # Errors
/// [`Closed`], or what else the system says.
pub fn text(text: &str) -> anyhow::Result<()> {
    bytes(text.as_bytes())
}

/// Prints `bytes` as they are.
///
/// # Errors
/// [`Closed`], or what else the system says.
pub fn bytes(bytes: &[u8]) -> anyhow::Result<()> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Err(Closed.into()),
        result => result.context("the standard output cannot be written"),
    }
}

/// Prints `value` as JSON on one line.
///
/// # Errors
/// [`Closed`], or what else the system says.
pub fn json(value: &impl Serialize) -> anyhow::Result<()> {
    let mut line = serde_json::to_string(value).context("what was found cannot be written as JSON")?;
    line.push('\n');
    text(&line)
}

/// Prints `line` on the standard error output, if anybody is there.
pub fn note(line: &str) {
    let _ = writeln!(io::stderr().lock(), "{line}");
}

/// Rows under a head, in columns as wide as they need to be.
#[derive(Clone, Debug)]
pub struct Table {
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table with its head.
    #[must_use]
    pub fn new(head: &[&str]) -> Self {
        Self { rows: vec![head.iter().map(|cell| (*cell).to_owned()).collect()] }
    }

    /// Adds a row.
    pub fn row<S: Into<String>>(&mut self, cells: impl IntoIterator<Item = S>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }

    /// The table as lines. Columns that say nothing under their head are left out.
    #[must_use]
    pub fn lines(&self) -> String {
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let cell = |row: &Vec<String>, column: usize| row.get(column).map_or(0, |cell| cell.width());
        let says: Vec<usize> = (0..columns).filter(|column| self.rows.iter().skip(1).any(|row| cell(row, *column) > 0)).collect();
        let widths: Vec<usize> = says.iter().map(|column| self.rows.iter().map(|row| cell(row, *column)).max().unwrap_or(0)).collect();
        let mut lines = String::new();
        for row in &self.rows {
            let mut line = String::new();
            for (column, width) in says.iter().zip(&widths) {
                let blank = width - cell(row, *column) + 2;
                line.push_str(row.get(*column).map_or("", String::as_str));
                line.push_str(&" ".repeat(blank));
            }
            lines.push_str(line.trim_end());
            lines.push('\n');
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_and_empty_ones_vanish() {
        let mut table = Table::new(&["section", "written", "partial"]);
        table.row(["Flutes", "F4", ""]);
        table.row(["Hörner", "C5", ""]);
        assert_eq!(table.lines(), "section  written\nFlutes   F4\nHörner   C5\n");
    }
}
