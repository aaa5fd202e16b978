//! Whether the rack can be trusted: killed at any moment, used by many at once, broken or foreign files.

use crate::util::{Bench, Run, program};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use serde_json::Value;
use std::path::PathBuf;
use std::process::Stdio;
use std::time::{Duration, Instant};

/// A bench with stock for thousands of bookings, and nests of it as files of different bytes.
struct Shop {
    bench: Bench,
    /// The nest on new sheets, as text with a place for the seed.
    nest: Value,
    /// The nest that takes remnants.
    on_remnants: Value,
}

const SHEETS: u32 = 1_000_000;

impl Shop {
    fn new() -> Self {
        let mut bench = Bench::new();
        for sheet in bench.shop["sheets"].as_array_mut().expect("sheets") {
            sheet["stock"] = SHEETS.into();
        }
        let nest = |bench: &Bench, more: &[&str]| {
            let run = bench.nest(more);
            assert_eq!(run.code, 0, "{run:?}");
            bench.nest_file()
        };
        Self {
            nest: nest(&bench, &["--no-remnants"]),
            on_remnants: nest(&bench, &[]),
            bench,
        }
    }

    /// A nest that was not booked yet.
    fn write_nest(&self, name: &str, seed: u64, on_remnants: bool) {
        let mut nest = if on_remnants {
            self.on_remnants.clone()
        } else {
            self.nest.clone()
        };
        nest["seed"] = seed.into();
        self.bench.write(name, &nest.to_string());
    }

    fn run(&self, args: &[&str]) -> Run {
        self.bench.run(&[args, &["--shop", "shop.json"]].concat())
    }

    fn json(&self, args: &[&str]) -> Value {
        let run = self.run(&[args, &["--json"]].concat());
        assert!(run.code < 2, "{run:?}");
        serde_json::from_str(&run.stdout).expect("JSON")
    }

    /// The whole look: integrity, references, ledger, areas.
    fn check(&self) {
        let checked = self.json(&["rack", "check"]);
        assert_eq!(checked["findings"], serde_json::json!([]), "{checked}");
        let of = |key: &str| checked["balance"][key].as_f64().expect("an area");
        let went = of("parts") + of("kerf") + of("scrap") + of("rack") + of("gone");
        assert!((of("came") - went).abs() <= 1e-4 * of("came"), "{checked}");
    }

    /// Sheets of C1 that each booking of the plain nest takes.
    fn sheets_a_booking(&self) -> u64 {
        let sheets = self.nest["sheets"].as_array().expect("sheets");
        sheets.iter().filter(|s| s["source"]["id"] == "C1").count() as u64
    }
}

