//! The stage: what the director sees while leading.

use ratatui::layout::Rect;
use sequencer::Plan;
use sequencer::plan::PlanKind;

use super::facts::{Facts, Mood, Reading, Reads, readings};
use super::letters::{self, Size};
use super::look::Role;
use super::paint::{Paint, cut, width};
use super::{banner, split_left, split_top, staff};
use crate::app::State;
use crate::app::state::{SectionHeard, Told};
use crate::inputs::{Command, Verdict, table};
use crate::text::stage;

/// The rows from which the state's word is drawn in large letters.
const ROWS_FOR_LARGE: u16 = 20;
/// The columns from which it is.
const COLUMNS_FOR_LARGE: u16 = 72;
/// The columns of the list of sections when a staff stands beside it.
const LIST_COLUMNS: u16 = 46;

/// The most columns and rows of the staff with its heading.
const STAFF_MOST: (u16, u16) = (72, 17);

/// Draws the stage.
pub(super) fn draw(state: &State, facts: &Facts, paint: &mut Paint<'_>, area: Rect) {
    let (title, below) = split_top(area, 1);
    draw_title(state, facts, paint, title);
    let large = area.height >= ROWS_FOR_LARGE && area.width >= COLUMNS_FOR_LARGE;
    let (head, below) = split_top(below, if large { 4 } else { 1 });
    draw_going(facts, paint, head);
    let (sentences, below) = split_top(below, 2);
    draw_sentences(state, facts, paint, sentences);
    let (rule, below) = split_top(below, 1);
    paint.rule(rule, 0);
    let (below, away) = super::split_bottom(below, banner::rows(state, area));
    banner::draw(state, paint, away);
    let (told, below) = split_top(below, rows_told(state, below));
    draw_told(state, paint, told);
    match state.plan().filter(|plan| matches!(plan.kind, PlanKind::Climb | PlanKind::Recheck)) {
        Some(plan) if state.faults.is_none() => draw_ladder(state, plan, paint, below),
        _ => draw_sections(state, paint, below),
    }
}

/// The plan's title and the room's name.
fn draw_title(state: &State, facts: &Facts, paint: &mut Paint<'_>, area: Rect) {
    let title = state.plan().map_or_else(|| state.class().name.clone(), |plan| plan.title.clone());
    let place = &facts.place;
    let title = cut(&title, area.width.saturating_sub(width(place) + 2));
    let end = paint.text(area, 0, 0, &title, Role::Strong);
    paint.text_right(area, 0, end + 1, place, Role::Plain);
    let between = area.width.saturating_sub(end + width(place) + 4);
    // in a lesson the item, else the class
    let beside = super::lesson::item(state).unwrap_or_else(|| state.class().name.clone());
    if state.plan().is_some() && width(&beside) + 2 <= between {
        paint.text(area, end + 2, 0, &beside, Role::Quiet);
    }
}

/// The role that goes with who sounds.
pub(super) const fn role(mood: Mood) -> Role {
    match mood {
        Mood::Sounds => Role::Sounds,
        Mood::Plays => Role::Plays,
        Mood::Rests => Role::Strong,
    }
}

/// What is going on in a word, and the beat.
fn draw_going(facts: &Facts, paint: &mut Paint<'_>, area: Rect) {
    let role = role(facts.mood);
    if area.height < 4 {
        let end = paint.text(area, 0, 0, &format!(" {} {} ", facts.going.word, facts.going.shape), Role::Marked);
        if let Some((beat, beats)) = facts.beat {
            let end = paint.text(area, end + 1, 0, &stage::beat(beat, beats), Role::Strong);
            draw_beats(paint, area, end + 2, 0, beat, beats);
        }
        return;
    }
    // the word once in plain letters for who reads the screen with a machine, once large
    let word = facts.going.word;
    if paint.look.has_blocks() {
        letters::draw(paint, area, word, Size::Four, role);
    } else {
        let spaced: Vec<String> = word.chars().map(|sign| sign.to_string()).collect();
        paint.text(area, 2, 1, &format!("  {}  ", spaced.join(" ")), Role::Marked);
    }
    let right = area.width.saturating_sub(14);
    let (_, corner) = split_left(area, right);
    paint.text(corner, 0, 0, &format!(" {word} {} ", facts.going.shape), Role::Marked);
    if let Some((beat, beats)) = facts.beat {
        paint.text(corner, 0, 1, &stage::beat(beat, beats), Role::Strong);
        draw_beats(paint, corner, 0, 2, beat, beats);
        if let Some(number) = &facts.page {
            paint.text(corner, 0, 3, &stage::page(number), Role::Strong);
        } else if let Some((bar, bars)) = facts.bar {
            paint.text(corner, 0, 3, &stage::bar(bar, bars), Role::Plain);
        }
    }
}

