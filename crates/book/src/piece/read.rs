//! From a document to a piece.

use sequencer::piece::{Mark, Repeat};
use sequencer::{ClimbSettings, Division, Meter, Passage, Piece, PieceBar, RecheckSettings};
use std::collections::{BTreeMap, HashMap};
use std::ops::Range;
use units::{Beats, Tempo};

use super::page::{self, Page};
use crate::climb::{ClimbKeys, RecheckKeys};
use crate::view::{Bar, View};
use crate::walk::Walker;

/// From where on it goes otherwise.
struct Change {
    meter: Option<Meter>,
    tempo: Option<Tempo>,
    span: Range<usize>,
}

/// A bar shorter than its meter.
struct Incomplete {
    begins: Beats,
    length: Beats,
    begins_at: Range<usize>,
    length_at: Range<usize>,
}

/// What is sound of a piece; stand-ins take the place of what is not.
pub(super) fn piece(walker: &mut Walker<'_>, file: View<'_>) -> (Piece, ClimbSettings, RecheckSettings) {
    let tempo = file.number("tempo").and_then(|bpm| Tempo::new(bpm).ok());
    let meter = if file.has("meter") { file.parsed(walker, "meter") } else { Some(Meter::COMMON) };
    let pickup = file.beats(walker, "pickup");
    let mut page = page(walker, file, pickup.is_some());
    let marks = marks(walker, file, &mut page);
    let mut incomplete = incomplete(walker, file, &mut page);
    let changes = changes(walker, file, &mut page);
    let repeats = repeats(walker, file, &mut page);
    let passages = passages(walker, file, &mut page, pickup.is_some());
    page.unused(walker);
    if !page.has_length() && walker.is_sound() {
        let span = file.span("title").unwrap_or(0..0);
        walker.fault(span, "nothing says how many bars the piece has", "add bars = 48, or a [[passage]]");
    }
    if let (Some(meter), Some(beats), Some(span)) = (meter, pickup, file.span("pickup")) {
        if beats >= meter.bar() {
            let mend = format!("write fewer than {}", meter.bar());
            walker.fault(span, format!("a pick-up of {beats} beats is a whole bar of {meter} or more"), mend);
        } else if let Some(twice) = incomplete.remove(&0) {
            walker.fault(twice.length_at, "the pick-up has its length at the top", "take this one away");
        } else {
            let begins = meter.bar() - beats;
            incomplete.insert(0, Incomplete { begins, length: beats, begins_at: span.clone(), length_at: span });
        }
    }
    let start = tempo.zip(meter).unwrap_or((Tempo::SLOWEST, Meter::COMMON));
    let changes = if tempo.is_some() && meter.is_some() { changes } else { BTreeMap::new() };
    let bars = bars(walker, page.into_numbers(), start, &changes, &incomplete);
    let piece = Piece { title: file.text("title").map_or("", |title| title.value.trim()).to_owned(), bars, marks, repeats, passages };
    let (climb, recheck) = settings(walker, file, &piece, tempo.is_some() && meter.is_some());
    (piece, climb, recheck)
}

fn page(walker: &mut Walker<'_>, file: View<'_>, pickup: bool) -> Page {
    let first = file.bar("number");
    let mut number = first.as_ref().map_or_else(|| "1".to_owned(), |first| page::number(&first.name));
    if pickup && number == "0" {
        let span = first.map_or(0..0, |first| first.span);
        walker.fault(span, "the pick-up is bar 0 already", "write number = 1, or take the pick-up away");
        number = "1".to_owned();
    }
    let mut page = Page::new(number, pickup, file.whole("bars"));
    for (jump, _) in file.tables("numbered") {
        if let (Some(after), Some(to)) = (jump.bar("after"), jump.bar("number")) {
            page.jump(walker, &after, &to);
        }
    }
    page.fill(walker);
    page
}

fn incomplete(walker: &mut Walker<'_>, file: View<'_>, page: &mut Page) -> BTreeMap<usize, Incomplete> {
    let mut all = BTreeMap::new();
    for (table, span) in file.tables("incomplete") {
        let length = table.beats(walker, "beats");
        let begins = if table.has("begins") { table.beats(walker, "begins") } else { Some(Beats::ZERO) };
        let Some(bar) = table.bar("bar") else { continue };
        let (Some(place), Some(length), Some(begins)) = (page.find(walker, &bar), length, begins) else { continue };
        let at = |key| table.span(key).unwrap_or(span.clone());
        let this = Incomplete { begins, length, begins_at: at("begins"), length_at: at("beats") };
        if all.insert(place, this).is_some() {
            walker.fault(bar.span, "this bar has its length already", "keep one of the two");
        }
    }
    all
}