/// Kills bookings, additions and holds at random moments; afterwards the rack is sound, and each booking
/// is there whole or not at all.
fn kill(times: u64) {
    let shop = Shop::new();
    shop.run(&[
        "rack",
        "stock",
        "C1",
        "--count",
        &SHEETS.to_string(),
        "--reason",
        "all",
    ]);
    let mut rng = Pcg64Mcg::seed_from_u64(times);
    let (mut killed, mut ended) = (0_u64, 0_u64);
    // How long one takes here, so that kills fall into it wherever this runs.
    let start = Instant::now();
    shop.write_nest("n.json", u64::MAX, false);
    assert_eq!(shop.run(&["book", "n.json"]).code, 0);
    let usual = start.elapsed().as_secs_f64().clamp(0.005, 0.5);
    // Some end before their time; those do not count.
    let mut i = 0;
    while killed < times && i < 20 * times {
        i += 1;
        let name = format!("n{i}.json");
        shop.write_nest(&name, i, false);
        let args: Vec<&str> = match i % 4 {
            0 | 1 => vec!["book", &name],
            2 => vec![
                "rack",
                "add",
                "--material",
                "composite-3",
                "--size",
                "300x200",
            ],
            _ => vec!["rack", "hold", "R-0001", "R-0002", "C1:5", "--order", "K"],
        };
        let mut child = program()
            .current_dir(shop.bench.path(""))
            .args(args)
            .args(["--shop", "shop.json"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        std::thread::sleep(Duration::from_secs_f64(usual * rng.random_range(0.0..0.9)));
        // SIGKILL: nothing of the program runs after it.
        child.kill().expect("killed");
        let status = child.wait().expect("ended");
        if status.code().is_some() {
            ended += 1;
        } else {
            killed += 1;
        }
        if i % 16 == 15 {
            shop.check();
        }
        std::fs::remove_file(shop.bench.path(&name)).expect("removed");
    }
    shop.check();
    assert_eq!(killed, times, "{ended} ended before their time");
    // Every booking that stands took all of its sheets, and no other took any.
    let bookings = shop.json(&["rack", "bookings"])["bookings"]
        .as_array()
        .expect("bookings")
        .len();
    let left = shop.json(&["rack", "stock"])["C1"]["count"]
        .as_u64()
        .expect("counted");
    assert_eq!(
        u64::from(SHEETS) - left,
        bookings as u64 * shop.sheets_a_booking()
    );
    // Nothing is in the way of the next one.
    shop.write_nest("last.json", u64::MAX - 1, false);
    let run = shop.run(&["book", "last.json"]);
    assert_eq!(run.code, 0, "{run:?}");
    println!("{killed} killed, {ended} ended before; {bookings} bookings stand, the rack is sound");
}

#[test]
fn killed_at_random_moments() {
    kill(24);
}

#[test]
#[ignore = "takes minutes; the same with 24 kills is in every run"]
fn killed_a_thousand_times() {
    kill(1000);
}

/// What may be said to the one that comes second.
const DOCUMENTED: [&str; 7] = [
    "held for order",
    "nobody holds it",
    "was used on",
    "locked by another process",
    "already booked",
    "is lost since",
    "is on the rack",
];

/// Processes that book, hold, release, lose and find at random for a while.
fn together(processes: u64, time: Duration) {
    let shop = Shop::new();
    shop.run(&[
        "rack",
        "stock",
        "C1",
        "--count",
        &SHEETS.to_string(),
        "--reason",
        "all",
    ]);
    let end = Instant::now() + time;
    let done: Vec<[u64; 3]> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..processes)
            .map(|worker| {
                let shop = &shop;
                scope.spawn(move || work(shop, worker, end))
            })
            .collect();
        workers
            .into_iter()
            .map(|w| w.join().expect("a worker"))
            .collect()
    });
    let sum = |i: usize| done.iter().map(|d| d[i]).sum::<u64>();
    let (plain, on_remnants, refused) = (sum(0), sum(1), sum(2));
    shop.check();
    // No update was lost: each booking that was reported is there, with all it took.
    let bookings = shop.json(&["rack", "bookings"])["bookings"]
        .as_array()
        .expect("bookings")
        .len();
    assert_eq!(bookings as u64, plain + on_remnants);
    // The nest on remnants takes the same two pieces: only one may have had them.
    assert!(
        on_remnants <= 1,
        "{on_remnants} bookings of the same remnants"
    );
    let on_c1 = |nest: &Value| {
        let sheets = nest["sheets"].as_array().expect("sheets");
        sheets.iter().filter(|s| s["source"]["id"] == "C1").count() as u64
    };
    let left = shop.json(&["rack", "stock"])["C1"]["count"]
        .as_u64()
        .expect("counted");
    let taken = plain * on_c1(&shop.nest) + on_remnants * on_c1(&shop.on_remnants);
    assert_eq!(u64::from(SHEETS) - left, taken);
    println!("{plain} + {on_remnants} bookings, {refused} refusals, all of them documented");
}

