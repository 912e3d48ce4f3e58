//! Pieces: what a file says, and that what is written is read back.

use book::{PieceFile, demo, piece, read_piece};
use proptest::collection::{btree_set, vec};
use proptest::prelude::*;
use proptest::sample::select;
use sequencer::climb::{RecheckStep, StepRange};
use sequencer::piece::{Mark, Repeat};
use sequencer::{Advance, ClimbSettings, Division, Meter, Pass, Passage, Piece, PieceBar, RecheckSettings};
use units::{Beats, Tempo};

/// Every key a piece knows.
pub(super) const EVERYTHING: &str = r#"version = 1
title = "Reed Polka"
tempo = 96.5
meter = "6/8"
bars = 20
pickup = "1/3"
number = 5
[[numbered]]
after = 12
number = "12a"
[[numbered]]
after = 13
number = 20
[[change]]
bar = 9
meter = "3+2/8"
tempo = 200
[[change]]
bar = "Coda"
tempo = 180
[[change]]
bar = 22
meter = "2/4"
[[incomplete]]
bar = "12a"
beats = 2
begins = 3
[[mark]]
name = "Coda"
bar = 20
[[mark]]
name = "9"
bar = 7
[[repeat]]
from = 5
to = 8
times = 3
first_ending = 8
[[passage]]
name = "coda"
from = "coda"
to = 22
[[passage]]
name = "opening"
bars = 4
[[passage]]
name = "to the mark"
to = "9"
[[passage]]
name = "to the bar"
from = "12a"
to = 20
[climb]
start = 60
floor = 66
step = "10..20"
first = ["clap", "play"]
later = ["play"]
repeats = 2
count_off = 2
subdivide = 3
click = "every:4 silent:2"
rest = 3
passes = "on go"
stages = "by itself"
[recheck]
steps = ["half air", "full percussion"]
count_off = 3
click = "downbeat"
rest = 0
passes = "on go"
"#;

fn read(text: &str) -> PieceFile {
    read_piece("piece.toml", text).unwrap_or_else(|faults| panic!("{faults}\n{text}"))
}

fn tempo(bpm: f64) -> Option<Tempo> {
    Some(Tempo::new(bpm).unwrap())
}

/// That what is written of a piece that was read is read as the same.
pub(super) fn reads_back(file: &PieceFile) {
    let text = piece::write(&file.piece, &file.climb, &file.recheck);
    let again = read(&text);
    assert_eq!((&again.piece, &again.climb, &again.recheck), (&file.piece, &file.climb, &file.recheck), "{text}");
}

#[test]
fn everything_a_file_says_is_in_the_piece() {
    let file = read(EVERYTHING);
    let piece = &file.piece;
    let numbers: Vec<_> = piece.bars.iter().map(|bar| bar.number.as_str()).collect();
    assert_eq!(numbers[..10], ["0", "5", "6", "7", "8", "9", "10", "11", "12", "12a"]);
    assert_eq!((numbers[10..13].to_vec(), numbers.len(), numbers[20]), (vec!["13", "20", "21"], 21, "29"));
    assert_eq!((piece.bars[0].opens_at, piece.bars[0].length), (Beats::new(5, 3), Beats::new(1, 3)));
    assert_eq!((piece.bars[9].opens_at, piece.bars[9].length), (Beats::whole(3), Beats::whole(2)));
    let tempi: Vec<_> = piece.bars.iter().enumerate().filter_map(|(place, bar)| Some((place, bar.tempo?.bpm()))).collect();
    // from 3+2/8 into 2/4 an eighth keeps its speed: 180 eighths are 90 quarters
    assert_eq!(tempi, [(0, 96.5), (5, 200.0), (11, 180.0), (13, 90.0)]);
    let meters = [4, 5, 12, 13].map(|place| piece.bars[place].meter.to_string());
    assert_eq!(meters, ["6/8", "3+2/8", "3+2/8", "2/4"]);
    assert_eq!(piece.marks, [Mark { name: "9".to_owned(), bar: 3 }, Mark { name: "Coda".to_owned(), bar: 11 }]);
    assert_eq!(piece.repeats, [Repeat { bars: 1..5, times: 3, first_ending: Some(4..5) }]);
    let passages: Vec<_> = piece.passages.iter().map(|passage| (passage.name.as_str(), passage.bars.clone())).collect();
    // a text names a mark before a bar
    assert_eq!(passages, [("coda", 11..14), ("opening", 1..5), ("to the mark", 1..4), ("to the bar", 9..12)]);
    let climb = ClimbSettings {
        start: tempo(60.0),
        floor: Tempo::new(66.0).unwrap(),
        steps: StepRange::new(10, 20).unwrap(),
        first_stage: vec![Pass::Clap, Pass::Play],
        later_stages: vec![Pass::Play],
        repeats: 2,
        count_off: 2,
        subdivide: Division::into(3),
        click: "every:4 silent:2".parse().unwrap(),
        rest: 3,
        passes: Advance::OnGo,
        stages: Advance::ByItself,
    };
    assert_eq!(file.climb, climb);
    let steps = vec![RecheckStep { pass: Pass::Air, half: true }, RecheckStep { pass: Pass::Percussion, half: false }];
    assert_eq!(file.recheck, RecheckSettings { steps, count_off: 3, click: "downbeat".parse().unwrap(), rest: 0, passes: Advance::OnGo });
    reads_back(&file);
}

