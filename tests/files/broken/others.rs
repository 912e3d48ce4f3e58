//! Broken files of no sort at all.

use super::{
    Case,
    Sort::{Structure, Text},
};

#[rustfmt::skip]
pub(super) const CASES: &[Case] = &[
    ("empty", Structure, &[
        (1, 1, "this is no room, drill, piece or lesson", "a room has [[section]] for each section; a drill has [line] and [[turn]]; a piece has bars or [[passage]]; a lesson has [[item]]"),
    ]),
    ("neither", Structure, &[
        (1, 1, "this is no room, drill, piece or lesson", "a room has [[section]] for each section; a drill has [line] and [[turn]]; a piece has bars or [[passage]]; a lesson has [[item]]"),
    ]),
    ("not-utf-8", Text, &[
        (0, 0, "this is not UTF-8 text: byte 50, in line 4, is no part of a character", "save it from the editor as UTF-8, or type the sign in that line anew"),
    ]),
    ("utf-16", Text, &[
        (0, 0, "this is not UTF-8 text: byte 0, in line 1, is no part of a character", "it is UTF-16; save it from the editor as UTF-8"),
    ]),
];
