//! Every short name of a source in the tables is resolved in `sources.csv`.

use super::table;
use std::collections::HashSet;

#[test]
fn every_source_named_in_a_table_is_listed() {
    let known: HashSet<String> = table("sources.csv", 74).iter().map(|row| row.get("id").to_owned()).collect();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/outside");
    let mut named = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension == "csv") && !path.ends_with("sources.csv") {
            let text = std::fs::read_to_string(&path).unwrap();
            for word in text.split(|c: char| !(c.is_ascii_uppercase() || c.is_ascii_digit() || c == '-')) {
                let word = word.trim_end_matches('-');
                if word.starts_with("S-") && word.len() > 3 {
                    assert!(known.contains(word), "{word} in {}", path.display());
                    named += 1;
                }
            }
        }
    }
    assert!(named > 500, "only {named} sources named");
}
