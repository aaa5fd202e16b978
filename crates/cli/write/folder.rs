//! The out folder: files appear in it whole, all of them or none.

use crate::aside::without_name;
use crate::interrupt::{self, undisturbed};
use crate::{Failure, Result};
use std::collections::BTreeSet;
use std::fs::{self, TryLockError};
use std::io::Write as _;
use std::path::{Component, Path, PathBuf};

/// Where cut files go within the out folder.
const CUT: &str = "cut";

/// Where pictures of sheets go.
const PREVIEW: &str = crate::preview::FOLDER;

/// Written last: where it is, the rest is.
pub const NEST: &str = "nest.json";

/// A folder that was found writable, and into which no other run writes as long as this lives.
///
/// Folders that [`OutFolder::prepare`] had to make go away again when nothing is committed.
#[derive(Debug)]
pub struct OutFolder {
    root: PathBuf,
    /// The folder, locked; `None` where its file system has no locks for folders.
    locked: Option<fs::File>,
    /// Folders made here, outermost first.
    made: Vec<PathBuf>,
}

impl Drop for OutFolder {
    fn drop(&mut self) {
        // Only empty folders can be removed this way, so nothing written is ever lost.
        for folder in self.made.iter().rev() {
            let _ = fs::remove_dir(folder);
        }
        interrupt::forget(&self.made);
    }
}

impl OutFolder {
    /// Makes sure, before a long search, that files can be written to the folder at `path`, which
    /// is made if it is not there, and keeps other runs out of it until the value is dropped or committed.
    ///
    /// # Errors
    /// When it cannot be made or written to, or another run is at work in it, naming the folder. Nothing is left
    /// behind then.
    pub fn prepare(path: &Path) -> Result<Self> {
        let root = if path.as_os_str().is_empty() {
            PathBuf::from(".")
        } else {
            path.to_owned()
        };
        // From here on, an early return drops the folder and with it what was made.
        let mut folder = Self {
            root,
            locked: None,
            made: Vec::new(),
        };
        let made = make_folders(&folder.root, &mut folder.made);
        interrupt::remember(&folder.made);
        made.map_err(|e| folder.refused("cannot be made", &e))?;
        if !folder.root.is_dir() {
            return Err(Failure::new(
                folder.name(),
                "is a file, not a folder",
                "name another out folder",
            ));
        }
        folder.lock()?;
        for (name, is_folder) in [(CUT, true), (PREVIEW, true), (NEST, false)] {
            let path = folder.root.join(name);
            if path.exists() && path.is_dir() != is_folder {
                return Err(in_the_way(&path, path.is_dir()));
            }
        }
        for inner in [
            folder.root.clone(),
            folder.root.join(CUT),
            folder.root.join(PREVIEW),
        ] {
            if inner.is_dir() {
                tempfile::Builder::new()
                    .prefix(".panelwright-")
                    .tempfile_in(&inner)
                    .map_err(without_name)
                    .and_then(|mut file| file.write_all(b"can be written"))
                    .map_err(|e| folder.refused("cannot be written to", &e))?;
            }
        }
        Ok(folder)
    }

    /// Keeps other runs out: two that move their files at once would leave cut files of both. It is the folder itself
    /// that is locked, so no file is left behind, and the lock of a run that was killed ends with it.
    ///
    /// Where a folder cannot be opened or locked (Windows, some drives of a network) one goes on without.
    fn lock(&mut self) -> Result<()> {
        let Ok(file) = fs::File::open(&self.root) else {
            return Ok(());
        };
        match file.try_lock() {
            Ok(()) => self.locked = Some(file),
            Err(TryLockError::WouldBlock) => {
                let what = "another run of panelwright is at work in it";
                let advice = "wait until that has ended, or name another out folder";
                return Err(Failure::new(self.name(), what, advice));
            }
            Err(TryLockError::Error(_)) => {}
        }
        Ok(())
    }

