//! One integration target made of modules: a new test never edits a manifest.

mod device;
mod files;
mod outside;
mod house;
mod render;
