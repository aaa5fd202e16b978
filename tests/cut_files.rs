//! Cut files of the real program: tool paths, their order, forms of DXF, files of operations, and the
//! settings that ask for them.

use crate::util::Bench;
use dxf::entities::EntityType;
use serde_json::{Value, json};

/// A line of a cut file, as points with bulges, and whether it is closed.
struct Line {
    layer: String,
    points: Vec<(f64, f64, f64)>,
    closed: bool,
}

/// The curves of a DXF file in file order; circles as two arcs.
fn lines(bench: &Bench, name: &str) -> Vec<Line> {
    let drawing = dxf::Drawing::load_file(bench.path(name)).expect("a DXF file");
    drawing
        .entities()
        .filter_map(|e| {
            let (points, closed) = match &e.specific {
                EntityType::LwPolyline(p) => {
                    let points = p.vertices.iter().map(|v| (v.x, v.y, v.bulge));
                    (points.collect(), p.is_closed())
                }
                EntityType::Polyline(p) => {
                    let points = p.vertices().map(|v| (v.location.x, v.location.y, v.bulge));
                    (points.collect(), p.is_closed())
                }
                EntityType::Circle(c) => {
                    let (x, y) = (c.center.x, c.center.y);
                    (vec![(x + c.radius, y, 1.0), (x - c.radius, y, 1.0)], true)
                }
                _ => return None,
            };
            Some(Line {
                layer: e.common.layer.clone(),
                points,
                closed,
            })
        })
        .collect()
}

/// Corners of a ring of nest.json.
fn ring(value: &Value) -> Vec<(f64, f64)> {
    let pair = |p: &Value| (p[0].as_f64().expect("x"), p[1].as_f64().expect("y"));
    value.as_array().expect("a ring").iter().map(pair).collect()
}

/// Distance from a place to the nearest edge of the rings, straight edge by straight edge.
fn distance(p: (f64, f64), rings: &[Vec<(f64, f64)>]) -> f64 {
    let mut least = f64::INFINITY;
    for ring in rings {
        for (i, a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % ring.len()];
            let (dx, dy) = (b.0 - a.0, b.1 - a.1);
            let length_2 = dx * dx + dy * dy;
            let t = (((p.0 - a.0) * dx + (p.1 - a.1) * dy) / length_2.max(1e-12)).clamp(0.0, 1.0);
            least = least.min((p.0 - a.0 - t * dx).hypot(p.1 - a.1 - t * dy));
        }
    }
    least
}

/// Whether a place lies within the material: inside an odd number of rings.
fn within(p: (f64, f64), rings: &[Vec<(f64, f64)>]) -> bool {
    let mut inside = false;
    for ring in rings {
        for (i, a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % ring.len()];
            if (a.1 > p.1) != (b.1 > p.1) && p.0 < a.0 + (p.1 - a.1) / (b.1 - a.1) * (b.0 - a.0) {
                inside = !inside;
            }
        }
    }
    inside
}

fn sheets(bench: &Bench) -> Vec<Value> {
    bench.nest_file()["sheets"]
        .as_array()
        .expect("sheets")
        .clone()
}

fn file_of(sheet: &Value) -> String {
    format!(
        "out/cut/sheet-{:02}.dxf",
        sheet["number"].as_u64().expect("a number")
    )
}

