//! The last two lines of every screen: how everything stands, and what can be pressed. Hush comes first and is never cut off.

use ratatui::layout::Rect;
use sequencer::plan::PlanKind;
use sequencer::{Cue, Motion};

use super::look::Role;
use super::paint::{Paint, cut, width, wrapped};
use crate::app::State;
use crate::app::action::Focus;
use crate::app::state::{Hearing, Over, Standing, Voice};
use crate::inputs::{Command, Key, Place, table};
use crate::text::stage::go;
use crate::text::status;

/// The most rows a message takes.
const MOST_TOLD: u16 = 3;

/// How many rows the foot takes in a window `columns` wide: two, and more while something longer is told.
pub(super) fn rows(state: &State, columns: u16) -> u16 {
    let (text, _) = told(state);
    let beside = columns.saturating_sub(width(&levels(state)) + 2);
    match state.told {
        Some(_) if width(&text) > beside => 2 + (wrapped(&text, columns).len() as u16).min(MOST_TOLD),
        _ => 2,
    }
}

/// Draws the foot into `area`.
pub(super) fn draw(state: &State, paint: &mut Paint<'_>, area: Rect) {
    let (text, role) = told(state);
    let (above, lines) = super::split_bottom(area, 2);
    let right = levels(state);
    paint.text_right(lines, 0, 0, &right, Role::Strong);
    let beside = lines.width.saturating_sub(width(&right) + 2);
    if above.height > 0 {
        paint.paragraph(above, &text, role);
        paint.text(lines, 0, 0, &cut(&status::standing(&state.sound), beside), Role::Plain);
    } else {
        paint.text(lines, 0, 0, &cut(&text, beside), role);
    }
    let mut column = 0;
    for hint in hints(state) {
        let key = format!(" {} ", hint.key);
        let words = format!(" {}  ", hint.word);
        // a hint goes whole or not at all; the blanks at its end may be cut
        if column + width(&key) + width(words.trim_end()) > lines.width {
            break;
        }
        column = paint.text(lines, column, 1, &key, Role::Marked);
        column = paint.text(lines, column, 1, &words, hint.role);
    }
}

/// A key and what it does now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hint {
    /// The key.
    pub key: Key,
    /// What it does, in one to three words.
    pub word: String,
    /// How it looks.
    role: Role,
}

/// What can be pressed, most needed first: hush, then the list of keys, then what leads on.
#[must_use]
pub fn hints(state: &State) -> Vec<Hint> {
    let place = state.place();
    let mut hints: Vec<Hint> = Vec::new();
    let mut add = |command: Command, word: Option<&str>| {
        let entry = table::entries(place).find(|entry| entry.command == command);
        if let Some((entry, key)) = entry.zip(table::key_for(place, command)) {
            let urgent = command == Command::Quit && state.quit_asked.is_some();
            let role = if urgent { Role::Warns } else { Role::Plain };
            hints.push(Hint { key, word: word.unwrap_or(entry.word).to_owned(), role });
        }
    };
    add(Command::Cue(Cue::Hush), None);
    if state.quit_asked.is_some() {
        add(Command::Quit, Some(status::QUIT_AGAIN));
    }
    add(Command::Keys, None);
    match place {
        Place::Stage | Place::RoomView => {
            add(Command::Cue(Cue::Go), Some(go_word(state)));
            add(Command::Cue(Cue::Again), None);
            if state.base == crate::app::state::Base::RoomView {
                add(Command::RoomView, Some(status::BACK_TO_STAGE));
            }
            for command in [
                Command::Cue(Cue::Hold),
                Command::Drills,
                Command::DroneDesk,
                Command::Quit,
                Command::Landmarks,
                Command::InTurn,
                Command::Roll,
                Command::RoomView,
                Command::Rooms,
                Command::Cue(Cue::Next),
                Command::Cue(Cue::Back),
                Command::Commands,
            ] {
                let shown = (command == Command::Quit && state.quit_asked.is_some())
                    || (command == Command::RoomView && state.base == crate::app::state::Base::RoomView);
                if !shown {
                    add(command, None);
                }
            }
        }
        Place::Chooser | Place::Finder => {
            add(Command::Choose, None);
            add(Command::Up, None);
            add(Command::Down, None);
            add(Command::Leave, None);
        }
        Place::DroneDesk => {
            add(Command::DroneToggle, Some(if state.pulse.drone { status::LET_GO } else { status::SOUND_IT }));
            add(Command::Less, None);
            add(Command::More, None);
            add(Command::Choose, Some(status::SWITCH));
            add(Command::Leave, None);
        }
        Place::Learn => {
            add(Command::Teach, None);
            add(Command::Leave, None);
        }
        Place::Page => {
            let word = if matches!(state.over, Some(Over::Cautions)) { Some(status::UNDERSTOOD) } else { Some(status::BACK_TO_STAGE) };
            add(Command::Choose, word);
            if !matches!(state.over, Some(Over::Cautions)) {
                add(Command::Down, None);
            }
        }
    }
    hints
}

/// What go does now.
fn go_word(state: &State) -> &'static str {
    let Some((plan, motion)) = state.plan().zip(state.motion()) else { return go::CHOOSE };
    match motion {
        Motion::Ready => go::START,
        Motion::Running | Motion::Closing => go::next(plan.kind),
        Motion::Held | Motion::Waiting => go::ON,
        Motion::Done if state.aside.is_some() => go::BACK,
        Motion::Done if state.next_item().is_some() => go::NEXT_ITEM,
        Motion::Done => go::AFRESH,
    }
}

/// Tempo and level.
fn levels(state: &State) -> String {
    // a drone is held without a pulse
    let tempo = state.pulse.tempo.filter(|_| state.plan().is_none_or(|plan| plan.kind != PlanKind::Hold));
    let tempo = tempo.map_or_else(String::new, |tempo| status::tempo(tempo.bpm()) + "  ");
    let recording = state.recording.filter(|_| matches!(state.hearing, Hearing::On(_))).map(status::recording).unwrap_or_default();
    recording + &status::roles(&state.mix) + &tempo + &status::level(state.pulse.level)
}

/// The most pressing thing to be told just now.
fn told(state: &State) -> (String, Role) {
    let sound = status::standing(&state.sound);
    if state.focus == Focus::Elsewhere {
        return (status::elsewhere(!state.pedals.ports.is_empty()).to_owned(), Role::Warns);
    }
    if let Some((told, _)) = &state.told {
        return (told.clone(), Role::Strong);
    }
    let trouble = matches!(state.sound.standing, Standing::Lost | Standing::Failed);
    let mut text = sound;
    match &state.voice {
        Voice::Loading => text = format!("{}  {text}", status::VOICE_LOADING),
        Voice::Missing(_) => text = format!("{}  {text}", status::VOICE_MISSING),
        Voice::Ready => {}
    }
    if state.faults.is_some() {
        text = format!("{}  {text}", status::FAULTS);
    }
    if state.pulse.drone && state.plan().is_some() {
        text = format!("{}  {text}", status::drone(state.desk.root));
    }
    let warns = trouble || state.faults.is_some() || state.sound.standing == Standing::Silent;
    (text, if warns { Role::Warns } else { Role::Plain })
}
