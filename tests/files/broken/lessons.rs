//! Broken lessons.

use super::{
    Case,
    Sort::{Meaning, Structure},
};

#[rustfmt::skip]
pub(super) const CASES: &[Case] = &[
    ("lesson-advance-unknown", Structure, &[
        (6, 11, "\"by it self\" is not known for advance", "did you mean \"by itself\"?"),
    ]),
    ("lesson-bars-with-a-piece", Meaning, &[
        (4, 48, "the piece says its bars itself", "take it away, or climb with a tempo instead of a piece"),
    ]),
    ("lesson-climb-beat-in-two-in-6-8", Meaning, &[
        (4, 50, "a beat of 6/8 is not counted in 2 parts", "write subdivide = 3 or 6"),
    ]),
    ("lesson-climb-floor-above-goal", Meaning, &[
        (4, 32, "a floor of 110 lies above the goal of 100, so that there is nothing to climb", "write a floor under the goal"),
    ]),
    ("lesson-climb-of-a-drill", Meaning, &[
        (4, 20, "middle-note.toml is a drill, not a piece", "name a piece here"),
    ]),
    ("lesson-climb-on-nothing", Structure, &[
        (4, 9, "a climb needs one of piece, tempo", "add piece = \"lantern-march.toml\" or tempo = 152, for example"),
    ]),
    ("lesson-climb-start-above-goal", Meaning, &[
        (4, 67, "a climb cannot start at 120, above its goal of 112", "start at or under the goal"),
    ]),
    ("lesson-climb-tempo-too-fast", Structure, &[
        (4, 19, "tempo = 300 is out of bounds", "write a number from 30 to 240, such as tempo = 152"),
    ]),
    ("lesson-climb-unknown-meter", Meaning, &[
        (4, 33, "\"4/5\" is not a meter", "write up to 16 beats over 2, 4, 8 or 16, such as 4/4, 2/2, 7/8, 6/8, 6/8 in 6 or 3+2/8"),
    ]),
    ("lesson-climb-unknown-pass", Structure, &[
        (4, 50, "\"sing\" is not known for an entry of later", "write count or clap or air or play or percussion"),
    ]),
    ("lesson-climb-with-piece-and-tempo", Structure, &[
        (4, 41, "a climb holds one of piece, tempo; piece and tempo are two", "take away piece or tempo"),
    ]),
    ("lesson-drill-does-not-exist", Meaning, &[
        (4, 19, "middle-noet.toml: no built-in file is called so", "did you mean middle-note.toml?"),
    ]),
    ("lesson-drill-is-a-room", Meaning, &[
        (4, 19, "alder-street.toml is a room, not a drill", "name a drill here"),
    ]),
    ("lesson-drill-without-file", Structure, &[
        (4, 9, "a drill of a lesson needs file", "add file = \"middle-note.toml\""),
    ]),
    ("lesson-drone-by-itself-without-minutes", Meaning, &[
        (5, 11, "a drone without minutes never goes on by itself", "add minutes, or write advance = \"on go\""),
    ]),
    ("lesson-drone-too-high", Meaning, &[
        (4, 22, "C8 is too low or too high for a drone", "write a concert pitch from E1 to C6"),
    ]),
    ("lesson-hour-without-minutes", Meaning, &[
        (3, 10, "an hour that starts by the clock needs its minutes too", "add minutes = 50"),
    ]),
    ("lesson-item-and-turn", Structure, &[
        (5, 3, "item makes this file a lesson, turn makes it a drill", "write the drill and the lesson into two files"),
    ]),
    ("lesson-item-not-a-table", Structure, &[
        (3, 8, "item is a list here; it must be a list of tables, each under a heading in two brackets", "write [[item]] and under it drill = { file = \"middle-note.toml\" }"),
    ]),
    ("lesson-item-without-verb", Structure, &[
        (3, 1, "an item needs one of drone, landmarks, drill, roll, climb, recheck, talk", "add drone = { concert = \"Bb3\" } or landmarks = { section = \"Horns\" }, for example"),
    ]),
    ("lesson-key-below-item", Structure, &[
        (5, 1, "\"starts\" is not a key of an item", "move it up, before the first line in brackets; it is a key of a lesson"),
    ]),
    ("lesson-landmarks-of-unknown-section", Meaning, &[
        (4, 26, "the room has no section called \"Horms\"", "did you mean \"Horns\"?"),
    ]),
    ("lesson-least-over-minutes", Meaning, &[
        (6, 9, "least = 5 is more than its 3 minutes", "write least = 3 or less, or more minutes"),
    ]),
    ("lesson-least-without-minutes", Meaning, &[
        (5, 9, "least says nothing without minutes", "add minutes, or take least away"),
    ]),
    ("lesson-minutes-below-verb-and-beside", Meaning, &[
        (5, 11, "minutes stands twice in this item", "take one of the two away"),
    ]),
    ("lesson-minutes-with-decimals", Structure, &[
        (5, 11, "minutes is a number with decimals here; it must be a whole number", "write minutes = 8"),
    ]),
    ("lesson-missing-title", Structure, &[
        (1, 1, "a lesson needs title", "add title = \"Week 7, Tuesday\""),
    ]),
    ("lesson-misspelt-verb", Structure, &[
        (4, 1, "\"dril\" is not a key of an item", "did you mean drill?"),
    ]),
    ("lesson-no-items", Structure, &[
        (3, 8, "item is an empty list", "write [[item]] and under it drill = { file = \"middle-note.toml\" }"),
    ]),
    ("lesson-passage-does-not-exist", Meaning, &[
        (4, 52, "lantern-march.toml has no passage called \"third strain\"", "it has second strain, trio"),
        (6, 54, "lantern-march.toml has no passage called \"waltz\"", "it has second strain, trio"),
    ]),
    ("lesson-passage-without-piece", Meaning, &[
        (4, 34, "a passage is of a piece, and none is named", "take it away, or name the piece instead of a tempo"),
    ]),
    ("lesson-recheck-without-piece", Structure, &[
        (4, 11, "a recheck needs piece", "add piece = \"lantern-march.toml\""),
    ]),
    ("lesson-roll-of-an-unknown-file", Meaning, &[
        (4, 38, "none.toml: no built-in file is called so", "there are alder-street.toml, lantern-march.toml, week-seven.toml, middle-note.toml, two-notes.toml, five-notes.toml, six-eight.toml, when-it-sits.toml"),
    ]),
    ("lesson-roll-of-unknown-section", Meaning, &[
        (4, 21, "the room has no section called \"Bugles\"", "Alder Street School, period 2 has Flutes, Oboes, Clarinets, Bass Clarinets, Alto Saxes, Tenor Saxes, Baritone Saxes, Trumpets, Horns, Trombones, Euphoniums, Tubas, Mallets"),
    ]),
    ("lesson-room-does-not-exist", Meaning, &[
        (3, 9, "birch-street.toml: no built-in file is called so", "did you mean alder-street.toml?"),
    ]),
    ("lesson-room-is-a-drill", Meaning, &[
        (3, 9, "middle-note.toml is a drill, not a room", "name a room here"),
    ]),
    ("lesson-several-mistakes-in-items", Structure, &[
        (4, 22, "\"H4\" is not a pitch", "write a letter A to G, b or # if altered, and an octave, such as Bb3, F#4 or C4"),
        (9, 11, "minutes = 0 is out of bounds", "write a whole number from 1 to 600, such as minutes = 8"),
        (10, 9, "least is text here; it must be a whole number", "write least = 4"),
        (12, 26, "the room has no section called \"Hornz\"", "did you mean \"Horns\"?"),
    ]),
    ("lesson-several-mistakes", Structure, &[
        (3, 11, "minutes = 0 is out of bounds", "write a whole number from 1 to 600, such as minutes = 50"),
        (4, 1, "\"mood\" is not a key of a lesson", "a lesson takes version, title, room, starts, minutes, item"),
    ]),
    ("lesson-starts-at-no-time", Structure, &[
        (3, 11, "\"10:75\" is no time of day", "write hours and minutes from 0:00 to 23:59, such as 10:15"),
    ]),
    ("lesson-talk-shortened", Meaning, &[
        (6, 9, "a talk is never shortened", "take least away"),
    ]),
    ("lesson-talk-without-note", Structure, &[
        (4, 8, "talk needs note", "add note = \"Check posture\""),
    ]),
    ("lesson-too-many-items", Structure, &[
        (204, 1, "item holds 101 of at most 100", "take this one and all after it away"),
    ]),
    ("lesson-two-verbs-in-an-item", Structure, &[
        (5, 1, "an item holds one of drone, landmarks, drill, roll, climb, recheck, talk; drone and talk are two", "write [[item]] on a line of its own before talk"),
    ]),
    ("lesson-version-2", Structure, &[
        (1, 11, "version 2 of this file is not known here", "write version = 1, or use a newer precentor"),
    ]),
];
