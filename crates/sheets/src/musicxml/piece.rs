//! The piece a score's outline makes, and what of the score it leaves out.

use sequencer::piece::{Mark, Repeat};
use sequencer::{Meter, Piece, PieceBar};
use std::collections::HashSet;
use std::fmt;
use units::Tempo;

use super::{Bar, Outline, Written, lengths};

/// The tempo of a score that writes none: common practice for playback, no source.
const UNWRITTEN: f64 = 120.0;
/// The most characters of a title, a mark and a bar's number, as piece files have them.
const LONGEST: (usize, usize, usize) = (80, 40, 12);

/// A piece, and what is not in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Imported {
    /// The piece.
    pub piece: Piece,
    /// What the score says that the piece does not, in the order of the page.
    pub omissions: Vec<Omission>,
}

/// Something a score says that its piece does not, or says otherwise.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Omission {
    /// The number of the bar; nothing if it is about the whole score.
    pub bar: Option<String>,
    /// In a sentence.
    pub text: String,
}

impl fmt::Display for Omission {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.bar {
            Some(bar) => write!(f, "bar {bar}: {}", self.text),
            None => f.write_str(&self.text),
        }
    }
}

/// The piece of `outline`; `title` where the score has none.
#[must_use]
pub fn piece(outline: &Outline, title: &str) -> Imported {
    let mut omissions = Vec::new();
    let numbers = numbers(&outline.bars, &mut omissions);
    let mut told = |bar: usize, text: String| omissions.push(Omission { bar: numbers.get(bar).cloned(), text });
    let meters = meters(&outline.bars, &mut told);
    let mut bars: Vec<_> = numbers.iter().cloned().zip(meters).map(|(number, meter)| PieceBar::whole(number, meter)).collect();
    lengths::lay(&mut bars, &outline.bars);
    tempi(&mut bars, &outline.bars, &mut told);
    let marks = marks(&bars, &outline.bars);
    let repeats = repeats(&bars, &outline.bars, &mut told);
    for (place, bar) in outline.bars.iter().enumerate() {
        for leap in &bar.leaps {
            told(place, format!("{leap} is left out"));
        }
    }
    let place = |omission: &Omission| omission.bar.as_ref().and_then(|bar| numbers.iter().position(|number| number == bar));
    let mut placed: Vec<_> = omissions.into_iter().map(|omission| (place(&omission), omission)).collect();
    placed.sort_by_key(|(place, _)| *place);
    let omissions = placed.into_iter().map(|(_, omission)| omission).collect();
    let title = clean(outline.title.as_deref().unwrap_or_default(), LONGEST.0).unwrap_or_else(|| title.to_owned());
    Imported { piece: Piece { title, bars, marks, repeats, passages: Vec::new() }, omissions }
}

/// A text as files take it: on one line, no longer than `most` characters; nothing if nothing is left.
fn clean(text: &str, most: usize) -> Option<String> {
    let text: String = text.split_whitespace().collect::<Vec<_>>().join(" ").chars().filter(|sign| !sign.is_control()).take(most).collect();
    Some(text.trim().to_owned()).filter(|text| !text.is_empty())
}

/// `name`, or `name` with what makes it unlike all in `taken`.
fn unlike(name: &str, taken: impl Fn(&str) -> bool, endings: impl Iterator<Item = String>) -> String {
    let mut names = std::iter::once(name.to_owned()).chain(endings.map(|ending| format!("{name}{ending}")));
    names.find(|name| !taken(name)).unwrap_or_else(|| name.to_owned())
}

/// The bars' numbers as they are written, a letter behind those that come twice.
fn numbers(bars: &[Bar], omissions: &mut Vec<Omission>) -> Vec<String> {
    let mut taken: HashSet<String> = HashSet::new();
    let mut endings: std::collections::HashMap<String, u32> = std::collections::HashMap::new();
    let mut twice = 0;
    let mut numbers = Vec::with_capacity(bars.len());
    for bar in bars {
        let written = clean(&bar.number, LONGEST.2).unwrap_or_else(|| "X".to_owned());
        let written = written.parse::<u16>().map_or(written, |number| number.to_string());
        let mut number = written.clone();
        while taken.contains(&number) {
            let ending = endings.entry(written.clone()).or_insert(0);
            number = format!("{written}{}", letters(*ending));
            *ending += 1;
        }
        twice += usize::from(number != written);
        taken.insert(number.clone());
        numbers.push(number);
    }
    if twice > 0 {
        let text = format!("{twice} of its bars have a number that another has already; they got a letter behind it, such as 12a");
        omissions.push(Omission { bar: None, text });
    }
    numbers
}

