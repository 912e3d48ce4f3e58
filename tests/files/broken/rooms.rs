//! Broken rooms.

use super::{
    Case,
    Sort::{Meaning, Structure, Text},
};

#[rustfmt::skip]
pub(super) const CASES: &[Case] = &[
    ("room-comfortable-not-a-range", Structure, &[
        (7, 16, "\"C4-G4\" is not a range", "write the lowest and the highest written pitch with two dots between, such as C4..G4"),
    ]),
    ("room-comfortable-outside-instrument", Meaning, &[
        (7, 16, "C4..G7 leaves the Horn in F, treble clef (F#2..C6 written)", "write a range inside F#2..C6"),
    ]),
    ("room-comfortable-reversed", Meaning, &[
        (7, 16, "the range G4..C4 runs downward", "write the lower pitch first, C4..G4"),
    ]),
    ("room-drone-too-high", Meaning, &[
        (3, 22, "C8 is too low or too high for a drone", "write a concert pitch from E1 to C6"),
    ]),
    ("room-drone-unknown-note", Structure, &[
        (4, 19, "\"fith\" is not a note of a drone", "did you mean \"fifth\"?"),
    ]),
    ("room-drone-unknown-registers", Structure, &[
        (5, 13, "\"rom\" is not known for registers", "did you mean \"room\"?"),
    ]),
    ("room-drone-unknown-tuning", Structure, &[
        (4, 10, "\"jist\" is not known for tuning", "did you mean \"just\"?"),
    ]),
    ("room-duplicate-section", Meaning, &[
        (10, 9, "another section is called \"Horns\" already", "give each its own name, such as \"Horns 1\" and \"Horns 2\""),
    ]),
    ("room-empty-name", Structure, &[
        (4, 8, "name is empty", "write name = \"Horns\""),
    ]),
    ("room-key-below-heading", Structure, &[
        (9, 1, "\"reference_hz\" is not a key of a section", "move it up, before the first line in brackets; it is a key of a room"),
    ]),
    ("room-key-twice", Text, &[
        (7, 1, "duplicate key", "keep one of the two; tables that come several times have two brackets each, such as [[section]] or [[turn]]"),
    ]),
    ("room-landmark-not-text", Structure, &[
        (8, 14, "an entry of landmarks is a whole number here; it must be text in quotes", "write landmarks = [\"G4\", \"E4\", \"C4\"]"),
    ]),
    ("room-landmark-outside-instrument", Meaning, &[
        (8, 21, "C2 is outside the Horn in F, treble clef (F#2..C6 written)", "write a note inside F#2..C6"),
    ]),
    ("room-landmark-without-octave", Structure, &[
        (8, 15, "\"G\" has no octave", "write G3 or G4, for example (middle C is C4)"),
    ]),
    ("room-line-break-in-name", Meaning, &[
        (4, 8, "name holds a line break or a tab", "write it on one line, with blanks only"),
    ]),
    ("room-missing-name", Structure, &[
        (1, 1, "a room needs name", "add name = \"Alder Street School, period 2\""),
    ]),
    ("room-missing-seats", Structure, &[
        (3, 1, "a section needs seats", "add seats = 5"),
    ]),
    ("room-misspelt-key", Structure, &[
        (6, 1, "\"seets\" is not a key of a section", "did you mean seats?"),
    ]),
    ("room-mix-too-loud", Structure, &[
        (5, 9, "drone = 12 is out of bounds", "write a number from -24 to 6, such as drone = -3"),
    ]),
    ("room-mix-unknown-role", Structure, &[
        (5, 1, "\"voices\" is not a key of a mix", "did you mean voice?"),
    ]),
    ("room-mix-voice-too-soft", Structure, &[
        (5, 9, "voice = -20 is out of bounds", "write a number from -6 to 6, such as voice = 2"),
    ]),
    ("room-no-sections", Structure, &[
        (3, 1, "section is a table here; it must be a list of tables, each under a heading in two brackets", "write [[section]] and under it name, instrument and seats"),
    ]),
    ("room-no-version", Structure, &[
        (1, 1, "a room needs version", "add version = 1"),
    ]),
    ("room-quote-not-closed", Text, &[
        (4, 14, "invalid basic string, expected `\"`", "close the text with a quote \" on the same line"),
    ]),
    ("room-reference-too-high", Structure, &[
        (3, 16, "reference_hz = 480 is out of bounds", "write a number from 415 to 466, such as reference_hz = 440"),
    ]),
    ("room-seats-with-decimals", Structure, &[
        (6, 9, "seats is a number with decimals here; it must be a whole number", "write seats = 5"),
    ]),
    ("room-section-called-all", Meaning, &[
        (4, 9, "\"all\" cannot name a section", "choose another name; drills write \"all\" for everyone at once"),
    ]),
    ("room-section-level-as-text", Structure, &[
        (8, 9, "level is text here; it must be a number", "write level = -2"),
    ]),
    ("room-preset-out-of-bounds", Structure, &[
        (9, 31, "number = 128 is out of bounds", "write a whole number from 0 to 127, such as number = 56"),
    ]),
    ("room-preset-without-soundfont", Meaning, &[
        (8, 10, "the room names no SoundFont to take this preset from", "name the file above the first section, such as soundfont = \"sounds/band.sf2\", or take the preset away"),
    ]),
    ("room-drum-with-landmarks", Meaning, &[
        (8, 13, "the snare drum has no pitch, so no landmarks", "take this line away"),
    ]),
    ("room-several-mistakes", Structure, &[
        (3, 16, "reference_hz = 400 is out of bounds", "write a number from 415 to 466, such as reference_hz = 440"),
        (6, 15, "no instrument is called \"hron\"", "did you mean \"horn\"? `precentor instruments` lists all"),
        (7, 9, "seats = -1 is out of bounds", "write a whole number from 1 to 60, such as seats = 5"),
        (8, 16, "the range G4..C4 runs downward", "write the lower pitch first, C4..G4"),
        (9, 21, "\"H4\" is not a pitch", "write a letter A to G, b or # if altered, and an octave, such as Bb3, F#4 or C4"),
        (10, 1, "\"colour\" is not a key of a section", "a section takes name, instrument, seats, comfortable, landmarks, preset, level, trusted"),
    ]),
    ("room-too-many-seats", Structure, &[
        (6, 9, "seats = 61 is out of bounds", "write a whole number from 1 to 60, such as seats = 5"),
    ]),
    ("room-too-many-sections", Structure, &[
        (101, 1, "section holds 25 of at most 24", "take this one and all after it away"),
    ]),
    ("room-two-readings", Meaning, &[
        (5, 15, "\"horn bass clef\" can be read in two ways", "write \"horn in F bass clef new notation\" (sounds a fifth below the page) or \"horn in F bass clef old notation\" (sounds a fourth above the page)"),
    ]),
    ("room-unknown-instrument", Meaning, &[
        (5, 15, "no instrument is called \"horm in F\"", "did you mean \"horn in F\"? `precentor instruments` lists all"),
    ]),
    ("room-unknown-syllables", Structure, &[
        (3, 13, "\"la-le\" is not known for syllables", "did you mean \"la-li\"?"),
    ]),
    ("room-unquoted-text", Text, &[
        (4, 8, "string values must be quoted, expected literal string", "put text in quotes, such as name = \"Horns\"; numbers are written as they are, such as tempo = 72"),
    ]),
    ("room-version-2", Structure, &[
        (1, 11, "version 2 of this file is not known here", "write version = 1, or use a newer precentor"),
    ]),
    ("room-version-as-text", Structure, &[
        (1, 11, "version is text here; it must be a whole number", "write version = 1"),
    ]),
    ("room-voice-is-a-path", Structure, &[
        (3, 10, "\"../es-formant\" cannot name a voice", "write the name of a built-in voice, such as \"es-formant\", or of a folder of your own"),
    ]),
    ("room-wrong-type", Structure, &[
        (6, 9, "seats is text here; it must be a whole number", "write seats = 5"),
    ]),
    ("room-zero-seats", Structure, &[
        (6, 9, "seats = 0 is out of bounds", "write a whole number from 1 to 60, such as seats = 5"),
    ]),
];
