//! A copy of a rack that can be read but not written: on a read-only share, on a disk that is full.

use super::fault::unreadable;
use crate::{Failure, Result};
use std::fs::{File, Metadata};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};
use tempfile::TempDir;

/// Name of the copy in its folder.
pub(super) const NAME: &str = "rack";

/// How often a copy is tried while others write to the rack.
const TRIES: u32 = 20;

/// Waited between two tries. Times of files may be as coarse as some milliseconds, so a file changed since
/// then is not trusted either.
const PAUSE: Duration = Duration::from_millis(50);

/// Copies the rack at `path`, with its write-ahead log where there is one, as they are at one moment.
///
/// # Errors
/// The files cannot be read, there is no room for the copy, or others never leave the rack alone.
pub(super) fn of_unwritable(path: &Path) -> Result<TempDir> {
    let cannot = |error: std::io::Error| {
        Failure::in_file(
            path,
            "",
            format!(
                "the rack file cannot be written, and no copy of it can be made to read: {error}"
            ),
            "make room in the folder for temporary files, or give yourself the right to write to the rack",
        )
    };
    let log = beside(path, "-wal");
    for _ in 0..TRIES {
        let before = State::of(path, &log).map_err(|e| unreadable(path, &e))?;
        if before.is_settled(SystemTime::now()) {
            let folder = tempfile::tempdir().map_err(cannot)?;
            let to = folder.path().join(NAME);
            let mut file = File::open(path).map_err(|e| unreadable(path, &e))?;
            copy(&mut file, &to).map_err(cannot)?;
            if before.log.is_some() {
                let mut file = File::open(&log).map_err(|e| unreadable(&log, &e))?;
                copy(&mut file, &beside(&to, "-wal")).map_err(cannot)?;
            }
            let after = State::of(path, &log).map_err(|e| unreadable(path, &e))?;
            if before == after {
                return Ok(folder);
            }
        }
        std::thread::sleep(PAUSE);
    }
    Err(Failure::in_file(
        path,
        "",
        "the rack file is read-only, and others write to it all the time",
        "try again, or give yourself the right to write to it and to its folder",
    ))
}

/// The content alone: the copy may be written.
fn copy(from: &mut File, to: &Path) -> std::io::Result<()> {
    std::io::copy(from, &mut File::create(to)?).map(|_| ())
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// What tells whether the rack was written to: size and time of the file and of its log.
#[derive(Debug, PartialEq)]
struct State {
    file: (u64, SystemTime),
    log: Option<(u64, SystemTime)>,
}

impl State {
    fn of(path: &Path, log: &Path) -> std::io::Result<Self> {
        fn of(meta: &Metadata) -> std::io::Result<(u64, SystemTime)> {
            Ok((meta.len(), meta.modified()?))
        }
        Ok(Self {
            file: of(&std::fs::metadata(path)?)?,
            log: match std::fs::metadata(log) {
                Ok(meta) => Some(of(&meta)?),
                Err(error) if error.kind() == std::io::ErrorKind::NotFound => None,
                Err(error) => return Err(error),
            },
        })
    }

    /// Whether nothing was written just before `now`.
    fn is_settled(&self, now: SystemTime) -> bool {
        let times = [Some(self.file.1), self.log.map(|log| log.1)];
        // A time in the future is another clock's.
        let age = |time: SystemTime| now.duration_since(time).unwrap_or(PAUSE);
        times.into_iter().flatten().all(|time| age(time) >= PAUSE)
    }
}

#[cfg(test)]
mod tests {
    use super::super::State as Kept;
    use super::super::store::Rack;
    use super::super::testing::{TestRack, when};
    use super::*;

    /// The copy has what stands in the log alone: here another connection keeps it from being written back.
    #[test]
    fn a_copy_has_what_is_in_the_log() {
        let mut test = TestRack::new();
        let id = test.rack.remnants().expect("read")[0].id.clone();
        super::super::retire(&mut test.rack, &id, Kept::Lost, "gone", &when(2)).expect("lost");
        let path = test.path();
        let bytes = std::fs::read(&path).expect("the rack");
        assert!(std::fs::metadata(beside(&path, "-wal")).is_ok_and(|log| log.len() > 0));
        let copy = of_unwritable(&path).expect("copied");
        let copied = Rack::open(&copy.path().join(NAME)).expect("a sound rack");
        let ids = copied.remnants().expect("read");
        assert_eq!(ids, test.rack.remnants().expect("read"));
        assert!(ids.iter().all(|remnant| remnant.id != id));
        assert_eq!(std::fs::read(&path).expect("the rack"), bytes);
    }

    #[test]
    fn what_was_written_just_now_is_not_trusted() {
        let (then, ms) = (SystemTime::UNIX_EPOCH, Duration::from_millis);
        let state = |file: u64, log: Option<u64>| State {
            file: (1, then + ms(file)),
            log: log.map(|at| (1, then + ms(at))),
        };
        let now = then + ms(1000);
        assert!(state(950, None).is_settled(now));
        assert!(!state(951, None).is_settled(now));
        assert!(!state(100, Some(999)).is_settled(now));
        // By another clock, whose times tell nothing.
        assert!(state(1001, Some(900)).is_settled(now));
    }
}
