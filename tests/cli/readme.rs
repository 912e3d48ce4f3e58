//! What the README shows is true.

use std::fs;

/// The TOML blocks of the README, in order.
fn blocks() -> Vec<String> {
    let text = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    text.split("```toml\n").skip(1).map(|rest| rest.split("```").next().unwrap().to_owned()).collect()
}

#[test]
fn the_files_it_shows_are_sound_together() {
    let folder = tempfile::tempdir().unwrap();
    let mut names = Vec::new();
    for block in blocks() {
        match block.lines().next().and_then(|first| first.strip_prefix("# ")) {
            Some(name) => {
                fs::write(folder.path().join(name), &block).unwrap();
                names.push(name.to_owned());
            }
            None => {
                let sampled = book::read_room("README.md", &block).unwrap();
                assert!(sampled.soundfont.is_some() && sampled.sections[0].preset.is_some());
            }
        }
    }
    assert_eq!(names, ["inputs.toml", "room.toml", "middle-note.toml", "lantern-march.toml", "reed-polka.toml", "week-seven.toml"]);
    let output =
        std::process::Command::new(env!("CARGO_BIN_EXE_precentor")).arg("check").args(&names).current_dir(folder.path()).output().unwrap();
    let (out, err) = (String::from_utf8_lossy(&output.stdout).into_owned(), String::from_utf8_lossy(&output.stderr).into_owned());
    assert!(output.status.success(), "{out}{err}");
    assert!(out.contains("(room.toml)"), "tried in the room named beside it: {out}");
}