#[test]
fn a_page_is_as_long_as_anything_reaches() {
    let bars = |rest: &str| read(&format!("version = 1\ntitle = \"x\"\ntempo = 90\n{rest}")).piece.bars.len();
    assert_eq!(bars("[[passage]]\nname = \"a\"\nbars = 16\n"), 16);
    assert_eq!(bars("pickup = 1\n[[passage]]\nname = \"a\"\nbars = 16\n"), 17);
    assert_eq!(bars("[[passage]]\nname = \"a\"\nfrom = \"B\"\nbars = 8\n[[mark]]\nname = \"B\"\nbar = 9\n"), 16);
    assert_eq!(bars("number = 41\n[[mark]]\nname = \"B\"\nbar = 50\n"), 10);
    assert_eq!(bars("[[numbered]]\nafter = 4\nnumber = \"4a\"\n"), 5);
}

#[test]
fn the_demo_piece_has_its_pick_up_meters_and_passages() {
    let file = demo::piece();
    let piece = &file.piece;
    assert_eq!((piece.bars.len(), piece.bars[0].length, piece.bars[0].opens_at), (50, Beats::whole(1), Beats::whole(3)));
    let trio = piece.find("Trio").unwrap();
    assert_eq!((piece.bars[trio].number.as_str(), piece.bars[trio].meter.to_string()), ("38", "6/8".to_owned()));
    assert_eq!((piece.tempo_at(trio - 1).bpm(), piece.tempo_at(trio).bpm()), (152.0, 112.0));
    assert_eq!(piece.passage("second strain").unwrap().bars, 21..37);
    assert_eq!(piece.played(&(0..piece.bars.len())).len(), 50 + 15);
    reads_back(&file);
}

fn name() -> impl Strategy<Value = String> {
    prop_oneof!["[A-Z]", "[A-Za-z0-9 \"\\\\'#é]{1,20}", "[0-9]{1,3}"]
        .prop_map(|name| name.trim().to_owned())
        .prop_filter("a name", |name| !name.is_empty())
}

/// Names of which no two are alike.
fn names(most: usize) -> impl Strategy<Value = Vec<String>> {
    vec(name(), 0..most).prop_map(|names| {
        let mut seen = std::collections::HashSet::new();
        names.into_iter().filter(|name| seen.insert(name.to_lowercase())).collect()
    })
}

const METERS: [&str; 12] = ["4/4", "2/2", "3/4", "6/8", "6/8 in 6", "5/8", "3+2/8", "12/8", "9/16", "3/4 in 1", "2+2+3/8", "16/4"];

fn meter() -> impl Strategy<Value = Meter> {
    select(&METERS[..]).prop_map(|meter| meter.parse().unwrap())
}

fn any_tempo() -> impl Strategy<Value = Tempo> {
    prop_oneof![30_000..=240_000_u32, (30..=240_u32).prop_map(|bpm| bpm * 1000)]
        .prop_map(|bpm| Tempo::new(f64::from(bpm) / 1000.0).unwrap())
}

fn length(bar: Beats, sixths: (i64, i64)) -> (Beats, Beats) {
    let all = (bar * 6).floor();
    let begins = sixths.0 % all;
    let length = 1 + sixths.1 % (all - begins);
    (Beats::new(begins, 6), Beats::new(length, 6))
}

/// How the number of a bar comes to be: one more than the last, a jump, a letter behind the last, or a name of its own.
#[derive(Clone, Copy, Debug)]
enum Numbered {
    Running,
    Jump(u32),
    Lettered,
    Named,
}

fn numbered() -> impl Strategy<Value = Numbered> {
    prop_oneof![
        20 => Just(Numbered::Running),
        1 => (2..40_u32).prop_map(Numbered::Jump),
        1 => Just(Numbered::Lettered),
        1 => Just(Numbered::Named),
    ]
}

type Drawn = (Numbered, Option<Meter>, Option<Tempo>, Option<(i64, i64)>);

fn drawn_bar() -> impl Strategy<Value = Drawn> {
    let rarely = |chance| prop::bool::weighted(chance);
    (numbered(), (rarely(0.1), meter()), (rarely(0.1), any_tempo()), (rarely(0.1), (0..200_i64, 0..200_i64))).prop_map(
        |(number, (meters, meter), (tempi, tempo), (shorts, short))| {
            (number, meters.then_some(meter), tempi.then_some(tempo), shorts.then_some(short))
        },
    )
}

