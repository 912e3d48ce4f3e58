//! The files people write: TOML becomes checked domain types, or errors at a caret.
