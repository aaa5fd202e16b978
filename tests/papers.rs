//! Traveller, check list, labels and lists, by the real program.

use crate::util::Bench;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::path::Path;

const FILES: [&str; 5] = [
    "traveller.html",
    "check-list.html",
    "labels.html",
    "parts.csv",
    "cuts.csv",
];

fn text(folder: &Path, name: &str) -> String {
    std::fs::read_to_string(folder.join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// A small order, with names that must stay text wherever they are printed.
fn odd_names() -> Bench {
    let mut bench = Bench::new();
    bench.order["order"] = json!("<b>T-1</b> & \"Söhne\"");
    bench.kit["kit"] = json!("Anzucht-Schrank <groß>");
    bench.kit["parts"][1]["part"] = json!("W".repeat(90));
    bench.kit["parts"][1]["label"] =
        json!("Ein sehr langer Name, der nirgends hinpasst & weiterläuft 面板 ".repeat(3));
    bench.order["due"] = json!("2026-12-11");
    bench
}

fn nest(bench: &Bench, more: &[&str]) -> crate::util::Run {
    bench.nest(more)
}

/// The cells of a list; fails where a row has not as many as the header.
fn rows(folder: &Path, name: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let bytes = text(folder, name);
    assert!(
        bytes.ends_with("\r\n") && !bytes.replace("\r\n", "").contains('\n'),
        "RFC 4180"
    );
    let mut reader = csv::ReaderBuilder::new().from_reader(bytes.as_bytes());
    let header = reader
        .headers()
        .expect("a header")
        .iter()
        .map(str::to_owned)
        .collect();
    let rows = reader
        .records()
        .map(|r| r.expect("a row").iter().map(str::to_owned).collect())
        .collect();
    (header, rows)
}

/// The page is written as XML would have it, so an XML reader can vouch for its nesting.
fn parsed(html: &str) -> roxmltree::Document<'_> {
    let body = html.strip_prefix("<!doctype html>").expect("a doctype");
    roxmltree::Document::parse(body.trim_start()).expect("well-formed")
}

#[test]
fn papers_lie_beside_the_report_in_both_languages_and_units() {
    let bench = odd_names();
    for (more, words) in [
        (
            &[][..],
            ["Now complete: kit", "Length over all 500 mm", "Kit 2 of 2"],
        ),
        (
            &["--language", "de", "--lengths", "inch/16"][..],
            [
                "Jetzt komplett: Baus",
                "Länge über alles 19-11/16 in",
                "Bausatz 2 von 2",
            ],
        ),
    ] {
        let run = nest(&bench, more);
        assert_eq!(run.code, 0, "{run:?}");
        let out = bench.path("out");
        for name in FILES {
            assert!(run.stdout.contains(name), "{name} is told: {}", run.stdout);
            assert!(out.join(name).is_file(), "{name}");
        }
        let pages = FILES.map(|name| text(&out, name));
        for (page, words) in pages.iter().zip(words) {
            assert!(page.contains(words), "{words}");
            assert!(!page.contains("<b>"), "names are text");
            for outside in ["http:", "https:", "src=", "<link", "<script", "@import"] {
                assert!(!page.contains(outside), "{outside}");
            }
        }
        for page in &pages[..3] {
            let tree = parsed(page);
            let ids: Vec<&str> = tree
                .descendants()
                .filter_map(|e| e.attribute("id"))
                .collect();
            let unique: BTreeSet<&str> = ids.iter().copied().collect();
            assert_eq!(ids.len(), unique.len());
            for link in tree.descendants().filter_map(|e| e.attribute("href")) {
                match link.strip_prefix('#') {
                    Some(id) => assert!(unique.contains(id), "{link}"),
                    // Into the report, to a sheet that it has.
                    None => {
                        let id = link.strip_prefix("report.html#").expect("the report");
                        let report = text(&out, "report.html");
                        assert!(report.contains(&format!("id=\"{id}\"")), "{link}");
                    }
                }
            }
        }
    }
}

#[test]
fn the_traveller_has_every_sheet_and_tells_when_kits_are_complete() {
    let bench = odd_names();
    let run = nest(&bench, &[]);
    assert_eq!(run.code, 0, "{run:?}");
    let out = bench.path("out");
    let nest: Value = serde_json::from_str(&text(&out, "nest.json")).expect("JSON");
    let page = text(&out, "traveller.html");
    for sheet in nest["sheets"].as_array().expect("sheets") {
        let number = &sheet["number"];
        assert!(
            page.contains(&format!("report.html#sheet-{number}\"")),
            "sheet {number}"
        );
        if sheet["method"] == "free-form" && sheet["saw_cuts"] == json!([]) {
            assert!(page.contains(&format!(
                "cut/sheet-{:02}.dxf",
                number.as_u64().expect("a number")
            )));
        }
        for offcut in sheet["offcuts"].as_array().expect("offcuts") {
            let told = page.contains(&format!(
                "stick label {} on",
                offcut["id"].as_str().expect("an id")
            ));
            assert_eq!(told, offcut["kept"] == true, "{offcut}");
        }
    }
    let complete = page.matches("Now complete: kit").count();
    assert!((1..=2).contains(&complete), "{complete}");
    assert!(
        page.contains("<dd>&#60;b&#62;T-1") || page.contains("<dd>&lt;b&gt;T-1"),
        "the order"
    );
}

#[test]
fn the_check_list_has_every_panel_and_a_box_for_every_kit() {
    let mut bench = Bench::new();
    // A twin that is a little longer, and the other hand of a third.
    let parts = bench.kit["parts"].as_array_mut().expect("parts");
    let mut twin = parts[2].clone();
    twin["part"] = json!("floor-long");
    twin["rectangle"]["length"] = json!(486);
    parts.push(twin);
    for (name, mirrored) in [("wing-left", false), ("wing-right", true)] {
        parts.push(json!({"part": name, "quantity": 1, "material": "composite-3", "route": "router",
            "mirrored": mirrored,
            "rectangle": {"length": 200, "width": 90, "features": [
                {"kind": "hole", "at": [20, 20], "diameter": 6}, {"kind": "hole", "at": [60, 20], "diameter": 12},
                {"kind": "notch", "edge": "bottom", "at": 150, "width": 40, "depth": 25}]}}));
    }
    let run = nest(&bench, &[]);
    assert_eq!(run.code, 0, "{run:?}");
    let page = text(&bench.path("out"), "check-list.html");
    let tree = parsed(&page);
    let count = |class: &str| {
        let with = |e: &roxmltree::Node| e.attribute("class") == Some(class);
        tree.descendants().filter(with).count()
    };
    let kinds = 7;
    assert_eq!(count("panel"), kinds);
    // Two kits: a box for each panel, and one for each parcel.
    assert_eq!(count("box"), 2 * kinds + 2);
    assert_eq!(count("sign"), 2 * kinds + 2);
    for words in [
        "wing-right: this one is the other hand",
        "wing-left: this one is the other hand",
        "floor-long: this one differs by -6 in length and 0 in width",
        "Opening 400 x 300 mm; →\u{a0}50\u{a0}↑\u{a0}50",
        "Hole, diameter 12 mm; →\u{a0}60\u{a0}↑\u{a0}20",
        "Hole, diameter 12 mm; →\u{a0}140\u{a0}↑\u{a0}20",
        "Cut away 40 x 25 mm",
        "4 corners rounded, radius 12 mm",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(
        !page.contains("frame: this one"),
        "nothing looks like the frame"
    );
}

#[test]
fn lists_are_those_of_the_nest() {
    let bench = odd_names();
    let run = nest(&bench, &[]);
    assert_eq!(run.code, 0, "{run:?}");
    let out = bench.path("out");
    let nest: Value = serde_json::from_str(&text(&out, "nest.json")).expect("JSON");
    let sheets = nest["sheets"].as_array().expect("sheets");
    let (header, parts) = rows(&out, "parts.csv");
    let at = |key: &str| header.iter().position(|h| h == key).expect("a column");
    let placed: Vec<(&Value, &Value)> = sheets
        .iter()
        .flat_map(|s| {
            s["placements"]
                .as_array()
                .expect("parts")
                .iter()
                .map(move |p| (s, p))
        })
        .collect();
    assert_eq!(parts.len(), placed.len());
    for (row, (sheet, part)) in parts.iter().zip(placed) {
        assert_eq!(row[at("sheet")], sheet["number"].to_string());
        assert_eq!(json!(row[at("part")]), part["part"]);
        assert_eq!(json!(row[at("kit")]), part["kit"]);
        assert_eq!(row[at("copy")], part["copy"].to_string());
        assert_eq!(row[at("kit_number")], part["kit_number"].to_string());
        let low = |axis: usize| {
            let ring = part["outline"].as_array().expect("a ring").iter();
            ring.map(|p| p[axis].as_f64().expect("a number"))
                .fold(f64::INFINITY, f64::min)
        };
        for (key, axis) in [("x_mm", 0), ("y_mm", 1)] {
            let told: f64 = row[at(key)].parse().expect("a number");
            assert!((told - low(axis)).abs() < 0.03, "{row:?}");
        }
        assert!(out.join(&row[at("cut_file")]).is_file(), "{row:?}");
    }
    let (header, cuts) = rows(&out, "cuts.csv");
    let at = |key: &str| header.iter().position(|h| h == key).expect("a column");
    let sawn: usize = sheets
        .iter()
        .map(|s| s["saw_cuts"].as_array().expect("cuts").len())
        .sum();
    let by = |process: &str| {
        cuts.iter()
            .filter(|r| r[at("process")] == process)
            .collect::<Vec<_>>()
    };
    assert_eq!(by("saw").len(), sawn);
    for row in by("saw") {
        let fence: f64 = row[at("fence_mm")].parse().expect("a setting");
        assert!(fence > 0.0 && !row[at("at_fence")].is_empty(), "{row:?}");
    }
    let machined = sheets.iter().filter(|s| s["method"] == "free-form");
    let rest = [by("router"), by("laser")].concat();
    assert_eq!(rest.len(), machined.count());
    for row in rest {
        let sheet = &sheets[row[at("sheet")].parse::<usize>().expect("a number") - 1];
        assert_eq!(row[at("pierces")], sheet["cutting"]["pierces"].to_string());
    }
}

/// A number of a list; 0 where there is none.
fn amount(row: &[String], column: usize) -> f64 {
    row[column].parse().unwrap_or(0.0)
}

#[test]
fn what_is_finished_on_the_router_and_blanks_tell_how_much_is_cut() {
    let mut bench = Bench::new();
    let floor = &mut bench.kit["parts"][2];
    floor["route"] = json!("saw-then-router");
    floor["rectangle"]["features"] = json!([
        {"kind": "hole", "at": [100, 100], "diameter": 100},
        {"kind": "hole", "at": [300, 100], "diameter": 50}
    ]);
    // Larger than the laser's bed, so it is sawn into blanks first.
    bench.shop["sheets"][1]["length"] = json!(1500);
    assert_eq!(nest(&bench, &[]).code, 0);
    let out = bench.path("out");
    let (header, cuts) = rows(&out, "cuts.csv");
    let at = |key: &str| header.iter().position(|h| h == key).expect("a column");
    let floors: Vec<&Vec<String>> = cuts
        .iter()
        .filter(|r| r[at("process")] == "router" && r[at("piece")].starts_with("floor:"))
        .collect();
    assert_eq!(floors.len(), 2, "one for each copy: {cuts:?}");
    for row in &floors {
        // Both holes; the outline is the saw's.
        let length = amount(row, at("cut_length_mm"));
        assert!(
            (length - 150.0 * std::f64::consts::PI).abs() < 0.1,
            "{row:?}"
        );
        assert_eq!(row[at("pierces")], "2");
        let sawn = cuts
            .iter()
            .find(|r| r[at("process")] == "saw" && r[at("sheet")] == row[at("sheet")]);
        assert_eq!(
            sawn.expect("the sheet is sawn")[at("stock")],
            row[at("stock")]
        );
    }
    let traveller = text(&out, "traveller.html");
    let steps: Vec<&str> = traveller.split("<div class=\"block").collect();
    let finish = steps.iter().find(|s| s.contains("Finish floor"));
    let finish = finish.expect("a step");
    assert!(finish.contains("Cut: 0.9 m, 4 pierces"), "{finish}");
    let blank = steps
        .iter()
        .find(|s| s.contains("Load cut/") && s.contains("-blank-"));
    assert!(blank.expect("a blank").contains("Cut: "), "{blank:?}");
}

#[test]
fn labels_come_on_the_stock_that_is_asked_for() {
    let mut bench = odd_names();
    let pages = |bench: &Bench| {
        text(&bench.path("out"), "labels.html")
            .matches("<svg class=\"page\"")
            .count()
    };
    let labels = |bench: &Bench| {
        text(&bench.path("out"), "labels.html")
            .matches("class=\"label\"")
            .count()
    };
    assert_eq!(nest(&bench, &[]).code, 0);
    let all = labels(&bench);
    let nest_file: Value =
        serde_json::from_str(&text(&bench.path("out"), "nest.json")).expect("JSON");
    let sheets = nest_file["sheets"].as_array().expect("sheets");
    let parts: usize = sheets
        .iter()
        .map(|s| s["placements"].as_array().expect("parts").len())
        .sum();
    let kept = sheets
        .iter()
        .flat_map(|s| s["offcuts"].as_array().expect("offcuts"));
    assert_eq!(all, parts + kept.filter(|o| o["kept"] == true).count() + 2);
    assert_eq!(pages(&bench), all.div_ceil(21));
    for (more, per_page, size) in [
        (&["--labels", "roll-57x32"][..], 1, "size: 57mm 32mm"),
        (
            &["--labels", "letter-3x10"][..],
            30,
            "size: 215.9mm 279.4mm",
        ),
        (
            &["--labels", "a4-2x7", "--first-label", "14"][..],
            14,
            "size: 210mm 297mm",
        ),
    ] {
        assert_eq!(nest(&bench, more).code, 0);
        let used = if more.len() > 2 { 13 } else { 0 };
        assert_eq!(labels(&bench), all);
        assert_eq!(pages(&bench), (all + used).div_ceil(per_page), "{more:?}");
        assert!(
            text(&bench.path("out"), "labels.html").contains(size),
            "{size}"
        );
    }
    bench.shop["papers"] =
        json!({"labels": {"page": [100, 150], "columns": 1, "rows": 3, "size": [90, 45]}});
    assert_eq!(nest(&bench, &[]).code, 0);
    assert_eq!(pages(&bench), all.div_ceil(3));
}

#[test]
fn labels_that_make_no_sense_are_refused_before_anything_is_written() {
    let mut bench = Bench::new();
    for (more, words) in [
        (
            &["--labels", "a4-3x6"][..],
            "no labels are called 'a4-3x6'; did you mean",
        ),
        (
            &["--labels", "a4-3x7", "--first-label", "22"][..],
            "no label 22",
        ),
    ] {
        let run = nest(&bench, more);
        assert_eq!(run.code, 2, "{run:?}");
        assert_eq!(run.stderr.lines().count(), 1, "{run:?}");
        assert!(
            run.stderr.contains(words) || run.stderr.contains("a4-3x6"),
            "{run:?}"
        );
        assert!(!bench.path("out").exists());
    }
    for (labels, words) in [
        (json!({"stock": "a4-4x9"}), "papers.labels.stock"),
        (
            json!({"page": [210, 297], "size": [70, 37], "columns": 4}),
            "papers.labels.columns",
        ),
        (
            json!({"page": [210, 297], "size": [19, 37]}),
            "papers.labels.size",
        ),
        (json!({"sheet": "a4"}), "sheet"),
    ] {
        bench.shop["papers"] = json!({"labels": labels});
        let run = nest(&bench, &[]);
        assert_eq!(run.code, 2, "{run:?}");
        assert!(
            run.stderr.contains("shop.json") && run.stderr.contains(words),
            "{run:?}"
        );
        assert!(!bench.path("out").exists());
    }
}

#[test]
fn labels_of_the_rack_come_on_the_same_stock() {
    let bench = Bench::new();
    bench.write_inputs();
    let run = bench.run(&[
        "rack",
        "labels",
        "--out",
        "rack.html",
        "--shop",
        "shop.json",
        "--labels",
        "roll-62x100",
        "--language",
        "de",
    ]);
    assert_eq!(run.code, 0, "{run:?}");
    let page = text(&bench.path("."), "rack.html");
    let remnants = bench.remnants["remnants"]
        .as_array()
        .expect("remnants")
        .len();
    assert_eq!(page.matches("<svg class=\"page\"").count(), remnants);
    assert!(page.contains("lang=\"de\"") && page.contains("size: 62mm 100mm"));
}