fn marks(walker: &mut Walker<'_>, file: View<'_>, page: &mut Page) -> Vec<Mark> {
    let mut marks = Vec::new();
    for (table, _) in file.tables("mark") {
        let (Some(name), Some(bar)) = (table.text("name"), table.bar("bar")) else { continue };
        let Some(place) = page.numbered(walker, &bar) else { continue };
        let mark = name.value.trim();
        if page.has_text(mark) {
            walker.fault(name.inside(), format!("a bar is numbered {mark}"), "give the mark another name");
        } else if let Some(earlier) = page.mark(mark, place) {
            walker.fault(name.inside(), format!("another mark is called \"{earlier}\" already"), "give each its own name");
        }
        marks.push(Mark { name: mark.to_owned(), bar: place });
    }
    marks.sort_by_key(|mark| mark.bar);
    marks
}

fn changes(walker: &mut Walker<'_>, file: View<'_>, page: &mut Page) -> BTreeMap<usize, Change> {
    let mut changes = BTreeMap::new();
    for (table, span) in file.tables("change") {
        let meter = table.parsed(walker, "meter");
        let tempo = table.number("tempo").and_then(|bpm| Tempo::new(bpm).ok());
        let Some(bar) = table.bar("bar") else { continue };
        if !table.has("meter") && !table.has("tempo") {
            walker.fault(span.clone(), "nothing changes here", "add meter = \"6/8\" or tempo = 96");
        }
        let Some(place) = page.find(walker, &bar) else { continue };
        if place == 0 {
            walker.fault(bar.span, "the page begins with this bar", "write its meter and tempo at the top of the file");
        } else if changes.insert(place, Change { meter, tempo, span }).is_some() {
            walker.fault(bar.span, "something changes at this bar already", "write both into one [[change]]");
        }
    }
    changes
}

/// The bars from one to another, the last included.
fn stretch(walker: &mut Walker<'_>, page: &mut Page, from: &Bar, to: &Bar) -> Option<Range<usize>> {
    let (first, last) = (page.find(walker, from), page.find(walker, to));
    let (first, last) = (first?, last?);
    if last < first {
        walker.fault(to.span.clone(), "this bar comes before the first", "write the first bar under from and the last under to");
        return None;
    }
    Some(first..last + 1)
}

fn repeats(walker: &mut Walker<'_>, file: View<'_>, page: &mut Page) -> Vec<Repeat> {
    let mut repeats: Vec<Repeat> = Vec::new();
    for (table, _) in file.tables("repeat") {
        let (Some(from), Some(to)) = (table.bar("from"), table.bar("to")) else { continue };
        let Some(bars) = stretch(walker, page, &from, &to) else { continue };
        let ending = table.bar("first_ending").and_then(|ending| Some((page.find(walker, &ending)?, ending.span)));
        if let Some((_, span)) = ending.clone().filter(|(ending, _)| *ending <= bars.start || *ending >= bars.end) {
            walker.fault(span, "the first ending is no part of the repeat's end", "write a bar behind the first and up to the last");
        }
        if repeats.iter().any(|other| other.bars.start < bars.end && bars.start < other.bars.end) {
            walker.fault(from.span, "this repeat lies in another", "repeat each bar once only");
        }
        let first_ending = ending.map(|(ending, _)| ending..bars.end);
        repeats.push(Repeat { bars, times: table.whole("times").unwrap_or(2), first_ending });
    }
    repeats.sort_by_key(|repeat| repeat.bars.start);
    repeats
}