    /// The folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.root
    }

    /// Puts `files` (names relative to the folder with `/` between, and contents) in the folder.
    ///
    /// All are written aside first and then renamed, `nest.json` last; where one cannot be put in
    /// place, everything is put back as it was; what cannot be put back either is kept aside, and the failure says
    /// where. Cut files and pictures of an earlier nest that this one does not
    /// replace are removed; any other file is kept.
    ///
    /// # Errors
    /// When a file cannot be written, naming it; when a name leaves the folder or comes twice.
    pub fn commit(mut self, files: Vec<(String, Vec<u8>)>) -> Result<()> {
        let mut names = BTreeSet::new();
        for (name, _) in &files {
            let inside = Path::new(name)
                .components()
                .all(|c| matches!(c, Component::Normal(_)));
            if name.is_empty() || !inside || !names.insert(name.as_str()) {
                return Err(Failure::new(
                    name,
                    "cannot be the name of a file in the out folder",
                    "report this as a fault",
                ));
            }
        }
        // From here on, as what is written aside would stay there. It goes before the program may end.
        let _undisturbed = undisturbed();
        let aside = tempfile::Builder::new()
            .prefix(".panelwright-")
            .tempdir_in(&self.root)
            .map_err(|e| self.refused("cannot be written to", &without_name(e)))?;
        let (new, old) = (aside.path().join("new"), aside.path().join("old"));
        for (name, bytes) in &files {
            write_whole(&new.join(name), bytes)
                .map_err(|e| self.failed(name, "cannot be written", &e))?;
        }

        let mut moves = Moves::default();
        match self.exchange(&names, &new, &old, &mut moves) {
            Ok(()) => {
                interrupt::forget(&self.made);
                self.made.clear();
                Ok(())
            }
            Err(failure) => Err(put_back(moves, aside, failure)),
        }
    }

    /// Moves the earlier files of these names, and those of an earlier nest, to the folder `old`, and those of the folder
    /// `new` to their places.
    fn exchange(
        &self,
        names: &BTreeSet<&str>,
        new: &Path,
        old: &Path,
        moves: &mut Moves,
    ) -> Result<()> {
        let mut order: Vec<&str> = names.iter().copied().collect();
        order.sort_by_key(|name| *name == NEST);
        let stale: Vec<String> = self
            .earlier(CUT, is_cut_file)
            .into_iter()
            .chain(self.earlier(PREVIEW, is_picture))
            .filter(|name| !names.contains(name.as_str()))
            .collect();
        // The old record goes first, so that it never stands beside cut files that are not its own.
        let leaving = std::iter::once(NEST)
            .chain(stale.iter().map(String::as_str))
            .chain(order.iter().copied().filter(|n| *n != NEST));
        for name in leaving {
            let path = self.root.join(name);
            if path.is_dir() {
                return Err(in_the_way(&path, true));
            }
            if path.exists() {
                moves
                    .rename(&path, &old.join(name))
                    .map_err(|e| self.failed(name, "cannot be replaced", &e))?;
            }
        }
        for name in order {
            moves
                .rename(&new.join(name), &self.root.join(name))
                .map_err(|e| self.failed(name, "cannot be put in place", &e))?;
        }
        Ok(())
    }

    /// Names of files that this program has written into a folder here, as their names tell.
    fn earlier(&self, folder: &str, is_own: impl Fn(&str) -> bool) -> Vec<String> {
        let Ok(entries) = fs::read_dir(self.root.join(folder)) else {
            return Vec::new();
        };
        let mut names: Vec<String> = entries
            .filter_map(|entry| {
                let entry = entry.ok().filter(|e| e.path().is_file())?;
                let name = entry.file_name().into_string().ok()?;
                is_own(&name).then(|| format!("{folder}/{name}"))
            })
            .collect();
        names.sort();
        names
    }

    fn name(&self) -> String {
        format!("out folder {}", self.root.display())
    }

    fn refused(&self, what: &str, error: &std::io::Error) -> Failure {
        Failure::new(
            self.name(),
            format!("{what}: {error}"),
            "check its rights and the room on the disk, or name another folder",
        )
    }

    fn failed(&self, name: &str, what: &str, error: &std::io::Error) -> Failure {
        Failure::new(
            self.root.join(name).display().to_string(),
            format!("{what}: {error}"),
            "check its rights and the room on the disk, and that no other program holds it",
        )
    }
}

/// Something is where a file (or, if it is no folder, a folder) has to go.
fn in_the_way(path: &Path, is_folder: bool) -> Failure {
    let (found, wanted) = if is_folder {
        ("folder", "file")
    } else {
        ("file", "folder")
    };
    Failure::new(
        path.display().to_string(),
        format!("is a {found} where a {wanted} of the nest has to go"),
        "move it away or name another out folder",
    )
}

