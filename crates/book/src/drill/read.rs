//! From a document to a drill and the places of its parts.

use sequencer::{Adaptive, Division, Drill, Group, Meter, SectionLine, Turn};
use std::collections::HashMap;
use units::Tempo;

use super::{LineSpans, Spans, TurnSpans};
use crate::tokens;
use crate::view::{Text, View};
use crate::walk::Walker;

/// The word for everyone, in groups and lines.
const ALL: &str = "all";
/// From which percentage a section goes on, and under which its landmark comes, unless the file says: ours.
const ENOUGH: u8 = 80;
const LANDMARK_BELOW: u8 = 50;
/// How many beats a breath takes that does not say: common practice, no source.
const BREATH_BEATS: u8 = 2;

/// What is sound of a drill, so that lines and turns are judged even where the title, the tempo or the rounds are at fault and stand-ins
/// take their place; nothing without a meter.
pub(super) fn drill(walker: &mut Walker<'_>, file: View<'_>) -> Option<(Drill, Spans)> {
    let meter = if file.has("meter") { file.parsed(walker, "meter") } else { Some(Meter::COMMON) };
    let key = file.has("key").then(|| file.parsed(walker, "key"));
    let mut spans = Spans { title: file.span("title").unwrap_or(0..0), ..Spans::default() };
    spans.rounds = file.span("rounds").unwrap_or(spans.title.clone());
    let groups = groups(walker, file, &mut spans);
    let (everyone, own) = lines(walker, file, &mut spans);
    let turns = turns(walker, file, &mut spans);
    let drill = Drill {
        title: file.text("title").map_or("", |title| title.value.trim()).to_owned(),
        tempo: file.number("tempo").and_then(|bpm| Tempo::new(bpm).ok()).unwrap_or(Tempo::SLOWEST),
        meter: meter?,
        key: key.flatten(),
        rounds: file.whole("rounds").unwrap_or(1),
        groups,
        everyone,
        own,
        turns,
        syllables: file.text("syllables").and_then(|way| way.value.parse().ok()),
        call: file.flag("call").unwrap_or(false),
        click: file.flag("click").unwrap_or(true),
        adaptive: adaptive(walker, file),
        say_verdicts: file.flag("say_verdicts").unwrap_or(false),
    };
    Some((drill, spans))
}

/// From which share of a section it goes on, and under which its landmark comes.
fn adaptive(walker: &mut Walker<'_>, file: View<'_>) -> Option<Adaptive> {
    let table = file.table("adaptive")?;
    let percent = |key, usual| table.whole(key).unwrap_or(usual);
    let adaptive = Adaptive { enough: percent("enough", ENOUGH), landmark_below: percent("landmark_below", LANDMARK_BELOW) };
    if adaptive.landmark_below >= adaptive.enough {
        let span = table.span("landmark_below").or(table.span("enough")).unwrap_or(0..0);
        let Adaptive { enough, landmark_below } = adaptive;
        walker.fault(
            span,
            format!("the landmark would come below {landmark_below} percent, but {enough} are enough"),
            "make landmark_below less than enough",
        );
    }
    if file.whole("rounds").unwrap_or(1_u16) < 2 {
        let span = file.span("adaptive").unwrap_or(0..0);
        walker.fault(span, "there is no second round to come back to", "write rounds = 4, the most a section takes");
    }
    Some(adaptive)
}

fn groups(walker: &mut Walker<'_>, file: View<'_>, spans: &mut Spans) -> Vec<Group> {
    if !file.has("groups") {
        spans.groups.push((spans.title.clone(), Vec::new()));
        return vec![Group::Everyone];
    }
    let mut groups = Vec::new();
    for (members, span) in file.lists("groups").into_iter().filter(|(members, _)| !members.is_empty()) {
        let all = members.iter().find(|member| is_all(member.value));
        if let (Some(all), true) = (all, members.len() > 1) {
            walker.fault(all.inside(), "\"all\" holds every section already", "leave \"all\" alone in its group, or take it away");
        }
        let mut names: Vec<&Text<'_>> = Vec::new();
        for member in &members {
            if names.iter().any(|name| name.value.trim().to_lowercase() == member.value.trim().to_lowercase()) {
                walker.fault(member.inside(), format!("\"{}\" stands twice in one group", member.value), "take one of the two away");
            } else {
                names.push(member);
            }
        }
        spans.groups.push((span, names.iter().map(|name| name.inside()).collect()));
        let sections = || names.iter().map(|name| name.value.trim().to_owned()).collect();
        groups.push(if all.is_some() { Group::Everyone } else { Group::Sections(sections()) });
    }
    groups
}