/// One box a beat, the one that sounds filled and numbered.
pub(super) fn draw_beats(paint: &mut Paint<'_>, area: Rect, column: u16, row: u16, beat: u8, beats: u8) {
    let mut column = column;
    for number in 1..=beats {
        let (text, role) = if number == beat { (format!("{number}"), Role::Marked) } else { (".".to_owned(), Role::Quiet) };
        column = paint.text(area, column, row, &text, role);
        if beats <= 6 {
            column += 1;
        }
    }
}

fn draw_sentences(state: &State, facts: &Facts, paint: &mut Paint<'_>, area: Rect) {
    // what the ear asks for, or how the hour stands
    let right = ear(state).or_else(|| super::lesson::clock(state)).unwrap_or_default();
    let room = area.width.saturating_sub(if right.is_empty() { 0 } else { width(&right) + 2 });
    let end = paint.text(area, 0, 0, &cut(&facts.sentence, room), Role::Strong);
    paint.text_right(area, 0, end, &right, Role::Strong);
    let end = paint.text(area, 0, 1, stage::NEXT, Role::Quiet);
    let room = area.width.saturating_sub(end + 1);
    paint.text(area, end + 1, 1, &cut(facts.next_in(room), room), Role::Plain);
}

/// In a roll, once a seat has echoed: the seat, what was noted for it, and the keys that note.
fn ear(state: &State) -> Option<String> {
    let seat = state.ear.seat.filter(|_| state.is_roll())?;
    let noted = state.ear.roll()?.seats.get(usize::from(seat).checked_sub(1)?).copied().flatten();
    let keys = Verdict::ALL.into_iter().filter_map(|verdict| {
        let key = table::key_for(state.place(), Command::Verdict(verdict))?;
        Some(format!("{key} {}", crate::text::ear::word(verdict)))
    });
    Some(crate::text::ear::asks(seat, noted, &keys.collect::<Vec<_>>().join("  ")))
}

/// The rows under which what was heard is told in plain letters only.
const ROWS_FOR_TOLD: u16 = 12;

/// How many rows what was heard takes.
fn rows_told(state: &State, area: Rect) -> u16 {
    match &state.ear.told {
        None => 0,
        Some(_) if area.height < ROWS_FOR_TOLD || !fits_large(state, area) => 1,
        Some(_) => Size::Four.rows(),
    }
}

fn fits_large(state: &State, area: Rect) -> bool {
    state.ear.told.as_ref().is_some_and(|told| letters::width(&crate::text::ear::large(told).0, Size::Four) + 22 <= area.width)
}

/// What the microphone heard of the last echo: a word or a count as large as can be, its shape, and whose it was.
fn draw_told(state: &State, paint: &mut Paint<'_>, area: Rect) {
    let Some(told) = &state.ear.told else { return };
    let (word, shape) = crate::text::ear::large(told);
    let whose = match told {
        Told::Seat(heard) => crate::text::ear::seat(usize::from(heard.seat)),
        Told::Section(heard) => state.class().section(heard.section).map(|section| section.name.clone()).unwrap_or_default(),
    };
    if area.height < Size::Four.rows() || !paint.look.has_blocks() {
        let line = format!(" {whose}: {word} {shape} ");
        paint.text(area, 0, 0, &cut(&line, area.width), Role::Marked);
        return;
    }
    letters::draw(paint, area, &word, Size::Four, Role::Strong);
    let (_, beside) = split_left(area, letters::width(&word, Size::Four) + 2);
    paint.text(beside, 0, 0, &format!(" {word} {shape} "), Role::Marked);
    paint.text(beside, 0, 1, &cut(&whose, beside.width), Role::Strong);
    paint.text(beside, 0, 2, &crate::text::ear::asked(told.target()), Role::Plain);
    if let Told::Section(SectionHeard { entries: Some(entries), .. }) = told {
        paint.text(beside, 0, 3, crate::text::ear::together(entries.word), Role::Strong);
    }
}

/// The stages of a climb or the steps of a recheck with the passes of each, the one under way marked.
fn draw_ladder(state: &State, plan: &Plan, paint: &mut Paint<'_>, area: Rect) {
    let here = state.bar();
    let station = here.map_or(0, |bar| usize::from(bar.station));
    paint.text(area, 2, 0, if plan.kind == PlanKind::Climb { stage::STAGES } else { stage::STEPS }, Role::Quiet);
    let (_, below) = split_top(area, 1);
    let rows = usize::from(below.height.max(1));
    let first = (station + 1).saturating_sub(rows);
    for (row, (number, stage)) in plan.stations.iter().enumerate().skip(first).take(rows).enumerate() {
        let under_way = number == station;
        let role = if under_way { Role::Strong } else { Role::Plain };
        let row = row as u16;
        if under_way {
            paint.text(below, 0, row, ">", Role::Strong);
        }
        let mut column = paint.text(below, 2, row, &cut(&stage.label, below.width.saturating_sub(2)), role) + 2;
        if plan.kind != PlanKind::Climb {
            continue;
        }
        for (round, pass) in stage.rounds.iter().enumerate().filter_map(|(round, top)| Some((round, plan.pass_at(*top)?))) {
            if column + width(pass.word()) + 2 > below.width {
                break;
            }
            let now = under_way && here.is_some_and(|bar| usize::from(bar.round) == round);
            let word = if now { format!("[{}]", pass.word()) } else { format!(" {} ", pass.word()) };
            column = paint.text(below, column, row, &word, if now { Role::Marked } else { Role::Quiet });
        }
    }
}

