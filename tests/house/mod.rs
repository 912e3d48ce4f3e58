//! The house keeps its order: arrows point one way, and each outside thing is named in one place only.

use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Which crates of the house each may use.
const ARROWS: [(&str, &[&str]); 10] = [
    ("units", &[]),
    ("pitch", &["units"]),
    ("sequencer", &["units", "pitch"]),
    ("synth", &["units"]),
    ("book", &["units", "pitch", "sequencer"]),
    ("engine", &["units", "pitch", "sequencer", "synth"]),
    ("device", &["units", "engine"]),
    ("listen", &["units", "pitch"]),
    ("records", &["units", "pitch"]),
    ("sheets", &["units", "sequencer", "book"]),
];

/// Outside crates that only one crate of the house may use.
const KEEPERS: [(&str, &str); 7] = [
    ("quick-xml", "sheets"),
    ("zip", "sheets"),
    ("cpal", "device"),
    ("rodio", "engine"),
    ("rusqlite", "records"),
    ("ratatui", "precentor"),
    ("crossterm", "precentor"),
];

fn dependencies(manifest: &Path) -> Vec<String> {
    let manifest: toml::Table = fs::read_to_string(manifest).unwrap().parse().unwrap();
    manifest["dependencies"].as_table().unwrap().keys().cloned().collect()
}

#[test]
fn arrows_point_one_way() {
    let names: Vec<_> = ARROWS.iter().map(|(name, _)| *name).collect();
    let mut folders: Vec<_> = fs::read_dir(root().join("crates"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name != "precentor")
        .collect();
    folders.sort();
    let mut known = names.clone();
    known.sort_unstable();
    assert_eq!(folders, known, "a new crate needs its arrows in this test");
    for (name, allowed) in ARROWS {
        let uses = dependencies(&root().join("crates").join(name).join("Cargo.toml"));
        for used in uses.iter().filter(|used| names.contains(&used.as_str())) {
            assert!(allowed.contains(&used.as_str()), "{name} must not use {used}");
        }
    }
}

#[test]
fn outside_crates_are_named_by_their_keeper_only() {
    for (outside, keeper) in KEEPERS {
        for (name, _) in ARROWS {
            let uses = dependencies(&root().join("crates").join(name).join("Cargo.toml"));
            assert_eq!(uses.iter().any(|used| used == outside), name == keeper, "{outside} in {name}");
        }
        let main = dependencies(&root().join("Cargo.toml"));
        assert_eq!(main.iter().any(|used| used == outside), keeper == "precentor", "{outside} in precentor");
    }
}

/// The pure crates read no files, open no sockets and print nothing.
#[test]
fn pure_crates_do_no_input_or_output() {
    let mut files = 0;
    for name in ["units", "pitch", "sequencer", "synth", "listen"] {
        let mut folders = vec![root().join("crates").join(name).join("src")];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path);
                    continue;
                }
                let text = fs::read_to_string(&path).unwrap();
                files += 1;
                for word in ["std::fs", "std::net", "std::process", "println!", "eprintln!", "std::thread"] {
                    assert!(!text.contains(word), "{word} in {}", path.display());
                }
            }
        }
    }
    assert!(files > 30, "{files} files read");
}

/// Every word a plan may say has a clip, in every language a voice speaks.
#[test]
fn the_voices_know_every_word_of_every_plan() {
    let mut languages = Vec::new();
    for name in engine::speech::library::built_in() {
        let pack = engine::speech::library::built_in_pack(name).unwrap();
        for word in sequencer::words::vocabulary(pack.language()) {
            assert!(pack.index_of(word).is_some(), "no clip of {name} says {word}");
        }
        languages.push(pack.language());
    }
    for language in sequencer::Language::ALL {
        assert!(languages.contains(&language), "no voice speaks {}", language.code());
    }
}
