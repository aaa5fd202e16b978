//! The main job on the demo data and on small orders.

use crate::util::{Bench, Run, program, root};
use serde_json::{Value, json};
use std::path::Path;

/// Nests the demo order into `out` with a small effort.
fn demo(out: &Path, more: &[&str]) -> Run {
    let mut command = program();
    command
        .current_dir(root())
        .args(["nest", "demo-data/cabinet-order.json", "--effort", "1"]);
    command
        .arg("--out")
        .arg(out)
        .args(more)
        .output()
        .expect("the program starts")
        .into()
}

fn nest_file(out: &Path) -> Value {
    let text = std::fs::read_to_string(out.join("nest.json")).expect("nest.json");
    serde_json::from_str(&text).expect("JSON")
}

/// Every file of a folder and its subfolders with its bytes.
fn bytes(out: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all = Vec::new();
    for dir in [out.to_path_buf(), out.join("cut")] {
        for entry in std::fs::read_dir(dir).expect("a folder").flatten() {
            if entry.path().is_file() {
                let name = entry.file_name().to_string_lossy().into_owned();
                all.push((name, std::fs::read(entry.path()).expect("a file")));
            }
        }
    }
    all.sort();
    all
}

/// How many placements lie in a hole of another placement on their sheet.
fn parts_in_windows(sheets: &[Value]) -> usize {
    use geo::{Contains, LineString, Polygon};
    let polygon = |ring: &Value| {
        let points = ring.as_array().expect("a ring").iter();
        let xy = |p: &Value| (p[0].as_f64().expect("x"), p[1].as_f64().expect("y"));
        Polygon::new(LineString::from(points.map(xy).collect::<Vec<_>>()), vec![])
    };
    let mut count = 0;
    for sheet in sheets {
        let placements = sheet["placements"].as_array().expect("placements");
        let holes: Vec<Polygon> = placements
            .iter()
            .flat_map(|p| p["holes"].as_array().expect("holes"))
            .map(polygon)
            .collect();
        let outlines = placements.iter().map(|p| polygon(&p["outline"]));
        count += outlines
            .filter(|o| holes.iter().any(|h| h.contains(o)))
            .count();
    }
    count
}

#[test]
fn the_demo_order_is_nested_whole() {
    let dir = tempfile::tempdir().expect("a folder");
    let out = dir.path().join("out");
    let run = demo(&out, &[]);
    assert_eq!(run.code, 0, "{run:?}");
    let nest = nest_file(&out);
    assert_eq!(nest["format"], "panelwright-nest-1");
    assert_eq!(nest["not_placed"], json!([]));
    let sheets = nest["sheets"].as_array().expect("sheets");
    assert!(
        sheets.iter().any(|s| s["source"]["kind"] == "remnant"),
        "a remnant is used"
    );
    assert!(
        parts_in_windows(sheets) > 0,
        "parts are set into window cut-outs"
    );
    let report = std::fs::read_to_string(out.join("report.txt")).expect("report.txt");
    assert!(report.contains("yield"), "{report}");
    for (i, _) in sheets.iter().enumerate() {
        for end in ["dxf", "svg"] {
            let name = format!("cut/sheet-{:02}.{end}", i + 1);
            assert!(out.join(&name).is_file(), "{name}");
        }
    }
    // What the nest says it costs is within what it proves and what new sheets alone would cost.
    let (spend, least) = (
        nest["totals"]["spend"].as_f64(),
        nest["totals"]["least_spend"].as_f64(),
    );
    assert!(spend >= least, "{spend:?} {least:?}");

    let plain = dir.path().join("plain");
    let run = demo(&plain, &["--no-remnants", "--no-cutouts"]);
    assert_eq!(run.code, 0, "{run:?}");
    let alone = nest_file(&plain);
    assert!(
        alone["totals"]["spend"].as_f64() >= spend,
        "{} {spend:?}",
        alone["totals"]["spend"]
    );
}