/// a to z, then aa, ab and so on.
fn letters(index: u32) -> String {
    let letter = char::from(b'a' + (index % 26) as u8);
    if index < 26 { letter.to_string() } else { format!("{}{letter}", letters(index / 26 - 1)) }
}

/// Every bar's meter.
fn meters(bars: &[Bar], told: &mut impl FnMut(usize, String)) -> Vec<Meter> {
    let mut meter = Meter::COMMON;
    let mut meters = Vec::with_capacity(bars.len());
    for (place, bar) in bars.iter().enumerate() {
        match &bar.meter {
            Some(Written::Fraction(fractions)) => match counted(fractions) {
                Some(counted) => meter = counted,
                None => match as_long(fractions) {
                    Some(other) => {
                        told(place, format!("a meter of {} is not counted here; {other} is as long", written(fractions)));
                        meter = other;
                    }
                    None => told(place, format!("a meter of {} is not counted here; {meter} goes on", written(fractions))),
                },
            },
            Some(Written::Free) => told(place, format!("free time is not counted here; {meter} goes on")),
            Some(Written::Unknown(text)) => told(place, format!("a meter of {text} is not counted here; {meter} goes on")),
            None if place == 0 => told(place, format!("no meter is written; {meter} is taken")),
            None => {}
        }
        meters.push(meter);
    }
    meters
}

/// A meter the engine counts: the fraction itself, or several over their common lower number.
fn counted(fractions: &[(Vec<u8>, u8)]) -> Option<Meter> {
    let lower = fractions.iter().map(|(_, lower)| *lower).max()?;
    let mut parts = Vec::new();
    for (upper, below) in fractions {
        let times = lower.checked_div(*below).filter(|times| below.checked_mul(*times) == Some(lower))?;
        parts.extend(upper.iter().map(|part| part.checked_mul(times)).collect::<Option<Vec<_>>>()?);
    }
    Meter::new(&parts, lower)
}

/// A meter the engine counts whose bar is as long.
fn as_long(fractions: &[(Vec<u8>, u8)]) -> Option<Meter> {
    let of = |(upper, lower): &(Vec<u8>, u8)| upper.iter().map(|part| f64::from(*part)).sum::<f64>() / f64::from(*lower);
    let wholes: f64 = fractions.iter().map(of).sum();
    [4, 2, 8, 16].into_iter().find_map(|lower| {
        let upper = wholes * f64::from(lower);
        if upper.fract() == 0.0 && upper <= 255.0 { Meter::new(&[upper as u8], lower) } else { None }
    })
}

fn written(fractions: &[(Vec<u8>, u8)]) -> String {
    let one = |(upper, lower): &(Vec<u8>, u8)| format!("{}/{lower}", upper.iter().map(u8::to_string).collect::<Vec<_>>().join("+"));
    fractions.iter().map(one).collect::<Vec<_>>().join(" + ")
}

