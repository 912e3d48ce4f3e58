//! What arrives from a key, a pedal or a switch, whatever it came through, with the name the director knows it by.

use pitch::Pitch;
use std::fmt;
use std::str::FromStr;
use thiserror::Error;

use super::Key;

/// One press.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Signal {
    /// A key, or a pedal or clicker that acts as a keyboard.
    Key(Key),
    /// A MIDI message.
    Midi {
        /// What was pressed.
        press: Press,
        /// On which channel; nothing stands for any, in what is bound.
        channel: Option<Channel>,
    },
}

/// What a MIDI message says was pressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Press {
    /// A controller, 0 to 119, at 64 or more: a pedal or switch that went down (MIDI 1.0: 0 to 63 is off, 64 to 127 is on).
    Controller(u8),
    /// A note that begins, by its number.
    Note(u8),
    /// A program, from 0 as it is sent; shown from 1, as devices show it (common practice, no source).
    Program(u8),
}

/// A MIDI channel, 1 to 16.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Channel(u8);

/// The controllers that pedals have of old: damper, sostenuto and soft (MIDI 1.0, table of control changes).
const PEDALS: [u8; 3] = [64, 66, 67];
/// The first controller that is a channel mode message instead (MIDI 1.0).
const MODES: u8 = 120;

/// Why a text names no signal.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum SignalError {
    /// No key, controller, note or program.
    #[error(
        "\"{0}\" is no key, pedal or switch; write one as the learn screen shows it, such as F6, pedal controller 66, note C2 or program 5"
    )]
    Unknown(String),
    /// A number out of bounds.
    #[error("\"{text}\" has a number out of bounds; write {bounds}")]
    Bounds {
        /// What was written.
        text: String,
        /// What may be.
        bounds: &'static str,
    },
}

impl Signal {
    /// The press in one whole MIDI message; nothing for releases, for what streams by itself and for anything that is no press.
    ///
    /// A note that begins with velocity 0 is a release (MIDI 1.0).
    #[must_use]
    pub fn of_midi(message: &[u8]) -> Option<Self> {
        let (status, data) = message.split_first()?;
        if data.iter().any(|byte| *byte > 127) {
            return None;
        }
        let press = match (status & 0xf0, data) {
            (0x90, [note, 1..=127]) => Press::Note(*note),
            (0xb0, [controller, 64..=127]) if *controller < MODES => Press::Controller(*controller),
            (0xc0, [program]) => Press::Program(*program),
            _ => return None,
        };
        Some(Self::Midi { press, channel: Some(Channel(status & 0x0f)) })
    }

    /// The same from any channel.
    #[must_use]
    pub const fn on_any_channel(self) -> Self {
        match self {
            Self::Midi { press, .. } => Self::Midi { press, channel: None },
            Self::Key(_) => self,
        }
    }

    /// The key, if it is one.
    #[must_use]
    pub const fn key(self) -> Option<Key> {
        match self {
            Self::Key(key) => Some(key),
            Self::Midi { .. } => None,
        }
    }
}

impl From<Key> for Signal {
    fn from(key: Key) -> Self {
        Self::Key(key)
    }
}

impl From<Press> for Signal {
    fn from(press: Press) -> Self {
        Self::Midi { press, channel: None }
    }
}

impl fmt::Display for Signal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Key(key) => key.fmt(f),
            Self::Midi { press, channel } => {
                press.fmt(f)?;
                channel.map_or(Ok(()), |channel| write!(f, " on channel {channel}"))
            }
        }
    }
}

impl fmt::Display for Press {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Controller(number) if PEDALS.contains(&number) => write!(f, "pedal controller {number}"),
            Self::Controller(number) => write!(f, "controller {number}"),
            Self::Note(number) => write!(f, "note {}", note(number)),
            Self::Program(number) => write!(f, "program {}", u16::from(number) + 1),
        }
    }
}

impl fmt::Display for Channel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0 + 1)
    }
}

/// The twelve notes of an octave, with sharps.
const NOTES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];

/// A note's name, with middle C, number 60, as C4 like everywhere else here.
fn note(number: u8) -> String {
    let name = NOTES.get(usize::from(number % 12)).copied().unwrap_or_default();
    format!("{name}{}", i16::from(number / 12) - 1)
}

impl FromStr for Signal {
    type Err = SignalError;