fn is_all(name: &str) -> bool {
    name.trim().eq_ignore_ascii_case(ALL)
}

fn lines(walker: &mut Walker<'_>, file: View<'_>, spans: &mut Spans) -> (Option<SectionLine>, Vec<(String, SectionLine)>) {
    let mut everyone = None;
    let mut own = Vec::new();
    let Some(table) = file.table("line") else { return (everyone, own) };
    let entries = table.entries();
    if entries.is_empty() && table.is_empty() {
        let span = file.span("line").unwrap_or(0..0);
        walker.fault(span, "no one has a line", "add all = { concert = \"F4:4\" } under [line]");
    }
    let mut seen: HashMap<String, String> = HashMap::new();
    for (name, notes) in entries {
        let who = name.get_ref().trim();
        if let Some(earlier) = seen.insert(who.to_lowercase(), who.to_owned()) {
            walker.fault(name.span(), format!("\"{earlier}\" has a line already"), "keep one of the two");
        }
        let Some((line, line_spans)) = notes_of(walker, notes) else { continue };
        if is_all(who) {
            everyone = Some(line);
            spans.everyone = line_spans;
        } else {
            own.push((who.to_owned(), line));
            spans.own.push((name.span(), line_spans));
        }
    }
    (everyone, own)
}

fn notes_of(walker: &mut Walker<'_>, notes: View<'_>) -> Option<(SectionLine, LineSpans)> {
    let exact = notes.flag("exact");
    if let (Some(_), true, Some(span)) = (exact, notes.has("written"), notes.span("exact")) {
        walker.fault(span, "a written line is always exact", "take exact away");
    }
    if let Some(text) = notes.text("concert") {
        let tokens::Tokens { line, spans } = tokens::line(walker, &text)?;
        let line = if exact == Some(true) { SectionLine::ExactConcert(line) } else { SectionLine::Concert(line) };
        return Some((line, LineSpans { whole: text.span, tokens: spans }));
    }
    let text = notes.text("written")?;
    let tokens::Tokens { line, spans } = tokens::line(walker, &text)?;
    Some((SectionLine::Written(line), LineSpans { whole: text.span, tokens: spans }))
}

fn turns(walker: &mut Walker<'_>, file: View<'_>, spans: &mut Spans) -> Vec<Turn> {
    let mut turns = Vec::new();
    for (turn, _) in file.tables("turn") {
        for (verb, what) in turn.entries() {
            if let Some(turn) = self::turn(walker, verb.get_ref(), what) {
                turns.push(turn);
                let span = |key| what.span(key).unwrap_or(verb.span());
                spans.turns.push(TurnSpans { beats: span("beats"), division: span("subdivide") });
            }
        }
    }
    turns
}

fn turn(walker: &mut Walker<'_>, verb: &str, what: View<'_>) -> Option<Turn> {
    let bars = || if what.has("bars") { what.whole("bars").filter(|bars| *bars > 0) } else { Some(1) };
    Some(match verb {
        "count" => {
            let first_round_only = what.text("rounds").is_some_and(|rounds| rounds.value == "first");
            Turn::Count { bars: bars()?, first_round_only, division: division(walker, what)? }
        }
        "model" => Turn::Model,
        "echo" => Turn::Echo,
        "breath" => {
            let beats = if what.has("beats") { what.whole("beats").filter(|beats| *beats > 0)? } else { BREATH_BEATS };
            Turn::Breath { bars: bars()?, beats, division: division(walker, what)? }
        }
        "rest" => Turn::Rest { bars: bars()? },
        "talk" => Turn::Talk { note: what.text("note")?.value.trim().to_owned() },
        _ => return None,
    })
}

/// Into what a turn divides its beats.
pub(crate) fn division(walker: &mut Walker<'_>, turn: View<'_>) -> Option<Division> {
    if !turn.has("subdivide") {
        return Some(Division::Beat);
    }
    let parts: u8 = turn.whole("subdivide")?;
    let division = Division::into(parts);
    if let (None, Some(span)) = (division, turn.span("subdivide")) {
        walker.fault(span, format!("a beat is not counted in {parts} parts"), "write subdivide = 1, 2, 3, 4 or 6");
    }
    division
}
