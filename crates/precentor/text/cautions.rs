//! What the first run says, once. Rule of the workplace figure: the NIOSH recommendation for workers.

/// The heading.
pub const TITLE: &str = "Before the first sound";
/// What to press.
pub const GO_ON: &str = "ENTER or SPACE: understood, to the stage. This page is shown once.";
/// The cautions, a paragraph each.
pub const PARAGRAPHS: [&str; 4] = [
    "Ears. It starts soft. Measure the room with a sound level meter before you make it louder: for workers, NIOSH recommends at most 85 dBA \
     over 8 hours, half the time for every 3 dB more. Children deserve more care than that.",
    "Lips. Young players tire within minutes. Rest at least as long as you play, and stop when tone or shoulders give way.",
    "Rules. Where your school, district or law says otherwise, that holds. Ask qualified people: an audiologist about hearing, a doctor \
     about pain, your administration about rules.",
    "Hush. ESC is silence, at once, from every screen.",
];