#[test]
fn tool_paths_keep_half_the_kerf_from_every_edge() {
    let mut bench = Bench::new();
    let run = bench.nest(&["--lines", "tool-path"]);
    assert_eq!(run.code, 0, "{run:?}");
    let (mut followed, mut tabs) = (0, 0);
    for sheet in sheets(&bench) {
        if sheet["method"] != "free-form" {
            continue;
        }
        let half = 0.5 * sheet["kerf"].as_f64().expect("a kerf");
        let mut edges = Vec::new();
        for placed in sheet["placements"].as_array().expect("placements") {
            edges.push(ring(&placed["outline"]));
            edges.extend(placed["holes"].as_array().expect("holes").iter().map(ring));
        }
        for line in lines(&bench, &file_of(&sheet)) {
            if !line.layer.starts_with("PW-PATH") {
                continue;
            }
            followed += 1;
            tabs += usize::from(line.layer.starts_with("PW-PATH-TAB"));
            let at: Vec<f64> = line
                .points
                .iter()
                .map(|(x, y, _)| distance((*x, *y), &edges))
                .collect();
            // Polygons of nest.json show up to 0.02 mm more than the part.
            let on = |d: &f64| (d - half).abs() < 0.03;
            assert!(at.iter().all(|d| *d > half - 0.03), "{} {at:?}", line.layer);
            assert!(
                line.points
                    .iter()
                    .all(|(x, y, _)| !within((*x, *y), &edges))
            );
            // Only the very ends of an open line are leads.
            let inner = if line.closed {
                &at[..]
            } else {
                &at[1..at.len() - 1]
            };
            assert!(inner.iter().all(on), "{} {at:?}", line.layer);
        }
    }
    assert!(followed > 10 && tabs >= 6, "{followed} {tabs}");
    bench.shop["machines"][1]["cutting"] = json!({"small_parts": {"hold": "skin"}});
    let with = ["--lines", "tool-path", "--by-operation"];
    assert_eq!(bench.nest(&with).code, 0);
    let (mut skins, mut compared) = (0, 0);
    for sheet in sheets(&bench) {
        let file = file_of(&sheet);
        let layers: Vec<String> = lines(&bench, &file).into_iter().map(|l| l.layer).collect();
        skins += layers
            .iter()
            .filter(|l| l.starts_with("PW-PATH-SKIN"))
            .count();
        // What the sheet's file does last is the last file of its steps.
        let whole = file.trim_end_matches(".dxf");
        let step = |name: &str| {
            let files = bench.listing().into_iter();
            let mut its = files.filter(|n| n.starts_with(&format!("{whole}-step-")));
            its.find(|n| n.ends_with(&format!("{name}.dxf")))
        };
        let last = |name: &str| layers.iter().rposition(|l| l == name);
        let layers = [
            "PW-PATH-INSIDE-1",
            "PW-PATH-SKIN-1",
            "PW-PATH-OUTSIDE-1",
            "PW-PATH-INSIDE",
            "PW-PATH-SKIN",
            "PW-PATH-OUTSIDE",
        ];
        let mut order: Vec<(usize, String)> = layers
            .iter()
            .filter_map(|l| Some((last(l)?, step(&l[3..].to_lowercase())?)))
            .collect();
        // The saw's sheets have no steps.
        compared += order.len().saturating_sub(1);
        order.sort();
        let names: Vec<&String> = order.iter().map(|(_, name)| name).collect();
        assert!(names.is_sorted(), "{names:?}");
    }
    assert_eq!(skins, 4);
    assert!(
        compared > 0,
        "no sheet has two steps, so that this says nothing"
    );
}

#[test]
fn nothing_is_freed_before_what_lies_in_it() {
    let mut bench = Bench::new();
    // Sheets that hold a frame and nothing beside it: the plates have to go into its window.
    bench.shop["sheets"][0]["length"] = json!(520);
    bench.shop["sheets"][0]["width"] = json!(420);
    let run = bench.nest(&["--lines", "tool-path", "--no-remnants"]);
    assert_eq!(run.code, 0, "{run:?}");
    let mut windows = 0;
    for sheet in sheets(&bench) {
        let layers: Vec<String> = lines(&bench, &file_of(&sheet))
            .into_iter()
            .map(|l| l.layer)
            .collect();
        let last = |name: &str| layers.iter().rposition(|l| l == name);
        let first = |name: &str| layers.iter().position(|l| l == name);
        if let (Some(guest), Some(window)) = (last("PW-PATH-OUTSIDE-1"), last("PW-PATH-INSIDE")) {
            windows += 1;
            assert!(guest < window, "{layers:?}");
        }
        if let (Some(hole), Some(outline)) = (last("PW-PATH-INSIDE"), first("PW-PATH-OUTSIDE")) {
            assert!(hole < outline, "{layers:?}");
        }
    }
    assert!(
        windows > 0,
        "no part lies in a window, so that this test says nothing"
    );
}

