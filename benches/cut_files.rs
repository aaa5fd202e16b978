//! Times the cut files of a sheet of 200 parts: paths worked out, DXF and SVG written, DXF read back.
//!
//! `cargo bench --bench cut_files -- [--runs N]`; prints one JSON line for finished edges and one for
//! tool paths, each with the time of the fastest and of the middle run.

use panelwright::input::{CutSettings, Lines};
use panelwright::job::Job;
use panelwright::plan::{PlanOptions, plan};
use panelwright::read_job::ReadJobOptions;
use panelwright::{toolpath, write};
use serde_json::json;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

const SHOP: &str = r#"{"format": "panelwright-shop-1", "shop": "Bench", "currency": "EUR",
  "materials": [{"name": "composite-3", "substance": "composite", "thickness": 3, "kg_per_m2": 3.8,
    "keep": {"least_width": 100, "least_length": 200, "value_share": 0.5}}],
  "machines": [{"name": "router", "process": "router", "kerf": 3.175, "gap": 6, "margin": 10}],
  "sheets": [{"id": "C", "material": "composite-3", "length": 3050, "width": 1500, "price": 90}]}"#;

/// A bracket with rounded corners, three holes and a slot: 5 rings, 17 lines and arcs.
const KIT: &str = r#"{"format": "panelwright-kit-1", "kit": "bracket", "parts": [
  {"part": "bracket", "quantity": 1, "material": "composite-3", "route": "router",
   "rectangle": {"length": 120, "width": 80, "corner_radius": 8, "features": [
     {"kind": "hole", "at": [20, 20], "diameter": 6}, {"kind": "hole", "at": [100, 20], "diameter": 6},
     {"kind": "hole", "at": [60, 60], "diameter": 20},
     {"kind": "slot", "from": [40, 30], "to": [80, 30], "width": 8}]}}]}"#;

const ORDER: &str = r#"{"format": "panelwright-order-1", "order": "B", "shop": "shop.json",
  "kits": [{"kit": "kit.json", "quantity": 200}]}"#;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let at = args.iter().position(|a| a == "--runs");
    let runs: usize = at
        .and_then(|i| args.get(i + 1))
        .map_or(21, |n| n.parse().expect("a number of runs"));
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, text) in [
        ("shop.json", SHOP),
        ("kit.json", KIT),
        ("order.json", ORDER),
    ] {
        std::fs::write(folder.path().join(name), text).expect("it can be written");
    }
    let order = folder.path().join("order.json");
    let mut job = Job::read(&order, &ReadJobOptions::default()).expect("a sound order");
    let options = PlanOptions {
        steps: 20_000,
        ..PlanOptions::default()
    };
    let nested = plan(&job, &options, &AtomicBool::new(false), None).expect("a nest");
    assert_eq!((nested.sheets.len(), nested.part_count()), (1, 200));
    for lines in [Lines::Finished, Lines::ToolPath] {
        job.shop.machines[0].cutting = Some(CutSettings {
            lines,
            ..CutSettings::default()
        });
        let mut times = Vec::new();
        let (mut bytes, mut parts) = (0, [0.0; 2]);
        for _ in 0..runs {
            let start = Instant::now();
            let mut plan = nested.clone();
            plan.paths = toolpath::of_plan(&plan, &job).expect("paths");
            let paths = start.elapsed().as_secs_f64() * 1e3;
            let files = write::cut_files(&plan, &job).expect("files").all();
            let whole = start.elapsed().as_secs_f64() * 1e3;
            bytes = files.iter().map(|(_, b)| b.len()).sum();
            if times.iter().all(|t| whole < *t) {
                parts = [paths, whole - paths];
            }
            times.push(whole);
        }
        times.sort_by(f64::total_cmp);
        let line = json!({
            "lines": format!("{lines:?}"),
            "runs": runs,
            "fastest_ms": times[0],
            "middle_ms": times[runs / 2],
            "fastest_paths_ms": parts[0],
            "fastest_files_ms": parts[1],
            "bytes": bytes,
        });
        println!("{line}");
    }
}
