//! From a document to a lesson and its items.

use sequencer::lesson::{Excerpt, Ground, Hour};
use sequencer::{Advance, ClimbSettings, Item, Lesson, Meter, Passage, Piece, RecheckSettings, Slot, Work};
use std::ops::Range;
use units::Tempo;

use super::forms::ITEM;
use super::{ItemFile, Spans};
use crate::climb::{ClimbKeys, RecheckKeys};
use crate::drone;
use crate::piece::check_division;
use crate::source::Source;
use crate::view::View;
use crate::walk::Walker;

/// How many bars a climb with no piece takes that does not say: common practice, no source.
const BARE_BARS: u16 = 8;

/// What the file says above its items.
pub(super) fn lesson(walker: &mut Walker<'_>, file: View<'_>) -> Option<Lesson> {
    let starts = file.has("starts").then(|| file.parsed(walker, "starts"));
    let minutes = file.has("minutes").then(|| file.whole("minutes"));
    let hour = match (starts, minutes) {
        (None, None) => Some(Hour::Open),
        (None, Some(minutes)) => minutes.map(|minutes| Hour::Long { minutes }),
        (Some(starts), Some(minutes)) => starts.zip(minutes).map(|(starts, minutes)| Hour::Timed { starts, minutes }),
        (Some(starts), None) => {
            if starts.is_some() {
                let message = "an hour that starts by the clock needs its minutes too";
                walker.fault(file.span("starts").unwrap_or_default(), message, "add minutes = 50");
            }
            None
        }
    };
    Some(Lesson {
        title: file.text("title")?.value.trim().to_owned(),
        room: file.text("room").map(|room| room.value.trim().to_owned()),
        hour: hour?,
    })
}

/// An item at `span`, with what is wrong in it alone.
pub(super) fn item(source: &Source, item: View<'_>, span: &Range<usize>) -> ItemFile {
    let mut walker = Walker::new(source);
    walker.table(&ITEM, item.table, span);
    let mut spans = Spans { verb: span.clone(), ..Spans::default() };
    let read = read(&mut walker, item, &mut spans);
    ItemFile { item: walker.finish(read), notices: Vec::new(), spans }
}

fn read(walker: &mut Walker<'_>, item: View<'_>, spans: &mut Spans) -> Option<Item> {
    let (verb, what) = item.entries().into_iter().find(|(verb, _)| Work::WORDS.contains(&verb.get_ref().as_ref()))?;
    let inside = |key: &str| what.text(key).map_or(verb.span(), |text| text.inside());
    spans.verb = verb.span();
    spans.file = ["file", "piece", "drill"].into_iter().find(|key| what.has(key)).map_or(verb.span(), inside);
    spans.section = inside("section");
    spans.passage = inside("passage");
    let minutes = minutes(walker, item, what);
    let work = work(walker, verb.get_ref(), what);
    let slot = slot(walker, item, minutes?, work.as_ref(), &spans.verb);
    Some(Item { title: item.text("title").map(|title| title.value.trim().to_owned()), slot: slot?, work: work? })
}

/// The minutes, beside what is done or inside it: the outer nothing is a fault, the inner an item without.
fn minutes(walker: &mut Walker<'_>, item: View<'_>, what: View<'_>) -> Option<Option<u16>> {
    match (item.span("minutes"), what.span("minutes")) {
        (None, None) => Some(None),
        (Some(_), None) => item.whole("minutes").map(Some),
        (None, Some(_)) => what.whole("minutes").map(Some),
        (Some(beside), Some(inside)) => {
            let second = if beside.start > inside.start { beside } else { inside };
            walker.fault(second, "minutes stands twice in this item", "take one of the two away");
            None
        }
    }
}

