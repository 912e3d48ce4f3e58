//! What counts in a score, part by part or bar by bar.

use book::Faults;
use quick_xml::events::BytesStart;
use sequencer::piece::MAX_PIECE_BARS;
use std::collections::HashMap;
use units::Beats;

use super::xml::{Tag, Xml};
use super::{Bar, Outline, Speed, Written};

/// Positions in a bar are whole ticks, so many to a quarter note: any division of it that notes have is a whole number of them.
const TICKS: f64 = 20_160.0;
/// Nothing in a bar is longer, in quarter notes.
const LONGEST: f64 = 10_000.0;
/// The most tempi, marks or leaps kept of one bar.
const MOST_IN_A_BAR: usize = 16;
/// The most parts of a score.
const MOST_PARTS: usize = 500;

/// Reads a score's text.
pub(super) fn read(name: &str, text: &str) -> Result<Outline, Faults> {
    let mut xml = Xml::new(name, text);
    let mut score = Score::default();
    loop {
        match xml.next()? {
            Some(Tag::Open { name: "score-partwise", .. }) => {
                score.partwise(&mut xml)?;
                break;
            }
            Some(Tag::Open { name: "score-timewise", .. }) => {
                score.timewise(&mut xml)?;
                break;
            }
            Some(Tag::Open { name: "opus", .. }) => {
                return Err(xml.fault("this is an opus, a list of scores", "name one of the scores it lists"));
            }
            Some(Tag::Open { name, .. }) => {
                let mend = "name a file that a notation program exported as MusicXML";
                return Err(xml.fault(format!("this is no MusicXML: it begins with <{name}>"), mend));
            }
            Some(_) => {}
            None => return Err(xml.fault("this is no XML", "name a file that a notation program exported as MusicXML")),
        }
    }
    // what follows the score must be sound as well, or it was cut off
    while xml.next()?.is_some() {}
    if score.outline.bars.is_empty() {
        return Err(xml.fault("this score has no bars", "export it again, with its parts"));
    }
    score.outline.title = score.title();
    Ok(score.outline)
}

/// Goes through the tags inside the one that opened last, to its end; what `child` leaves unread of each is passed over.
fn each<'t>(xml: &mut Xml<'t>, mut child: impl FnMut(&mut Xml<'t>, &'t str, &BytesStart<'t>) -> Result<(), Faults>) -> Result<(), Faults> {
    let depth = xml.depth();
    while let Some(tag) = xml.next()? {
        match tag {
            Tag::Open { name, attributes } => {
                child(xml, name, &attributes)?;
                if xml.depth() > depth {
                    xml.skip_to(depth)?;
                }
            }
            Tag::Close if xml.depth() < depth => break,
            _ => {}
        }
    }
    Ok(())
}

/// What was read so far.
#[derive(Default)]
struct Score {
    outline: Outline,
    work: Option<String>,
    movement: Option<String>,
    parts: HashMap<String, Part>,
}

/// What is carried from bar to bar of a part.
#[derive(Clone, Copy)]
struct Part {
    /// In the order of the score.
    index: usize,
    /// How many units of its durations make a quarter note.
    divisions: f64,
}

/// Where a part stands in a bar.
struct Place {
    bar: usize,
    part: Part,
    /// In ticks.
    now: i64,
    /// The furthest it was, in ticks.
    end: i64,
}

/// What one direction says.
#[derive(Default)]
struct Direction {
    marks: Vec<String>,
    metronome: Option<f64>,
    sound: Option<f64>,
    offset: i64,
    leaps: Vec<&'static str>,
}

