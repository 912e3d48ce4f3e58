//! `records`: what was heard, summed up, shown, exported and forgotten.

use super::Desk;
use super::schemas::pleases;
use records::{ClipOf, Confidence, Days, EntryMs, Filter, HeardBy, NoteShare, Record, SectionRecord, Sound, SpreadMs, Store, Verdict};
use serde_json::{Value, json};
use std::num::{NonZeroI8, NonZeroU16};
use std::path::PathBuf;
use units::{Cents, SampleRate};

/// Where the program keeps them.
fn file(desk: &Desk) -> PathBuf {
    desk.path("home/.local/share/precentor/records.db")
}

fn record(when: &str, section: &str, seat: u16, target: &str, verdict: Verdict) -> Record {
    Record {
        when: when.parse().unwrap(),
        room: "Cedar Lane, first hour".to_owned(),
        section: section.to_owned(),
        seat: NonZeroU16::new(seat),
        drill: "One note each".to_owned(),
        lesson: None,
        target: Some(target.parse().unwrap()),
        heard: None,
        verdict,
        cents: None,
        entry: None,
        by: HeardBy::Ear,
        confidence: None,
    }
}

/// A desk on which two weeks of verdicts are kept.
fn desk() -> Desk {
    let desk = Desk::new();
    let low = Verdict::Partials(NonZeroI8::new(-2).unwrap());
    let heard = Record {
        lesson: Some("Week 7".to_owned()),
        heard: Some("C4".parse().unwrap()),
        cents: Some(Cents(-12.5)),
        entry: Some(EntryMs(84.0)),
        by: HeardBy::Microphone,
        confidence: Confidence::new(0.75),
        ..record("2031-02-10T09:05:00Z", "Horns", 2, "G4", low)
    };
    let kept = [
        record("2031-02-03T09:00:00Z", "Horns", 1, "G4", Verdict::OnIt),
        record("2031-02-03T09:00:08Z", "Horns", 2, "G4", low),
        record("2031-02-03T09:00:16Z", "Flutes", 1, "F4", Verdict::Nothing),
        record("2031-02-10T09:00:00Z", "Horns", 1, "G4", Verdict::Flat),
        heard,
        record("2031-02-10T09:06:00Z", "Horns", 2, "C4", Verdict::OnIt),
    ];
    Store::open(&file(&desk)).unwrap().keep_all(&kept).unwrap();
    desk
}

#[test]
fn nothing_kept_is_no_error_and_makes_nothing() {
    let desk = Desk::new();
    for args in [&["summary"][..], &["show"], &["export", "csv"], &["export", "jsonl"], &["forget", "--all"], &["where"]] {
        let out = desk.done(&[&["records"], args].concat());
        assert!(args[0] == "export" || out.contains("kept"), "{args:?}: {out}");
    }
    assert!(!file(&desk).exists());
    let none = desk.json(&["records", "summary", "--section", "Horns", "--json"]);
    assert_eq!((&none["verdicts"], &none["first"], &none["seats"]), (&json!(0), &json!(null), &json!([])));
}

#[test]
fn the_summary_says_who_has_which_note_with_its_counts() {
    let desk = desk();
    let out = desk.done(&["records", "summary"]);
    let line = |start: &[&str]| {
        let words = |line: &str| line.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
        out.lines().map(words).find(|words| words.starts_with(&start.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>())).unwrap()
    };
    assert_eq!(line(&["Horns", "2", "G4"]).join(" "), "Horns 2 G4 2 0 0 % 0 2 0 0 0 2 partials low, 2 of 2");
    assert_eq!(line(&["Horns", "all", "G4"]).join(" "), "Horns all G4 4 1 25 % 1 2 0 0 0 2 partials low, 2 of 4");
    assert!(out.starts_with("Cedar Lane, first hour\nsection  seat  note  verdicts  on it  share"), "{out}");
    assert!(out.contains("6 verdicts, 2031-02-03 to 2031-02-10."), "{out}");
    let weeks = desk.done(&["records", "summary", "--section", "Horns", "--note", "G4", "--weeks"]);
    assert!(weeks.contains("2031-W06") && weeks.contains("2031-W07") && !weeks.contains("Flutes"), "{weeks}");
}

