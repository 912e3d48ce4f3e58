//! Leads a wind band class from a terminal.
//!
//! - [`app`]: the console: its state, what changes it, what it does
//! - [`view`]: how the state is drawn
//! - [`inputs`]: keys and words, turned into commands by one table
//! - [`text`]: every word on the screen
//! - [`cli`]: the commands
//! - [`workshop`]: from files and choices to scores
//! - [`hearing`]: which note is asked of whom, and what came
//! - [`texts`]: the texts of files, each known by what it describes
//! - [`fonts`]: the recorded sounds a room names
//! - [`folders`]: where things are kept between runs
//! - [`standing`]: the lesson under way and where climbs stand

pub mod app;
pub mod cli;
pub mod folders;
pub mod fonts;
pub mod hearing;
pub mod inputs;
pub mod standing;
pub mod text;
pub mod texts;
pub mod view;
pub mod workshop;