/// The bars as a reader gives them: numbers all different, a tempo only where it changes.
fn page(first: u32, pickup: bool, drawn: Vec<Drawn>) -> Vec<PieceBar> {
    let (mut last, mut meter, mut tempo) = (first, Meter::COMMON, None);
    let mut bars: Vec<PieceBar> = Vec::new();
    for (place, (numbered, new_meter, new_tempo, short)) in drawn.into_iter().enumerate() {
        meter = new_meter.unwrap_or(meter);
        let number = match numbered {
            _ if place == 0 && pickup => "0".to_owned(),
            _ if bars.iter().all(|bar| bar.number == "0") => first.to_string(),
            Numbered::Lettered => format!("{last}a"),
            Numbered::Named => format!("X{place}"),
            Numbered::Jump(by) => {
                last += by;
                last.to_string()
            }
            Numbered::Running => {
                last += 1;
                last.to_string()
            }
        };
        let number = if bars.iter().any(|bar| bar.number == number) { format!("Y{place}") } else { number };
        let mut bar = PieceBar::whole(number, meter);
        if let Some(sixths) = short {
            (bar.opens_at, bar.length) = length(meter.bar(), sixths);
        }
        if place == 0 || new_tempo.is_some_and(|new| Some(new) != tempo) {
            tempo = new_tempo.or(Some(Tempo::SLOWEST));
            bar.tempo = tempo;
        }
        bars.push(bar);
    }
    bars
}

fn any_piece() -> impl Strategy<Value = Piece> {
    let places = btree_set(0..400_usize, 0..8);
    (name(), 1..200_u32, any::<bool>(), vec(drawn_bar(), 1..60), places, names(5), names(4)).prop_map(
        |(title, first, pickup, drawn, places, mut marks, passages)| {
            let bars = page(first, pickup, drawn);
            let within = |place: usize| place % bars.len();
            marks.retain(|mark| mark.parse::<u32>().is_ok() || !bars.iter().any(|bar| bar.number.eq_ignore_ascii_case(mark)));
            let mut marks: Vec<_> = marks.into_iter().zip(&places).map(|(name, place)| Mark { name, bar: within(*place) }).collect();
            marks.sort_by_key(|mark| mark.bar);
            let edges: Vec<_> = places.iter().map(|place| within(*place)).collect::<std::collections::BTreeSet<_>>().into_iter().collect();
            let repeats = edges
                .chunks_exact(2)
                .enumerate()
                .map(|(index, edge)| Repeat {
                    bars: edge[0]..edge[1] + 1,
                    times: 2 + index as u8,
                    first_ending: (index % 2 == 0).then_some(edge[1]..edge[1] + 1),
                })
                .collect();
            let passages = passages
                .into_iter()
                .enumerate()
                .map(|(index, name)| {
                    let from = edges.get(index).copied().unwrap_or(0);
                    Passage { name, bars: from..bars.len().min(from + 1 + index * 7) }
                })
                .collect();
            Piece { title, bars, marks, repeats, passages }
        },
    )
}

fn any_climb() -> impl Strategy<Value = ClimbSettings> {
    let passes = || vec(select(&Pass::ALL[..]), 1..5);
    let click = select(&["every", "silent", "every:4 half:4 downbeat:4 silent:16"][..]);
    let way = || select(&Advance::ALL[..]);
    (any::<bool>(), (1..30_u16, 0..30_u16), passes(), passes(), (1..9_u16, 1..9_u16, 1..17_u16), click, way(), way()).prop_map(
        |(start, (least, more), first_stage, later_stages, (repeats, count_off, rest), click, passes, stages)| ClimbSettings {
            start: start.then_some(Tempo::SLOWEST),
            floor: if start { Tempo::SLOWEST } else { ClimbSettings::default().floor },
            steps: StepRange::new(least, least + more).unwrap(),
            first_stage,
            later_stages,
            repeats,
            count_off,
            subdivide: start.then_some(Division::Three),
            click: click.parse().unwrap(),
            rest,
            passes,
            stages,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_written_piece_is_read_as_it_was(piece in any_piece(), climb in any_climb(), halves in vec(any::<bool>(), 1..6)) {
        let steps = halves.into_iter().zip(Pass::ALL.into_iter().cycle()).map(|(half, pass)| RecheckStep { pass, half }).collect();
        let recheck = RecheckSettings { steps, count_off: climb.count_off, click: climb.click.clone(), rest: climb.rest - 1, passes: climb.stages };
        let text = piece::write(&piece, &climb, &recheck);
        match read_piece("written.toml", &text) {
            Ok(file) => prop_assert_eq!((file.piece, file.climb, file.recheck), (piece, climb, recheck), "{}", text),
            Err(faults) => prop_assert!(false, "{faults}\n{text}"),
        }
    }
}