#[test]
fn what_is_printed_as_json_pleases_its_schema() {
    let desk = desk();
    let summary = desk.json(&["records", "summary", "--json"]);
    pleases("records-summary", &summary);
    let seat = summary["seats"].as_array().unwrap().iter().find(|seat| seat["seat"] == 2 && seat["target"] == "G4").unwrap();
    assert_eq!(seat["verdicts"], json!([{"verdict": "low partial", "partials_off": -2, "octaves_off": null, "count": 2}]));
    assert_eq!((&seat["weeks"][0]["week"], &seat["weeks"][1]["tally"]["low"]), (&json!("2031-W06"), &json!(1)));
    let show = desk.json(&["records", "show", "--json"]);
    pleases("records-show", &show);
    assert_eq!(show["records"].as_array().unwrap().len(), 6);
    let lines = desk.done(&["records", "export", "jsonl"]);
    let rows: Vec<Value> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    rows.iter().for_each(|row| pleases("records-row", row));
    assert_eq!(show["records"], Value::Array(rows));
    let place = desk.json(&["records", "where", "--json"]);
    pleases("records-where", &place);
    assert_eq!((&place["verdicts"], &place["exists"]), (&json!(6), &json!(true)));
    assert_eq!(place["path"].as_str().unwrap(), file(&desk).display().to_string());
    let forget = desk.json(&["records", "forget", "--section", "flutes", "--dry-run", "--json"]);
    pleases("records-forget", &forget);
    assert_eq!(forget, json!({"verdicts": 1, "sections": 0, "clips": 0, "forgotten": false}));
}

#[test]
fn filters_narrow_by_place_note_and_day() {
    let desk = desk();
    let count = |args: &[&str]| desk.json(&[&["records", "show", "--json"], args].concat())["records"].as_array().unwrap().len();
    assert_eq!(count(&["--section", "Horns"]), 5);
    assert_eq!(count(&["--section", "HORNS", "--seat", "2"]), 3);
    assert_eq!(count(&["--room", "cedar lane first hour", "--note", "C4"]), 1);
    assert_eq!(count(&["--since", "2031-02-10"]), 3);
    assert_eq!(count(&["--until", "2031-02-03"]), 3);
    assert_eq!(count(&["--since", "2031-02-04", "--until", "2031-02-09"]), 0);
    assert_eq!(count(&["--last", "2"]), 2);
    let last = desk.done(&["records", "show", "--last", "2"]);
    assert!(last.contains("2 partials low") && last.contains("-12") && last.contains("+84 ms") && last.contains("microphone"), "{last}");
}

#[test]
fn mistakes_are_told_with_their_mend() {
    let desk = desk();
    let refused = |args: &[&str]| desk.refused(&[&["records"], args].concat());
    assert!(refused(&["summary", "--section", "Hrons"]).contains("did you mean \"Horns\"?"));
    assert!(refused(&["show", "--room", "nowhere near"]).contains("Cedar Lane, first hour"));
    assert!(refused(&["show", "--since", "2031-02-30"]).contains("--since"));
    assert!(refused(&["show", "--since", "2031-02-04", "--until", "2031-02-03"]).contains("--since"));
    assert!(refused(&["show", "--seat", "2"]).contains("--section"));
    assert!(refused(&["show", "--section", "Horns", "--seat", "0"]).contains("--seat"));
    assert!(refused(&["summary", "--note", "H4"]).contains("H4"));
    assert!(refused(&["forget"]).contains("--all"));
    assert!(refused(&["export", "xml"]).contains("jsonl"));
    desk.write("here.csv", "mine");
    assert!(refused(&["export", "csv", "-o", "here.csv"]).contains("--force"));
    assert_eq!(desk.read("here.csv"), b"mine");
    for args in [&["summary"][..], &["show"], &["export", "csv"], &["forget", "--all"], &["where"]] {
        std::fs::write(file(&desk), "not ours").unwrap();
        assert!(refused(args).contains("move it away"), "{args:?}");
        assert_eq!(std::fs::read(file(&desk)).unwrap(), b"not ours");
    }
}