/// Whether a file in `cut/` has a name that only this program gives: `sheet-` and a number of two
/// digits or more, perhaps `-blank-` and a number, or `finish-` and a number; then perhaps `-step-`, a
/// number and the name of a layer; `.dxf` or `.svg`.
fn is_cut_file(name: &str) -> bool {
    let digits =
        |text: &str, least: usize| text.len() >= least && text.bytes().all(|b| b.is_ascii_digit());
    let Some(stem) = name
        .strip_suffix(".dxf")
        .or_else(|| name.strip_suffix(".svg"))
    else {
        return false;
    };
    let stem = match stem.split_once("-step-") {
        Some((stem, step)) => {
            let (number, layer) = step.split_once('-').unwrap_or((step, ""));
            let plain = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-';
            if !digits(number, 1) || layer.is_empty() || !layer.bytes().all(plain) {
                return false;
            }
            stem
        }
        None => stem,
    };
    if let Some(sheet) = stem.strip_prefix("sheet-") {
        return match sheet.split_once("-blank-") {
            Some((sheet, blank)) => digits(sheet, 2) && digits(blank, 1),
            None => digits(sheet, 2),
        };
    }
    stem.strip_prefix("finish-").is_some_and(|n| digits(n, 2))
}

/// Whether a file in `preview/` has a name that only this program gives.
fn is_picture(name: &str) -> bool {
    let number = name
        .strip_prefix("sheet-")
        .and_then(|n| n.strip_suffix(".png"));
    number.is_some_and(|n| n.len() >= 2 && n.bytes().all(|b| b.is_ascii_digit()))
}

