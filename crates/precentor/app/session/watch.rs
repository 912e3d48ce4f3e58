//! Watching the files in use. Editors replace files rather than write into them, so their folders are watched.

use crossbeam_channel::{Receiver, unbounded};
use notify::{EventKind, RecommendedWatcher, RecursiveMode, Watcher};
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::app::shelf::folder_of;

/// How long a file must lie still before it is read: editors write in several steps.
const STILL_FOR: Duration = Duration::from_millis(150);

pub(super) struct Watch {
    watcher: RecommendedWatcher,
    events: Receiver<PathBuf>,
    folders: Vec<PathBuf>,
    files: Vec<PathBuf>,
    /// When the last change of a file in use was heard of.
    heard: Option<Duration>,
}

impl Watch {
    pub(super) fn start() -> notify::Result<Self> {
        let (sender, events) = unbounded();
        let watcher = notify::recommended_watcher(move |event: notify::Result<notify::Event>| {
            let Ok(event) = event else { return };
            if matches!(event.kind, EventKind::Create(_) | EventKind::Modify(_) | EventKind::Remove(_) | EventKind::Any) {
                for path in event.paths {
                    // the console may be gone already
                    let _ = sender.send(path);
                }
            }
        })?;
        Ok(Self { watcher, events, folders: Vec::new(), files: Vec::new(), heard: None })
    }

    /// Watches these files and no others.
    pub(super) fn only<'a>(&mut self, paths: impl Iterator<Item = &'a Path>) {
        self.files = paths.map(Path::to_owned).collect();
        let mut wanted: Vec<PathBuf> = self.files.iter().map(|path| folder_of(path)).collect();
        wanted.sort();
        wanted.dedup();
        for folder in self.folders.iter().filter(|folder| !wanted.contains(folder)) {
            // a folder that is gone needs no unwatching
            let _ = self.watcher.unwatch(folder);
        }
        for folder in wanted.iter().filter(|folder| !self.folders.contains(folder)) {
            // a folder that cannot be watched leaves its files as they were read
            let _ = self.watcher.watch(folder, RecursiveMode::NonRecursive);
        }
        self.folders = wanted;
    }

    /// Whether a file in use was changed and has lain still since.
    pub(super) fn has_news(&mut self, now: Duration) -> bool {
        while let Ok(path) = self.events.try_recv() {
            if self.files.iter().any(|file| file.file_name() == path.file_name()) {
                self.heard = Some(now);
            }
        }
        let still = self.heard.is_some_and(|heard| now.saturating_sub(heard) >= STILL_FOR);
        if still {
            self.heard = None;
        }
        still
    }
}
