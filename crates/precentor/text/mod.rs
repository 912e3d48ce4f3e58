//! Every word on the screen, by screen, so that wording and a later translation have one place.

pub mod cautions;
pub mod chooser;
pub mod desk;
pub mod ear;
pub mod lesson;
pub mod open_ear;
pub mod pedals;
pub mod plain;
pub mod screen;
pub mod stage;
pub mod standing;
pub mod status;
pub mod told;