fn passages(walker: &mut Walker<'_>, file: View<'_>, page: &mut Page, pickup: bool) -> Vec<Passage> {
    let mut passages = Vec::new();
    let mut names: HashMap<String, String> = HashMap::new();
    for (table, _) in file.tables("passage") {
        let Some(name) = table.text("name") else { continue };
        if let Some(earlier) = names.insert(name.value.trim().to_lowercase(), name.value.trim().to_owned()) {
            walker.fault(name.inside(), format!("another passage is called \"{earlier}\" already"), "give each its own name");
        }
        let bars = match (table.bar("from"), table.bar("to"), table.whole::<usize>("bars")) {
            (Some(from), Some(to), _) => stretch(walker, page, &from, &to),
            (None, Some(to), _) => page.find(walker, &to).map(|last| usize::from(pickup).min(last)..last + 1),
            (from, None, Some(bars)) => {
                let first = match &from {
                    Some(from) => page.find(walker, from),
                    None => Some(usize::from(pickup)),
                };
                let range = first.map(|first| first..first + bars);
                if let (Some(range), Some(span)) = (&range, table.span("bars"))
                    && !page.reaches(walker, range.end)
                {
                    let message = format!("{bars} bars lead past bar {}, the last of the page", page.last());
                    walker.fault(span, message, format!("write bars = {} at most, or more bars at the top", page.left(range.start)));
                }
                range
            }
            (_, None, None) => None,
        };
        if let Some(bars) = bars {
            passages.push(Passage { name: name.value.trim().to_owned(), bars });
        }
    }
    passages
}

/// The bars, each with its meter, its length and where its tempo changes.
fn bars(
    walker: &mut Walker<'_>,
    numbers: Vec<String>,
    (mut tempo, mut meter): (Tempo, Meter),
    changes: &BTreeMap<usize, Change>,
    incomplete: &BTreeMap<usize, Incomplete>,
) -> Vec<PieceBar> {
    let mut bars = Vec::with_capacity(numbers.len());
    for (place, number) in numbers.into_iter().enumerate() {
        let before = tempo;
        if let Some(change) = changes.get(&place) {
            let new = change.meter.unwrap_or(meter);
            match (change.tempo, new.keeping_speed(meter, tempo)) {
                (Some(stated), _) => tempo = stated,
                (None, Ok(kept)) => tempo = kept,
                (None, Err(error)) => {
                    let message = format!("in {new}, at the same speed, the beat would go out of bounds: {error}");
                    let (message, _) = message.split_once(';').unwrap_or((&message, ""));
                    walker.fault(change.span.clone(), message, "add the tempo from here on, such as tempo = 96");
                }
            }
            meter = new;
        }
        let mut bar = PieceBar::whole(number, meter);
        bar.tempo = (place == 0 || tempo != before).then_some(tempo);
        if let Some(short) = incomplete.get(&place) {
            if short.begins >= meter.bar() {
                walker.fault(short.begins_at.clone(), format!("a bar of {meter} has only {} beats", meter.bar()), "write fewer beats");
            } else if short.begins + short.length > meter.bar() {
                let left = meter.bar() - short.begins;
                walker.fault(
                    short.length_at.clone(),
                    format!("a bar of {meter} has no more than {left} beats from there"),
                    format!("write {left} or fewer"),
                );
            } else {
                (bar.opens_at, bar.length) = (short.begins, short.length);
            }
        }
        bars.push(bar);
    }
    bars
}

fn settings(walker: &mut Walker<'_>, file: View<'_>, piece: &Piece, whole: bool) -> (ClimbSettings, RecheckSettings) {
    let mut climb = ClimbKeys::default();
    if let Some(table) = file.table("climb") {
        climb = ClimbKeys::read(walker, table);
        let goals: Vec<_> = piece.bars.iter().filter_map(|bar| bar.tempo).collect();
        if whole {
            let openings: Vec<_> = match piece.passages.as_slice() {
                [] => vec![piece.tempo_at(0)],
                passages => passages.iter().map(|passage| piece.tempo_at(passage.bars.start)).collect(),
            };
            climb.check(walker, table, &openings, &goals);
            if let (Some(division), Some(span)) = (climb.subdivide, table.span("subdivide")) {
                check_division(walker, division, piece, span);
            }
        }
    }
    let recheck = file.table("recheck").map_or_else(RecheckKeys::default, |table| RecheckKeys::read(walker, table));
    (climb.over(ClimbSettings::default()), recheck.over(RecheckSettings::default()))
}

/// At least somewhere on the page the beats must divide as the climb divides them.
pub(crate) fn check_division(walker: &mut Walker<'_>, division: Division, piece: &Piece, span: Range<usize>) {
    let Some(first) = piece.bars.first().map(|bar| bar.meter) else { return };
    if !piece.bars.iter().any(|bar| division.fits(bar.meter)) {
        let instead = if first.divides_into() == 3 { "3 or 6" } else { "2, 3 or 4" };
        let message = format!("a beat of {first} is not counted in {} parts", division.parts());
        walker.fault(span, message, format!("write subdivide = {instead}"));
    }
}
