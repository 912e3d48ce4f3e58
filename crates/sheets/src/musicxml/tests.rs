//! Scores read, broken and made into pieces.

use proptest::prelude::*;
use proptest::sample::{Index, select};
use std::io::{Cursor, Write};
use units::Beats;
use zip::write::{SimpleFileOptions, ZipWriter};

use super::{Outline, piece, read};

const MARCH: &str = include_str!("../../../../tests/fixtures/scores/lantern-march-4.0.musicxml");
const POLKA: &str = include_str!("../../../../tests/fixtures/scores/reed-polka-timewise.xml");
const PACKED: &[u8] = include_bytes!("../../../../tests/fixtures/scores/lantern-march.mxl");

fn outline(text: &str) -> Outline {
    read("score.xml", text.as_bytes()).unwrap_or_else(|faults| panic!("{faults}"))
}

/// A score of one part with these measures.
fn score(measures: &str) -> String {
    format!("<score-partwise version=\"4.0\"><part id=\"P1\">{measures}</part></score-partwise>")
}

fn fault(bytes: &[u8]) -> String {
    read("score.xml", bytes).expect_err("it is refused").to_string()
}

fn packed(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

const LIST: &[u8] = b"<container><rootfiles><rootfile full-path=\"a.xml\"/></rootfiles></container>";

#[test]
fn a_score_makes_the_piece_its_page_shows() {
    let imported = piece(&outline(MARCH), "Untitled");
    let page = &imported.piece;
    assert_eq!(page.title, "Lantern March");
    let numbers: Vec<_> = page.bars.iter().map(|bar| bar.number.as_str()).collect();
    assert_eq!(numbers, ["0", "1", "2", "3", "4", "X1", "5", "6", "7", "8", "9"]);
    let short: Vec<_> = page.bars.iter().enumerate().filter(|(_, bar)| bar.length < bar.meter.bar()).collect();
    let short: Vec<_> = short.into_iter().map(|(place, bar)| (place, bar.opens_at, bar.length)).collect();
    let beats = Beats::whole;
    // the pick-up, and a bar in two halves across a double bar
    assert_eq!(short, [(0, beats(3), beats(1)), (4, beats(0), beats(3)), (5, beats(3), beats(1))]);
    let meters: Vec<_> = [5, 6, 9, 10].map(|place| page.bars[place].meter.to_string()).into();
    assert_eq!(meters, ["4/4", "6/8", "3+2/8", "2/2"]);
    let tempi: Vec<_> = page.bars.iter().enumerate().filter_map(|(place, bar)| Some((place, bar.tempo?.bpm()))).collect();
    // 112 dotted quarters in 6/8; 100 quarters are 200 eighths in 3+2/8, and 50 halves in 2/2
    assert_eq!(tempi, [(0, 152.0), (6, 112.0), (9, 200.0), (10, 50.0)]);
    assert_eq!(page.marks.iter().map(|mark| (mark.name.as_str(), mark.bar)).collect::<Vec<_>>(), [("A", 2), ("Trio", 6)]);
    let repeat = &page.repeats[0];
    assert_eq!((page.repeats.len(), repeat.bars.clone(), repeat.times, repeat.first_ending.clone()), (1, 2..4, 2, Some(3..4)));
    assert_eq!(page.played(&(0..11)), [0, 1, 2, 3, 2, 4, 5, 6, 7, 8, 9, 10]);
    let omissions: Vec<_> = imported.omissions.iter().map(ToString::to_string).collect();
    assert_eq!(omissions, ["bar 7: a tempo that changes inside the bar takes hold at the next", "bar 9: dal segno is left out"]);
}

#[test]
fn bar_by_bar_says_the_same_as_part_by_part() {
    let imported = piece(&outline(POLKA), "Untitled");
    let tempi: Vec<_> = imported.piece.bars.iter().map(|bar| (bar.meter.to_string(), bar.tempo.map(units::Tempo::bpm))).collect();
    let said = |meter: &str, tempo| (meter.to_owned(), tempo);
    assert_eq!(tempi, [said("3/4", Some(96.0)), said("3/4", None), said("4/4", Some(120.0)), said("4/4", None)]);
    assert_eq!((imported.piece.title.as_str(), imported.piece.marks[0].name.as_str()), ("Reed Polka", "1"));
    assert_eq!(imported.omissions, []);
}

#[test]
fn a_packed_score_and_other_encodings_say_the_same() {
    let plain = outline(MARCH);
    assert_eq!(read("march.mxl", PACKED).unwrap(), plain);
    assert_eq!(read("score.zip", &packed(&[("only.musicxml", MARCH.as_bytes())])).unwrap(), plain);
    for (mark, wide) in [([0xff, 0xfe], u16::to_le_bytes as fn(u16) -> [u8; 2]), ([0xfe, 0xff], u16::to_be_bytes)] {
        let bytes: Vec<u8> = mark.into_iter().chain(MARCH.encode_utf16().flat_map(wide)).collect();
        assert_eq!(read("march.xml", &bytes).unwrap(), plain);
    }
    let latin = b"<?xml version='1.0' encoding='ISO-8859-1'?><score-partwise><movement-title>\xc9t\xe9</movement-title><part id='P'><measure number='1'/></part></score-partwise>";
    assert_eq!(read("latin.xml", latin).unwrap().title.as_deref(), Some("Été"));
}

#[test]
fn what_is_out_of_bounds_is_told() {
    let time = |meter: (u16, u16), tempo: &str| {
        let (beats, kind) = meter;
        format!("<attributes><time><beats>{beats}</beats><beat-type>{kind}</beat-type></time></attributes><sound tempo=\"{tempo}\"/>")
    };
    let text = score(&format!(
        "<measure number='1'>{}</measure><measure number='1'>{}</measure><measure number='3'>{}</measure><measure number='4'>{}</measure>",
        time((4, 4), "500"),
        time((3, 32), "100"),
        time((4, 1), "20"),
        time((19, 8), "nan"),
    ));
    let imported = piece(&outline(&text), "March");
    let told: Vec<_> = imported.omissions.iter().map(ToString::to_string).collect();
    let expected = [
        "1 of its bars have a number that another has already; they got a letter behind it, such as 12a",
        "bar 1: a tempo of 500 a minute is out of bounds; 240 is taken",
        "bar 1a: a meter of 3/32 is not counted here; 4/4 goes on",
        "bar 3: a meter of 4/1 is not counted here; 16/4 is as long",
        "bar 3: a tempo of 20 a minute is out of bounds; 30 is taken",
        "bar 4: a meter of 19/8 is not counted here; 16/4 goes on",
    ];
    assert_eq!(told, expected);
    assert_eq!(imported.piece.title, "March");
}

#[test]
fn what_is_broken_is_told_at_its_place() {
    let cut = MARCH.find("number=\"4\"").unwrap();
    let said = fault(&MARCH.as_bytes()[..cut]);
    assert!(said.starts_with("score.xml:") && said.contains("broken XML") && said.contains("mend: export it again"), "{said}");
    let said = fault(&MARCH.as_bytes()[..MARCH.find("<measure number=\"4\"").unwrap()]);
    assert!(said.contains("the file ends inside <part>"), "{said}");
    for (text, said) in [
        ("", "this is no XML"),
        ("a letter", "this is no XML"),
        ("<html></html>", "score.xml:1:1: this is no MusicXML: it begins with <html>"),
        ("<opus></opus>", "this is an opus"),
        ("<score-partwise>\n  <part id='P'></score-partwise>", "score.xml:2:16: this is broken XML"),
        ("<score-partwise/>", "this score has no bars"),
        (
            "<!DOCTYPE score-partwise [<!ENTITY a \"aaaa\"><!ENTITY b \"&a;&a;\">]><score-partwise><movement-title>&b;</movement-title></score-partwise>",
            "&b; stands for nothing that is known here",
        ),
        ("<score-partwise><part id='&b;'/></score-partwise>", "this tag is broken XML"),
    ] {
        let found = fault(text.as_bytes());
        assert!(found.contains(said) && found.contains("mend: "), "{text}: {found}");
    }
    assert!(fault(b"\xff\xfe\x00").contains("UTF-16"));
    assert!(fault(b"<score-partwise>\n\xff").contains("in line 2, is no part of a character"));
}

#[test]
fn what_is_too_deep_or_too_long_is_refused() {
    assert!(fault("<score-partwise>".repeat(100).as_bytes()).contains("over 64 deep"));
    let many = score(&"<measure number='1'/>".repeat(5_001));
    assert!(fault(many.as_bytes()).contains("over 5000 bars"));
    let parts: String = (0..501).map(|part| format!("<part id='P{part}'/>")).collect();
    assert!(fault(format!("<score-partwise>{parts}</score-partwise>").as_bytes()).contains("over 500 parts"));
    assert!(fault(&vec![b' '; super::LARGEST_FILE as usize + 1]).contains("longer than 32 MiB"));
}

#[test]
fn zip_bombs_and_broken_zips_are_refused() {
    let bomb = vec![b' '; super::LONGEST_TEXT as usize + 1];
    let said = fault(&packed(&[("META-INF/container.xml", LIST), ("a.xml", &bomb)]));
    assert!(said.contains("a.xml in it unpacks to over"), "{said}");
    let said = fault(&packed(&[("META-INF/container.xml", &bomb[..100_000])]));
    assert!(said.contains("META-INF/container.xml in it unpacks to over 64 KiB"), "{said}");
    assert!(fault(&packed(&[("META-INF/container.xml", LIST)])).contains("lists the score a.xml, and does not hold it"));
    assert!(fault(&packed(&[("a.txt", b"a")])).contains("has no META-INF/container.xml"));
    assert!(fault(&PACKED[..PACKED.len() / 2]).contains("compressed score is broken"));
    let many: Vec<String> = (0..2_001).map(|file| file.to_string()).collect();
    let many: Vec<(&str, &[u8])> = many.iter().map(|name| (name.as_str(), &b""[..])).collect();
    assert!(fault(&packed(&many)).contains("holds 2001 files"));
}

/// Reads `bytes`, and makes a piece that is written and read back.
fn survive(bytes: &[u8]) {
    match read("fuzzed", bytes) {
        Ok(outline) => {
            let imported = piece(&outline, "Untitled");
            let text = book::piece::write(&imported.piece, &Default::default(), &Default::default());
            let again = book::read_piece("fuzzed.toml", &text).unwrap_or_else(|faults| panic!("{faults}\n{text}"));
            assert_eq!(again.piece, imported.piece, "{text}");
        }
        Err(faults) => assert!(faults.iter().all(|fault| !fault.message.is_empty() && !fault.mend.is_empty())),
    }
}

const PIECES: [&str; 26] = [
    "<measure number='1'>",
    "<measure number='X1' implicit='yes'>",
    "</measure>",
    "<part id='P1'>",
    "</part>",
    "<score-partwise>",
    "<note><duration>3</duration></note>",
    "<divisions>0.00001</divisions>",
    "<divisions>-3</divisions>",
    "<attributes><divisions>7</divisions></attributes>",
    "<backup><duration>99999999999999</duration></backup>",
    "<forward><duration>1e300</duration></forward>",
    "<sound tempo='1e-300'/>",
    "<sound tempo='200'/>",
    "<attributes><time><beats>5</beats><beat-type>8</beat-type></time></attributes>",
    "<attributes><time><beats>255+255</beats><beat-type>0</beat-type></time></attributes>",
    "<attributes><time><senza-misura/></time></attributes>",
    "<barline location='left'><repeat direction='forward'/></barline>",
    "<barline><repeat direction='backward' times='3'/></barline>",
    "<barline><ending type='start' number='1, 2'/></barline>",
    "<barline location='left'><repeat direction='backward'/></barline>",
    "<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>",
    "<direction><direction-type><rehearsal>x1\u{7}&#10;</rehearsal></direction-type><offset>-9</offset></direction>",
    "&amp;",
    "&lol;",
    "<![CDATA[",
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_survived(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        survive(&bytes);
        survive(&[b"PK\x03\x04", bytes.as_slice()].concat());
    }

    #[test]
    fn any_change_of_a_score_is_survived(
        text in select(&[MARCH, POLKA][..]),
        changes in prop::collection::vec((any::<Index>(), 0..40_usize, select(&PIECES[..])), 1..6),
    ) {
        let mut text = text.to_owned();
        for (at, length, piece) in changes {
            let start = at.index(text.len() + 1);
            let end = (start + length).min(text.len());
            if text.is_char_boundary(start) && text.is_char_boundary(end) {
                text.replace_range(start..end, piece);
            }
        }
        survive(text.as_bytes());
    }

    #[test]
    fn any_measures_are_survived(measures in prop::collection::vec(prop::collection::vec(select(&PIECES[6..23]), 0..8), 1..12), numbers in any::<[u8; 3]>()) {
        let measures: String = measures.iter().enumerate().map(|(place, inside)| {
            let number = numbers[place % 3] % 5;
            format!("<measure number='{number}'>{}</measure>", inside.concat())
        }).collect();
        survive(score(&measures).as_bytes());
    }

    #[test]
    fn any_change_of_a_packed_score_is_survived(changes in prop::collection::vec((any::<Index>(), any::<u8>()), 1..8)) {
        let mut bytes = PACKED.to_vec();
        for (at, byte) in changes {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        survive(&bytes);
    }
}