#[test]
fn csv_is_whole_in_a_file_or_on_the_standard_output() {
    let desk = desk();
    let printed = desk.done(&["records", "export", "csv", "--section", "Horns"]);
    desk.done(&["records", "export", "csv", "--section", "Horns", "-o", "horns.csv"]);
    assert_eq!(desk.read("horns.csv"), printed.as_bytes());
    assert_eq!(desk.made(), ["horns.csv"]);
    assert_eq!(printed.matches("\r\n").count(), 6);
    assert!(printed.contains("Horns,2,One note each,Week 7,G4,C4,low partial,-2,,-12.5,84,microphone,0.75\r\n"), "{printed}");
}

#[test]
fn what_is_forgotten_is_gone_from_the_folder() {
    let desk = desk();
    let folder = file(&desk).parent().unwrap().to_owned();
    let holds = |text: &str| {
        std::fs::read_dir(&folder).unwrap().any(|entry| {
            let bytes = std::fs::read(entry.unwrap().path()).unwrap();
            bytes.windows(text.len()).any(|window| window == text.as_bytes())
        })
    };
    assert!(holds("Flutes") && holds("low partial"));
    let out = desk.done(&["records", "forget", "--section", "Flutes"]);
    assert_eq!(out, "1 verdict forgotten; nothing of that is left in the file.\n");
    assert!(!holds("Flutes") && holds("Horns"));
    desk.done(&["records", "forget", "--section", "Horns", "--seat", "2"]);
    assert!(!holds("low partial") && holds("flat"));
    desk.done(&["records", "forget", "--until", "2031-02-03"]);
    let left = Store::open(&file(&desk)).unwrap().records(&Filter::default()).unwrap();
    assert_eq!(left, [record("2031-02-10T09:00:00Z", "Horns", 1, "G4", Verdict::Flat)]);
    desk.done(&["records", "forget", "--all"]);
    assert!(!holds("Horns") && !holds("Cedar Lane"));
}

/// The horns as a whole: `on_g` of them on the note that was asked for.
fn of_horns(when: &str, on_g: f64) -> SectionRecord {
    let note = |written: &str, share: f64| NoteShare { written: written.parse().unwrap(), share, low: share - 0.125, high: share + 0.125 };
    SectionRecord {
        when: when.parse().unwrap(),
        room: "Cedar Lane, first hour".to_owned(),
        section: "Horns".to_owned(),
        drill: "One note each".to_owned(),
        lesson: None,
        target: Some("G4".parse().unwrap()),
        shares: vec![note("C4", 1.0 - on_g), note("G4", on_g)],
        players: NonZeroU16::new(8),
        elsewhere: Some(0.0625),
        cents: Some(Cents(-4.0)),
        entry: Some(EntryMs(31.0)),
        spread: Some(SpreadMs(44.0)),
    }
}