fn work(shop: &Shop, worker: u64, end: Instant) -> [u64; 3] {
    let mut rng = Pcg64Mcg::seed_from_u64(worker);
    let (mut done, mut round) = ([0; 3], 0);
    while Instant::now() < end {
        round += 1;
        let name = format!("w{worker}.json");
        let id = if rng.random_bool(0.5) {
            "R-0001"
        } else {
            "R-0002"
        };
        let order = format!("W{}", rng.random_range(0..3));
        let which = rng.random_range(0..12);
        let args: Vec<&str> = match which {
            0..=3 => {
                shop.write_nest(&name, worker * 1_000_000 + round, false);
                vec!["book", &name]
            }
            4 => {
                shop.write_nest(&name, worker * 1_000_000 + round, true);
                vec!["book", &name, "--order", &order]
            }
            5 | 6 => vec!["rack", "hold", id, "--order", &order, "--days", "1"],
            7 => vec!["rack", "hold", "C1:3", "--order", &order, "--days", "1"],
            8 | 9 => vec!["rack", "release", id, "--reason", "not needed"],
            10 => vec![
                "rack",
                "retire",
                id,
                "--as",
                "lost",
                "--reason",
                "not there",
            ],
            _ => vec!["rack", "found", id, "--reason", "there after all"],
        };
        let run = shop.run(&args);
        match (run.code, which) {
            (0, 0..=3) => done[0] += 1,
            (0, 4) => done[1] += 1,
            (0, _) => {}
            (2, _) if DOCUMENTED.iter().any(|words| run.stderr.contains(words)) => done[2] += 1,
            _ => panic!("{args:?}: {run:?}"),
        }
    }
    done
}

#[test]
fn many_at_once_lose_nothing() {
    together(4, Duration::from_secs(3));
}

#[test]
#[ignore = "takes a minute; four processes for three seconds are in every run"]
fn eight_at_once_for_a_minute() {
    together(8, Duration::from_secs(60));
}

/// Commands that write to a rack.
const WRITING: [&[&str]; 4] = [
    &["book", "n2.json"],
    &[
        "rack",
        "add",
        "--material",
        "composite-3",
        "--size",
        "300x200",
    ],
    &["rack", "hold", "R-0001", "C1:2", "--order", "K"],
    &["rack", "receive", "C1", "--count", "3"],
];

/// A process may write no more than so many blocks to any file, as on a disk that is full. With the
/// signal ignored, a write beyond that fails (POSIX, `ulimit -f`, SIGXFSZ).
#[cfg(unix)]
#[test]
fn a_full_disk_gives_one_error_and_changes_nothing() {
    let shop = Shop::new();
    shop.write_nest("n.json", 1, false);
    assert_eq!(shop.run(&["book", "n.json"]).code, 0);
    shop.write_nest("n2.json", 2, false);
    let before = rack_files(&shop);
    let remnants = shop.json(&["rack", "list", "--all"]);
    for args in WRITING {
        for blocks in ["0", "1", "8", "40"] {
            let output = std::process::Command::new("sh")
                .current_dir(shop.bench.path(""))
                .args(["-c", "trap '' XFSZ; ulimit -f \"$0\"; exec \"$@\"", blocks])
                .arg(program().get_program())
                .args(args)
                .args(["--shop", "shop.json"])
                .output()
                .expect("sh");
            let run = Run::from(output);
            assert_eq!(run.code, 2, "{blocks}: {args:?}: {run:?}");
            assert_eq!(run.stderr.lines().count(), 1, "{blocks}: {args:?}: {run:?}");
            assert!(
                run.stderr.contains("the disk is full"),
                "{blocks}: {args:?}: {run:?}"
            );
            assert_eq!(rack_files(&shop), before, "{blocks}: {args:?}");
        }
    }
    assert_eq!(shop.json(&["rack", "list", "--all"]), remnants);
    shop.check();
    // With room again everything goes on.
    for args in WRITING {
        let run = shop.run(args);
        assert_eq!(run.code, 0, "{args:?}: {run:?}");
    }
    shop.check();
}

fn rack_files(shop: &Shop) -> Vec<(PathBuf, Vec<u8>)> {
    let path = shop.bench.path("rack.db");
    vec![(path.clone(), std::fs::read(&path).expect("the rack"))]
}

/// Runs the program as somebody who owns nothing of the shop: root may write whatever the modes say.
#[cfg(unix)]
fn as_stranger(shop: &Shop, program: &std::path::Path, args: &[&str]) -> Run {
    let mut command = std::process::Command::new("setpriv");
    // The number that most systems give to nobody.
    command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]);
    let id = std::process::Command::new("id").arg("-u").output();
    if id.is_ok_and(|id| id.stdout != b"0\n") {
        command = std::process::Command::new("env");
    }
    let output = command
        .current_dir(shop.bench.path(""))
        .arg(program)
        .args(args)
        .args(["--shop", "shop.json"])
        .output()
        .expect("setpriv is there");
    Run::from(output)
}