/// Writes a file and makes sure that it is on the disk, its folder made if need be.
fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    make_folders(path.parent().unwrap_or(path), &mut Vec::new())?;
    let mut file = fs::File::create_new(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// Makes a folder and those it lies in, and adds the ones that were not there to `made`.
fn make_folders(path: &Path, made: &mut Vec<PathBuf>) -> std::io::Result<()> {
    let missing: Vec<&Path> = path
        .ancestors()
        .take_while(|a| !a.as_os_str().is_empty() && !a.exists())
        .collect();
    for path in missing.into_iter().rev() {
        match fs::create_dir(path) {
            Ok(()) => made.push(path.to_owned()),
            // Somebody else made it just now.
            Err(_) if path.is_dir() => {}
            Err(e) => return Err(e),
        }
    }
    Ok(())
}

/// Undoes the moves of a commit that came to the `failure`. Earlier files that cannot go back to their places are all
/// there is of a nest: they stay in the folder aside, which the failure then names.
fn put_back(moves: Moves, aside: tempfile::TempDir, failure: Failure) -> Failure {
    let left = moves.undo();
    let Some((first, _)) = left.first() else {
        return failure;
    };
    let first = first.display();
    let earlier = match left.len() {
        1 => format!("the earlier file {first}"),
        n => format!("{n} earlier files, the first of them {first},"),
    };
    let what = format!("{}; {earlier} could not be put back", failure.what);
    let kept = aside.keep();
    let advice = format!(
        "{}; what is missing lies in {}",
        failure.advice,
        kept.join("old").display()
    );
    Failure::new(failure.place, what, advice)
}

/// Renames that can be undone, with the folders made for them.
#[derive(Default)]
struct Moves {
    moved: Vec<(PathBuf, PathBuf)>,
    made: Vec<PathBuf>,
}

impl Moves {
    fn rename(&mut self, from: &Path, to: &Path) -> std::io::Result<()> {
        make_folders(to.parent().unwrap_or(to), &mut self.made)?;
        fs::rename(from, to)?;
        self.moved.push((from.to_owned(), to.to_owned()));
        Ok(())
    }

    /// Renames everything back, last first; returns what could not be, as (from, to). The folders made go where they are
    /// empty.
    fn undo(self) -> Vec<(PathBuf, PathBuf)> {
        let mut left = Vec::new();
        for (from, to) in self.moved.into_iter().rev() {
            if fs::rename(&to, &from).is_err() {
                left.push((from, to));
            }
        }
        for folder in self.made.into_iter().rev() {
            let _ = fs::remove_dir(folder);
        }
        left
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files(list: &[(&str, &str)]) -> Vec<(String, Vec<u8>)> {
        list.iter()
            .map(|(n, c)| ((*n).to_owned(), c.as_bytes().to_vec()))
            .collect()
    }

    /// Every file below a folder with its content, hidden ones too.
    fn listing(root: &Path) -> Vec<(String, String)> {
        let mut found = Vec::new();
        let mut folders = vec![root.to_owned()];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(&folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path);
                } else {
                    let name = path.strip_prefix(root).unwrap().display().to_string();
                    found.push((name, fs::read_to_string(&path).unwrap()));
                }
            }
        }
        found.sort();
        found
    }

    #[test]
    fn a_second_nest_replaces_the_first_and_keeps_foreign_files() {
        let home = tempfile::tempdir().unwrap();
        let root = home.path().join("a/b/out");
        let first = files(&[
            ("cut/sheet-01.dxf", "one"),
            ("cut/sheet-02.dxf", "two"),
            ("cut/sheet-02-blank-1.svg", "blank"),
            ("cut/finish-01.dxf", "finish"),
            ("nest.json", "first"),
        ]);
        OutFolder::prepare(&root).unwrap().commit(first).unwrap();
        fs::write(root.join("cut/sheet-2.dxf"), "foreign").unwrap();
        fs::write(root.join("cut/sheet-02.nc"), "foreign").unwrap();
        fs::write(root.join("sheet-09.dxf"), "foreign").unwrap();
        let second = files(&[("nest.json", "second"), ("cut/sheet-01.dxf", "new one")]);
        OutFolder::prepare(&root).unwrap().commit(second).unwrap();
        let want = [
            ("cut/sheet-01.dxf", "new one"),
            ("cut/sheet-02.nc", "foreign"),
            ("cut/sheet-2.dxf", "foreign"),
            ("nest.json", "second"),
            ("sheet-09.dxf", "foreign"),
        ];
        let want: Vec<_> = want.map(|(a, b)| (a.to_owned(), b.to_owned())).to_vec();
        assert_eq!(listing(&root), want);
        assert_eq!(fs::read_dir(&root).unwrap().count(), 3);
    }

    #[test]
    fn nothing_is_left_of_a_folder_that_was_not_used() {
        let home = tempfile::tempdir().unwrap();
        let root = home.path().join("a/b");
        drop(OutFolder::prepare(&root).unwrap());
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_named() {
        let home = tempfile::tempdir().unwrap();
        let file = home.path().join("file");
        fs::write(&file, "x").unwrap();
        for path in [file.join("out"), file.join("deep/out"), file.clone()] {
            let failure = OutFolder::prepare(&path).unwrap_err();
            let text = failure.to_string();
            assert!(text.contains(&path.display().to_string()), "{text}");
            assert!(!failure.advice.is_empty());
        }
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 1);
    }

    #[test]
    fn where_one_file_cannot_be_put_in_place_everything_stays_as_it_was() {
        let home = tempfile::tempdir().unwrap();
        let root = home.path().to_owned();
        let first = files(&[("cut/sheet-01.dxf", "one"), ("nest.json", "first")]);
        OutFolder::prepare(&root).unwrap().commit(first).unwrap();
        // A file where the new nest needs a folder.
        fs::write(root.join("papers"), "in the way").unwrap();
        let before = listing(&root);
        let second = files(&[
            ("cut/sheet-01.dxf", "two"),
            ("cut/sheet-02.dxf", "two"),
            ("papers/report.html", "report"),
            ("nest.json", "second"),
        ]);
        let failure = OutFolder::prepare(&root)
            .unwrap()
            .commit(second)
            .unwrap_err();
        assert!(failure.place.contains("report.html"), "{failure}");
        assert_eq!(listing(&root), before);
        fs::remove_dir_all(root.join("cut")).unwrap();
        let again = files(&[
            ("cut/sheet-01.dxf", "two"),
            ("papers/report.html", "report"),
        ]);
        OutFolder::prepare(&root)
            .unwrap()
            .commit(again)
            .unwrap_err();
        assert!(!root.join("cut").exists());
        assert_eq!(fs::read_dir(&root).unwrap().count(), 2);
    }

    #[test]
    fn an_earlier_file_that_cannot_go_back_is_kept_and_named() {
        let home = tempfile::tempdir().unwrap();
        let root = home.path();
        let aside = tempfile::tempdir_in(root).unwrap();
        let old = aside.path().join("old");
        fs::write(root.join("a"), "earlier").unwrap();
        fs::write(root.join("b"), "earlier too").unwrap();
        let mut moves = Moves::default();
        for name in ["a", "b"] {
            moves.rename(&root.join(name), &old.join(name)).unwrap();
        }
        // Somebody else puts a folder where the first was.
        fs::create_dir_all(root.join("a/foreign")).unwrap();
        let failure = put_back(moves, aside, Failure::new("c", "cannot be written", "try"));
        let said = failure.to_string();
        let place = root.join("a").display().to_string();
        assert!(
            said.contains(&place) && said.contains(&old.display().to_string()),
            "{said}"
        );
        assert_eq!(fs::read_to_string(old.join("a")).unwrap(), "earlier");
        assert_eq!(fs::read_to_string(root.join("b")).unwrap(), "earlier too");
        assert!(root.join("a/foreign").is_dir());
    }

    #[cfg(unix)]
    #[test]
    fn one_run_at_a_time_has_the_folder() {
        let home = tempfile::tempdir().unwrap();
        let root = home.path().join("out");
        let first = OutFolder::prepare(&root).unwrap();
        let failure = OutFolder::prepare(&root).unwrap_err();
        assert!(failure.what.contains("another run"), "{failure}");
        assert!(root.is_dir());
        first.commit(files(&[("nest.json", "first")])).unwrap();
        let second = OutFolder::prepare(&root).unwrap();
        second.commit(files(&[("nest.json", "second")])).unwrap();
        let want = [("nest.json".to_owned(), "second".to_owned())];
        assert_eq!(listing(&root), want);
        assert_eq!(fs::read_dir(&root).unwrap().count(), 1);
    }

    #[test]
    fn what_is_in_the_way_is_found_before_the_search_and_never_removed() {
        let home = tempfile::tempdir().unwrap();
        let root = home.path();
        fs::write(root.join("cut"), "foreign").unwrap();
        let failure = OutFolder::prepare(root).unwrap_err().to_string();
        assert!(failure.contains("cut: is a file"), "{failure}");
        fs::remove_file(root.join("cut")).unwrap();
        fs::create_dir_all(root.join("nest.json/precious")).unwrap();
        let failure = OutFolder::prepare(root).unwrap_err().to_string();
        assert!(failure.contains("nest.json: is a folder"), "{failure}");
        fs::rename(root.join("nest.json"), root.join("report.html")).unwrap();
        let list = files(&[("report.html", "report"), ("nest.json", "nest")]);
        let folder = OutFolder::prepare(root).unwrap();
        folder.commit(list).unwrap_err();
        assert!(root.join("report.html/precious").exists());
        assert_eq!(fs::read_dir(root).unwrap().count(), 1);
    }

    #[test]
    fn names_stay_in_the_folder() {
        let home = tempfile::tempdir().unwrap();
        let twice = [("a", "1"), ("a", "2")];
        for list in [
            &[("../a", "x")][..],
            &[("/a", "x")],
            &[("cut/../../a", "x")],
            &[("", "x")],
            &twice,
        ] {
            let folder = OutFolder::prepare(&home.path().join("out")).unwrap();
            folder.commit(files(list)).unwrap_err();
        }
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
    }

    #[test]
    fn only_our_own_names_are_taken_for_cut_files() {
        for name in [
            "sheet-01.dxf",
            "sheet-123.svg",
            "sheet-07-blank-12.dxf",
            "finish-01.svg",
        ] {
            assert!(is_cut_file(name), "{name}");
        }
        for name in [
            "sheet-1.dxf",
            "sheet-01.DXF",
            "sheet-01.dxf.bak",
            "sheet-01-blank-.dxf",
            "sheet-01-old.dxf",
            "my-sheet-01.dxf",
            "finish-a1.dxf",
            "sheet-.svg",
        ] {
            assert!(!is_cut_file(name), "{name}");
        }
    }
}