#[test]
fn yields_stay_below_their_ceilings() {
    let bench = Bench::new();
    bench.write_inputs();
    let run = bench.run(&["nest", "order.json", "--out", "out", "--json"]);
    let told: serde_json::Value = serde_json::from_str(&run.stdout).expect("JSON");
    for (got, most) in [
        ("yield", "yield_ceiling"),
        ("net_yield", "net_yield_ceiling"),
    ] {
        let [got, most] = [got, most].map(|key| told[key].as_f64().expect("a number"));
        assert!(0.0 < got && got <= most && most <= 1.0, "{told}");
    }
}

#[test]
fn the_same_bytes_with_one_thread_and_two() {
    let dir = tempfile::tempdir().expect("a folder");
    let [a, b, c] = ["a", "b", "c"].map(|n| dir.path().join(n));
    for (out, threads) in [(&a, "1"), (&b, "2"), (&c, "2")] {
        let run = demo(out, &["--threads", threads, "--seed", "5"]);
        assert_eq!(run.code, 0, "{run:?}");
    }
    assert_eq!(bytes(&a), bytes(&b));
    assert_eq!(bytes(&b), bytes(&c));
}

#[test]
fn a_small_order_uses_remnant_and_window() {
    let bench = Bench::new();
    let run = bench.nest(&[]);
    assert_eq!(run.code, 0, "{run:?}");
    let nest = bench.nest_file();
    let placed: usize = nest["sheets"]
        .as_array()
        .expect("sheets")
        .iter()
        .map(|s| s["placements"].as_array().expect("placements").len())
        .sum();
    assert_eq!(placed, 10);
    let again = bench.read("out/nest.json");
    let run = bench.nest(&[]);
    assert_eq!(run.code, 0, "an out folder may be written again: {run:?}");
    assert_eq!(bench.read("out/nest.json"), again);
}

#[test]
fn used_up_stock_is_told_with_exit_code_1() {
    let mut bench = Bench::new();
    bench.shop["sheets"][1]["stock"] = json!(1);
    bench.order["kits"][0]["quantity"] = json!(9);
    bench.shop["sheets"][0]["stock"] = json!(null);
    let run = bench.nest(&[]);
    assert_eq!(run.code, 1, "{run:?}");
    let missing = &bench.nest_file()["not_placed"];
    assert_eq!(missing[0]["part"], "lid");
    assert!(
        missing[0]["why"].as_str().expect("why").contains("used up"),
        "{missing}"
    );
    assert!(bench.read("out/report.txt").contains("lid"));
}

/// A bench with nothing but a router and two plates for it.
fn plates_for_the_router() -> Bench {
    let mut bench = Bench::new();
    bench.shop["machines"] = json!([bench.shop["machines"][1]]);
    bench.remnants["remnants"] = json!([]);
    bench.kit["parts"] = json!([{"part": "plate", "quantity": 2, "material": "composite-3",
        "route": "router", "turn": "half", "rectangle": {"length": 300, "width": 200}}]);
    bench
}

#[test]
fn sheets_that_the_saw_passes_over_are_named() {
    let mut bench = Bench::new();
    // C1 takes four floors; of C2, which is there, the saw cannot trim the end.
    bench.shop["machines"][0]["longest_crosscut"] = json!(850);
    bench.shop["sheets"][0]["stock"] = json!(1);
    bench.shop["sheets"].as_array_mut().expect("a list").push(json!(
        {"id": "C2", "material": "composite-3", "length": 1200, "width": 900, "price": 40, "stock": 9}
    ));
    let parts = bench.kit["parts"].as_array_mut().expect("a list");
    parts.retain(|p| p["part"] == "floor");
    bench.order["kits"][0]["quantity"] = json!(9);
    let run = bench.nest(&["--no-remnants"]);
    assert_eq!(run.code, 1, "{run:?}");
    let nest = bench.nest_file();
    let why = nest["not_placed"][0]["why"].as_str().expect("why");
    assert!(why.contains("used up") && why.contains("(C2)"), "{why}");
    assert!(!why.contains("C1"), "{why}");
}