#[test]
fn files_come_in_both_releases_by_operation_and_are_the_same_each_time() {
    let bench = Bench::new();
    let cut = |bench: &Bench| -> Vec<(String, String)> {
        let all = bench
            .listing()
            .into_iter()
            .filter(|n| n.starts_with("out/"));
        all.map(|n| (n.clone(), bench.read(&n))).collect()
    };
    let with = ["--lines", "tool-path", "--dxf", "r12", "--by-operation"];
    assert_eq!(bench.nest(&with).code, 0);
    let first = cut(&bench);
    assert_eq!(bench.nest(&with).code, 0);
    assert!(first == cut(&bench), "two runs differ");
    let steps: Vec<_> = first.iter().filter(|(n, _)| n.contains("-step-")).collect();
    assert!(steps.iter().any(|(n, _)| n.contains("-path-inside")) && steps.len() >= 8);
    for (name, text) in &first {
        if name.ends_with(".dxf") {
            assert!(
                text.contains("AC1009") && !text.contains("LWPOLYLINE"),
                "{name}"
            );
        }
    }
    // The lines of the steps are those of the sheet, each once.
    let worked = |name: &str| {
        let worked = lines(&bench, name)
            .into_iter()
            .filter(|l| l.layer != "PW-EDGE");
        let mut keys: Vec<String> = worked
            .map(|l| format!("{} {:?}", l.layer, l.points))
            .collect();
        keys.sort();
        keys
    };
    let of_sheet = |n: &&String| n.starts_with("out/cut/sheet-01-step-") && n.ends_with(".dxf");
    let mut parts: Vec<String> = first
        .iter()
        .map(|(n, _)| n)
        .filter(of_sheet)
        .flat_map(|n| worked(n))
        .collect();
    parts.sort();
    let mut whole = worked("out/cut/sheet-01.dxf");
    whole.retain(|l| l.starts_with("PW-PATH") || l.starts_with("PW-MARK"));
    assert_eq!(parts, whole);
    // Without the option the files of steps go away.
    assert_eq!(bench.nest(&[]).code, 0);
    assert!(cut(&bench).iter().all(|(n, _)| !n.contains("-step-")));
}

#[test]
fn a_sheet_that_fits_the_bed_only_turned_lies_so_in_its_files_and_every_paper_says_it() {
    let mut bench = Bench::new();
    bench.shop["sheets"][1]["length"] = json!(600);
    bench.shop["sheets"][1]["width"] = json!(900);
    bench.shop["machines"][2]["bed"] = json!([950, 700]);
    bench.shop["machines"][2]["keep_clear"] =
        json!([{"why": "pin", "at": [0, 0], "length": 60, "width": 30}]);
    let run = bench.nest(&["--lines", "tool-path", "--by-operation"]);
    assert_eq!(run.code, 0, "{run:?}");
    let all = sheets(&bench);
    let turned: Vec<&Value> = all.iter().filter(|s| s["machine"] == "laser").collect();
    assert!(!turned.is_empty());
    let moved = |s: &&Value| s.get("on_bed").is_some();
    assert_eq!(all.iter().filter(moved).count(), turned.len());
    for sheet in &turned {
        assert_eq!(
            sheet["on_bed"],
            json!({"angle": 90, "origin": [900, 0]}),
            "drawn otherwise than it stands in stock"
        );
        let whole = file_of(sheet);
        let steps = whole.replace(".dxf", "-step-");
        let mut names = bench.listing();
        names.retain(|n| *n == whole || n.starts_with(&steps) && n.ends_with(".dxf"));
        assert!(names.len() > 1, "{names:?}");
        for name in &names {
            for (x, y, _) in lines(&bench, name).iter().flat_map(|l| &l.points) {
                let on_sheet = (0.0..=900.0).contains(x) && (0.0..=600.0).contains(y);
                assert!(on_sheet, "{name}: {x}, {y}");
            }
        }
        let clear = lines(&bench, &whole)
            .into_iter()
            .find(|l| l.layer == "PW-ZONE")
            .expect("the pin");
        for (x, y, _) in &clear.points {
            assert!(
                [0.0, 60.0].contains(x) && [0.0, 30.0].contains(y),
                "{x}, {y}"
            );
        }
    }
    for (file, words) in [
        ("out/report.txt", "turned on the bed of the laser"),
        ("out/report.html", "turned by a quarter to the left"),
        ("out/traveller.html", "turned by a quarter to the left"),
    ] {
        assert!(bench.read(file).contains(words), "{file}");
    }
    // It can be gone on from.
    assert_eq!(bench.nest(&["--from", "out/nest.json"]).code, 0);
}

