//! The learn screen: what arrives, what it does, and what it shall do.

use ratatui::layout::Rect;

use super::look::Role;
use super::over::first_line;
use super::paint::{Paint, cut, width};
use super::{split_bottom, split_top};
use crate::app::State;
use crate::app::state::{Heard, Learn};
use crate::app::update::lessons;
use crate::inputs::{Deed, bindings};
use crate::text::pedals as text;

/// The columns for a signal's name.
const NAMES: u16 = 34;

/// The heading.
pub(super) fn heading(state: &State, learn: Learn) -> String {
    match (learn.choosing, state.pedals.heard.first()) {
        (Some(_), Some(heard)) => text::chooses(heard.taught()),
        _ => text::TITLE.to_owned(),
    }
}

/// Draws the learn screen.
pub(super) fn draw(state: &State, learn: Learn, paint: &mut Paint<'_>, area: Rect) {
    match learn.choosing {
        Some(mark) => draw_choice(mark, paint, area),
        None => draw_listening(state, paint, area),
    }
}

fn draw_listening(state: &State, paint: &mut Paint<'_>, area: Rect) {
    let (hints, below) = split_top(area, 3);
    let used = paint.paragraph(hints, text::LISTENING, Role::Plain);
    paint.text(hints, 0, used, &cut(text::FIXED, area.width), Role::Quiet);
    let (below, ports) = split_bottom(below, 1);
    paint.text(ports, 0, 0, &cut(&text::ports(&state.pedals.ports), area.width), Role::Plain);
    let own: Vec<String> = state.pedals.bindings.all().map(|(signal, deed)| format!("{signal}: {}", deed.word())).collect();
    let (heard, own_rows) = split_bottom(below, u16::from(!own.is_empty()) * 3.min(below.height / 3));
    if !own.is_empty() {
        paint.paragraph(own_rows, &format!("{} {}", text::OWN, own.join("; ")), Role::Plain);
    }
    if state.pedals.heard.is_empty() {
        paint.text(heard, 2, 1, text::WAITING, Role::Quiet);
    }
    for (row, press) in state.pedals.heard.iter().enumerate().take(usize::from(heard.height)) {
        draw_heard(state, press, paint, heard, row as u16);
    }
}

fn draw_heard(state: &State, press: &Heard, paint: &mut Paint<'_>, area: Rect, row: u16) {
    let newest = row == 0;
    let times = if press.times > 1 { format!(" x{}", press.times) } else { String::new() };
    let deed = state.pedals.bindings.does(press.signal);
    paint.text(area, 0, row, if newest { ">" } else { " " }, Role::Strong);
    let name = cut(&press.signal.to_string(), NAMES - width(&times).min(NAMES));
    paint.text(area, 2, row, &format!("{name}{times}"), if newest { Role::Strong } else { Role::Plain });
    let end = paint.text(area, NAMES + 3, row, deed.word(), Role::Strong);
    let from = text::from(press.port.as_deref());
    let left = (end + 2).max(NAMES + 15);
    paint.text(area, left, row, &cut(&from, area.width.saturating_sub(left)), Role::Quiet);
    if newest {
        paint.tint(area, row, Role::Marked);
    }
}

fn draw_choice(mark: usize, paint: &mut Paint<'_>, area: Rect) {
    let lines: Vec<(&str, &str)> = lessons().map(described).collect();
    let first = first_line(mark, lines.len(), area.height);
    for (row, (index, (word, meaning))) in lines.iter().enumerate().skip(first).take(usize::from(area.height)).enumerate() {
        let row = row as u16;
        let marked = index == mark;
        paint.text(area, 0, row, if marked { ">" } else { " " }, Role::Strong);
        paint.text(area, 2, row, word, Role::Strong);
        paint.text(area, 15, row, &cut(meaning, area.width.saturating_sub(15)), Role::Quiet);
        if marked {
            paint.tint(area, row, Role::Marked);
        }
    }
}

/// A line of the list: its word and what it means.
pub(super) fn described(deed: Option<Deed>) -> (&'static str, &'static str) {
    match deed {
        None => (text::AS_IT_COMES, text::AS_IT_COMES_MEANS),
        Some(Deed::Nothing) => (bindings::NOTHING, text::NOTHING_MEANS),
        Some(Deed::Do(command)) => {
            bindings::bindable().find(|entry| entry.command == command).map_or(("", ""), |entry| (entry.word, entry.meaning))
        }
    }
}
