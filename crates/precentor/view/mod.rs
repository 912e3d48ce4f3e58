//! Drawing: from a state to a screen, and nothing else.
//!
//! - [`look`]: which signs and colours the terminal gets
//! - [`facts`]: what the state says, before it has a place on the screen
//! - [`stage`], [`room_view`]: the two screens that lead
//! - [`over`]: lists and pages laid over them
//! - `lesson`: the items of a lesson and its clock
//! - `open_ear`: what a child plays, for the room to see
//! - `learn`, `banner`: what pedals and keys do, and where they went
//! - [`foot`]: what can be pressed, and how everything stands
//! - [`plain`]: the same in lines, for screen readers and pipes
//! - [`staff`], [`letters`]: notes on a staff, large letters

mod banner;
pub mod facts;
pub mod foot;
mod learn;
mod lesson;
pub mod letters;
pub mod look;
mod open_ear;
pub mod over;
mod paint;
pub mod plain;
pub mod room_view;
pub mod staff;
pub mod stage;

pub use look::{Colour, Glyphs, Look};

use ratatui::Frame;
use ratatui::layout::Rect;

use crate::app::State;
use crate::app::state::Base;
use facts::Facts;
use look::Role;
use paint::Paint;

/// The smallest window that shows everything needed: columns, rows.
pub const LEAST: (u16, u16) = (60, 16);

/// Draws the whole screen.
pub fn draw(state: &State, look: Look, frame: &mut Frame<'_>) {
    let area = frame.area();
    let mut paint = Paint::new(frame.buffer_mut(), look);
    if area.width < LEAST.0 || area.height < LEAST.1 {
        paint.paragraph(area, &crate::text::screen::too_small(area.width, area.height), Role::Plain);
        return;
    }
    let facts = Facts::of(state);
    let (body, feet) = split_bottom(area, foot::rows(state, area.width));
    foot::draw(state, &mut paint, feet);
    match (&state.over, state.base) {
        (Some(over), _) => over::draw(state, over, &facts, &mut paint, body),
        (None, Base::Stage) => stage::draw(state, &facts, &mut paint, body),
        (None, Base::RoomView) => room_view::draw(state, &facts, &mut paint, body),
    }
}

/// What is above the last `rows` rows, and those.
fn split_bottom(area: Rect, rows: u16) -> (Rect, Rect) {
    let rows = rows.min(area.height);
    (Rect { height: area.height - rows, ..area }, Rect { y: area.bottom() - rows, height: rows, ..area })
}

/// The first `rows` rows, and what is below.
fn split_top(area: Rect, rows: u16) -> (Rect, Rect) {
    let rows = rows.min(area.height);
    (Rect { height: rows, ..area }, Rect { y: area.y + rows, height: area.height - rows, ..area })
}

/// The first `columns` columns, and what is right of them.
fn split_left(area: Rect, columns: u16) -> (Rect, Rect) {
    let columns = columns.min(area.width);
    (Rect { width: columns, ..area }, Rect { x: area.x + columns, width: area.width - columns, ..area })
}