#[test]
fn a_hole_narrower_than_the_tool_stops_the_work() {
    let mut bench = Bench::new();
    let plate = &mut bench.kit["parts"][1]["rectangle"]["features"];
    plate
        .as_array_mut()
        .expect("features")
        .push(json!({"kind": "hole", "at": [60, 40], "diameter": 2.9}));
    let run = bench.nest(&["--lines", "tool-path"]);
    assert_eq!(run.code, 2);
    for word in ["'plate'", "60.0, 40.0", "2.900", "3 mm", "router"] {
        assert!(run.stderr.contains(word), "{word}: {}", run.stderr);
    }
    assert!(!bench.path("out").exists());
    // With finished edges it is noted: the hole may be drilled.
    assert_eq!(bench.nest(&[]).code, 0);
    let report = bench.read("out/report.txt");
    let words: Vec<&str> = report.split_whitespace().collect();
    assert!(words.join(" ").contains("narrower than the 3 mm"));
    let strict = bench.run(&["check", "order.json", "--strict"]);
    assert_eq!(strict.code, 2);
    assert!(strict.stderr.contains("--strict"), "{}", strict.stderr);
}

#[test]
fn a_slot_that_lies_aslant_is_measured_across() {
    let mut bench = Bench::new();
    // 2.5 mm wide, 60 mm long, at 45 degrees: its bounding square is far wider than the tool of 3 mm.
    let along = |a: f64, b: f64| {
        let turn = std::f64::consts::FRAC_1_SQRT_2;
        json!([150.0 + (a - b) * turn, 100.0 + (a + b) * turn])
    };
    let corners = [(-30.0, -1.25), (30.0, -1.25), (30.0, 1.25), (-30.0, 1.25)];
    let line: Vec<Value> = corners.iter().map(|(a, b)| along(*a, *b)).collect();
    let at = |v: &Value| format!("{} {}", v[0], v[1]);
    let path = line.iter().map(at).collect::<Vec<_>>().join(" L ");
    bench.write(
        "slot.svg",
        &format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='300mm' height='200mm' viewBox='0 0 300 200'>\
             <path fill='none' stroke='black' d='M 0 0 H 300 V 200 H 0 Z'/>\
             <path fill='none' stroke='black' d='M {path} Z'/></svg>"
        ),
    );
    let plate = bench.kit["parts"][1].as_object_mut().expect("a part");
    plate.remove("rectangle");
    plate.insert("drawing".to_owned(), json!("slot.svg"));
    bench.write_inputs();
    let says = "1 opening is in whole or in part narrower than the 3 mm that the router removes; the narrowest place is 2.50 mm wide";
    let told = bench.run(&["check", "order.json"]);
    assert_eq!(told.code, 0, "{told:?}");
    let words: Vec<&str> = told.stdout.split_whitespace().collect();
    let said = words.join(" ");
    assert_eq!(said.matches(says).count(), 1, "{said}");
    assert_eq!(said.matches("narrower than").count(), 1, "{said}");
    let strict = bench.run(&["check", "order.json", "--strict"]);
    assert_eq!(strict.code, 2, "{strict:?}");
    assert!(strict.stderr.contains(says), "{strict:?}");
    let refused = bench.nest(&["--lines", "tool-path"]);
    assert_eq!(refused.code, 2, "{refused:?}");
    assert!(refused.stderr.contains("2.500 mm wide at"), "{refused:?}");
    assert!(!refused.stderr.contains(" x "), "{refused:?}");
}