#[test]
fn what_keeps_a_part_off_all_stock_is_named() {
    let mut sold_out = plates_for_the_router();
    sold_out.shop["sheets"][0]["stock"] = json!(0);

    let mut small_bed = plates_for_the_router();
    small_bed.shop["machines"][0]["bed"] = json!([1100, 700]);

    let mut all_clear = plates_for_the_router();
    all_clear.shop["machines"][0]["keep_clear"] = json!([
        {"why": "vacuum pods", "at": [0, 0], "length": 2500, "width": 800},
        {"why": "clamps", "at": [0, 800], "length": 2500, "width": 500}
    ]);

    let mut across = plates_for_the_router();
    across.shop["materials"][0]["grain"] = json!(true);
    across.kit["parts"][0]["grain"] = json!("across");

    let mut upright = plates_for_the_router();
    upright.kit["parts"][0]["rectangle"] = json!({"length": 700, "width": 1000});

    for (bench, words) in [
        (&sold_out, &["used up", "buy"][..]),
        (&small_bed, &["larger than the bed of the router", "no saw"]),
        (&all_clear, &["the router needs free (clamps, vacuum pods)"]),
        (
            &across,
            &[
                "the grain",
                "\"turn\": \"half\" rules out",
                "\"turn\": \"quarter\"",
            ],
        ),
        (&upright, &["only when turned", "\"turn\": \"quarter\""]),
    ] {
        let run = bench.nest(&[]);
        assert_eq!(run.code, 1, "{run:?}");
        let missing = &bench.nest_file()["not_placed"];
        let why = missing[0]["why"].as_str().expect("why");
        for word in words {
            assert!(why.contains(word), "'{word}' is not in: {why}");
        }
        // The report says the same, and boasts of no spend where nothing is placed.
        let report = bench.read("out/report.txt");
        for text in [&report, &run.stdout] {
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(text.contains(why), "'{why}' is not in: {text}");
            for boast in ["left to gain", "least spend", "can cost less"] {
                assert!(!text.contains(boast), "{text}");
            }
        }
        let html = bench.read("out/report.html");
        assert!(!html.contains("left to gain") && !html.contains("can cost less"));
    }
    let run = small_bed.nest(&["--language", "de"]);
    assert!(run.stdout.contains("größer als das"), "{}", run.stdout);

    // With what was named set right, all is placed.
    across.kit["parts"][0]["turn"] = json!("quarter");
    small_bed.shop["machines"][0]["bed"] = json!([1200, 800]);
    for bench in [&across, &small_bed] {
        let run = bench.nest(&[]);
        assert_eq!(run.code, 0, "{run:?}");
        assert!(run.stdout.contains("proven least spend"), "{}", run.stdout);
    }
}

#[test]
fn check_tells_what_it_understood_and_writes_nothing() {
    let bench = Bench::new();
    bench.write_inputs();
    let before = bench.listing();
    let run = bench.run(&["check", "order.json"]);
    assert_eq!(run.code, 0, "{run:?}");
    assert!(
        run.stdout.contains("frame") && run.stdout.contains("500.0 x 400.0"),
        "{}",
        run.stdout
    );
    let json: Value =
        serde_json::from_str(&bench.run(&["check", "order.json", "--json"]).stdout).expect("JSON");
    assert_eq!(json["parts"][1]["quantity"], 4);
    assert_eq!(bench.listing(), before);
}

