//! The only crate that knows the sound device: output stream, silent clock, stream watcher.
