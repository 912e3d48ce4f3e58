//! Scores read by us and by music21, file by file: bars, meters, tempi and rehearsal marks with their bars. `musicxml.py` writes the table.

use super::table;
use sheets::musicxml::{self, Outline, Written};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// A fact: its kind, place, number, offset and value, as the table has them.
type Fact = (String, usize, String, String, String);

/// Every file of the table with what music21 reads in it.
fn files(place: &str) -> BTreeMap<String, BTreeSet<Fact>> {
    let mut files: BTreeMap<String, BTreeSet<Fact>> = BTreeMap::new();
    for row in table("musicxml.csv", 259).into_iter().filter(|row| row.get("where") == place) {
        let offset = row.filled("at").map(|at| rounded(at.parse().unwrap())).unwrap_or_default();
        let value = row.get("value");
        let value = if row.get("fact") == "tempo" { rounded(value.parse().unwrap()) } else { value.to_owned() };
        let fact = (row.get("fact").to_owned(), row.read("place"), row.get("number").to_owned(), offset, value);
        files.entry(row.get("file").to_owned()).or_default().insert(fact);
    }
    files
}

fn rounded(number: f64) -> String {
    format!("{number:.3}")
}

/// What music21 does not read as a number and we do: `ca 72`.
const WE_ALONE: [(&str, &str, usize, &str); 1] = [("corpus/webern/webern_dormi_jesu_op_16_no_2.mxl", "tempo", 0, "72.000")];

/// The bars' numbers as music21 keeps them: figures first, and a bar called X1 behind bar 24 as 24X1.
fn numbers(outline: &Outline) -> Vec<String> {
    let mut before = (0, String::new());
    let mut kept = Vec::new();
    for bar in &outline.bars {
        let (figures, mut rest): (String, String) = bar.number.chars().partition(char::is_ascii_digit);
        let mut figures: u32 = figures.parse().unwrap_or(before.0);
        if rest == "X" && !kept.is_empty() && figures != before.0 + 1 {
            rest = format!("{}X{figures}", before.1);
            figures = before.0;
        }
        kept.push(format!("{figures}{rest}"));
        before = (figures, rest);
    }
    kept
}

fn facts(outline: &Outline) -> BTreeSet<Fact> {
    let mut facts = BTreeSet::new();
    let mut before = String::new();
    let last = outline.bars.len() - 1;
    let numbers = numbers(outline);
    let mut fact = |kind: &str, place: usize, at: String, value: String| {
        facts.insert((kind.to_owned(), place, numbers[place].clone(), at, value));
    };
    fact("bars", last, String::new(), outline.bars.len().to_string());
    for (place, bar) in outline.bars.iter().enumerate() {
        if let Some(Written::Fraction(fractions)) = &bar.meter {
            let parts = fractions.iter().flat_map(|(upper, lower)| upper.iter().map(move |part| format!("{part}/{lower}")));
            let meter = parts.collect::<Vec<_>>().join("+");
            if meter != before {
                fact("meter", place, String::new(), meter.clone());
                before = meter;
            }
        }
        for speed in &bar.tempi {
            fact("tempo", place, rounded(speed.at.as_f64()), rounded(speed.quarters));
        }
        for mark in &bar.marks {
            fact("mark", place, String::new(), mark.clone());
        }
    }
    facts
}

/// How many facts of how many files agree.
fn compare(place: &str, folder: &Path) -> (usize, usize) {
    let files = files(place);
    let mut apart = String::new();
    let mut agreed = 0;
    for (file, theirs) in &files {
        let bytes = std::fs::read(folder.join(file)).unwrap_or_else(|error| panic!("{file}: {error}"));
        let outline = musicxml::read(file, &bytes).unwrap_or_else(|faults| panic!("{faults}"));
        let mut ours = facts(&outline);
        ours.retain(|(kind, place, _, _, value)| !WE_ALONE.contains(&(file.as_str(), kind.as_str(), *place, value.as_str())));
        agreed += ours.intersection(theirs).count();
        for fact in theirs.difference(&ours) {
            apart += &format!("\n{file}: music21 alone reads {fact:?}");
        }
        for fact in ours.difference(theirs) {
            apart += &format!("\n{file}: we alone read {fact:?}");
        }
        // and a file made of it is read back
        let imported = musicxml::piece(&outline, "Untitled");
        let text = book::piece::write(&imported.piece, &Default::default(), &Default::default());
        let again = book::read_piece(file, &text).unwrap_or_else(|faults| panic!("{file}: {faults}"));
        assert_eq!(again.piece, imported.piece, "{file}");
        assert_eq!(imported.piece.bars.len(), outline.bars.len(), "{file}");
    }
    assert!(apart.is_empty(), "{apart}");
    (agreed, files.len())
}

#[test]
fn invented_scores_are_read_as_music21_reads_them() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/scores");
    assert_eq!(compare("fixture", &fixtures), (33, 3));
}

/// Wants the folder of the installed package in `MUSIC21`: its scores are not copied here, because many have a licence of their own.
#[test]
#[ignore = "needs the scores of music21: MUSIC21=.../site-packages/music21"]
fn scores_of_music21_are_read_as_music21_reads_them() {
    let folder = PathBuf::from(std::env::var_os("MUSIC21").expect("MUSIC21 names the package's folder"));
    let (facts, files) = compare("package", &folder);
    println!("{facts} facts of {files} files agree");
    assert!(files >= 50, "{files}");
}
