//! The banner while another window has the keyboard: seen from the far end of the room.

use ratatui::layout::Rect;

use super::letters::{self, Size};
use super::look::Role;
use super::paint::{Paint, cut};
use crate::app::State;
use crate::app::action::Focus;
use crate::text::pedals as text;

/// The rows it takes at the foot of the stage: large letters, and what they mean; none while the keyboard is here.
pub(super) fn rows(state: &State, area: Rect) -> u16 {
    if state.focus == Focus::Here {
        return 0;
    }
    let words = 1 + u16::from(!state.pedals.ports.is_empty());
    let large = letters::width(text::AWAY, Size::Four) <= area.width && area.height >= 18;
    if large { Size::Four.rows() + words } else { 1 + words }
}

/// Draws it.
pub(super) fn draw(state: &State, paint: &mut Paint<'_>, area: Rect) {
    if area.height == 0 {
        return;
    }
    let head = area.height - 1 - u16::from(!state.pedals.ports.is_empty());
    if head >= Size::Four.rows() {
        letters::draw(paint, area, text::AWAY, Size::Four, Role::Warns);
    } else {
        paint.text(area, 0, 0, &format!(" {} ", text::AWAY), Role::Marked);
    }
    paint.text(area, 0, head, &cut(text::AWAY_MEANS, area.width), Role::Warns);
    if let Some(still) = text::still_there(&state.pedals.ports) {
        paint.text(area, 0, head + 1, &cut(&still, area.width), Role::Strong);
    }
}
