//! Scores that become piece files.

use super::Desk;
use std::path::{Path, PathBuf};

/// The folder of the invented scores.
pub(super) fn scores() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/scores")
}

fn score(name: &str) -> String {
    scores().join(name).display().to_string()
}

#[test]
fn a_score_becomes_a_piece_that_can_be_checked() {
    let desk = Desk::new();
    let mut texts = Vec::new();
    for name in ["lantern-march-4.0.musicxml", "lantern-march-3.1.xml", "lantern-march.mxl"] {
        let run = desk.run(&["import", &score(name), "-o", "march.toml", "--force"]);
        assert_eq!((run.code, run.out.as_str()), (0, "march.toml: Lantern March, 11 bars and 2 marks\n"), "{}", run.err);
        assert!(run.err.contains("note: bar 7: a tempo that changes inside the bar takes hold at the next\n"), "{}", run.err);
        assert!(run.err.contains("note: bar 9: dal segno is left out\n"), "{}", run.err);
        let text = String::from_utf8(desk.read("march.toml")).unwrap();
        assert!(text.starts_with(&format!("# From {name}.\n# bar 7: ")), "{text}");
        texts.push(text.split_once('\n').unwrap().1.to_owned());
        assert!(desk.done(&["check", "march.toml"]).starts_with("march.toml: a sound piece: Lantern March: bars 0 to 9, from 4/4 at 152"));
    }
    assert!(texts.windows(2).all(|two| two[0] == two[1]));
    assert_eq!(desk.made(), ["march.toml"]);
}

#[test]
fn without_a_file_to_write_it_prints_the_piece() {
    let desk = Desk::new();
    let text = desk.done(&["import", &score("reed-polka-timewise.xml"), "--title", "Slow Reed"]);
    assert!(text.contains("title = \"Slow Reed\"\ntempo = 96\nmeter = \"3/4\"\nbars = 4\n"), "{text}");
    assert_eq!(desk.made(), [""; 0]);
}

#[test]
fn what_is_no_score_is_refused_with_its_place() {
    let desk = Desk::new();
    desk.write("page.xml", "<html>\n<body/></html>");
    let said = desk.refused(&["import", "page.xml", "-o", "out.toml"]);
    assert!(said.contains("page.xml:1:1: this is no MusicXML: it begins with <html>") && said.contains("mend: name a file"), "{said}");
    let whole = std::fs::read_to_string(score("lantern-march-4.0.musicxml")).unwrap();
    desk.write("cut.xml", &whole[..whole.len() / 2]);
    let said = desk.refused(&["import", "cut.xml", "-o", "out.toml"]);
    assert!(said.contains("cut.xml:") && said.contains("mend: "), "{said}");
    assert!(desk.refused(&["import", "none.xml"]).contains("none.xml: this file cannot be read"));
    assert!(desk.refused(&["import", "."]).contains(": this is a folder"));
    assert_eq!(desk.made(), ["cut.xml", "page.xml"]);
}

#[test]
fn nothing_is_replaced_unasked() {
    let desk = Desk::new();
    desk.write("march.toml", "mine");
    let said = desk.refused(&["import", &score("lantern-march.mxl"), "-o", "march.toml"]);
    assert_eq!(said, "precentor: march.toml is there already; name another file, or say --force to replace it\n");
    std::fs::copy(score("lantern-march.mxl"), desk.path("march.mxl")).unwrap();
    let said = desk.refused(&["import", "march.mxl", "-o", "./march.mxl", "--force"]);
    assert!(said.contains("would be written over itself"), "{said}");
}
