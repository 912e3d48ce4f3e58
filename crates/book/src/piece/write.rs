//! A piece as its file.

use sequencer::climb::RecheckStep;
use sequencer::{ClimbSettings, Pass, Piece, PieceBar, RecheckSettings};
use std::fmt::Display;
use std::ops::Range;
use units::{Beats, Tempo};

use super::page::Running;
use crate::form::LARGEST_BAR;

/// The file that says `piece`, with how it climbs and is rechecked where that is not as usual: [`super::read_piece`] reads the same back, if the
/// piece is as it gives pieces.
#[must_use]
pub fn write(piece: &Piece, climb: &ClimbSettings, recheck: &RecheckSettings) -> String {
    let mut file = File { text: String::from("version = 1\n") };
    let pickup = pickup(piece);
    top(&mut file, piece, pickup);
    numbers(&mut file, piece, pickup);
    changes(&mut file, piece);
    for bar in piece.bars.iter().skip(usize::from(pickup)).filter(|bar| bar.length < bar.meter.bar()) {
        file.table("[[incomplete]]");
        file.line("bar", bar_name(bar));
        file.line("beats", beats(bar.length));
        if bar.opens_at > Beats::ZERO {
            file.line("begins", beats(bar.opens_at));
        }
    }
    for mark in &piece.marks {
        file.table("[[mark]]");
        file.line("name", quoted(&mark.name));
        file.line("bar", at(piece, mark.bar));
    }
    for repeat in &piece.repeats {
        file.table("[[repeat]]");
        file.stretch(piece, &repeat.bars);
        if repeat.times != 2 {
            file.line("times", repeat.times);
        }
        if let Some(ending) = &repeat.first_ending {
            file.line("first_ending", at(piece, ending.start));
        }
    }
    for passage in &piece.passages {
        file.table("[[passage]]");
        file.line("name", quoted(&passage.name));
        file.stretch(piece, &passage.bars);
    }
    climbing(&mut file, climb);
    rechecking(&mut file, recheck);
    file.text
}

/// The text so far.
struct File {
    text: String,
}

impl File {
    fn table(&mut self, heading: &str) {
        self.text += &format!("\n{heading}\n");
    }

    fn line(&mut self, key: &str, value: impl Display) {
        self.text += &format!("{key} = {value}\n");
    }

    /// The line, unless it says what counts anyway.
    fn unusual<T: PartialEq>(&mut self, key: &str, value: &T, usual: &T, written: impl Fn(&T) -> String) {
        if value != usual {
            self.line(key, written(value));
        }
    }

    fn stretch(&mut self, piece: &Piece, bars: &Range<usize>) {
        self.line("from", at(piece, bars.start));
        self.line("to", at(piece, bars.end.saturating_sub(1)));
    }
}

/// Whether the page begins with a pick-up as the file's own key has it.
fn pickup(piece: &Piece) -> bool {
    let short = |bar: &PieceBar| bar.opens_at > Beats::ZERO && bar.length > Beats::ZERO && bar.opens_at + bar.length == bar.meter.bar();
    piece.bars.len() > 1 && piece.bars.first().is_some_and(|bar| bar.number == "0" && short(bar))
}

fn top(file: &mut File, piece: &Piece, pickup: bool) {
    file.line("title", quoted(&piece.title));
    if let Some(first) = piece.bars.first() {
        file.line("tempo", first.tempo.unwrap_or(Tempo::SLOWEST));
        file.line("meter", quoted(&first.meter.to_string()));
        file.line("bars", piece.bars.len() - usize::from(pickup));
        if pickup {
            file.line("pickup", beats(first.length));
        }
    }
    if let Some(bar) = piece.bars.get(usize::from(pickup)).filter(|bar| bar.number != "1") {
        file.line("number", bar_name(bar));
    }
}

