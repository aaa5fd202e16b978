//! A copy of the rack while it is in use.

use super::fault::fault;
use super::store::{Rack, WAIT};
use crate::aside::{folder_of, put_new, without_name};
use crate::number::counted;
use crate::{Failure, Result};
use rusqlite::{Connection, OpenFlags};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// A copy that was made and checked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Backup {
    /// Where it is.
    pub file: PathBuf,
    /// Its size in bytes.
    pub bytes: u64,
    /// Remnants in it.
    pub remnants: u32,
    /// Bookings in it.
    pub bookings: u32,
}

/// Copies the rack to `to` as it is at one moment; others may go on booking meanwhile. The copy is
/// written aside, checked whole and only then put in place.
///
/// # Errors
/// There is a file at `to` already, its folder cannot be written, the disk is full, or the rack or the
/// copy is damaged. Nothing is left at `to` then.
pub fn backup(rack: &Rack, to: &Path) -> Result<Backup> {
    let exists = || {
        Failure::in_file(
            to,
            "",
            "there is a file already",
            "name another: a copy never replaces one",
        )
    };
    if to.exists() {
        return Err(exists());
    }
    let cannot = |error: std::io::Error| {
        Failure::in_file(
            to,
            "",
            format!("the copy cannot be written: {error}"),
            "check that its folder exists, that you may write in it and that there is room",
        )
    };
    let aside = tempfile::Builder::new()
        .prefix(".rack-copy-")
        .tempdir_in(folder_of(to))
        .map_err(|e| cannot(without_name(e)))?;
    let draft = aside.path().join("rack");
    let Some(name) = draft.to_str() else {
        let what = "the name of its folder cannot be written";
        return Err(Failure::in_file(to, "", what, "name another folder"));
    };
    rack.db().run_outside("VACUUM INTO ?1", [name])?;
    let (remnants, bookings) = look_through(&draft, to)?;
    let file = std::fs::File::open(&draft).map_err(cannot)?;
    file.sync_all().map_err(cannot)?;
    let bytes = file.metadata().map_err(cannot)?.len();
    let draft = tempfile::TempPath::try_from_path(draft).map_err(cannot)?;
    put_new(draft, to, exists, cannot)?;
    Ok(Backup {
        file: to.to_owned(),
        bytes,
        remnants,
        bookings,
    })
}

/// Whether the copy is whole, and how much is in it.
fn look_through(draft: &Path, to: &Path) -> Result<(u32, u32)> {
    let read = || -> rusqlite::Result<(String, u32, u32)> {
        let conn = Connection::open_with_flags(draft, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        let first = conn.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
        let count = |sql| conn.query_row(sql, [], |row| row.get(0));
        let remnants = count("SELECT count(*) FROM remnants")?;
        Ok((first, remnants, count("SELECT count(*) FROM bookings")?))
    };
    let (first, remnants, bookings) = read().map_err(|e| fault(to, WAIT, &e))?;
    if first != "ok" {
        return Err(Failure::in_file(
            to,
            "",
            format!("the copy did not come out whole: {first}"),
            "look at the rack with `panelwright rack check`, and at the disk",
        ));
    }
    Ok((remnants, bookings))
}

impl Backup {
    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        format!(
            "Copied to {}: {}, {}, {} KiB, checked\n",
            self.file.display(),
            counted(self.remnants as usize, "remnant", "remnants"),
            counted(self.bookings as usize, "booking", "bookings"),
            self.bytes.div_ceil(1024)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::check;
    use super::super::testing::{TestRack, remnant_nest, sheet_nest};
    use super::*;

    #[test]
    fn a_copy_is_a_rack_of_its_own() {
        let mut test = TestRack::new();
        test.book(&sheet_nest(), 5).expect("booked");
        let to = test.dir.path().join("copy.db");
        let copy = backup(&test.rack, &to).expect("copied");
        assert_eq!((copy.remnants, copy.bookings), (4, 1));
        test.book(&remnant_nest(), 6).expect("the rack goes on");
        let there = Rack::open(&to).expect("a rack");
        assert_eq!(there.remnants().expect("read").len(), 4);
        assert!(check(&there).expect("checked").is_sound());
        let twice = backup(&test.rack, &to).expect_err("there is one");
        assert!(twice.what.contains("already"), "{twice}");
        let nowhere = backup(&test.rack, &test.dir.path().join("no/such/folder"));
        assert!(
            nowhere
                .expect_err("no folder")
                .what
                .contains("cannot be written")
        );
        let left = std::fs::read_dir(test.dir.path()).expect("the folder");
        let names: Vec<_> = left.flatten().map(|e| e.file_name()).collect();
        assert!(
            names.iter().all(|n| !n.to_string_lossy().starts_with('.')),
            "{names:?}"
        );
    }
}
