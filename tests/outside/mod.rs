//! Theory against tables from outside: standards, textbooks, charts and general-purpose libraries. Every table names its sources in its
//! header and rows; `sources.csv` resolves the short names (S-...).

mod beats;
mod beginners;
mod counting;
mod fingering;
mod musicxml;
mod ranges;
mod sources;
mod transposition;
mod traps;
mod tuning;

use std::collections::HashMap;
use std::fmt::Debug;
use std::path::Path;
use std::str::FromStr;

/// One row of a table, by column.
pub struct Row {
    cells: HashMap<String, String>,
    /// The row as it stands, to name it when it fails.
    text: String,
}

impl Row {
    /// The cell of `column`, which every row has.
    pub fn get(&self, column: &str) -> &str {
        self.cells.get(column).unwrap_or_else(|| panic!("no column {column} in {}", self.text))
    }

    /// The cell of `column` read as a value.
    pub fn read<T: FromStr<Err: Debug>>(&self, column: &str) -> T {
        self.get(column).parse().unwrap_or_else(|error| panic!("{column}: {error:?} in {}", self.text))
    }

    /// The cell of `column`, unless it is empty.
    pub fn filled(&self, column: &str) -> Option<&str> {
        Some(self.get(column)).filter(|cell| !cell.is_empty())
    }
}

impl Debug for Row {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.text)
    }
}

/// The rows of a table beside this file, which must be `count`: a table that is cut short or not read at all fails here.
pub fn table(name: &str, count: usize) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside").join(name);
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).expect("the table opens");
    let columns = reader.headers().expect("the table has a header").clone();
    let row = |record: csv::StringRecord| Row {
        text: format!("{name}: {}", record.iter().collect::<Vec<_>>().join(",")),
        cells: columns.iter().map(str::to_owned).zip(record.iter().map(str::to_owned)).collect(),
    };
    let rows: Vec<Row> = reader.records().map(|record| row(record.expect("every row has every column"))).collect();
    assert_eq!(rows.len(), count, "{name}");
    rows
}

/// Fails unless two numbers agree to within `tolerance`.
pub fn assert_close(found: f64, expected: f64, tolerance: f64, at: &impl Debug) {
    assert!((found - expected).abs() <= tolerance, "{found} against {expected} in {at:?}");
}
