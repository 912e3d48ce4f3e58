//! Broken drills.

use super::{
    Case,
    Sort::{Meaning, Structure, Text},
};

#[rustfmt::skip]
pub(super) const CASES: &[Case] = &[
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
];
