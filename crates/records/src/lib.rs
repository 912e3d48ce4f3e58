//! Verdicts over weeks: which seat had which note, and where a section sat. Kept in one file of this machine, summed up, exported, forgotten.
//! Seats, never names; sound only where it is asked for, and for some days.
//!
//! - [`verdict`]: what was heard of one echo
//! - [`record`]: a verdict with its seat, note and moment
//! - [`section`]: what a whole section's echo came to: shares, tuning, entry
//! - [`store`]: the file: kept whole whatever happens, read, and truly forgotten from
//! - [`audio`]: sound beside it, until it expires
//! - [`filter`]: which records are meant
//! - [`writer`]: writes from a thread of its own
//! - [`summary`]: who has which note, week by week
//! - [`shares`]: where whole sections sat, week by week
//! - [`export`]: rows as other programs read them
//! - [`error`]: what can go wrong, and how to mend it

pub mod audio;
pub mod error;
pub mod export;
pub mod filter;
pub mod record;
mod schema;
pub mod section;
pub mod shares;
pub mod store;
pub mod summary;
#[cfg(test)]
mod tests;
pub mod verdict;
pub mod writer;

pub use audio::{AudioError, Clip, ClipOf, Days, KeptAudio, Sound};
pub use error::RecordsError;
pub use export::{Row, ShareRow};
pub use filter::Filter;
pub use record::{Confidence, EntryMs, HeardBy, Record};
pub use schema::VERSION;
pub use section::{NoteShare, SectionRecord, SpreadMs};
pub use shares::{Sat, ShareGroup, ShareSummary};
pub use store::{Counts, RecordId, SectionId, Store};
pub use summary::{Group, Summary, Tally, Week};
pub use verdict::{Kind, Verdict, Way};
pub use writer::{Echo, Writer};