#[test]
fn openings_narrower_than_the_tool_are_told() {
    let mut bench = Bench::new();
    bench.kit["parts"][1]["rectangle"]["features"][0]["diameter"] = json!(2.5);
    bench.write_inputs();
    let run = bench.run(&["check", "order.json"]);
    assert!(
        run.stdout
            .contains("part 'plate' of kit 'tray': 1 opening is"),
        "{}",
        run.stdout
    );
    bench.kit["parts"][1]["rectangle"]["features"][0]["diameter"] = json!(3.0);
    bench.write_inputs();
    let run = bench.run(&["check", "order.json"]);
    assert!(!run.stdout.contains("router removes"), "{}", run.stdout);
}

#[test]
fn a_time_limit_is_kept_and_still_gives_a_whole_nest() {
    let bench = Bench::new();
    let start = std::time::Instant::now();
    let run = bench.nest(&["--seconds", "1"]);
    assert_eq!(run.code, 0, "{run:?}");
    assert!(
        start.elapsed().as_secs_f64() < 15.0,
        "{:?}",
        start.elapsed()
    );
}

#[test]
fn other_files_in_the_out_folder_are_left_alone() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("out")).expect("a folder");
    bench.write("out/letter.txt", "dear nursery");
    assert_eq!(bench.nest(&[]).code, 0);
    assert_eq!(bench.read("out/letter.txt"), "dear nursery");
}

#[test]
fn a_search_that_was_stopped_is_not_called_repeatable() {
    use panelwright::job::Job;
    use panelwright::plan::{PlanOptions, plan};
    use panelwright::read_job::ReadJobOptions;
    use std::sync::atomic::AtomicBool;
    let bench = Bench::new();
    bench.write_inputs();
    let job = Job::read(&bench.path("order.json"), &ReadJobOptions::default()).expect("a job");
    for stopped in [false, true] {
        let options = PlanOptions {
            steps: 1000,
            ..PlanOptions::default()
        };
        let plan = plan(&job, &options, &AtomicBool::new(stopped), None).expect("a plan");
        assert_eq!(plan.repeatable, !stopped);
        let same = "the same inputs and seed give the same plan";
        assert_eq!(
            panelwright::report::text(&plan, &job).contains(same),
            !stopped
        );
    }
}

#[cfg(unix)]
#[test]
fn ctrl_c_keeps_a_whole_nest() {
    let bench = Bench::new();
    bench.write_inputs();
    let mut child = program()
        .current_dir(bench.path(""))
        .args([
            "nest",
            "order.json",
            "--out",
            "out",
            "--effort",
            "10000",
            "-q",
        ])
        .spawn()
        .expect("the program starts");
    // Wherever this meets the program, after its start a whole nest has to come out.
    std::thread::sleep(std::time::Duration::from_millis(700));
    let signal = std::process::Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(signal.expect("kill runs").success());
    assert_eq!(child.wait().expect("it ends").code(), Some(0));
    assert_eq!(bench.nest_file()["not_placed"], json!([]));
    assert!(bench.read("out/report.txt").contains("stopped early"));
}

