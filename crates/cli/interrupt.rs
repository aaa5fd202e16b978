//! Ctrl-C waits while files are put in place, and leaves no folder behind that was made for files to come.

use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};

static DOOR: Mutex<()> = Mutex::new(());

/// Folders that were made and have nothing in them yet, outer ones first.
static MADE: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// Held while files are written and moved, and by what is about to end the program: so that no nest stays half in its folder.
pub fn undisturbed() -> MutexGuard<'static, ()> {
    // It guards nothing that a panic could leave half-done.
    DOOR.lock().unwrap_or_else(PoisonError::into_inner)
}

fn made() -> MutexGuard<'static, Vec<PathBuf>> {
    MADE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Has these folders, made one in the other, removed when the program is ended at once.
pub fn remember(folders: &[PathBuf]) {
    made().extend_from_slice(folders);
}

/// Leaves these folders where they are, as they are in use or gone.
pub fn forget(folders: &[PathBuf]) {
    made().retain(|folder| !folders.contains(folder));
}

/// Removes the folders that are remembered, as far as they are empty: values that would do it are not dropped when the
/// program is ended at once.
pub fn remove_empty_folders() {
    for folder in made().drain(..).rev() {
        // One that cannot be removed has something in it by now.
        let _ = std::fs::remove_dir(folder);
    }
}
