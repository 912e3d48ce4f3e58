//! One broken file for each mistake: every fault at its place, with the phrase that mends it.

use std::collections::BTreeSet;
use std::fs;

use super::{at, json, validator};
use book::{Book, Faults, demo, load};

/// Who can see a mistake.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sort {
    /// Keys, types or bounds: an editor with the schema, and the reader.
    Structure,
    /// What the values mean together, or in the demo room: the reader alone.
    Meaning,
    /// No TOML, or no text at all: the reader; a schema is never asked.
    Text,
}
use Sort::{Meaning, Structure, Text};

/// A fault: line, column (0 for a file as a whole), message, mend.
type Expected = (usize, usize, &'static str, &'static str);

#[rustfmt::skip]
const CASES: &[(&str, Sort, &[Expected])] = &[
    ("drill-all-among-others", Meaning, &[
        (6, 33, "\"all\" holds every section already", "leave \"all\" alone in its group, or take it away"),
    ]),
    ("drill-bad-beats", Structure, &[
        (8, 23, "\"x\" is not a number of beats", "write 4, 1.5 or 1/3"),
    ]),
    ("drill-bad-key", Structure, &[
        (7, 8, "\"H\" is not a key", "write Bb, Bb major or G minor, for example"),
    ]),
    ("drill-bad-meter", Meaning, &[
        (4, 10, "\"4/5\" is not a meter", "write up to 16 beats over 2, 4, 8 or 16, such as 4/4, 2/2, 7/8, 6/8, 6/8 in 6 or 3+2/8"),
    ]),
    ("drill-bad-pitch", Meaning, &[
        (8, 20, "\"H4\" is not a pitch", "write a letter A to G, b or # if altered, and an octave, such as Bb3, F#4 or C4"),
    ]),
    ("drill-bars-not-filled", Meaning, &[
        (8, 19, "the line lasts 3 beats and does not fill its bars of 4", "add 1 more, or a rest (-:1) at the end"),
    ]),
    ("drill-beat-in-five-parts", Meaning, &[
        (7, 33, "a beat is not counted in 5 parts", "write subdivide = 1, 2, 3, 4 or 6"),
    ]),
    ("drill-beat-in-seventeen-parts", Meaning, &[
        (8, 23, "1/17 divides the beat into 17 parts", "divide it into 16 at most, or into 24, 32 or 48"),
    ]),
    ("drill-breath-longer-than-bar", Meaning, &[
        (15, 30, "a breath over 5 beats does not fit its 4 beats", "write beats = 1 to 4"),
    ]),
    ("drill-call-not-true-or-false", Structure, &[
        (7, 8, "call is text here; it must be true or false", "write call = true"),
    ]),
    ("drill-compound-beat-in-two", Meaning, &[
        (8, 23, "a beat of 6/8 is not counted in 2 parts", "write subdivide = 3 or 6"),
        (12, 24, "a beat of 6/8 is not counted in 4 parts", "write subdivide = 3 or 6"),
        (12, 35, "a breath over 3 beats does not fit its 2 beats", "write beats = 1 to 2"),
    ]),
    ("drill-concert-and-written", Structure, &[
        (8, 27, "a line holds one of concert, written; concert and written are two", "take away concert or written"),
    ]),
    ("drill-count-in-unknown-rounds", Structure, &[
        (11, 30, "\"frist\" is not known for rounds", "did you mean \"first\"?"),
    ]),
    ("drill-empty-group", Structure, &[
        (6, 11, "an entry of groups is an empty list", "write groups = [[\"Horns\"], [\"all\"]]"),
    ]),
    ("drill-exact-concert-outside-instrument", Meaning, &[
        (9, 27, "C2 is outside the Horn in F, treble clef (F#2 to C6 written)", "write a note inside it"),
    ]),
    ("drill-exact-written", Meaning, &[
        (9, 37, "a written line is always exact", "take exact away"),
    ]),
    ("drill-flat-groups", Structure, &[
        (6, 11, "an entry of groups is text here; it must be a list", "write groups = [[\"Horns\"], [\"all\"]]"),
        (6, 20, "an entry of groups is text here; it must be a list", "write groups = [[\"Horns\"], [\"all\"]]"),
    ]),
    ("drill-group-without-a-line", Meaning, &[
        (6, 13, "Flutes have no line in this drill", "give them one, or a line for all"),
    ]),
    ("drill-key-in-model", Structure, &[
        (13, 11, "\"bars\" is not a key of model", "take it away; nothing goes in here"),
    ]),
    ("drill-key-with-ten-sharps", Meaning, &[
        (7, 8, "A# would take 10 sharps", "write Bb major, which sounds the same"),
    ]),
    ("drill-line-twice", Meaning, &[
        (10, 1, "\"HORNS\" has a line already", "keep one of the two"),
    ]),
    ("drill-line-without-braces", Structure, &[
        (8, 7, "\"all\" is text; it must be a line in braces", "write { concert = \"F4:4\" } or { written = \"G4:4\" }"),
    ]),
    ("drill-line-without-notes", Structure, &[
        (8, 19, "the line has no notes", "write pitch:beats, such as F4:4"),
    ]),
    ("drill-lines-of-two-lengths", Meaning, &[
        (9, 21, "this line lasts 2 bars and another lasts 1", "make them equally long, with rests (-:beats) where needed"),
    ]),
    ("drill-missing-beats", Structure, &[
        (8, 20, "\"F4:\" has no length", "write its beats after a colon, such as F4:4"),
    ]),
    ("drill-missing-colon", Structure, &[
        (8, 20, "\"F4\" has no length", "write its beats after a colon, such as F4:4"),
    ]),
    ("drill-missing-pitch", Structure, &[
        (8, 20, "\":4\" has no pitch", "write pitch:beats, such as F4:4, or -:2 for a rest"),
    ]),
    ("drill-name-with-blank-unquoted", Text, &[
        (9, 6, "key with no value, expected `=`", "write key = value; a name with blanks goes in quotes, such as \"Bass Clarinets\" = { written = \"C5:4\" }"),
    ]),
    ("drill-neither-concert-nor-written", Structure, &[
        (8, 7, "a line needs one of concert, written", "add concert = \"F4:4\" or written = \"G4:4\", for example"),
    ]),
    ("drill-no-groups", Structure, &[
        (6, 10, "groups is an empty list", "write groups = [[\"Horns\"], [\"all\"]]"),
    ]),
    ("drill-no-line", Meaning, &[
        (7, 1, "no one has a line", "add all = { concert = \"F4:4\" } under [line]"),
    ]),
    ("drill-no-turns", Structure, &[
        (1, 1, "a drill needs turn", "add [[turn]] and under it model = {}"),
    ]),
    ("drill-note-outside-instrument", Meaning, &[
        (9, 27, "C7 is outside the Horn in F, treble clef (F#2 to C6 written)", "write a note inside it"),
    ]),
    ("drill-only-talk", Meaning, &[
        (2, 9, "every turn is talk", "add [[turn]] with count, model, breath or echo"),
    ]),
    ("drill-room-and-drill", Structure, &[
        (16, 3, "line makes this file a drill, section makes it a room", "write the room and the drill into two files"),
    ]),
    ("drill-rounds-below-turn", Structure, &[
        (15, 1, "\"rounds\" is not a key of a turn", "move it up, before the first line in brackets; it is a key of a drill"),
    ]),
    ("drill-section-twice-in-group", Meaning, &[
        (6, 22, "\"horns\" stands twice in one group", "take one of the two away"),
    ]),
    ("drill-several-mistakes", Structure, &[
        (3, 9, "tempo = 20 is out of bounds", "write a number from 30 to 240, such as tempo = 72"),
        (6, 12, "an entry of groups is empty", "write groups = [[\"Horns\"], [\"all\"]]"),
        (8, 19, "the line lasts 3 beats and does not fill its bars of 4", "add 1 more, or a rest (-:1) at the end"),
        (9, 27, "\"X2\" is not a pitch", "write a letter A to G, b or # if altered, and an octave, such as Bb3, F#4 or C4"),
        (9, 32, "\"C4\" has no length", "write its beats after a colon, such as C4:4"),
        (11, 18, "bars = 0 is out of bounds", "write a whole number from 1 to 64, such as bars = 1"),
        (13, 1, "\"moddel\" is not a key of a turn", "did you mean model?"),
        (17, 20, "a breath over 9 beats does not fit its 4 beats", "write beats = 1 to 4"),
    ]),
    ("drill-syllables-without-sixths", Meaning, &[
        (9, 23, "the way of counting \"trip-let\" has no words for 6 to a beat", "write syllables = \"la-li\", \"ti-te-ta\", \"ta-te-ta\", \"to-la-ta-li-ti\", \"ta-ka-di-mi\" or \"ta-ne-ta\""),
    ]),
    ("drill-talk-without-note", Structure, &[
        (13, 8, "talk needs note", "add note = \"Check posture\""),
    ]),
    ("drill-tempo-below-heading", Structure, &[
        (1, 1, "a drill needs tempo", "add tempo = 72"),
        (7, 1, "\"tempo\" is not a key of a line", "move it up, before the first line in brackets; it is a key of a drill"),
    ]),
    ("drill-tempo-not-a-number", Structure, &[
        (3, 9, "tempo is text here; it must be a number", "write tempo = 72"),
    ]),
    ("drill-tempo-too-fast", Structure, &[
        (3, 9, "tempo = 300 is out of bounds", "write a number from 30 to 240, such as tempo = 72"),
    ]),
    ("drill-too-long", Meaning, &[
        (5, 10, "this would last 2000400 bars, over the most of 100000", "take fewer rounds or bars"),
    ]),
    ("drill-turn-without-verb", Structure, &[
        (12, 1, "a turn needs one of count, model, echo, breath, rest, talk", "add count = { bars = 1 } or model = {}, for example"),
    ]),
    ("drill-two-verbs-in-a-turn", Structure, &[
        (14, 1, "a turn holds one of count, model, echo, breath, rest, talk; model and echo are two", "write [[turn]] on a line of its own before echo"),
    ]),
    ("drill-unknown-key-in-count", Structure, &[
        (11, 11, "\"bras\" is not a key of count", "did you mean bars?"),
    ]),
    ("drill-unknown-section-in-group", Meaning, &[
        (6, 13, "the room has no section called \"Horms\"", "did you mean \"Horns\"?"),
    ]),
    ("drill-unknown-section-in-line", Meaning, &[
        (9, 1, "the room has no section called \"Bugles\"", "Alder Street School, period 2 has Flutes, Oboes, Clarinets, Bass Clarinets, Alto Saxes, Tenor Saxes, Baritone Saxes, Trumpets, Horns, Trombones, Euphoniums, Tubas, Mallets"),
    ]),
    ("drill-unknown-verb", Structure, &[
        (13, 1, "\"modle\" is not a key of a turn", "did you mean model?"),
    ]),
    ("drill-verb-without-braces", Structure, &[
        (13, 9, "model is true or false here; it must be a table in braces or under a heading", "write model = {}"),
    ]),
    ("drill-wide-signs", Meaning, &[
        (8, 20, "\"Ré4\" is not a pitch", "write a letter A to G, b or # if altered, and an octave, such as Bb3, F#4 or C4"),
    ]),
    ("drill-zero-beats", Meaning, &[
        (8, 23, "a length of 0 beats is none", "write its length, such as 4, 1.5 or 1/3"),
    ]),
    ("drill-zero-rounds", Structure, &[
        (5, 10, "rounds = 0 is out of bounds", "write a whole number from 1 to 200, such as rounds = 4"),
    ]),
    ("empty", Structure, &[
        (1, 1, "this is no room, drill, piece or lesson", "a room has [[section]] for each section; a drill has [line] and [[turn]]; a piece has bars or [[passage]]; a lesson has [[item]]"),
    ]),
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
    ("lesson-recheck-nobody-trusted", Meaning, &[
        (4, 1, "no section of the room is trusted to play alone, and nothing else is to be done", "write trusted = true for one in the room file"),
    ]),
    ("lesson-recheck-without-piece", Structure, &[
        (4, 11, "a recheck needs piece", "add piece = \"lantern-march.toml\""),
    ]),
    ("lesson-roll-of-an-unknown-file", Meaning, &[
        (4, 38, "none.toml: no built-in file is called so", "there are alder-street.toml, lantern-march.toml, week-seven.toml, middle-note.toml, two-notes.toml, five-notes.toml, six-eight.toml"),
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
    ("neither", Structure, &[
        (1, 1, "this is no room, drill, piece or lesson", "a room has [[section]] for each section; a drill has [line] and [[turn]]; a piece has bars or [[passage]]; a lesson has [[item]]"),
    ]),
    ("not-utf-8", Text, &[
        (0, 0, "this is not UTF-8 text: byte 50, in line 4, is no part of a character", "save it from the editor as UTF-8, or type the sign in that line anew"),
    ]),
    ("piece-bar-below-zero", Structure, &[
        (6, 7, "bar = -1 is out of bounds", "write a bar's number from 0 to 9999, such as bar = 17"),
    ]),
    ("piece-bar-past-the-end", Meaning, &[
        (6, 7, "the page has no bar 17; it goes from bar 1 to bar 16", "write one of them, or more bars at the top"),
    ]),
    ("piece-bar-with-decimals", Structure, &[
        (6, 7, "bar is a number with decimals here; it must be a whole number, or text in quotes", "write bar = 17"),
    ]),
    ("piece-beat-in-two-in-6-8", Meaning, &[
        (7, 13, "a beat of 6/8 is not counted in 2 parts", "write subdivide = 3 or 6"),
    ]),
    ("piece-beats-no-number", Structure, &[
        (5, 10, "\"one\" is not a number of beats", "write 4, 1.5 or 1/3"),
    ]),
    ("piece-change-at-the-first-bar", Meaning, &[
        (6, 7, "the page begins with this bar", "write its meter and tempo at the top of the file"),
    ]),
    ("piece-change-of-nothing", Meaning, &[
        (5, 1, "nothing changes here", "add meter = \"6/8\" or tempo = 96"),
    ]),
    ("piece-change-too-quick", Meaning, &[
        (5, 1, "in 5/16, at the same speed, the beat would go out of bounds: a tempo of 480 is out of bounds", "add the tempo from here on, such as tempo = 96"),
    ]),
    ("piece-change-twice", Meaning, &[
        (9, 7, "something changes at this bar already", "write both into one [[change]]"),
    ]),
    ("piece-click-for-ever", Meaning, &[
        (6, 10, "\"every\" lasts for ever and others come after it", "say for how many bars, such as every:4"),
    ]),
    ("piece-climb-without-rest", Structure, &[
        (6, 8, "rest = 0 is out of bounds", "write a whole number from 1 to 16, such as rest = 2"),
    ]),
    ("piece-ending-outside-its-repeat", Meaning, &[
        (8, 16, "the first ending is no part of the repeat's end", "write a bar behind the first and up to the last"),
    ]),
    ("piece-floor-above-goal", Meaning, &[
        (6, 9, "a floor of 132 lies above the goal of 120, so that there is nothing to climb", "write a floor under the goal"),
    ]),
    ("piece-incomplete-bar-too-long", Meaning, &[
        (7, 9, "a bar of 4/4 has no more than 2 beats from there", "write 2 or fewer"),
        (12, 10, "a bar of 4/4 has only 4 beats", "write fewer beats"),
    ]),
    ("piece-incomplete-twice", Meaning, &[
        (9, 7, "this bar has its length already", "keep one of the two"),
    ]),
    ("piece-jump-behind-no-bar", Meaning, &[
        (6, 9, "the page has no bar 80; it goes from bar 1 to bar 16", "write one of them, or more bars at the top"),
    ]),
    ("piece-key-below-heading", Structure, &[
        (7, 1, "\"pickup\" is not a key of a passage", "move it up, before the first line in brackets; it is a key of a piece"),
    ]),
    ("piece-mark-called-as-a-bar", Meaning, &[
        (9, 9, "a bar is numbered 4A", "give the mark another name"),
    ]),
    ("piece-mark-twice", Meaning, &[
        (9, 9, "another mark is called \"A\" already", "give each its own name"),
    ]),
    ("piece-misspelt-key", Structure, &[
        (6, 1, "\"naem\" is not a key of a passage", "did you mean name?"),
    ]),
    ("piece-no-length", Meaning, &[
        (2, 9, "nothing says how many bars the piece has", "add bars = 48, or a [[passage]]"),
    ]),
    ("piece-no-such-mark", Meaning, &[
        (7, 8, "there is no bar or mark C", "write a bar's number, or a [[mark]] with that name"),
    ]),
    ("piece-number-twice-after-one-bar", Meaning, &[
        (9, 9, "the bar behind this one has its number already", "keep one of the two"),
    ]),
    ("piece-number-twice", Meaning, &[
        (7, 10, "this makes two bars 4", "give every bar a number of its own, such as \"12a\""),
    ]),
    ("piece-of-a-room", Structure, &[
        (5, 3, "bars makes this file a piece, section makes it a room", "write the room and the piece into two files"),
    ]),
    ("piece-passage-backwards", Meaning, &[
        (8, 6, "this bar comes before the first", "write the first bar under from and the last under to"),
    ]),
    ("piece-passage-past-the-end", Meaning, &[
        (8, 8, "9 bars lead past bar 16, the last of the page", "write bars = 8 at most, or more bars at the top"),
    ]),
    ("piece-passage-twice", Meaning, &[
        (9, 9, "another passage is called \"Trio\" already", "give each its own name"),
    ]),
    ("piece-passage-with-two-ends", Structure, &[
        (9, 1, "a passage holds one of to, bars; to and bars are two", "take away to or bars"),
    ]),
    ("piece-passage-without-end", Structure, &[
        (5, 1, "a passage needs one of to, bars", "add to = 24 or bars = 16, for example"),
    ]),
    ("piece-pickup-and-bar-0", Meaning, &[
        (6, 10, "the pick-up is bar 0 already", "write number = 1, or take the pick-up away"),
    ]),
    ("piece-pickup-incomplete-again", Meaning, &[
        (8, 9, "the pick-up has its length at the top", "take this one away"),
    ]),
    ("piece-pickup-too-long", Meaning, &[
        (5, 10, "a pick-up of 4 beats is a whole bar of 4/4 or more", "write fewer than 4"),
    ]),
    ("piece-repeat-in-another", Meaning, &[
        (9, 8, "this repeat lies in another", "repeat each bar once only"),
    ]),
    ("piece-several-mistakes", Structure, &[
        (5, 10, "1/17 divides the beat into 17 parts", "divide it into 16 at most, or into 24, 32 or 48"),
        (8, 7, "the page has no bar 20; it goes from bar 1 to bar 16", "write one of them, or more bars at the top"),
        (11, 10, "\"4/3\" is not a meter", "write up to 16 beats over 2, 4, 8 or 16, such as 4/4, 2/2, 7/8, 6/8, 6/8 in 6 or 3+2/8"),
        (14, 8, "there is no bar or mark Z", "write a bar's number, or a [[mark]] with that name"),
        (15, 6, "the page has no bar 99; it goes from bar 1 to bar 16", "write one of them, or more bars at the top"),
        (17, 9, "later is an empty list", "write later = [\"air\", \"play\"]"),
        (18, 10, "\"loud\" is no way to tick a bar", "write every, half, downbeat or silent"),
    ]),
    ("piece-start-above-goal", Meaning, &[
        (13, 9, "a climb cannot start at 96, above its goal of 80", "start at or under the goal"),
    ]),
    ("piece-steps-backwards", Meaning, &[
        (6, 9, "steps of 24..16 are no range", "write the smallest and the largest step in whole beats per minute, such as 16..24"),
    ]),
    ("piece-steps-no-range", Structure, &[
        (6, 9, "steps of 16-24 are no range", "write the smallest and the largest step in whole beats per minute, such as 16..24"),
    ]),
    ("piece-too-long", Structure, &[
        (4, 8, "bars = 6000 is out of bounds", "write a whole number from 1 to 5000, such as bars = 48"),
    ]),
    ("piece-unknown-click", Structure, &[
        (6, 10, "\"evry\" is no way to tick a bar", "write every, half, downbeat or silent"),
    ]),
    ("piece-unknown-mark", Meaning, &[
        (10, 8, "there is no bar or mark Tiro", "did you mean \"Trio\"?"),
    ]),
    ("piece-unknown-pass", Structure, &[
        (6, 19, "\"clapp\" is not known for an entry of first", "did you mean \"clap\"?"),
    ]),
    ("piece-unknown-recheck-step", Structure, &[
        (6, 23, "\"fast play\" is not known for an entry of steps", "did you mean \"half play\"?"),
    ]),
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
    ("utf-16", Text, &[
        (0, 0, "this is not UTF-8 text: byte 0, in line 1, is no part of a character", "it is UTF-16; save it from the editor as UTF-8"),
    ]),
];

fn path(name: &str) -> std::path::PathBuf {
    at("tests/fixtures/broken").join(format!("{name}.toml"))
}

/// What is wrong with a file by itself, or else in the demo room.
fn faults(name: &str) -> Faults {
    match load(&path(name)) {
        Err(faults) => faults,
        Ok(Book::Room(_)) => panic!("{name} is a sound room"),
        Ok(Book::Piece(_)) => panic!("{name} is a sound piece"),
        Ok(Book::Drill(drill)) => drill.compile(&demo::room()).err().unwrap_or_else(|| panic!("{name} is a sound drill")),
        Ok(Book::Lesson(lesson)) => {
            let room = lesson.room(&mut demo::load);
            let lesson = lesson.within(&demo::room(), &mut demo::load);
            room.err().or(lesson.faults()).unwrap_or_else(|| panic!("{name} is a sound lesson"))
        }
    }
}

#[test]
fn every_mistake_is_told_at_its_place_with_its_mend() {
    for (name, _, expected) in CASES {
        let faults = faults(name);
        let found: Vec<_> = faults
            .iter()
            .map(|fault| (fault.line().unwrap_or(0), fault.column().unwrap_or(0), fault.message.as_str(), fault.mend.as_str()))
            .collect();
        assert_eq!(found, *expected, "{name}:\n{faults}");
    }
}

#[test]
fn every_broken_file_is_listed_once() {
    let listed: BTreeSet<_> = CASES.iter().map(|(name, ..)| path(name)).collect();
    let kept: BTreeSet<_> = fs::read_dir(at("tests/fixtures/broken")).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert_eq!((listed.len(), &listed), (CASES.len(), &kept));
}

#[test]
fn the_schema_sees_mistakes_of_structure_and_no_others() {
    let schemas =
        [book::schema::room(), book::schema::drill(), book::schema::piece(), book::schema::lesson()].map(|schema| validator(&schema));
    for (name, sort, _) in CASES.iter().filter(|(_, sort, _)| *sort != Text) {
        let json = json(&fs::read_to_string(path(name)).unwrap());
        // a file of no sort at all is for none of the schemas
        let wanted = if json.get("section").is_some() {
            &schemas[..1]
        } else if json.get("turn").is_some() {
            &schemas[1..2]
        } else if name.starts_with("piece-") {
            &schemas[2..3]
        } else if json.get("item").is_some() {
            &schemas[3..]
        } else {
            &schemas
        };
        for schema in wanted {
            assert_eq!(schema.is_valid(&json), *sort == Meaning, "{name}");
        }
    }
}
