//! What SQLite says, in words that help at the bench.

use crate::Failure;
use crate::aside::folder_of;
use rusqlite::ErrorCode;
use std::io::Write;
use std::path::Path;
use std::time::Duration;

/// A failure of the rack file at `path`; `wait` is how long a lock was waited for.
pub(super) fn fault(path: &Path, wait: Duration, error: &rusqlite::Error) -> Failure {
    let say = |what: String, advice: &str| Failure::in_file(path, "", what, advice);
    match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => say(
            format!(
                "rack locked by another process; waited {:.1} s",
                wait.as_secs_f64()
            ),
            "wait until the other booking is done, or close the program that has the file open, \
             and try again",
        ),
        Some(ErrorCode::NotADatabase) => not_a_rack(path, "it is no SQLite file"),
        Some(ErrorCode::DatabaseCorrupt) => damaged(path, &error.to_string()),
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => read_only(path),
        // SQLite needs to make files of its own beside the rack.
        Some(ErrorCode::CannotOpen) if path.exists() && !can_be_written_beside(path) => {
            read_only(path)
        }
        Some(ErrorCode::CannotOpen) => say(
            "the rack file cannot be opened".to_owned(),
            "check that its folder exists and that you may write in it",
        ),
        Some(ErrorCode::DiskFull) => say(
            "the disk is full; nothing was changed".to_owned(),
            "make room and try again",
        ),
        Some(ErrorCode::SystemIoFailure) => say(
            format!(
                "the disk is full, or failed while the rack was used ({error}); nothing was changed"
            ),
            "make room, or check the disk; keep the rack on a local one, not on a network drive",
        ),
        Some(ErrorCode::ConstraintViolation) => say(
            format!("the rack's own checks refuse this ({error}); nothing was changed"),
            "please report this with the command you gave",
        ),
        _ => say(
            format!("the rack file cannot be used: {error}"),
            "if it was edited with another program, restore the last copy",
        ),
    }
}

/// Whether the rack may be written to.
pub(super) fn can_be_written(path: &Path) -> bool {
    std::fs::OpenOptions::new().append(true).open(path).is_ok()
}

/// Whether files can be made in the folder of the rack.
pub(super) fn can_be_written_beside(path: &Path) -> bool {
    tempfile::tempfile_in(folder_of(path)).is_ok()
}

/// Whether there is room for the files that SQLite makes beside the rack: an index of its log takes this much.
pub(super) fn has_room_beside(path: &Path) -> bool {
    const INDEX: usize = 32 * 1024;
    let write = |mut file: std::fs::File| file.write_all(&[0; INDEX]);
    tempfile::tempfile_in(folder_of(path))
        .and_then(write)
        .is_ok()
}

/// The file is something else.
pub(super) fn not_a_rack(path: &Path, why: &str) -> Failure {
    Failure::in_file(
        path,
        "",
        format!("this is not a rack file: {why}"),
        "check --rack or the `rack` entry of the shop file; nothing was changed",
    )
}

/// The file was a rack and is broken.
pub(super) fn damaged(path: &Path, how: &str) -> Failure {
    // SQLite tells of pages on lines of their own, below a heading.
    let lines = how.lines().map(str::trim);
    let said: Vec<&str> = lines
        .filter(|l| !l.is_empty() && !l.starts_with("***"))
        .collect();
    let how = said.join(", ");
    Failure::in_file(
        path,
        "",
        format!("the rack file is damaged: {how}"),
        "restore the last copy; keep this file and those beside it that end in -wal and -shm",
    )
}

/// The file may not be read.
pub(super) fn unreadable(path: &Path, error: &std::io::Error) -> Failure {
    Failure::in_file(
        path,
        "",
        format!("the rack file cannot be read: {error}"),
        "check who may read it",
    )
}

/// The file may not be written.
pub(super) fn read_only(path: &Path) -> Failure {
    Failure::in_file(
        path,
        "",
        "the rack file is read-only",
        "give yourself the right to write to it and to its folder",
    )
}