/// Where the tempo changes: of the beat each bar's meter counts, from a bar's beginning on.
fn tempi(bars: &mut [PieceBar], written: &[Bar], told: &mut impl FnMut(usize, String)) {
    let mut meter = bars.first().map_or(Meter::COMMON, |bar| bar.meter);
    let mut tempo = None;
    let mut late = None;
    for (place, (bar, written)) in bars.iter_mut().zip(written).enumerate() {
        let first = written.tempi.iter().rfind(|speed| speed.at == units::Beats::ZERO).map(|speed| speed.quarters).or(late.take());
        let within = written.tempi.iter().rfind(|speed| speed.at > units::Beats::ZERO);
        if let Some(within) = within {
            late = Some(within.quarters);
            told(place, "a tempo that changes inside the bar takes hold at the next".to_owned());
        }
        let beat = |quarters: f64| quarters / bar.meter.quarters_in_beat().as_f64();
        let wanted = match (first, tempo) {
            (Some(quarters), _) => Some(beat(quarters)),
            (None, None) => {
                // in a score's first bar a tempo behind the first note is meant for all of it
                let taken = late.take();
                if taken.is_none() {
                    told(place, format!("no tempo is written; {UNWRITTEN} quarter notes a minute are taken"));
                }
                Some(beat(taken.unwrap_or(UNWRITTEN)))
            }
            (None, Some(before)) if bar.meter != meter => match bar.meter.keeping_speed(meter, before) {
                Ok(kept) => {
                    bar.tempo = (kept != before).then_some(kept);
                    tempo = Some(kept);
                    None
                }
                Err(_) => {
                    let ratio = meter.quarters_in_beat().as_f64() / bar.meter.quarters_in_beat().as_f64();
                    Some(before.bpm() * ratio)
                }
            },
            (None, Some(_)) => None,
        };
        if let Some(wanted) = wanted {
            let kept = Tempo::new(wanted).unwrap_or_else(|_| {
                let nearest = if wanted > Tempo::FASTEST.bpm() { Tempo::FASTEST } else { Tempo::SLOWEST };
                told(place, format!("a tempo of {} a minute is out of bounds; {nearest} is taken", (wanted * 10.0).round() / 10.0));
                nearest
            });
            bar.tempo = (tempo != Some(kept)).then_some(kept);
            tempo = Some(kept);
        }
        meter = bar.meter;
    }
}

/// The rehearsal marks, each with a name of its own.
fn marks(bars: &[PieceBar], written: &[Bar]) -> Vec<Mark> {
    // no mark may be taken for a bar whose number is a text
    let mut taken: HashSet<String> =
        bars.iter().filter(|bar| bar.number.parse::<u16>().is_err()).map(|bar| bar.number.to_lowercase()).collect();
    let mut marks = Vec::new();
    for (bar, name) in written.iter().enumerate().flat_map(|(place, bar)| bar.marks.iter().map(move |mark| (place, mark))) {
        let Some(name) = clean(name, LONGEST.1 - 6) else { continue };
        let name = unlike(&name, |name| taken.contains(&name.to_lowercase()), (2..10_000).map(|number| format!(" {number}")));
        taken.insert(name.to_lowercase());
        marks.push(Mark { name, bar });
    }
    marks
}

/// The repeats, each with its first ending.
fn repeats(bars: &[PieceBar], written: &[Bar], told: &mut impl FnMut(usize, String)) -> Vec<Repeat> {
    let mut repeats: Vec<Repeat> = Vec::new();
    // where the next repeat begins, and the ending that is open
    let (mut from, mut free) = (0, 0);
    let mut ending: Option<(usize, Vec<u8>)> = None;
    for (place, bar) in written.iter().enumerate() {
        if bar.repeats_from {
            from = place.max(free);
        }
        if let Some(numbers) = &bar.ending_from {
            let numbers: Vec<u8> = numbers.split([',', ' ', '.']).filter_map(|number| number.parse().ok()).collect();
            if numbers.iter().all(|number| *number > 2) && !numbers.is_empty() {
                told(place, "an ending beyond the second is left out".to_owned());
            }
            ending = Some((place, numbers));
        }
        if let Some(times) = bar.repeats_to {
            match &ending {
                Some((_, numbers)) if !numbers.contains(&1) => {
                    told(place, "a repeat behind an ending that is not the first is left out".to_owned());
                }
                _ => {
                    let start = if from == 0 && starts_whole(bars, place) { 1 } else { from };
                    let first = ending.as_ref().filter(|(at, _)| *at > start);
                    let times = first.map_or(times, |(_, numbers)| times.max(numbers.len().min(15) as u8 + 1));
                    if start <= place {
                        repeats.push(Repeat { bars: start..place + 1, times, first_ending: first.map(|(at, _)| *at..place + 1) });
                    }
                }
            }
            (from, free) = (place + 1, place + 1);
        }
        if bar.ending_to || bar.repeats_to.is_some() {
            ending = None;
        }
    }
    repeats
}

/// Whether a repeat from the beginning leaves out the pick-up: the bar it ends with has no room for it.
fn starts_whole(bars: &[PieceBar], end: usize) -> bool {
    let short = |place: usize| bars.get(place).is_some_and(|bar| bar.length < bar.meter.bar());
    end > 0 && short(0) && !short(end)
}
