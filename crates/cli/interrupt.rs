//! Ctrl-C waits while files are put in place.

use std::sync::{Mutex, MutexGuard, PoisonError};

static DOOR: Mutex<()> = Mutex::new(());

/// Held while files are moved, and by what is about to end the program: so that no nest stays half in its folder.
pub fn undisturbed() -> MutexGuard<'static, ()> {
    // It guards nothing that a panic could leave half-done.
    DOOR.lock().unwrap_or_else(PoisonError::into_inner)
}
