//! Leads a wind band class from a terminal.
//!
//! - [`workshop`]: from files and choices to scores
//! - [`folders`]: what is kept between runs

pub mod folders;
pub mod workshop;
