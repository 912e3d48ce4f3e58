//! The room view: for the class, on a projector. Whatever is for the class is at least four rows high.

use pitch::Clef;
use ratatui::layout::Rect;

use super::facts::{Facts, Reading, Reads, readings};
use super::letters::{self, Octave, Size};
use super::look::Role;
use super::paint::{Paint, cut, width};
use super::{split_left, split_top, stage};
use crate::app::State;
use crate::text;

/// Draws the room view.
pub(super) fn draw(state: &State, facts: &Facts, paint: &mut Paint<'_>, area: Rect) {
    let (top, below) = split_top(area, if area.height >= 22 && area.width >= 140 { 8 } else { 4 });
    draw_going(facts, paint, top);
    let (line, below) = split_top(below, 1);
    // who it is may be cut for what comes next, never the other way round
    let least = facts.next.last().map_or(0, |way| width(way)) + width(text::stage::NEXT) + 3;
    let end = paint.text(line, 0, 0, &cut(&format!("{}: {}", facts.going.word, facts.who), line.width.saturating_sub(least)), Role::Strong);
    let room = line.width.saturating_sub(end + 2 + width(text::stage::NEXT) + 1);
    let next = format!("{} {}", text::stage::NEXT, facts.next_in(room));
    paint.text_right(line, 0, end + 1, &next, Role::Plain);
    draw_notes(state, paint, below);
}

/// The state's word and the beat's number, as large as there is room for.
fn draw_going(facts: &Facts, paint: &mut Paint<'_>, area: Rect) {
    let role = stage::role(facts.mood);
    let beat = facts.beat.map(|(beat, beats)| (beat.max(1).to_string(), beat, beats));
    let size = letters::fitting(&format!("{}  ", facts.going.word), area).unwrap_or(Size::Four);
    letters::draw(paint, area, facts.going.word, size, role);
    let Some((number, beat, beats)) = beat else { return };
    let wide = letters::width(&number, size);
    if letters::width(facts.going.word, size) + wide <= area.width && beat > 0 {
        // a shape beside the number: the boxes of the bar, the beat's own filled
        let (_, right) = split_left(area, area.width - wide);
        letters::draw(paint, right, &number, size, Role::Strong);
    }
    let boxes = u16::from(beats) * 2;
    if letters::width(facts.going.word, size) + wide + boxes < area.width {
        stage::draw_beats(paint, area, area.width - wide - boxes, area.height / 2, beat, beats);
    }
}

/// Every section's note in large letters, as large as there is room for; sections that read the same share a place. A line of many notes
/// shows the one under way.
fn draw_notes(state: &State, paint: &mut Paint<'_>, area: Rect) {
    if let Some((plan, bar)) = state.plan().zip(state.bar())
        && let Some(number) = plan.page_number(bar)
    {
        let tempo = state.pulse.tempo.map_or_else(String::new, |tempo| tempo.to_string());
        return draw_numbers(&[(number, text::stage::BAR), (&tempo, text::stage::TEMPO)], paint, area);
    }
    let cards = cards(&readings(state));
    let Some(grid) = [Size::Eight, Size::Four].into_iter().find_map(|size| Grid::of(&cards, size, area)) else {
        draw_small(&cards, paint, area);
        return;
    };
    for (index, card) in cards.iter().enumerate() {
        let (row, column) = (index as u16 / grid.columns, index as u16 % grid.columns);
        let cell = Rect { x: area.x + column * grid.width, width: grid.width, y: area.y + row * grid.height, height: grid.height };
        let (note, names) = split_left(cell, letters::width(&card.note, grid.size));
        let role = if card.on { Role::Strong } else { Role::Plain };
        letters::draw(paint, note, &card.note, grid.size, role);
        let names = Rect { x: names.x + 1, width: names.width.saturating_sub(2), ..names };
        let text = if card.on { format!("> {}", card.names) } else { card.names.clone() };
        paint.paragraph(names, &text, role);
    }
}

/// Numbers one under the other in large letters, each with its name: the bar and the tempo of a passage.
fn draw_numbers(numbers: &[(&str, &str)], paint: &mut Paint<'_>, area: Rect) {
    let rows = area.height / numbers.len().max(1) as u16;
    for (index, (number, name)) in numbers.iter().enumerate() {
        let cell = Rect { y: area.y + index as u16 * rows, height: rows, ..area };
        let Some(size) = letters::fitting(&format!("{number}  "), cell) else {
            paint.text(cell, 0, 0, &format!("{name} {number}"), Role::Strong);
            continue;
        };
        letters::draw(paint, cell, number, size, Role::Strong);
        let (_, beside) = split_left(cell, letters::width(number, size) + 2);
        paint.text(beside, 0, size.rows() / 2, name, Role::Plain);
    }
}

/// The fewest columns for the names beside a note: the longest of one word.
const NAME_COLUMNS: u16 = 14;

/// Places of one size for all cards.
struct Grid {
    size: Size,
    columns: u16,
    width: u16,
    height: u16,
}

impl Grid {
    /// The grid in which every card's note is drawn in `size` with room for the names beside it; nothing if there is none.
    fn of(cards: &[Card], size: Size, area: Rect) -> Option<Self> {
        let widest = cards.iter().map(|card| letters::width(&card.note, size)).max()? + NAME_COLUMNS;
        let height = size.rows();
        let rows = area.height / height;
        let columns = (cards.len() as u16).div_ceil(rows.max(1)).max(1);
        let width = area.width / columns;
        (rows > 0 && width >= widest).then_some(Self { size, columns, width, height })
    }
}

/// Too many different notes for large letters: names and notes in columns.
fn draw_small(cards: &[Card], paint: &mut Paint<'_>, area: Rect) {
    let columns = (cards.len() as u16).div_ceil(area.height.max(1)).max(1);
    let each = area.width / columns;
    for (index, card) in cards.iter().enumerate() {
        let (column, row) = (index as u16 / area.height.max(1), index as u16 % area.height.max(1));
        let cell = Rect { x: area.x + column * each, width: each, y: area.y + row, height: 1 };
        let end = paint.text(cell, 0, 0, &format!("{:4}", card.name_of_note), Role::Marked);
        paint.text(cell, end + 1, 0, &cut(&card.names, each.saturating_sub(end + 2)), if card.on { Role::Strong } else { Role::Plain });
    }
}

/// Sections that read the same.
struct Card {
    names: String,
    /// With drawn accidentals, for large letters.
    note: String,
    /// In plain letters.
    name_of_note: String,
    on: bool,
}

fn cards(readings: &[Reading]) -> Vec<Card> {
    let mut cards: Vec<Card> = Vec::new();
    for reading in readings {
        let Reads::Notes(notes, now) = &reading.reads else { continue };
        let Some(written) = notes.get(now.unwrap_or(0)).copied().flatten().or_else(|| notes.iter().flatten().next().copied()) else {
            continue;
        };
        let (note, name_of_note) = match reading.clef {
            Clef::Percussion => (text::stage::STROKE.to_owned(), text::stage::STROKE.to_owned()),
            Clef::Treble | Clef::Bass => (letters::note(written, Octave::Hidden), written.pitch().class().to_string()),
        };
        match cards.iter_mut().find(|card| card.note == note && card.on == reading.on) {
            Some(card) => {
                card.names.push_str(", ");
                card.names.push_str(&reading.name);
            }
            None => cards.push(Card { names: reading.name.clone(), note, name_of_note, on: reading.on }),
        }
    }
    // whose turn it is comes first; the order within stays the score's
    cards.sort_by_key(|card| !card.on);
    cards
}
