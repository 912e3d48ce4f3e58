//! Lists and pages laid over the stage. Each keeps one line of what goes on behind it.

use ratatui::layout::Rect;

use super::facts::{Facts, Reading, readings};
use super::look::Role;
use super::paint::{Paint, cut, width, wrapped};
use super::{split_left, split_top, stage};
use crate::app::State;
use crate::app::state::{Chooser, ChooserOf, DeskRow, Finder, Over};
use crate::inputs::{Verdict, table};
use crate::text;

/// The signs of the microphone's level beside other things.
pub(super) const SIGNS: i32 = 10;

/// Draws `over`.
pub(super) fn draw(state: &State, over: &Over, facts: &Facts, paint: &mut Paint<'_>, area: Rect) {
    let (head, below) = split_top(area, 1);
    draw_head(facts, paint, head);
    let (title, below) = split_top(below, 2);
    paint.rule(title, 0);
    let heading = match over {
        Over::Learn(learn) => super::learn::heading(state, *learn),
        Over::Ear(_) => state.ear.roll().map_or_else(String::new, |roll| text::ear::title(&roll.name)),
        _ => text::screen::over(over).to_owned(),
    };
    paint.text(title, 0, 1, &cut(&heading, area.width), Role::Strong);
    match over {
        Over::Cautions => draw_cautions(paint, below),
        Over::Chooser(chooser) => draw_chooser(state, *chooser, paint, below),
        Over::DroneDesk(row) => draw_desk(state, *row, paint, below),
        Over::Keys(finder) | Over::Commands(finder) => draw_finder(state, finder, paint, below),
        Over::Faults(from) => draw_faults(state, *from, paint, below),
        Over::Ear(from) => draw_ear(state, *from, paint, below),
        Over::OpenEar(open) => super::open_ear::draw(state, open, paint, below),
        Over::Learn(learn) => super::learn::draw(state, *learn, paint, below),
    }
}

/// What goes on behind a page, in one line.
fn draw_head(facts: &Facts, paint: &mut Paint<'_>, area: Rect) {
    let mut end = paint.text(area, 0, 0, &format!(" {} {} ", facts.going.word, facts.going.shape), Role::Marked);
    if let Some((beat, beats)) = facts.beat {
        end = paint.text(area, end + 1, 0, &text::stage::beat(beat, beats), Role::Strong);
    }
    end = paint.text(area, end + 2, 0, text::stage::NEXT, Role::Quiet);
    let room = area.width.saturating_sub(end + 1);
    paint.text(area, end + 1, 0, &cut(facts.next_in(room), room), stage::role(facts.mood));
}

fn draw_cautions(paint: &mut Paint<'_>, area: Rect) {
    let text = format!("{}\n{}", text::cautions::PARAGRAPHS.join("\n"), text::cautions::GO_ON);
    paint.paragraph(area, &text, Role::Plain);
}

/// The first of `len` lines that a window of `rows` shows so that the marked one is inside.
pub(super) fn first_line(mark: usize, len: usize, rows: u16) -> usize {
    let rows = usize::from(rows.max(1));
    (mark + 1 + rows / 3).saturating_sub(rows).min(len.saturating_sub(rows))
}

/// Every passage that can be climbed, and the tempi with no piece.
pub(super) fn climbs(state: &State) -> Vec<(String, String)> {
    let passages = state.shelf.passages.iter().map(|(title, _)| (title.name.clone(), title.from.clone()));
    let bare = crate::app::shelf::BARE_GOALS.iter().map(|goal| (text::chooser::up_to(*goal), text::chooser::NO_PIECE.to_owned()));
    passages.chain(bare).collect()
}

fn draw_chooser(state: &State, chooser: Chooser, paint: &mut Paint<'_>, area: Rect) {
    let titles = |titles: &[crate::app::shelf::Title]| titles.iter().map(|title| (title.name.clone(), title.from.clone())).collect();
    let lines: Vec<(String, String)> = match chooser.of {
        ChooserOf::Rooms => titles(&state.shelf.rooms),
        ChooserOf::Drills => titles(&state.shelf.drills),
        ChooserOf::Lessons => titles(&state.shelf.lessons),
        ChooserOf::Climbs => climbs(state),
        ChooserOf::Items => state.lesson.as_ref().map(super::lesson::items).unwrap_or_default(),
        ChooserOf::Landmarks => state
            .class()
            .sections
            .iter()
            .map(|section| {
                let notes: Vec<String> = section.landmarks.iter().map(ToString::to_string).collect();
                (section.name.clone(), if notes.is_empty() { text::chooser::NO_LANDMARKS.to_owned() } else { notes.join("  ") })
            })
            .collect(),
        ChooserOf::Roll => {
            state.class().sections.iter().map(|section| (section.name.clone(), text::chooser::seats(section.seats.get()))).collect()
        }
    };
    if lines.is_empty() {
        paint.paragraph(area, text::chooser::NOTHING, Role::Plain);
        return;
    }
    let first = first_line(chooser.mark, lines.len(), area.height);
    let names = lines.iter().map(|(name, _)| width(name)).max().unwrap_or(0).min(area.width / 2);
    for (row, (index, (name, more))) in lines.iter().enumerate().skip(first).take(usize::from(area.height)).enumerate() {
        let row = row as u16;
        let marked = index == chooser.mark;
        let (mark, role) = if marked { (">", Role::Strong) } else { (" ", Role::Plain) };
        paint.text(area, 0, row, mark, Role::Strong);
        paint.text(area, 2, row, &cut(name, names), role);
        paint.text(area, names + 4, row, &cut(more, area.width.saturating_sub(names + 4)), Role::Quiet);
        if marked {
            paint.tint(area, row, Role::Marked);
        }
    }
}

