//! How fast a large rack answers.
//!
//! `cargo bench --bench rack_size -- [--remnants 100000] [--seed 1]`
//!
//! Fills a rack beside the demo shop with random rectangles and L shapes of its materials, then times the
//! program as it is called by hand: a page of the list, `rack fit` for one part, and, within this process,
//! reading the demo order with what it may profit from of that rack: everything a nest does before its search. Prints
//! one JSON line; times are the median of five, in seconds.

use panelwright::read_job::ReadJobOptions;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let value = |name: &str, default: u64| -> u64 {
        let at = args.iter().position(|a| a == name);
        at.and_then(|i| args.get(i + 1)).map_or(default, |text| {
            text.parse()
                .unwrap_or_else(|_| panic!("'{text}' is no number"))
        })
    };
    let (remnants, seed) = (value("--remnants", 100_000), value("--seed", 1));
    let folder = tempfile::tempdir().expect("a folder");
    copy(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data"),
        folder.path(),
    );
    std::fs::write(folder.path().join("many.csv"), list(remnants, seed)).expect("written");
    let run = |args: &[&str]| -> f64 {
        let start = Instant::now();
        let status = Command::new(env!("CARGO_BIN_EXE_panelwright"))
            .current_dir(folder.path())
            .args(args)
            .stdout(Stdio::null())
            .status()
            .expect("the program starts");
        assert!(status.code().is_some_and(|code| code < 2), "{args:?}");
        start.elapsed().as_secs_f64()
    };
    let import = run(&["rack", "import", "many.csv", "--shop", "shop.json"]);
    let list = median(|| run(&["rack", "list", "--shop", "shop.json"]));
    let last = median(|| run(&["rack", "list", "--page", "2000", "--shop", "shop.json"]));
    let fit = median(|| {
        run(&[
            "rack",
            "fit",
            "cabinet-order.json",
            "--part",
            "side-left",
            "--shop",
            "shop.json",
        ])
    });
    let order = folder.path().join("cabinet-order.json");
    let mut picked = 0;
    let pick = median(|| {
        let start = Instant::now();
        let job = panelwright::job::Job::read(&order, &ReadJobOptions::default()).expect("read");
        picked = job.shop.remnants.len();
        start.elapsed().as_secs_f64()
    });
    println!(
        "{}",
        serde_json::json!({
            "remnants": remnants, "import": import, "list_page": list, "list_page_2000": last,
            "fit_for_a_part": fit, "read_and_pick_for_a_nest": pick, "picked": picked,
        })
    );
}

fn median(mut time: impl FnMut() -> f64) -> f64 {
    let mut times: Vec<f64> = (0..5).map(|_| time()).collect();
    times.sort_by(f64::total_cmp);
    times[2]
}

fn copy(from: &Path, to: &Path) {
    for entry in std::fs::read_dir(from).expect("a folder") {
        let path = entry.expect("an entry").path();
        let to = to.join(path.file_name().expect("a name"));
        if path.is_dir() {
            std::fs::create_dir(&to).expect("a folder");
            copy(&path, &to);
        } else {
            std::fs::copy(&path, &to).expect("copied");
        }
    }
}

/// The list to import.
fn list(remnants: u64, seed: u64) -> String {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let mut text = String::from("id,material,length,width,outline,place\n");
    let materials = ["composite-3-white", "acrylic-3-clear", "aluminium-1.5"];
    for i in 0..remnants {
        let material = materials[rng.random_range(0..materials.len())];
        let (l, w) = (rng.random_range(200..1500), rng.random_range(100..900));
        let place = format!("bay {}", i % 40);
        // Writing into a string cannot fail.
        let _ = if rng.random_bool(0.8) {
            writeln!(text, "M-{i},{material},{l},{w},,{place}")
        } else {
            let (a, b) = (l / 2, w / 2);
            writeln!(
                text,
                "M-{i},{material},,,\"[[0,0],[{l},0],[{l},{b}],[{a},{b}],[{a},{w}],[0,{w}]]\",{place}"
            )
        };
    }
    text
}
