//! Broken pieces.

use super::{
    Case,
    Sort::{Meaning, Structure},
};

#[rustfmt::skip]
pub(super) const CASES: &[Case] = &[
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
];
