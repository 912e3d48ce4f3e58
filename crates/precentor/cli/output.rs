//! Files that are whole or not there at all: written under a passing name in the folder they belong to, then put in place.

use anyhow::Context;
use std::fs::{self, File};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

use super::exit::Usage;

/// A file that is not yet there under its name. Dropped, it never was.
#[derive(Debug)]
pub struct Draft {
    passing: NamedTempFile,
    target: PathBuf,
    force: bool,
}

impl Draft {
    /// Begins what will be `target`; something that is there already is replaced only by `force`.
    pub fn begin(target: &Path, force: bool) -> anyhow::Result<Self> {
        free(target, force)?;
        let folder = folder_of(target);
        if !folder.is_dir() {
            return Err(Usage::error(format!("there is no folder {}", folder.display()), "make it, or name another"));
        }
        let passing = passing_file(folder).map_err(|error| match error.kind() {
            ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
                Usage::error(format!("nothing may be written in {}", folder.display()), "name a folder of yours")
            }
            _ => anyhow::Error::new(error).context(format!("{} cannot be written", target.display())),
        })?;
        Ok(Self { passing, target: target.to_owned(), force })
    }

    /// A handle to write with.
    pub fn file(&self) -> anyhow::Result<File> {
        self.passing.as_file().try_clone().with_context(|| self.fault())
    }

    /// What an error says that happened while this was written.
    pub fn fault(&self) -> String {
        format!("{} cannot be written, and nothing is kept of it; free some space there or name another folder", self.target.display())
    }

    /// Puts the file in place.
    pub fn keep(self) -> anyhow::Result<()> {
        let fault = self.fault();
        self.passing.as_file().sync_all().with_context(|| fault.clone())?;
        let kept = if self.force { self.passing.persist(&self.target) } else { self.passing.persist_noclobber(&self.target) };
        match kept {
            Ok(_) => Ok(()),
            Err(error) if error.error.kind() == ErrorKind::AlreadyExists => Err(taken(&self.target)),
            Err(error) => Err(anyhow::Error::new(error.error).context(fault)),
        }
    }
}

/// Whether `target` may be written: it is not a folder, and not there unless `force`d.
pub fn free(target: &Path, force: bool) -> anyhow::Result<()> {
    if target.is_dir() {
        return Err(Usage::error(format!("{} is a folder", target.display()), "name a file in it"));
    }
    if !force && fs::symlink_metadata(target).is_ok() {
        return Err(taken(target));
    }
    Ok(())
}

fn taken(target: &Path) -> anyhow::Error {
    Usage::error(format!("{} is there already", target.display()), "name another file, or say --force to replace it")
}

fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// A passing file that, once in place, others may read as any other file of the user's.
fn passing_file(folder: &Path) -> std::io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".precentor-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

/// Whether two paths name one file.
pub fn same(one: &Path, other: &Path) -> bool {
    let whole = |path: &Path| fs::canonicalize(folder_of(path)).ok().map(|folder| folder.join(path.file_name().unwrap_or_default()));
    one == other || whole(one).is_some_and(|one| whole(other) == Some(one))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<_> =
            fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    #[test]
    fn a_dropped_draft_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let draft = Draft::begin(&folder.path().join("a.wav"), false).unwrap();
        draft.file().unwrap().write_all(b"half").unwrap();
        assert_eq!(names(folder.path()).len(), 1);
        assert!(!folder.path().join("a.wav").exists());
        drop(draft);
        assert_eq!(names(folder.path()), [""; 0]);
    }

    #[test]
    fn nothing_is_replaced_unless_told_so() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("a.wav");
        let late = Draft::begin(&target, false).unwrap();
        fs::write(&target, "mine").unwrap();
        assert!(
            Draft::begin(&target, false)
                .unwrap_err()
                .to_string()
                .ends_with("a.wav is there already; name another file, or say --force to replace it")
        );
        assert!(late.keep().unwrap_err().is::<Usage>(), "it came in between");
        assert_eq!(fs::read_to_string(&target).unwrap(), "mine");
        let forced = Draft::begin(&target, true).unwrap();
        forced.file().unwrap().write_all(b"new").unwrap();
        forced.keep().unwrap();
        assert_eq!(fs::read_to_string(&target).unwrap(), "new");
        assert_eq!(names(folder.path()), ["a.wav"]);
    }

    #[test]
    fn folders_are_not_files() {
        let folder = tempfile::tempdir().unwrap();
        assert!(Draft::begin(folder.path(), true).unwrap_err().to_string().ends_with("is a folder; name a file in it"));
        let error = Draft::begin(&folder.path().join("none/a.wav"), true).unwrap_err().to_string();
        assert!(error.contains("there is no folder"), "{error}");
    }

    #[test]
    fn one_file_by_two_names() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        assert!(same(&path, &folder.path().join(".").join("a.wav")));
        assert!(!same(&path, &folder.path().join("b.wav")));
    }
}
