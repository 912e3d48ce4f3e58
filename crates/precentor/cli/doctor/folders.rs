//! The folders things are kept in.

use std::path::{Path, PathBuf};

use super::CheckUp;
use crate::folders::Folders;

pub(super) fn checks() -> Vec<CheckUp> {
    match Folders::find() {
        Err(error) => {
            let error = error.to_string();
            let (found, mend) = error.split_once("; ").unwrap_or((&error, "set HOME"));
            vec![CheckUp::bad("folders", found, mend)]
        }
        Ok(folders) => vec![
            check("settings", &folders.config, "XDG_CONFIG_HOME"),
            check("memory", &folders.state, "XDG_STATE_HOME"),
            check("journals", &folders.journals, "XDG_STATE_HOME"),
        ],
    }
}

/// Whether files can be made in `folder`, or the folder itself if it is not there yet. Leaves nothing behind.
fn check(name: &str, folder: &Path, variable: &str) -> CheckUp {
    let there = nearest(folder);
    let shown = folder.display();
    if !there.is_dir() {
        return CheckUp::bad(
            name,
            format!("{shown}: {} is no folder", there.display()),
            format!("move it away, or set {variable} to a folder"),
        );
    }
    match tempfile::tempfile_in(&there) {
        Ok(_) if there == folder => CheckUp::ok(name, format!("{shown}")),
        Ok(_) => CheckUp::ok(name, format!("{shown} (made when it is needed)")),
        Err(error) => CheckUp::bad(
            name,
            format!("{shown}: nothing can be written in {} ({error})", there.display()),
            format!("free some space or allow yourself to write there, or set {variable} to another folder"),
        ),
    }
}

/// The folder itself or the nearest above it that is there.
fn nearest(folder: &Path) -> PathBuf {
    folder.ancestors().find(|path| path.exists()).unwrap_or(Path::new("/")).to_owned()
}

#[cfg(test)]
mod tests {
    use super::super::Health;
    use super::*;

    #[test]
    fn a_folder_yet_to_be_made_is_well_and_a_file_in_the_way_is_not() {
        let root = tempfile::tempdir().unwrap();
        assert_eq!(check("memory", root.path(), "X").state, Health::Ok);
        let later = root.path().join("a/b");
        assert!(check("memory", &later, "X").found.ends_with("a/b (made when it is needed)"));
        assert!(!later.exists());
        std::fs::write(root.path().join("a"), "").unwrap();
        let check = check("memory", &later, "X");
        assert_eq!(check.state, Health::Bad);
        assert!(check.mend.is_some_and(|mend| mend.ends_with("set X to a folder")));
    }
}