/// Whoever may read the rack but not write it can look at it, and nothing is left beside it that would be in
/// the way of others.
#[cfg(unix)]
#[test]
fn a_read_only_rack_can_be_read_and_stays_as_it_is() {
    use std::os::unix::fs::PermissionsExt;
    let shop = Shop::new();
    shop.write_nest("n.json", 1, false);
    assert_eq!(shop.run(&["book", "n.json"]).code, 0);
    shop.write_nest("n2.json", 2, false);
    let remnants = shop.run(&["rack", "list"]).stdout;
    let folder = shop.bench.path("");
    let mode = |path: &std::path::Path, mode: u32| {
        let mode = std::fs::Permissions::from_mode(mode);
        std::fs::set_permissions(path, mode).expect("the mode is set");
    };
    // The one that the tests were built with may lie where only its owner gets.
    let strangers = folder.join("program");
    std::fs::copy(program().get_program(), &strangers).expect("copied");
    let names = || {
        let entries = std::fs::read_dir(&folder).expect("the folder");
        let mut names: Vec<_> = entries.map(|e| e.expect("an entry").file_name()).collect();
        names.sort();
        names
    };
    let before = (rack_files(&shop), names());
    for (of_file, of_folder) in [(0o444, 0o777), (0o444, 0o555), (0o666, 0o555)] {
        mode(&shop.bench.path("rack.db"), of_file);
        mode(&folder, of_folder);
        let run = as_stranger(&shop, &strangers, &["rack", "list"]);
        assert_eq!((run.code, &run.stdout), (0, &remnants), "{run:?}");
        let run = as_stranger(&shop, &strangers, &["rack", "check"]);
        assert_eq!(run.code, 0, "{run:?}");
        for args in WRITING {
            let run = as_stranger(&shop, &strangers, args);
            assert_eq!(run.code, 2, "{args:?}: {run:?}");
            assert_eq!(run.stderr.lines().count(), 1, "{args:?}: {run:?}");
            assert!(run.stderr.contains("read-only"), "{args:?}: {run:?}");
        }
        assert_eq!((rack_files(&shop), names()), before);
    }
    mode(&folder, 0o755);
    shop.check();
}

#[test]
fn broken_and_foreign_files_give_one_error_and_stay_as_they_are() {
    let shop = Shop::new();
    shop.write_nest("n.json", 1, false);
    assert_eq!(shop.run(&["book", "n.json"]).code, 0);
    let whole = std::fs::read(shop.bench.path("rack.db")).expect("the rack");
    let commands: [&[&str]; 4] = [
        &["book", "n2.json"],
        &["rack", "list"],
        &["rack", "check"],
        &["rack", "backup", "copy.db"],
    ];
    shop.write_nest("n2.json", 2, false);
    let mut newer = whole.clone();
    // Bytes 60 to 63 of a SQLite file are its user_version, big-endian (SQLite file format, 1.3).
    newer[60..64].copy_from_slice(&99_u32.to_be_bytes());
    let page = 4096;
    let mut broken = whole.clone();
    let middle = whole.len() / page / 2 * page;
    broken[middle..middle + page].fill(0x5a);
    let cases = [
        (newer, "newer program wrote this rack (schema 99"),
        (broken, "damaged"),
        (whole[..whole.len() / 2 / page * page].to_vec(), "damaged"),
        (
            b"id,material\nR-0001,composite-3\n".repeat(99),
            "not a rack file",
        ),
        (Vec::new(), "not a rack file"),
    ];
    for (bytes, says) in cases {
        let path = shop.bench.path("rack.db");
        std::fs::write(&path, &bytes).expect("written");
        let before = rack_files(&shop);
        for args in commands {
            let run = shop.run(args);
            assert_eq!(run.code, 2, "{says}: {args:?}: {run:?}");
            assert_eq!(run.stderr.lines().count(), 1, "{says}: {args:?}: {run:?}");
            assert!(run.stderr.contains(says), "{says}: {args:?}: {run:?}");
            assert_eq!(rack_files(&shop), before, "{says}: {args:?}");
        }
        assert!(!shop.bench.path("copy.db").exists(), "{says}");
    }
    std::fs::write(shop.bench.path("rack.db"), &whole).expect("restored");
    shop.check();
}