fn numbers(file: &mut File, piece: &Piece, pickup: bool) {
    let mut running = Running::default();
    for (place, bar) in piece.bars.iter().enumerate() {
        let before = place.checked_sub(1).filter(|before| *before >= usize::from(pickup)).and_then(|before| piece.bars.get(before));
        if let Some(before) = before.filter(|_| running.next() != bar.number) {
            file.table("[[numbered]]");
            file.line("after", bar_name(before));
            file.line("number", bar_name(bar));
        }
        running.pass(&bar.number);
    }
}

fn changes(file: &mut File, piece: &Piece) {
    let Some(first) = piece.bars.first() else { return };
    let (mut meter, mut tempo) = (first.meter, first.tempo.unwrap_or(Tempo::SLOWEST));
    for bar in piece.bars.iter().skip(1) {
        let goes_on = bar.meter.keeping_speed(meter, tempo).ok();
        tempo = bar.tempo.unwrap_or(tempo);
        let stated = goes_on != Some(tempo);
        if bar.meter != meter || stated {
            file.table("[[change]]");
            file.line("bar", bar_name(bar));
            if bar.meter != meter {
                file.line("meter", quoted(&bar.meter.to_string()));
            }
            if stated {
                file.line("tempo", tempo);
            }
        }
        meter = bar.meter;
    }
}

fn climbing(file: &mut File, climb: &ClimbSettings) {
    let usual = ClimbSettings::default();
    if *climb == usual {
        return;
    }
    file.table("[climb]");
    if let Some(start) = climb.start {
        file.line("start", start);
    }
    file.unusual("floor", &climb.floor, &usual.floor, Tempo::to_string);
    file.unusual("step", &climb.steps, &usual.steps, |steps| quoted(&steps.to_string()));
    file.unusual("first", &climb.first_stage, &usual.first_stage, |passes| list(passes.iter().map(|pass| Pass::word(*pass))));
    file.unusual("later", &climb.later_stages, &usual.later_stages, |passes| list(passes.iter().map(|pass| Pass::word(*pass))));
    file.unusual("repeats", &climb.repeats, &usual.repeats, u16::to_string);
    file.unusual("count_off", &climb.count_off, &usual.count_off, u16::to_string);
    if let Some(division) = climb.subdivide {
        file.line("subdivide", division.parts());
    }
    file.unusual("click", &climb.click, &usual.click, |click| quoted(&click.to_string()));
    file.unusual("rest", &climb.rest, &usual.rest, u16::to_string);
    file.unusual("passes", &climb.passes, &usual.passes, |way| quoted(way.word()));
    file.unusual("stages", &climb.stages, &usual.stages, |way| quoted(way.word()));
}

fn rechecking(file: &mut File, recheck: &RecheckSettings) {
    let usual = RecheckSettings::default();
    if *recheck == usual {
        return;
    }
    file.table("[recheck]");
    file.unusual("steps", &recheck.steps, &usual.steps, |steps| list(steps.iter().map(RecheckStep::to_string)));
    file.unusual("count_off", &recheck.count_off, &usual.count_off, u16::to_string);
    file.unusual("click", &recheck.click, &usual.click, |click| quoted(&click.to_string()));
    file.unusual("rest", &recheck.rest, &usual.rest, u16::to_string);
    file.unusual("passes", &recheck.passes, &usual.passes, |way| quoted(way.word()));
}

fn at(piece: &Piece, place: usize) -> String {
    piece.bars.get(place).map(bar_name).unwrap_or_default()
}

/// A whole number as one, so that no mark is meant; all else in quotes.
fn bar_name(bar: &PieceBar) -> String {
    let whole = bar.number.parse::<u16>().ok().filter(|number| i64::from(*number) <= LARGEST_BAR.0);
    whole.map_or_else(|| quoted(&bar.number), |number| number.to_string())
}

/// Whole and decimal lengths as numbers, thirds and the like in quotes.
fn beats(length: Beats) -> String {
    if length.denominator() == 1 { length.to_string() } else { quoted(&length.to_string()) }
}

fn list<S: AsRef<str>>(words: impl Iterator<Item = S>) -> String {
    format!("[{}]", words.map(|word| quoted(word.as_ref())).collect::<Vec<_>>().join(", "))
}

fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}
