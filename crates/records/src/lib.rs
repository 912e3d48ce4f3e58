//! Verdicts over weeks: which seat had which note. Kept in one file of this machine, summed up, exported, forgotten. Seats, never names; no
//! sound.
//!
//! - [`verdict`]: what was heard of one echo
//! - [`record`]: a verdict with its seat, note and moment
//! - [`store`]: the file: kept whole whatever happens, read, and truly forgotten from
//! - [`filter`]: which records are meant
//! - [`writer`]: writes from a thread of its own
//! - [`summary`]: who has which note, week by week
//! - [`export`]: rows as other programs read them
//! - [`error`]: what can go wrong, and how to mend it

pub mod error;
pub mod export;
pub mod filter;
pub mod record;
mod schema;
pub mod store;
pub mod summary;
#[cfg(test)]
mod tests;
pub mod verdict;
pub mod writer;

pub use error::RecordsError;
pub use export::Row;
pub use filter::Filter;
pub use record::{Confidence, EntryMs, HeardBy, Record};
pub use schema::VERSION;
pub use store::{RecordId, Store};
pub use summary::{Group, Summary, Tally, Week};
pub use verdict::{Kind, Verdict, Way};
pub use writer::{Echo, Writer};