fn slot(walker: &mut Walker<'_>, item: View<'_>, minutes: Option<u16>, work: Option<&Work>, verb: &Range<usize>) -> Option<Slot> {
    let least: Option<u16> = if item.has("least") { Some(item.whole("least")?) } else { None };
    let advance = match item.text("advance") {
        Some(advance) => advance.value.parse().ok()?,
        None => Advance::OnGo,
    };
    let kept = matches!(work, Some(Work::Talk { .. }));
    if let (Some(least), Some(span)) = (least, item.span("least")) {
        let wrong = if kept {
            Some(("a talk is never shortened".to_owned(), "take least away".to_owned()))
        } else {
            match minutes {
                None => Some(("least says nothing without minutes".to_owned(), "add minutes, or take least away".to_owned())),
                Some(minutes) if least > minutes => {
                    let mend = format!("write least = {minutes} or less, or more minutes");
                    Some((format!("least = {least} is more than its {minutes} minutes"), mend))
                }
                Some(_) => None,
            }
        };
        if let Some((message, mend)) = wrong {
            walker.fault(span, message, mend);
            return None;
        }
    }
    if advance == Advance::ByItself && minutes.is_none() && work.is_some_and(|work| !work.ends()) {
        let message = format!("a {} without minutes never goes on by itself", work.map_or("", Work::word));
        walker.fault(item.span("advance").unwrap_or(verb.clone()), message, "add minutes, or write advance = \"on go\"");
        return None;
    }
    Some(Slot { minutes, least, advance, kept })
}

fn work(walker: &mut Walker<'_>, verb: &str, what: View<'_>) -> Option<Work> {
    let words = |key: &str| what.text(key).map(|text| text.value.trim().to_owned());
    Some(match verb {
        "drone" => {
            let own = ["concert", "stack", "tuning", "registers"].into_iter().any(|key| what.has(key));
            Work::Drone(if own { Some(drone::read(walker, Some(what))?) } else { None })
        }
        "landmarks" => Work::Landmarks { section: words("section")? },
        "drill" => Work::Drill { file: words("file")? },
        "roll" => Work::Roll { section: words("section")?, drill: words("drill")? },
        "climb" => {
            let keys = ClimbKeys::read(walker, what);
            let of = ground(walker, what)?;
            if let Ground::Bare { tempo, meter, bars } = of {
                let piece = Piece::bare(String::new(), tempo, meter, bars);
                check_climb(walker, what, &keys, &piece, &piece.whole());
            }
            Work::Climb { of, settings: keys.over(ClimbSettings::default()) }
        }
        "recheck" => Work::Recheck { of: excerpt(what)?, settings: RecheckKeys::read(walker, what).over(RecheckSettings::default()) },
        "talk" => Work::Talk { note: words("note")? },
        _ => return None,
    })
}

/// Holds the keys of a climb against the bars it climbs with.
pub(super) fn check_climb(walker: &mut Walker<'_>, what: View<'_>, keys: &ClimbKeys, piece: &Piece, passage: &Passage) {
    let opening = piece.tempo_at(passage.bars.start);
    let goals: Vec<_> = passage.bars.clone().map(|bar| piece.tempo_at(bar)).collect();
    keys.check(walker, what, &[opening], &goals);
    if let (Some(division), Some(span)) = (keys.subdivide, what.span("subdivide")) {
        check_division(walker, division, piece, span);
    }
}

fn excerpt(what: View<'_>) -> Option<Excerpt> {
    let words = |key: &str| what.text(key).map(|text| text.value.trim().to_owned());
    Some(Excerpt { file: words("piece")?, passage: words("passage") })
}

fn ground(walker: &mut Walker<'_>, what: View<'_>) -> Option<Ground> {
    let foreign: &[(&str, &str, &str)] = if what.has("piece") {
        let mend = "take it away, or climb with a tempo instead of a piece";
        &[("meter", "the piece says its meter itself", mend), ("bars", "the piece says its bars itself", mend)]
    } else {
        &[("passage", "a passage is of a piece, and none is named", "take it away, or name the piece instead of a tempo")]
    };
    let mut sound = true;
    for (key, message, mend) in foreign {
        if let Some(span) = what.span(key) {
            walker.fault(span, *message, *mend);
            sound = false;
        }
    }
    if !sound {
        return None;
    }
    if what.has("piece") {
        return excerpt(what).map(Ground::Piece);
    }
    let meter = if what.has("meter") { what.parsed(walker, "meter") } else { Some(Meter::COMMON) };
    let bars = if what.has("bars") { what.whole("bars") } else { Some(BARE_BARS) };
    Some(Ground::Bare { tempo: Tempo::new(what.number("tempo")?).ok()?, meter: meter?, bars: bars? })
}