impl Score {
    fn head(&mut self, xml: &mut Xml<'_>, name: &str) -> Result<(), Faults> {
        match name {
            "work" => each(xml, |xml, name, _| {
                if name == "work-title" {
                    self.work = Some(xml.words()?);
                }
                Ok(())
            }),
            "movement-title" => {
                self.movement = Some(xml.words()?);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn title(&self) -> Option<String> {
        let said = |title: &Option<String>| title.clone().filter(|title| !title.is_empty());
        match (said(&self.work), said(&self.movement)) {
            (Some(work), Some(movement)) if work != movement => Some(format!("{work}: {movement}")),
            (work, movement) => work.or(movement),
        }
    }

    fn partwise(&mut self, xml: &mut Xml<'_>) -> Result<(), Faults> {
        each(xml, |xml, name, attributes| {
            if name != "part" {
                return self.head(xml, name);
            }
            let id = self.part(xml, attributes)?;
            let mut index = 0;
            each(xml, |xml, name, attributes| {
                if name == "measure" {
                    self.number(xml, index, attributes)?;
                    self.measure(xml, index, &id)?;
                    index += 1;
                }
                Ok(())
            })
        })
    }

    fn timewise(&mut self, xml: &mut Xml<'_>) -> Result<(), Faults> {
        let mut index = 0;
        each(xml, |xml, name, attributes| {
            if name != "measure" {
                return self.head(xml, name);
            }
            self.number(xml, index, attributes)?;
            each(xml, |xml, name, attributes| {
                if name == "part" {
                    let id = self.part(xml, attributes)?;
                    self.measure(xml, index, &id)?;
                }
                Ok(())
            })?;
            index += 1;
            Ok(())
        })
    }

    /// The name of a part, which is known from now on.
    fn part(&mut self, xml: &Xml<'_>, attributes: &BytesStart<'_>) -> Result<String, Faults> {
        let id = xml.attribute(attributes, "id")?.unwrap_or_default();
        let index = self.parts.len();
        if index >= MOST_PARTS && !self.parts.contains_key(&id) {
            return Err(xml.fault(format!("the score has over {MOST_PARTS} parts"), "export fewer parts; one is enough"));
        }
        self.parts.entry(id.clone()).or_insert(Part { index, divisions: 1.0 });
        Ok(id)
    }

    /// Makes sure of the bar at `index`; the first part that has it numbers it.
    fn number(&mut self, xml: &Xml<'_>, index: usize, attributes: &BytesStart<'_>) -> Result<(), Faults> {
        if index < self.outline.bars.len() {
            return Ok(());
        }
        if index >= MAX_PIECE_BARS {
            return Err(xml.fault(format!("the score has over {MAX_PIECE_BARS} bars"), "export one movement by itself"));
        }
        let number = xml.attribute(attributes, "number")?.unwrap_or_default().trim().to_owned();
        let implicit = xml.attribute(attributes, "implicit")?.as_deref() == Some("yes");
        self.outline.bars.push(Bar { number, implicit, ..Bar::default() });
        Ok(())
    }

    fn measure(&mut self, xml: &mut Xml<'_>, bar: usize, id: &str) -> Result<(), Faults> {
        let Some(part) = self.parts.get(id).copied() else { return Ok(()) };
        let mut place = Place { bar, part, now: 0, end: 0 };
        each(xml, |xml, name, attributes| match name {
            "attributes" => self.attributes(xml, &mut place),
            "note" => note(xml, &mut place),
            "backup" | "forward" => {
                let ticks = duration(xml, place.part)?;
                place.go(if name == "backup" { -ticks } else { ticks });
                Ok(())
            }
            "direction" => self.direction(xml, &place),
            "sound" => {
                let mut said = Direction::default();
                said.sound(xml, attributes)?;
                self.say(&place, said);
                Ok(())
            }
            "barline" if place.part.index == 0 => self.barline(xml, bar, attributes),
            _ => Ok(()),
        })?;
        self.parts.insert(id.to_owned(), place.part);
        if let Some(bar) = self.outline.bars.get_mut(bar) {
            bar.lasts = bar.lasts.max(quarters(place.end));
        }
        Ok(())
    }

    fn attributes(&mut self, xml: &mut Xml<'_>, place: &mut Place) -> Result<(), Faults> {
        let mut meter = None;
        each(xml, |xml, name, _| {
            match name {
                "divisions" => {
                    let divisions = xml.words()?.parse::<f64>().ok().filter(|divisions| *divisions >= 1.0 / TICKS && *divisions <= 1e6);
                    place.part.divisions = divisions.unwrap_or(place.part.divisions);
                }
                // a second one is for another staff
                "time" if meter.is_none() => meter = Some(time(xml)?),
                _ => {}
            }
            Ok(())
        })?;
        if let (Some(meter), 0, Some(bar)) = (meter, place.part.index, self.outline.bars.get_mut(place.bar)) {
            if place.now == 0 {
                bar.meter = Some(meter);
            } else {
                keep(&mut bar.leaps, "a meter that changes inside the bar");
            }
        }
        Ok(())
    }

    fn direction(&mut self, xml: &mut Xml<'_>, place: &Place) -> Result<(), Faults> {
        let mut said = Direction::default();
        each(xml, |xml, name, attributes| {
            match name {
                "direction-type" => each(xml, |xml, name, _| {
                    match name {
                        "rehearsal" => said.marks.push(xml.words()?),
                        "metronome" => said.metronome = metronome(xml)?.or(said.metronome),
                        "segno" => said.leaps.push("segno"),
                        "coda" => said.leaps.push("coda"),
                        "words" => said.leaps.extend(leap(&xml.words()?)),
                        _ => {}
                    }
                    Ok(())
                })?,
                "sound" => said.sound(xml, attributes)?,
                "offset" => said.offset = ticks(&xml.words()?, place.part),
                _ => {}
            }
            Ok(())
        })?;
        self.say(place, said);
        Ok(())
    }

    /// Notes what is said at a place. What other parts say too is noted once.
    fn say(&mut self, place: &Place, said: Direction) {
        let Some(bar) = self.outline.bars.get_mut(place.bar) else { return };
        for mark in said.marks.into_iter().filter(|mark| !mark.is_empty()) {
            keep(&mut bar.marks, mark);
        }
        for leap in said.leaps {
            keep(&mut bar.leaps, leap);
        }
        let at = quarters(place.now.saturating_add(said.offset));
        let said_already = place.part.index > 0 && bar.tempi.iter().any(|speed| speed.at == at);
        if let Some(quarters) = said.metronome.or(said.sound).filter(|_| !said_already && bar.tempi.len() < MOST_IN_A_BAR) {
            let after = bar.tempi.iter().position(|speed| speed.at > at).unwrap_or(bar.tempi.len());
            bar.tempi.insert(after, Speed { at, quarters });
        }
    }

    fn barline(&mut self, xml: &mut Xml<'_>, index: usize, attributes: &BytesStart<'_>) -> Result<(), Faults> {
        let left = xml.attribute(attributes, "location")?.as_deref() == Some("left");
        let Some(bar) = self.outline.bars.get_mut(index) else { return Ok(()) };
        let mut backward = None;
        each(xml, |xml, name, attributes| {
            match name {
                "repeat" if xml.attribute(attributes, "direction")?.as_deref() == Some("forward") => bar.repeats_from = true,
                "repeat" => {
                    let times = xml.attribute(attributes, "times")?.and_then(|times| times.parse().ok());
                    backward = Some(times.filter(|times| (2..=16).contains(times)).unwrap_or(2));
                }
                "ending" => match xml.attribute(attributes, "type")?.as_deref() {
                    Some("start") => bar.ending_from = Some(xml.attribute(attributes, "number")?.unwrap_or_default()),
                    _ => bar.ending_to = true,
                },
                _ => {}
            }
            Ok(())
        })?;
        // at a left barline it ends the bar before
        let ended = if left { index.checked_sub(1) } else { Some(index) };
        if let (Some(times), Some(bar)) = (backward, ended.and_then(|index| self.outline.bars.get_mut(index))) {
            bar.repeats_to = Some(times);
        }
        Ok(())
    }
}

impl Place {
    fn go(&mut self, ticks: i64) {
        let most = (LONGEST * TICKS) as i64;
        self.now = self.now.saturating_add(ticks).clamp(0, most);
        self.end = self.end.max(self.now);
    }
}

impl Direction {
    fn sound(&mut self, xml: &Xml<'_>, attributes: &BytesStart<'_>) -> Result<(), Faults> {
        const LEAPS: [(&str, &str); 6] = [
            ("dacapo", "da capo"),
            ("dalsegno", "dal segno"),
            ("tocoda", "to coda"),
            ("fine", "fine"),
            ("segno", "segno"),
            ("coda", "coda"),
        ];
        self.sound = xml.attribute(attributes, "tempo")?.and_then(|tempo| speed(&tempo)).or(self.sound);
        for (name, leap) in LEAPS {
            if xml.attribute(attributes, name)?.is_some_and(|value| value != "no") {
                keep(&mut self.leaps, leap);
            }
        }
        Ok(())
    }
}

/// Keeps what is not kept yet, up to the most of one bar.
fn keep<T: PartialEq>(kept: &mut Vec<T>, new: T) {
    if kept.len() < MOST_IN_A_BAR && !kept.contains(&new) {
        kept.push(new);
    }
}

fn quarters(ticks: i64) -> Beats {
    Beats::new(ticks.max(0), TICKS as i64)
}

/// A duration as a part writes it, in ticks.
fn ticks(written: &str, part: Part) -> i64 {
    let quarters = written.parse::<f64>().unwrap_or(0.0) / part.divisions;
    if quarters.is_finite() { (quarters.clamp(-LONGEST, LONGEST) * TICKS).round() as i64 } else { 0 }
}

fn duration(xml: &mut Xml<'_>, part: Part) -> Result<i64, Faults> {
    let mut lasts = 0;
    each(xml, |xml, name, _| {
        if name == "duration" {
            lasts = ticks(&xml.words()?, part).max(0);
        }
        Ok(())
    })?;
    Ok(lasts)
}

fn note(xml: &mut Xml<'_>, place: &mut Place) -> Result<(), Faults> {
    let (mut lasts, mut moves) = (0, true);
    each(xml, |xml, name, _| {
        match name {
            "duration" => lasts = ticks(&xml.words()?, place.part).max(0),
            "chord" | "grace" => moves = false,
            _ => {}
        }
        Ok(())
    })?;
    if moves {
        place.go(lasts);
    }
    Ok(())
}

fn time(xml: &mut Xml<'_>) -> Result<Written, Faults> {
    let mut fractions = Vec::new();
    let mut upper = None;
    let mut free = false;
    let mut unknown = None;
    each(xml, |xml, name, _| {
        match name {
            "beats" => upper = Some(xml.words()?),
            "beat-type" => {
                let (above, below) = (upper.take().unwrap_or_default(), xml.words()?);
                let parts: Option<Vec<u8>> = above.split('+').map(|part| part.trim().parse().ok().filter(|part| *part > 0)).collect();
                match (parts, below.parse()) {
                    (Some(parts), Ok(lower)) if fractions.len() < 8 && parts.len() < 16 => fractions.push((parts, lower)),
                    _ => unknown = Some(format!("{above}/{below}")),
                }
            }
            "senza-misura" => free = true,
            _ => {}
        }
        Ok(())
    })?;
    Ok(match unknown {
        Some(text) => Written::Unknown(text),
        None if fractions.is_empty() && free => Written::Free,
        None if fractions.is_empty() => Written::Unknown(String::from("nothing")),
        None => Written::Fraction(fractions),
    })
}

/// A tempo in quarter notes a minute; nothing for a relation of two note values.
fn metronome(xml: &mut Xml<'_>) -> Result<Option<f64>, Faults> {
    let mut units: Vec<f64> = Vec::new();
    let mut dots = 0;
    let mut minute = None;
    each(xml, |xml, name, _| {
        match name {
            "beat-unit" if units.len() < 2 => units.extend(note_value(&xml.words()?)),
            "beat-unit-dot" => dots += 1,
            "per-minute" => minute = first_number(&xml.words()?),
            _ => {}
        }
        Ok(())
    })?;
    let (&[unit], Some(minute)) = (units.as_slice(), minute) else { return Ok(None) };
    // each dot adds half of what the one before it added
    let dotted = unit * (2.0 - 0.5_f64.powi(dots.min(4)));
    Ok(Some(minute * dotted).filter(|quarters| quarters.is_finite() && *quarters > 0.0))
}

/// A note value in quarter notes (MusicXML's note-type-value).
fn note_value(name: &str) -> Option<f64> {
    const VALUES: [(&str, f64); 12] = [
        ("maxima", 32.0),
        ("long", 16.0),
        ("breve", 8.0),
        ("whole", 4.0),
        ("half", 2.0),
        ("quarter", 1.0),
        ("eighth", 0.5),
        ("16th", 0.25),
        ("32nd", 0.125),
        ("64th", 0.0625),
        ("128th", 0.031_25),
        ("256th", 0.015_625),
    ];
    VALUES.iter().find(|(value, _)| *value == name).map(|(_, quarters)| *quarters)
}

fn speed(text: &str) -> Option<f64> {
    text.trim().parse().ok().filter(|speed: &f64| speed.is_finite() && *speed > 0.0)
}

/// The first number in a text such as "c. 108" or "120-132".
fn first_number(text: &str) -> Option<f64> {
    let begins = text.find(|character: char| character.is_ascii_digit())?;
    let rest = text.get(begins..)?;
    let ends = rest.find(|character: char| !character.is_ascii_digit() && character != '.').unwrap_or(rest.len());
    speed(rest.get(..ends)?.trim_end_matches('.'))
}

/// The leap that words ask for.
fn leap(words: &str) -> Option<&'static str> {
    let words = words.to_lowercase().replace(' ', "");
    const LEAPS: [(&str, &str); 7] = [
        ("d.c", "da capo"),
        ("dacapo", "da capo"),
        ("d.s", "dal segno"),
        ("dalsegno", "dal segno"),
        ("tocoda", "to coda"),
        ("alcoda", "to coda"),
        ("fine", "fine"),
    ];
    LEAPS.iter().find(|(beginning, _)| words.starts_with(beginning)).map(|(_, leap)| *leap)
}