/// What every section reads; beside it the staff of one, or the faults of a file.
fn draw_sections(state: &State, paint: &mut Paint<'_>, area: Rect) {
    let readings = readings(state);
    let (list, side) = if area.width > LIST_COLUMNS + staff::LEAST_COLUMNS {
        let columns = LIST_COLUMNS.max(area.width * 11 / 20);
        let (list, side) = split_left(area, columns);
        (list, Some(split_left(side, 1).1))
    } else {
        (area, None)
    };
    let shown = state.shown_section();
    let columns = u16::from(readings.len() > usize::from(list.height)) + 1;
    let each = list.width / columns;
    // a list longer than two columns moves with the marked section
    let rows = usize::from(list.height.max(1));
    let capacity = rows * usize::from(columns);
    let first = (usize::from(shown.0) + 1).saturating_sub(capacity);
    // instruments stand in one column behind the longest line
    let notes = readings.iter().map(|reading| width(&reading.words(u16::MAX))).max().unwrap_or(0).max(7);
    for (place, reading) in readings.iter().skip(first).take(capacity).enumerate() {
        let column = (place / rows) as u16;
        let row = (place % rows) as u16;
        let cell = Rect { x: list.x + column * each, width: each.saturating_sub(u16::from(columns > 1)), y: list.y + row, height: 1 };
        draw_reading(paint, cell, reading, reading.section == shown, notes);
    }
    let Some(side) = side else { return };
    if let Some(faults) = &state.faults {
        super::over::faults_beside(paint, side, faults);
    } else if let Some(reading) = readings.iter().find(|reading| reading.section == shown) {
        draw_staff(paint, side, reading);
    } else {
        paint.text(side, 0, 0, stage::NO_SECTIONS, Role::Quiet);
    }
}

fn draw_reading(paint: &mut Paint<'_>, area: Rect, reading: &Reading, shown: bool, longest: u16) {
    let name_columns = 15.min(area.width / 2);
    let mark = match (reading.on, shown) {
        (true, _) => ">",
        (false, true) => ":",
        (false, false) => " ",
    };
    let strong = if reading.on { Role::Strong } else { Role::Plain };
    paint.text(area, 0, 0, mark, Role::Strong);
    paint.text(area, 2, 0, &cut(&reading.name, name_columns), if shown { Role::Strong } else { strong });
    let left = 2 + name_columns + 1;
    let room = area.width.saturating_sub(left);
    let notes = reading.words(room);
    paint.text(area, left, 0, &notes, Role::Strong);
    let gap = left + longest + 1;
    // most of a name tells what it is; a few letters do not
    let room = area.width.saturating_sub(gap);
    if room >= width(reading.instrument).min(12) {
        paint.text(area, gap, 0, &cut(reading.instrument, area.width - gap), Role::Quiet);
    }
}

fn draw_staff(paint: &mut Paint<'_>, area: Rect, reading: &Reading) {
    let notes = reading.reads.notes();
    let words = reading.words(20);
    let heading = format!("{}: {words}", reading.name);
    let under = format!("{}, {} clef", reading.instrument, reading.clef);
    let now = match &reading.reads {
        Reads::Notes(all, Some(now)) => Some(all.iter().take(*now).flatten().count()),
        _ => None,
    };
    if let Reads::SitsOut(would_fit) = &reading.reads {
        paint.text(area, 0, 0, &cut(&heading, area.width), Role::Strong);
        paint.text(area, 0, 1, &cut(&under, area.width), Role::Quiet);
        let (_, below) = split_top(area, 2);
        paint.paragraph(below, would_fit, Role::Plain);
        return;
    }
    // a staff that is wider or higher than its notes need is harder to read
    let area = Rect { width: area.width.min(STAFF_MOST.0), height: area.height.min(STAFF_MOST.1), ..area };
    // the staff first, its names where rows are left
    for names in [2, 1, 0] {
        let (top, below) = split_top(area, names);
        if !notes.is_empty() && staff::draw(paint, below, reading.clef, &notes, now) {
            match names {
                2 => {
                    paint.text(top, 0, 0, &cut(&heading, area.width), Role::Strong);
                    paint.text(top, 0, 1, &cut(&under, area.width), Role::Quiet);
                }
                1 => {
                    paint.text(top, 0, 0, &cut(&heading, area.width), Role::Strong);
                }
                _ => {}
            }
            return;
        }
    }
    paint.text(area, 0, 0, &cut(&heading, area.width), Role::Strong);
    paint.text(area, 0, 1, &cut(&under, area.width), Role::Quiet);
}
