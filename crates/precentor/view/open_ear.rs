//! What a child plays, for the room to see: its note as it reads it, how far off it is, and the notes of the same fingering.

use pitch::Family;
use ratatui::layout::Rect;
use units::{Cents, Hertz};

use super::facts::instrument;
use super::letters::{self, Size};
use super::look::Role;
use super::over::SIGNS;
use super::paint::{Paint, cut};
use super::{split_bottom, split_left, split_top, staff};
use crate::app::State;
use crate::app::state::{OpenEar, Sounding};
use crate::hearing;
use crate::text::{ear as text_of_ear, open_ear as text};

/// The columns of the notes of the same fingering.
const PARTIALS: u16 = 16;
/// How far the ruler reaches to either side, and what one of its signs stands for, in cents.
const REACH: f64 = 50.0;
const SIGN: f64 = 5.0;

/// From so many columns on, so many signs of the microphone's level; else [`SIGNS`].
const WIDE: (u16, i32) = (100, 30);

/// Draws it.
pub(super) fn draw(state: &State, open: &OpenEar, paint: &mut Paint<'_>, area: Rect) {
    let Some(who) = state.class().section(open.section) else { return };
    let (line, below) = split_top(area, 1);
    let below = match &state.input {
        Some(input) => {
            let (below, foot) = split_bottom(below, 1);
            let signs = if area.width >= WIDE.0 { WIDE.1 } else { SIGNS };
            paint.text(foot, 0, 0, &text_of_ear::input(input, signs), Role::Plain);
            below
        }
        None => below,
    };
    let end = paint.text(line, 0, 0, &cut(&text::whose(&who.name, instrument(who.instrument.label())), line.width), Role::Strong);
    paint.text_right(line, 0, end + 2, text::OTHERS, Role::Quiet);
    let (left, right) = split_left(below, below.width.saturating_sub(PARTIALS.max(below.width / 3)));
    let Some(sounding) = &open.sounding else {
        letters::draw(paint, left, text::NOTHING, Size::Four, Role::Quiet);
        let (_, under) = split_top(left, Size::Four.rows() + 1);
        paint.paragraph(under, text::WAITS, Role::Plain);
        return;
    };
    let name = signs(&sounding.written.to_string());
    // the ruler and its words need four rows more
    let room = Rect { height: left.height.saturating_sub(4), ..left };
    let size = letters::fitting(&name, room).unwrap_or(Size::Four);
    letters::draw(paint, left, &name, size, Role::Strong);
    let (_, under) = split_top(left, size.rows());
    paint.text(under, 0, 1, &ruler(sounding.cents), Role::Strong);
    let words = text::sounds(&sounding.written.to_string(), &sounding.concert.to_string(), sounding.cents, sounding.partial);
    paint.text(under, 0, 2, &cut(&words, under.width), Role::Plain);
    if let Some(beats) = beats(state, sounding) {
        paint.text(under, 0, 3, &cut(&beats, under.width), Role::Strong);
    }
    let tuning = state.class().equal_tuning();
    let brass = who.instrument.family() == Family::Brass;
    match hearing::series(who.instrument, &tuning, sounding.written).filter(|_| brass) {
        Some((_, notes)) => {
            paint.text(right, 1, 0, text::PARTIALS, Role::Quiet);
            for (row, (written, partial)) in notes.iter().rev().enumerate() {
                let on = written.semitone() == sounding.written.semitone();
                let (mark, role) = if on { (">", Role::Marked) } else { (" ", Role::Plain) };
                paint.text(right, 1, row as u16 + 1, &format!("{mark}{partial:>2}  {written:<4}"), role);
            }
        }
        None => {
            staff::draw(paint, right, who.instrument.clef(), &[sounding.written], Some(0));
        }
    }
}

/// How often what sounds beats against the drone, if one is held; where that may be the drone itself, so much is said.
pub(super) fn beats(state: &State, sounding: &Sounding) -> Option<String> {
    let drone = state.pulse.drone.then(|| state.desk.drone())?;
    if state.input.is_some_and(|input| input.under_a_drone) {
        return Some(crate::text::desk::HEARS_ITSELF.to_owned());
    }
    let class = state.class();
    let tones: Vec<Hertz> = drone.tuned(class).iter().map(|tone| tone.frequency).collect();
    let beating = listen::beating(sounding.frequency, &tones)?;
    Some(text::beats(beating.per_second, beating.cents))
}

/// A note's name with the signs that large letters have.
fn signs(name: &str) -> String {
    let mut letters = name.chars();
    let step: String = letters.by_ref().take(1).collect();
    step + &letters.as_str().replace('b', "♭").replace('#', "♯")
}

/// Where the sound lies between half a semitone low and high: the middle is a stroke, the sound a ring.
fn ruler(cents: Cents) -> String {
    let half = (REACH / SIGN) as i32;
    let at = (cents.0 / SIGN).round().clamp(-f64::from(half), f64::from(half)) as i32;
    let sign = |place: i32| match place {
        _ if place == at => 'O',
        0 => '|',
        _ if place % 4 == 0 => ':',
        _ => '.',
    };
    let line: String = (-half..=half).map(sign).collect();
    format!("low  {line}  high")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ring_lies_where_the_sound_lies() {
        assert_eq!(ruler(Cents(0.0)), "low  ..:...:...O...:...:..  high");
        assert_eq!(ruler(Cents(-21.0)), "low  ..:...O...|...:...:..  high");
        assert_eq!(ruler(Cents(49.0)), "low  ..:...:...|...:...:.O  high");
        assert_eq!(signs("Bb4"), "B♭4");
    }
}