#[test]
fn times_follow_from_length_pierces_and_travel() {
    let mut bench = Bench::new();
    bench.shop["machines"][1]["cutting"] =
        json!({"lines": "tool-path", "feed": 3600, "travel_feed": 12000, "pierce_seconds": 1.5});
    assert_eq!(bench.nest(&[]).code, 0);
    let mut timed = 0;
    for sheet in sheets(&bench) {
        let cutting = &sheet["cutting"];
        let of = |key: &str| cutting[key].as_f64().expect("a number");
        if sheet["machine"] != "router" {
            assert!(cutting.get("seconds").is_none());
            continue;
        }
        timed += 1;
        let want = (of("cut_length") + of("mark_length")) / 60.0
            + 1.5 * of("pierces")
            + of("travel") / 200.0;
        assert!((of("seconds") - want).abs() < 1e-3);
        assert!(of("travel") > 0.0 && of("travel_as_listed") > 0.0);
    }
    assert!(timed > 0);
    let report = bench.read("out/report.txt");
    let words: Vec<&str> = report.split_whitespace().collect();
    let report = words.join(" ");
    assert!(report.contains("pierces, "), "{report}");
    assert!(
        report.contains("the file holds the tool's path"),
        "{report}"
    );
}

#[test]
fn square_corners_are_relieved_on_request() {
    let mut bench = Bench::new();
    let frame = &mut bench.kit["parts"][0];
    frame["rectangle"]["features"][0]["corner_radius"] = json!(0);
    frame["relief"] = json!("round");
    let run = bench.nest(&["--lines", "tool-path"]);
    assert_eq!(run.code, 0, "{run:?}");
    let windows: Vec<Line> = sheets(&bench)
        .into_iter()
        .flat_map(|s| lines(&bench, &file_of(&s)))
        .filter(|l| l.layer == "PW-FINISHED" && l.points.len() == 8)
        .filter(|l| {
            l.points
                .iter()
                .filter(|p| (p.2.abs() - 1.0).abs() < 1e-9)
                .count()
                == 4
        })
        .collect();
    assert_eq!(
        windows.len(),
        2,
        "one window a frame, each with four half circles"
    );
    for (i, (x, y, bulge)) in windows[0].points.iter().enumerate() {
        let next = windows[0].points[(i + 1) % 8];
        if bulge.abs() > 0.5 {
            // Chords are diameters: a tenth more than the tool of 3 mm.
            assert!(((next.0 - x).hypot(next.1 - y) - 3.3).abs() < 1e-6);
        }
    }
    let saw = &mut bench.kit["parts"][2];
    saw["relief"] = json!("t");
    let run = bench.nest(&[]);
    assert!(
        run.code == 2 && run.stderr.contains("relief"),
        "{}",
        run.stderr
    );
}

#[test]
fn settings_that_cannot_be_are_refused() {
    for (machine, cutting, words) in [
        (0, json!({}), ["cutting", "saw"]),
        (
            1,
            json!({"small_parts": {"tabs": 1}}),
            ["tabs is 1", "2 to 12"],
        ),
        (1, json!({"feed": -5}), ["feed", "-5"]),
        (
            1,
            json!({"travel_feed": 2e6}),
            ["travel_feed", "up to 1000 m"],
        ),
        (1, json!({"lead": {"length": 0}}), ["lead.length", "0"]),
        (1, json!({"small_parts": {"area": 0}}), ["area", "0"]),
        (1, json!({"pierce_seconds": -1}), ["pierce_seconds", "-1"]),
        (1, json!({"directoin": "climb"}), ["directoin", "direction"]),
        (1, json!({"dxf": "r11"}), ["dxf", "r11"]),
        (
            2,
            json!({"small_parts": {"hold": "skin"}}),
            ["hold", "laser"],
        ),
    ] {
        let mut bench = Bench::new();
        bench.shop["machines"][machine]["cutting"] = cutting;
        let run = bench.nest(&[]);
        assert_eq!(run.code, 2, "{words:?}: {run:?}");
        assert_eq!(run.stderr.trim().lines().count(), 1, "{}", run.stderr);
        for word in words {
            assert!(run.stderr.contains(word), "{word}: {}", run.stderr);
        }
        assert!(!bench.path("out").exists());
    }
}
