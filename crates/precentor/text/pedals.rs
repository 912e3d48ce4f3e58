//! Pedals and switches.

/// A MIDI port went.
#[must_use]
pub fn went(port: &str) -> String {
    format!("pedal gone: {port}")
}

/// A MIDI port came, or came back.
#[must_use]
pub fn came(port: &str) -> String {
    format!("pedal there: {port}")
}