    fn from_str(text: &str) -> Result<Self, SignalError> {
        let small = text.to_lowercase();
        let words: Vec<&str> = small.split_whitespace().collect();
        let (named, channel) = match words.as_slice() {
            [named @ .., "on", "channel", number] => (named, Some(channel(text, number)?)),
            named => (named, None),
        };
        let press = match *named {
            ["pedal", "controller", number] | ["controller", number] => {
                let bounds = "a controller from 0 to 119, such as controller 80";
                Press::Controller(number.parse().ok().filter(|number| *number < MODES).ok_or_else(|| out_of_bounds(text, bounds))?)
            }
            ["program", number] => {
                let number = number.parse::<u8>().ok().and_then(|number| number.checked_sub(1)).filter(|number| *number < 128);
                Press::Program(number.ok_or_else(|| out_of_bounds(text, "a program from 1 to 128, such as program 5"))?)
            }
            ["note", name] => {
                let number = name.parse::<Pitch>().ok().and_then(Pitch::midi);
                Press::Note(number.ok_or_else(|| out_of_bounds(text, "a note from C-1 to G9, such as note C2"))?.number())
            }
            [name] if channel.is_none() => {
                return name.parse().map(Self::Key).map_err(|()| SignalError::Unknown(text.to_owned()));
            }
            _ => return Err(SignalError::Unknown(text.to_owned())),
        };
        Ok(Self::Midi { press, channel })
    }
}

fn channel(text: &str, number: &str) -> Result<Channel, SignalError> {
    let number = number.parse::<u8>().ok().filter(|number| (1..=16).contains(number));
    number.map(|number| Channel(number - 1)).ok_or_else(|| out_of_bounds(text, "a channel from 1 to 16, such as note C2 on channel 3"))
}

fn out_of_bounds(text: &str, bounds: &'static str) -> SignalError {
    SignalError::Bounds { text: text.to_owned(), bounds }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn presses_are_told_from_releases() {
        // MIDI 1.0: 9n note on, with velocity 0 a note off; 8n note off; Bn control change, on from 64; Cn program change
        let said = |message: &[u8]| Signal::of_midi(message).map(|signal| signal.to_string());
        let cases: [(&[u8], Option<&str>); 16] = [
            (&[0xb0, 64, 127], Some("pedal controller 64 on channel 1")),
            (&[0xb0, 64, 64], Some("pedal controller 64 on channel 1")),
            (&[0xb0, 64, 63], None),
            (&[0xb0, 66, 0], None),
            (&[0xbf, 67, 127], Some("pedal controller 67 on channel 16")),
            (&[0xb0, 80, 127], Some("controller 80 on channel 1")),
            // all notes off is a channel mode message
            (&[0xb0, 123, 127], None),
            (&[0x90, 36, 100], Some("note C2 on channel 1")),
            (&[0x90, 36, 0], None),
            (&[0x80, 36, 100], None),
            (&[0xc2, 4], Some("program 5 on channel 3")),
            (&[0xe0, 0, 64], None),
            // clock and active sensing stream by themselves
            (&[0xf8], None),
            (&[0xfe], None),
            // broken messages
            (&[], None),
            (&[0xb0, 200, 127], None),
        ];
        for (message, expected) in cases {
            assert_eq!(said(message).as_deref(), expected, "{message:02x?}");
        }
    }

    #[test]
    fn every_signal_is_read_back_as_it_is_told() {
        let presses = (0..120).map(Press::Controller).chain((0..128).map(Press::Note)).chain((0..128).map(Press::Program));
        for press in presses {
            for channel in [None, Some(Channel(0)), Some(Channel(15))] {
                let signal = Signal::Midi { press, channel };
                assert_eq!(signal.to_string().parse(), Ok(signal), "{signal}");
            }
        }
        for key in Key::named().chain(('!'..='~').filter(|sign| !sign.is_uppercase()).map(Key::Sign)).chain([Key::Control('c')]) {
            assert_eq!(key.to_string().parse(), Ok(Signal::Key(key)), "{key}");
        }
    }

    #[test]
    fn names_are_forgiving_and_mistakes_say_what_may_be() {
        assert_eq!("  Note   Bb1 on Channel 2 ".parse(), Ok(Signal::Midi { press: Press::Note(34), channel: Some(Channel(1)) }));
        assert_eq!("controller 64".parse(), Ok(Signal::from(Press::Controller(64))));
        assert_eq!("pgdn".parse(), Ok(Signal::Key(Key::PageDown)));
        assert_eq!("B".parse(), Ok(Signal::Key(Key::Sign('b'))));
        let refused = |text: &str| text.parse::<Signal>().unwrap_err().to_string();
        for text in ["pedal controller 120", "program 0", "program 129", "note H2", "note C11", "note C2 on channel 17"] {
            assert!(refused(text).contains("out of bounds"), "{text}: {}", refused(text));
        }
        for text in ["", "stamp", "F13", "F6 on channel 1", "pedal 64", "note"] {
            assert!(refused(text).contains("is no key, pedal or switch"), "{text}: {}", refused(text));
        }
    }
}
