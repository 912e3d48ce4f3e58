//! A key, whatever terminal it came through.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use std::fmt;
use std::str::FromStr;

/// A key as the table names it. Letters are small whatever the shift and caps-lock keys say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Key {
    /// A printed sign other than the blank.
    Sign(char),
    /// The space bar.
    Space,
    /// Return or Enter.
    Enter,
    /// Escape.
    Escape,
    /// Tab.
    Tab,
    /// Backspace.
    Backspace,
    /// Arrow left.
    Left,
    /// Arrow right.
    Right,
    /// Arrow up.
    Up,
    /// Arrow down.
    Down,
    /// Page up.
    PageUp,
    /// Page down.
    PageDown,
    /// Home.
    Home,
    /// End.
    End,
    /// Insert.
    Insert,
    /// Delete.
    Delete,
    /// A function key, F1 to F12.
    Function(u8),
    /// Control and a letter.
    Control(char),
}

/// How many function keys there are.
const FUNCTIONS: u8 = 12;

impl Key {
    /// Every key that is neither a sign nor held with Control.
    pub fn named() -> impl Iterator<Item = Self> {
        let plain = [
            Self::Space,
            Self::Enter,
            Self::Escape,
            Self::Tab,
            Self::Backspace,
            Self::Left,
            Self::Right,
            Self::Up,
            Self::Down,
            Self::PageUp,
            Self::PageDown,
            Self::Home,
            Self::End,
            Self::Insert,
            Self::Delete,
        ];
        plain.into_iter().chain((1..=FUNCTIONS).map(Self::Function))
    }

    /// The key that was pressed; nothing for releases, held-key repeats that the terminal marks as such, and keys no table names.
    ///
    /// Some terminals report releases too: a toggle that listened to both would cancel itself.
    #[must_use]
    pub fn pressed(event: &KeyEvent) -> Option<Self> {
        if event.kind != KeyEventKind::Press {
            return None;
        }
        let control = event.modifiers.contains(KeyModifiers::CONTROL);
        let altered = event.modifiers.intersects(KeyModifiers::ALT | KeyModifiers::SUPER | KeyModifiers::META | KeyModifiers::HYPER);
        Some(match event.code {
            _ if altered => return None,
            KeyCode::Char(sign) if control => Self::Control(sign.to_ascii_lowercase()),
            KeyCode::Char(' ') => Self::Space,
            KeyCode::Char(sign) => Self::Sign(sign.to_lowercase().next().unwrap_or(sign)),
            KeyCode::Enter => Self::Enter,
            KeyCode::Esc => Self::Escape,
            KeyCode::Tab | KeyCode::BackTab => Self::Tab,
            KeyCode::Backspace => Self::Backspace,
            KeyCode::Left => Self::Left,
            KeyCode::Right => Self::Right,
            KeyCode::Up => Self::Up,
            KeyCode::Down => Self::Down,
            KeyCode::PageUp => Self::PageUp,
            KeyCode::PageDown => Self::PageDown,
            KeyCode::Home => Self::Home,
            KeyCode::End => Self::End,
            KeyCode::Insert => Self::Insert,
            KeyCode::Delete => Self::Delete,
            KeyCode::F(number @ 1..=FUNCTIONS) => Self::Function(number),
            _ => return None,
        })
    }

    /// What this key types into a list that filters.
    #[must_use]
    pub const fn typed(self) -> Option<char> {
        match self {
            Self::Sign(sign) => Some(sign),
            Self::Space => Some(' '),
            _ => None,
        }
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Sign(sign) => write!(f, "{sign}"),
            Self::Space => f.write_str("SPACE"),
            Self::Enter => f.write_str("ENTER"),
            Self::Escape => f.write_str("ESC"),
            Self::Tab => f.write_str("TAB"),
            Self::Backspace => f.write_str("BKSP"),
            Self::Left => f.write_str("LEFT"),
            Self::Right => f.write_str("RIGHT"),
            Self::Up => f.write_str("UP"),
            Self::Down => f.write_str("DOWN"),
            Self::PageUp => f.write_str("PGUP"),
            Self::PageDown => f.write_str("PGDN"),
            Self::Home => f.write_str("HOME"),
            Self::End => f.write_str("END"),
            Self::Insert => f.write_str("INS"),
            Self::Delete => f.write_str("DEL"),
            Self::Function(number) => write!(f, "F{number}"),
            Self::Control(letter) => write!(f, "CTRL-{}", letter.to_ascii_uppercase()),
        }
    }
}

impl FromStr for Key {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        let mut signs = text.chars();
        if let (Some(sign), None) = (signs.next(), signs.next()) {
            let printed = !sign.is_whitespace() && !sign.is_control();
            return printed.then(|| Self::Sign(sign.to_lowercase().next().unwrap_or(sign))).ok_or(());
        }
        let text = text.to_ascii_uppercase();
        let control = text.strip_prefix("CTRL-").and_then(|letter| letter.parse::<char>().ok()).filter(char::is_ascii_uppercase);
        let control = control.map(|letter| Self::Control(letter.to_ascii_lowercase()));
        control.or_else(|| Self::named().find(|key| key.to_string() == text)).ok_or(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_presses_count() {
        let mut event = KeyEvent::new(KeyCode::PageDown, KeyModifiers::NONE);
        assert_eq!(Key::pressed(&event), Some(Key::PageDown));
        event.kind = KeyEventKind::Release;
        assert_eq!(Key::pressed(&event), None);
        event.kind = KeyEventKind::Repeat;
        assert_eq!(Key::pressed(&event), None);
    }

    #[test]
    fn caps_lock_changes_nothing_and_alt_is_somebody_elses() {
        assert_eq!(Key::pressed(&KeyEvent::new(KeyCode::Char('H'), KeyModifiers::SHIFT)), Some(Key::Sign('h')));
        assert_eq!(Key::pressed(&KeyEvent::new(KeyCode::Char('C'), KeyModifiers::CONTROL)), Some(Key::Control('c')));
        assert_eq!(Key::pressed(&KeyEvent::new(KeyCode::Char('h'), KeyModifiers::ALT)), None);
    }
}
