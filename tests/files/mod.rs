//! The files people write: what is shipped is sound, what is broken says how to mend it, and nothing makes the readers fall over.

mod broken;
mod fuzz;
mod pieces;
mod reading;
mod shipped;

use std::path::{Path, PathBuf};

/// A path of the repository.
fn at(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// A TOML text as JSON, as an editor hands it to a schema.
fn json(text: &str) -> serde_json::Value {
    toml::from_str(text).unwrap()
}

/// The schema of a sort of file, ready to judge.
fn validator(schema: &str) -> jsonschema::Validator {
    jsonschema::validator_for(&serde_json::from_str(schema).unwrap()).unwrap()
}