#[cfg(unix)]
#[test]
fn ctrl_c_twice_leaves_no_folder_behind() {
    let bench = Bench::new();
    bench.write_inputs();
    let args = "nest order.json --out new/out --seconds 60 -q".split(' ');
    let child = program().current_dir(bench.path("")).args(args).spawn();
    let mut child = child.expect("the program starts");
    let started = std::time::Instant::now();
    while !bench.path("new/out").is_dir() {
        assert!(started.elapsed().as_secs() < 20, "no out folder");
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    // Both before the search looks whether it is to end, if it may be.
    let id = child.id().to_string();
    for _ in 0..2 {
        let signal = std::process::Command::new("kill")
            .args(["-INT", &id])
            .status();
        assert!(signal.expect("kill runs").success());
    }
    match child.wait().expect("it ends").code() {
        // Whole, if it was ready in between.
        Some(130) => {
            assert!(!bench.path("new").exists() || bench.path("new/out/nest.json").is_file())
        }
        code => assert_eq!(code, Some(0)),
    }
}

#[test]
fn a_saw_without_kerf_still_parts_the_blanks() {
    let mut bench = Bench::new();
    bench.shop["machines"][0]["kerf"] = json!(0);
    // Larger than the laser's bed: what is left of one blank does not go on into the next.
    bench.shop["sheets"][1]["length"] = json!(2440);
    bench.shop["sheets"][1]["width"] = json!(1220);
    let run = bench.nest(&[]);
    assert_eq!(run.code, 0, "{run:?}");
    let nest = bench.nest_file();
    let sheets = nest["sheets"].as_array().expect("sheets");
    let of_acrylic = sheets.iter().find(|s| s["source"]["id"] == "A1");
    let sheet = of_acrylic.expect("a sheet of acrylic");
    let cuts = sheet["saw_cuts"].as_array().expect("cuts");
    assert!(!cuts.is_empty());
    assert_ne!(sheet["offcuts"], json!([]));
}

#[test]
fn a_sheet_for_one_small_part_is_not_sawn_to_its_end() {
    let mut bench = Bench::new();
    bench.kit["parts"] = json!([
        {"part": "lid", "quantity": 1, "material": "acrylic-3", "route": "laser",
         "rectangle": {"length": 300, "width": 200}}
    ]);
    bench.order["kits"][0]["quantity"] = json!(1);
    bench.shop["machines"][2]["bed"] = json!([400, 300]);
    bench.shop["sheets"][1]["length"] = json!(2440);
    bench.shop["sheets"][1]["width"] = json!(1220);
    let cuts = |bench: &Bench| -> Vec<Value> {
        let run = bench.nest(&[]);
        assert_eq!(run.code, 0, "{run:?}");
        let nest = bench.nest_file();
        assert_eq!(nest["not_placed"], json!([]));
        nest["sheets"][0]["saw_cuts"]
            .as_array()
            .expect("cuts")
            .clone()
    };
    // By hand: a strip as wide as the bed, and a blank off its end.
    assert_eq!(cuts(&bench).len(), 2);
    let along = |cut: &Value| cut["from"][1] == cut["to"][1];
    for (first, is_along) in [("along", true), ("across", false)] {
        bench.shop["machines"][0]["first_cut"] = json!(first);
        let cuts = cuts(&bench);
        assert_eq!(along(&cuts[0]), is_along, "{first}: {cuts:?}");
        assert_eq!(along(&cuts[1]), !is_along, "{first}: {cuts:?}");
    }
}

#[cfg(unix)]
#[test]
fn a_folder_is_for_one_run_at_a_time_and_a_killed_one_does_not_keep_it() {
    let mut bench = Bench::new();
    bench.write_inputs();
    let mut long = program();
    long.current_dir(bench.path("")).args([
        "nest",
        "order.json",
        "--out",
        "out",
        "--seconds",
        "3600",
    ]);
    long.stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null());
    let mut long = long.spawn().expect("the program starts");
    let end = std::time::Instant::now() + std::time::Duration::from_secs(60);
    while !bench.path("out").is_dir() {
        assert!(std::time::Instant::now() < end, "the first run never began");
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    // It makes the folder and has it a moment later.
    std::thread::sleep(std::time::Duration::from_millis(500));
    let second = bench.nest(&[]);
    let left = std::fs::read_dir(bench.path("out")).expect("a folder");
    let left = left.count();
    long.kill().expect("the first run still goes on");
    long.wait().expect("it ends");
    assert_eq!(second.code, 2, "{second:?}");
    assert!(
        second.stderr.contains("out folder out") && second.stderr.contains("another run"),
        "{second:?}"
    );
    assert_eq!(left, 0);
    // Its lock has ended with it.
    bench.order["kits"][0]["quantity"] = json!(1);
    let third = bench.nest(&[]);
    assert_eq!(third.code, 0, "{third:?}");
    assert!(!bench.listing().iter().any(|name| name.contains("/.")));
}