fn draw_desk(state: &State, marked: DeskRow, paint: &mut Paint<'_>, area: Rect) {
    let desk = &state.desk;
    let sounds = state.pulse.drone;
    let on = |on: bool| if on { "[x]" } else { "[ ]" }.to_owned();
    let (rows, notes) = split_left(area, 32);
    for (index, row) in DeskRow::ALL.into_iter().enumerate() {
        let value = match row {
            DeskRow::Root => format!("< {} >", desk.root),
            DeskRow::WithRoot => on(desk.with_root),
            DeskRow::Fifth => on(desk.with_fifth),
            DeskRow::Octave => on(desk.with_octave),
            DeskRow::LowerOctave => on(desk.with_lower_octave),
            DeskRow::Free => format!("{} < {} >", on(desk.with_free), desk.free),
            DeskRow::Registers => on(desk.for_room),
            DeskRow::Tuning => format!("< {} >", text::desk::tuning(desk.temperament)),
            DeskRow::Sound => String::new(),
        };
        let index = index as u16;
        paint.text(rows, 0, index, if row == marked { ">" } else { " " }, Role::Strong);
        paint.text(rows, 2, index, text::desk::row(row, sounds), Role::Plain);
        paint.text(rows, 17, index, &value, Role::Strong);
        if row == marked {
            paint.tint(Rect { width: rows.width - 1, ..rows }, index, Role::Marked);
        }
    }
    draw_near(state, paint, Rect { width: rows.width - 1, ..rows });
    paint.text(notes, 0, 0, text::desk::READS, Role::Quiet);
    let (_, list) = split_top(notes, 1);
    let drone = root_readings(state);
    let columns = u16::from(drone.len() > usize::from(list.height)) + 1;
    let each = list.width / columns;
    for (index, reading) in drone.iter().enumerate() {
        let (column, row) = (index as u16 / list.height.max(1), index as u16 % list.height.max(1));
        let cell = Rect { x: list.x + (column * each).min(list.width), width: each, y: list.y + row, height: 1 };
        if column < columns {
            paint.text(cell, 0, 0, &cut(&reading.name, each.saturating_sub(6)), Role::Plain);
            paint.text(cell, each.saturating_sub(5).min(16), 0, &reading.words(5), Role::Strong);
        }
    }
}

/// Under the drone's rows: what the microphone gives, and how somebody near the drone beats against it.
fn draw_near(state: &State, paint: &mut Paint<'_>, rows: Rect) {
    let (_, below) = split_top(rows, DeskRow::ALL.len() as u16);
    if let Some(input) = &state.input {
        paint.text(below, 0, 0, &text::ear::input(input, SIGNS), Role::Plain);
    }
    let (_, mut below) = split_top(below, 1);
    let says = if state.pulse.drone { text::desk::SOUNDS } else { text::desk::SILENT };
    let near = near(state);
    let lines = if near.is_empty() { vec![(says.to_owned(), Role::Quiet)] } else { near };
    for (line, role) in lines {
        let used = paint.paragraph(below, &line, role);
        (_, below) = split_top(below, used);
    }
}

/// How somebody near the drone beats against it, and what they play; nothing while nobody is heard.
pub(super) fn near(state: &State) -> Vec<(String, Role)> {
    let Some(heard) = state.at_the_desk else { return Vec::new() };
    if state.input.is_some_and(|input| input.under_a_drone) {
        return vec![(text::desk::HEARS_ITSELF.to_owned(), Role::Strong)];
    }
    let Some(sounding) = heard.sounding else { return Vec::new() };
    let name = state.class().section(heard.section).map(|who| who.name.clone()).unwrap_or_default();
    let (written, concert) = (sounding.written.to_string(), sounding.concert.to_string());
    let sounds = text::open_ear::sounds(&written, &concert, sounding.cents, sounding.partial);
    let beats = super::open_ear::beats(state, &sounding).map(|beats| (beats, Role::Strong));
    beats.into_iter().chain([(text::desk::near(&name, &sounds), Role::Plain)]).collect()
}

/// What every section reads for the drone's root, whatever is led.
fn root_readings(state: &State) -> Vec<Reading> {
    let drone_only = State { led: None, in_force: None, ..state.clone() };
    readings(&drone_only)
}

