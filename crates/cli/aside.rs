//! Single files that are written aside and put in place whole.

use crate::{Failure, Result};
use std::io::Write as _;
use std::path::Path;
use tempfile::{NamedTempFile, TempPath};

/// The folder that a file is in, or will be.
pub(crate) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// What a folder said of a file with a passing name in it, without that name: people know the file that was meant.
pub fn without_name(error: std::io::Error) -> std::io::Error {
    match error.raw_os_error() {
        Some(_) => error,
        None => error.kind().into(),
    }
}

/// A file beside where it will be put: on the same disk, so that it can be renamed. Its rights are those of any new
/// file, not those of a temporary one, which is for its owner alone.
///
/// # Errors
/// When the folder refuses.
pub fn aside(path: &Path) -> std::io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".panelwright-");
    #[cfg(unix)]
    let rights = {
        use std::os::unix::fs::PermissionsExt as _;
        // What the user's mask takes away of it is taken away when the file is made.
        std::fs::Permissions::from_mode(0o666)
    };
    #[cfg(unix)]
    builder.permissions(rights);
    let folder = folder_of(path);
    if !folder.is_dir() {
        let what = "there is no such folder";
        return Err(std::io::Error::new(std::io::ErrorKind::NotFound, what));
    }
    builder.tempfile_in(folder).map_err(without_name)
}

/// Writes a file whole or not at all; one that is there is replaced.
///
/// # Errors
/// When it cannot be written, naming it.
pub fn put_whole(path: &Path, text: &str) -> Result<()> {
    let write = || -> std::io::Result<()> {
        let mut file = aside(path)?;
        file.write_all(text.as_bytes())?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|e| e.error)?;
        Ok(())
    };
    write().map_err(|e| {
        let advice = "check that its folder exists and that you may write in it";
        Failure::in_file(path, "", format!("it cannot be written: {e}"), advice)
    })
}

/// Puts a file that was written aside in its place, where there must be none: what was made there meanwhile is kept.
/// `exists` and `cannot` say what was in the way.
///
/// # Errors
/// What one of them says.
pub(crate) fn put_new(
    aside: TempPath,
    path: &Path,
    exists: impl FnOnce() -> Failure,
    cannot: impl FnOnce(std::io::Error) -> Failure,
) -> Result<()> {
    aside
        .persist_noclobber(path)
        .map_err(|e| match e.error.kind() {
            std::io::ErrorKind::AlreadyExists => exists(),
            _ => cannot(e.error),
        })
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt as _;

    #[test]
    fn a_folder_that_is_not_there_is_told_with_the_file_that_was_meant() {
        let home = tempfile::tempdir().expect("a folder");
        let to = home.path().join("none/list.csv");
        let failure = put_whole(&to, "text").expect_err("no folder");
        assert_eq!(failure.place, to.display().to_string());
        assert_eq!(
            failure.what,
            "it cannot be written: there is no such folder"
        );
        let named = tempfile::Builder::new()
            .prefix(".panelwright-")
            .tempfile_in(home.path().join("none"));
        let said = without_name(named.expect_err("no folder")).to_string();
        assert!(!said.contains(".panelwright-"), "{said}");
    }

    #[test]
    fn others_may_read_what_is_put_in_place() {
        let home = tempfile::tempdir().expect("a folder");
        let rights = |name: &str| {
            let about = std::fs::metadata(home.path().join(name)).expect("it is there");
            about.permissions().mode() & 0o777
        };
        std::fs::write(home.path().join("plain"), "").expect("written");
        put_whole(&home.path().join("put"), "text").expect("written");
        assert_eq!(rights("put"), rights("plain"));
    }
}