#[test]
fn where_whole_sections_sat_is_summed_up_shown_and_exported() {
    let desk = desk();
    let mut store = Store::open(&file(&desk)).unwrap();
    for (when, on_g) in [("2031-02-03T09:10:00Z", 0.25), ("2031-02-10T09:10:00Z", 0.75), ("2031-02-10T09:11:00Z", 0.625)] {
        store.keep_section(&of_horns(when, on_g), None).unwrap();
    }
    let words = |text: &str| text.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" ")).collect::<Vec<_>>();
    let weeks = words(&desk.done(&["records", "summary", "--section", "Horns", "--weeks"]));
    for line in [
        "Cedar Lane, first hour, whole sections",
        "Horns G4 3 54 % 42 % 67 % G4, 2 of 3 -4 +31 ms 44 ms",
        "Horns G4 2031-W06 1 25 % 12 % 38 % C4, 1 of 1 -4 +31 ms 44 ms",
        "Horns G4 2031-W07 2 69 % 56 % 81 % G4, 2 of 2 -4 +31 ms 44 ms",
    ] {
        assert!(weeks.iter().any(|found| found == line), "{line}: {weeks:#?}");
    }
    let shown = words(&desk.done(&["records", "show", "--last", "2"]));
    assert!(shown.last().unwrap().contains("all 8 G4 C4 38 % (25..50), G4 62 % (50..75) G4 -4 +31 ms 44 ms microphone"), "{shown:#?}");
    let summary = desk.json(&["records", "summary", "--json"]);
    pleases("records-summary", &summary);
    assert_eq!(summary["shares"][0]["weeks"][1]["all"]["share"], json!(0.6875));
    let show = desk.json(&["records", "show", "--json"]);
    pleases("records-show", &show);
    assert_eq!((show["records"].as_array().unwrap().len(), show["shares"].as_array().unwrap().len()), (6, 6));
    let lines = desk.done(&["records", "export", "jsonl", "--shares"]);
    let rows: Vec<Value> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    rows.iter().for_each(|row| pleases("records-share", row));
    assert_eq!(show["shares"], Value::Array(rows));
    let csv = desk.done(&["records", "export", "csv", "--shares", "--since", "2031-02-10"]);
    assert_eq!(csv.matches("\r\n").count(), 5);
    assert!(csv.starts_with("when,room,section,drill,lesson,target,written,share,low,high,"), "{csv}");
    assert_eq!(desk.json(&["records", "where", "--json"])["sections"], json!(3));
    // a seat's are not the section's; a section's go with it
    let seat = desk.json(&["records", "forget", "--section", "Horns", "--seat", "1", "--json"]);
    assert_eq!((&seat["verdicts"], &seat["sections"]), (&json!(2), &json!(0)));
    let out = desk.done(&["records", "forget", "--section", "Horns"]);
    assert_eq!(out, "3 verdicts, 3 echoes of whole sections forgotten; nothing of that is left in the file.\n");
}

#[test]
fn kept_sound_is_told_of_and_goes_with_its_record_or_its_days() {
    let desk = Desk::new();
    let file = file(&desk);
    let mut store = Store::open(&file).unwrap();
    let sound = |days| Sound { rate: SampleRate::DEFAULT, samples: vec![0.25; 24_000], days: Days::new(days).unwrap() };
    let now = jiff::Timestamp::now();
    let keep = |store: &mut Store, seat, days, when| {
        let id = store.keep(&record("2031-02-03T09:00:00Z", "Horns", seat, "G4", Verdict::OnIt), None).unwrap();
        store.audio().keep(ClipOf::Verdict(id), &sound(days), when).unwrap()
    };
    let first = keep(&mut store, 1, 14, now);
    let second = keep(&mut store, 2, 14, now);
    let over = keep(&mut store, 3, 1, now - jiff::SignedDuration::from_hours(48));
    let told = desk.done(&["records", "summary"]);
    let until = jiff::tz::TimeZone::system().to_datetime(first.until).date();
    assert!(told.contains(&format!("RECORDING: the sound of 2 echoes is kept, 97 kB, the last until {until}")), "{told}");
    assert!(!over.path.exists(), "what is over is deleted at any start");
    let place = desk.json(&["records", "where", "--json"]);
    pleases("records-where", &place);
    assert_eq!((&place["sound"]["clips"], &place["sound"]["bytes"]), (&json!(2), &json!(2 * 48_044)));
    assert_eq!(place["sound"]["folder"].as_str().unwrap(), store.audio().folder().display().to_string());
    let out = desk.done(&["records", "forget", "--section", "Horns", "--seat", "2"]);
    assert_eq!(out, "1 verdict, the sound of 1 echo forgotten; nothing of that is left in the file.\n");
    assert!(first.path.exists() && !second.path.exists());
    desk.done(&["records", "forget", "--all"]);
    assert!(!first.path.exists());
    assert!(desk.done(&["records", "where"]).contains("no sound is kept"));
}
