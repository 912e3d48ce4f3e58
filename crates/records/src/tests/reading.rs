//! What is exported reads back as it was, and no spreadsheet takes it for a formula.

use proptest::prelude::*;
use std::num::NonZeroI8;

use super::model::{record, verdict};
use super::of_seat;
use crate::export::{Csv, json_line};
use crate::{Record, Row, Verdict};

fn csv(rows: &[Row]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut csv = Csv::begin::<Row>(&mut bytes).unwrap();
    rows.iter().for_each(|row| csv.row(row).unwrap());
    csv.end().unwrap();
    bytes
}

/// Names of all kinds: with quotes, line ends, commas, signs of formulas.
fn odd_names() -> impl Strategy<Value = String> + Clone {
    prop_oneof!["[=+@\\-'\",;\t\r\n a-zä♭]{0,12}", any::<String>()]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_exported_reads_back(records in prop::collection::vec(record(odd_names()), 0..12)) {
        let rows: Vec<Row> = records.iter().map(Row::from).collect();
        let mut lines = Vec::new();
        rows.iter().for_each(|row| json_line(&mut lines, row).unwrap());
        let read: Vec<Row> = String::from_utf8(lines).unwrap().lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        prop_assert_eq!(&read, &rows);

        let bytes = csv(&rows);
        let mut reader = csv::Reader::from_reader(bytes.as_slice());
        let heads = reader.headers().unwrap().clone();
        let json = serde_json::to_value(Row::from(&of_seat(1, Verdict::OnIt))).unwrap();
        let names: Vec<_> = json.as_object().unwrap().keys().map(String::as_str).collect();
        let mut sorted: Vec<_> = heads.iter().collect();
        sorted.sort_unstable();
        prop_assert_eq!(sorted, names, "the columns are the fields");
        let mut read = Vec::new();
        for fields in reader.records() {
            let fields = fields.unwrap();
            for (head, field) in heads.iter().zip(&fields) {
                let number = field.parse::<f64>().is_ok();
                prop_assert!(number || !field.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']), "{head}: {field:?}");
            }
            let field = |name: &str| fields.get(heads.iter().position(|head| head == name).unwrap()).unwrap().to_owned();
            let text = |name: &str| field(name).strip_prefix('\'').map_or_else(|| field(name), str::to_owned);
            let some = |text: String| Some(text).filter(|text| !text.is_empty());
            let number = |name: &str| some(field(name)).map(|number| number.parse::<f64>().unwrap());
            let count = |name: &str| some(field(name)).map(|count| count.parse::<i8>().unwrap());
            read.push(Row {
                when: field("when"), room: text("room"), section: text("section"), seat: some(field("seat")).map(|seat| seat.parse().unwrap()),
                drill: text("drill"), lesson: some(text("lesson")), target: some(field("target")), heard: some(field("heard")),
                verdict: field("verdict"), partials_off: count("partials_off"), octaves_off: count("octaves_off"), cents: number("cents"),
                entry_ms: number("entry_ms"), by: field("by"), confidence: number("confidence"),
            });
        }
        // an empty cell is a lesson without a title as well as no lesson
        let told = rows.iter().map(|row| Row { lesson: row.lesson.clone().filter(|lesson| !lesson.is_empty()), ..row.clone() });
        prop_assert_eq!(read, told.collect::<Vec<_>>());
    }

    #[test]
    fn a_verdict_is_read_from_its_word_and_steps_and_from_no_others(verdict in verdict(), steps in any::<i8>(), word in "[a-z ]{0,12}") {
        prop_assert_eq!(Verdict::read(verdict.word(), verdict.steps()), Some(verdict));
        let steps = NonZeroI8::new(steps);
        if let Some(read) = Verdict::read(verdict.word(), steps) {
            prop_assert_eq!((read.word(), read.steps()), (verdict.word(), steps));
        }
        prop_assert!(Verdict::read(&word, steps).is_none_or(|read| read.word() == word));
    }
}

/// Source: RFC 4180, section 2: lines end in CRLF, fields with commas, quotes or line ends are quoted, quotes doubled.
#[test]
fn csv_is_written_by_the_book() {
    let two_low = Verdict::Partials(NonZeroI8::new(-2).unwrap());
    let record = Record {
        room: "Cedar Lane, \"first\"\r\nhour".to_owned(),
        section: "=HYPERLINK(\"x\")".to_owned(),
        lesson: Some("-1+1".to_owned()),
        heard: Some("C4".parse().unwrap()),
        cents: Some(units::Cents(-4.5)),
        ..of_seat(3, two_low)
    };
    let text = String::from_utf8(csv(&[Row::from(&record)])).unwrap();
    let (heads, row) = text.split_once("\r\n").unwrap();
    assert_eq!(heads, "when,room,section,seat,drill,lesson,target,heard,verdict,partials_off,octaves_off,cents,entry_ms,by,confidence");
    let expected = "2031-02-03T09:15:00.250Z,\"Cedar Lane, \"\"first\"\"\r\nhour\",\"'=HYPERLINK(\"\"x\"\")\",3,One note each,'-1+1,G4,C4,\
                    low partial,-2,,-4.5,,ear,\r\n";
    assert_eq!(row, expected);
}

#[test]
fn verdicts_as_a_person_says_them() {
    let steps = |steps| NonZeroI8::new(steps).unwrap();
    let told = [Verdict::Partials(steps(-2)), Verdict::Partials(steps(1)), Verdict::Octaves(steps(-1)), Verdict::OffTheSeries]
        .map(|it| it.to_string());
    assert_eq!(told, ["2 partials low", "1 partial high", "1 octave low", "off the series"]);
}
