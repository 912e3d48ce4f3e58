//! Pieces from and to the files of other programs.
//!
//! - [`musicxml`]: what a MusicXML file says of its bars, and the piece made of that

pub mod musicxml;