fn draw_finder(state: &State, finder: &Finder, paint: &mut Paint<'_>, area: Rect) {
    let (line, below) = split_top(area, 1);
    let end = paint.text(line, 0, 0, ": ", Role::Strong);
    let end = paint.text(line, end, 0, &finder.typed, Role::Strong);
    paint.text(line, end, 0, " ", Role::Marked);
    let found = finder.found();
    if found.is_empty() {
        paint.text(below, 0, 0, text::screen::NOTHING_FOUND, Role::Plain);
        return;
    }
    let (below, sentence) = super::split_bottom(below, 2);
    if let Some(entry) = finder.marked() {
        let pedals = state.pedals.bindings.pedals_for(entry.command);
        let pedals = if pedals.is_empty() { String::new() } else { format!(" Also: {}.", pedals.join(", ")) };
        paint.paragraph(sentence, &format!("{}{pedals}", entry.meaning), Role::Plain);
    }
    let first = first_line(finder.mark, found.len(), below.height);
    for (row, (index, entry)) in found.iter().enumerate().skip(first).take(usize::from(below.height)).enumerate() {
        let row = row as u16;
        let keys: Vec<String> = table::keys_for(finder.about, entry.command).iter().map(ToString::to_string).collect();
        paint.text(below, 0, row, if index == finder.mark { ">" } else { " " }, Role::Strong);
        paint.text(below, 2, row, entry.word, Role::Strong);
        let keys = cut(&keys.join(" "), 19);
        let column = paint.text(below, 13, row, &keys, Role::Plain);
        let meaning = (column + 1).max(33);
        paint.text(below, meaning, row, &cut(entry.meaning, below.width.saturating_sub(meaning)), Role::Quiet);
        if index == finder.mark {
            paint.tint(below, row, Role::Marked);
        }
    }
}

fn draw_faults(state: &State, from: u16, paint: &mut Paint<'_>, area: Rect) {
    let troubles = state.troubles();
    // lines with a caret under them must not be broken
    let broken = |line: &str| if line.contains(" | ") { vec![line.to_owned()] } else { wrapped(line, area.width) };
    let lines: Vec<String> = troubles.lines().flat_map(broken).collect();
    // the last page stays full
    let from = usize::from(from).min(lines.len().saturating_sub(usize::from(area.height)));
    for (row, line) in lines.iter().skip(from).take(usize::from(area.height)).enumerate() {
        paint.text(area, 0, row as u16, &cut(line, area.width), Role::Plain);
    }
}

/// The first faults of a file in a narrow pane: message, line with caret, mend, each cut around the caret.
pub(super) fn faults_beside(paint: &mut Paint<'_>, area: Rect, faults: &str) {
    paint.text(area, 0, 0, &cut(text::screen::FAULTS, area.width), Role::Warns);
    let (_, below) = split_top(area, 1);
    let caret = faults.lines().find(|line| line.trim_start().starts_with("| ") && line.trim_end().ends_with('^'));
    let end = caret.map_or(0, width);
    // excerpt and caret move left together when the caret would be cut off
    let shift = usize::from(end.saturating_sub(area.width));
    let mut row = 0;
    for line in faults.lines() {
        if row >= below.height {
            break;
        }
        if line.contains(" | ") {
            let moved: String = line.chars().skip(shift).collect();
            paint.text(below, 0, row, &cut(&moved, area.width), Role::Strong);
            row += 1;
        } else {
            let rows = width(line).div_ceil(area.width.max(1)) + 1;
            let text = Rect { y: below.y + row, height: rows.min(below.height - row), ..below };
            let used = paint.paragraph(text, line, Role::Plain);
            row += used.max(1);
        }
    }
}

fn draw_ear(state: &State, from: u16, paint: &mut Paint<'_>, area: Rect) {
    let Some(roll) = state.ear.roll() else { return };
    let (rows, foot) = super::split_bottom(area, 2);
    let lines: Vec<(usize, Option<Verdict>)> = roll.seats.iter().enumerate().map(|(seat, noted)| (seat + 1, *noted)).collect();
    // two columns where the seats need them
    let columns = if lines.len() > usize::from(rows.height) { 2 } else { 1 };
    let each = rows.width / columns;
    let capacity = usize::from(rows.height * columns);
    let from = usize::from(from).min(lines.len().saturating_sub(capacity));
    for (index, (seat, noted)) in lines.iter().skip(from).take(capacity).enumerate() {
        let (column, row) = (index as u16 / rows.height.max(1), index as u16 % rows.height.max(1));
        let cell = Rect { x: rows.x + column * each, width: each, y: rows.y + row, height: 1 };
        let word = noted.map_or(text::ear::NOT_NOTED, text::ear::word);
        let role = if noted.is_some() { Role::Strong } else { Role::Quiet };
        paint.text(cell, 0, 0, &text::ear::seat(*seat), Role::Plain);
        paint.text(cell, 9, 0, text::ear::shape(*noted), role);
        paint.text(cell, 13, 0, word, role);
    }
    let counts: Vec<String> =
        Verdict::ALL.iter().map(|verdict| format!("{}: {}", text::ear::word(*verdict), roll.count(*verdict))).collect();
    paint.text(foot, 0, 0, &counts.join("   "), Role::Strong);
    paint.text(foot, 0, 1, &cut(&format!("{} {}", text::ear::REST, text::ear::KEPT), foot.width), Role::Quiet);
}
