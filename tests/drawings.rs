//! Drawings: what `check` tells of one, rules of a kit, drawings of several parts.

use crate::util::{Bench, Run};
use serde_json::{Value, json};

/// DXF text from `code value` pairs apart by commas, in millimetres.
fn dxf(entities: &str) -> String {
    let lines = |pairs: &str| -> String {
        let pair = |p: &str| p.trim().replacen(' ', "\n", 1) + "\n";
        pairs.split(',').map(pair).collect()
    };
    lines("0 SECTION, 2 HEADER, 9 $INSUNITS, 70 4, 0 ENDSEC, 0 SECTION, 2 ENTITIES")
        + &lines(entities)
        + &lines("0 ENDSEC, 0 EOF")
}

fn square(x: f64, size: f64, more: &str) -> String {
    format!(
        "0 LWPOLYLINE, 8 0, {more} 90 4, 70 1, 10 {x}, 20 0, 10 {}, 20 0, 10 {}, 20 {size}, 10 {x}, 20 {size}",
        x + size,
        x + size
    )
}

fn answer(run: &Run) -> Value {
    assert_eq!(run.code, 0, "{run:?}");
    serde_json::from_str(&run.stdout).expect("JSON")
}

fn near(value: &Value, expected: f64) {
    let value = value.as_f64().expect("a number");
    assert!((value - expected).abs() < 1e-6, "{value} is not {expected}");
}

/// Two panels, one with a hole of four loose lines that do not quite meet, and a line drawn twice.
fn two_panels() -> String {
    dxf(&format!(
        "{}, {}, 0 LINE, 8 0, 10 20, 20 20, 11 40, 21 20, 0 LINE, 8 0, 10 40.02, 20 20, 11 40, 21 40, \
         0 LINE, 8 0, 10 40, 20 40, 11 20, 21 40, 0 LINE, 8 0, 10 20, 20 40, 11 20, 21 20, 0 LINE, 8 0, 10 20, 20 20, 11 20, 21 40",
        square(0.0, 100.0, ""),
        square(200.0, 50.0, "")
    ))
}

#[test]
fn check_tells_what_a_drawing_holds_and_what_was_healed() {
    let bench = Bench::new();
    bench.write("two.dxf", &two_panels());
    let read = answer(&bench.run(&["check", "two.dxf", "--json"]));
    assert_eq!(read["parts"].as_array().map(Vec::len), Some(2));
    assert_eq!(read["parts"][0]["holes"].as_array().map(Vec::len), Some(1));
    near(&read["parts"][1]["area"], 2500.0);
    near(&read["bounds"][2], 250.0);
    let healed = read["healed"].as_array().expect("a list");
    assert_eq!(healed.len(), 2, "{healed:?}");
    let text = bench.run(&["check", "two.dxf"]).stdout;
    for words in [
        "in millimetres",
        "100.00 x 100.00",
        "1 curve drawn twice, read once; the first at (20, 20)",
        "1 gap joined, the widest 0.0200 mm",
        "Ends up to 0.05 mm apart are joined",
    ] {
        assert!(text.contains(words), "{words} not in\n{text}");
    }
    assert!(bench.listing().iter().all(|f| f == "two.dxf"));
}

#[test]
fn an_open_outline_is_reported_with_its_nearest_mate() {
    let bench = Bench::new();
    bench.write(
        "open.dxf",
        &dxf(
            "0 LINE, 8 0, 10 0, 20 0, 11 50, 21 0, 0 LINE, 8 0, 10 50, 20 0.4, 11 50, 21 30, \
              0 LINE, 8 0, 10 200, 20 0, 11 300, 21 0",
        ),
    );
    let run = bench.run(&["check", "open.dxf"]);
    assert_eq!((run.code, run.stderr.lines().count()), (2, 1), "{run:?}");
    for words in [
        "open.dxf: LINE on layer `0`",
        "between (50, 0) and (0, 0), the nearest end is 0.400 mm away at (50, 0.4)",
        "others from (50, 0.4) to (50, 30), (200, 0) to (300, 0)",
    ] {
        assert!(run.stderr.contains(words), "{words} not in {}", run.stderr);
    }
}

#[test]
fn options_for_drawings_are_refused_with_an_order_and_units_are_taken() {
    let bench = Bench::new();
    bench.write_inputs();
    let run = bench.run(&["check", "order.json", "--units", "mm"]);
    assert_eq!(run.code, 2, "{run:?}");
    let plain = dxf(&square(0.0, 50.0, "")).replace("$INSUNITS\n70\n4", "$INSUNITS\n70\n0");
    bench.write("plain.dxf", &plain);
    let run = bench.run(&["check", "plain.dxf", "--json"]);
    assert!(
        run.code == 2
            && run.stderr.contains("names no unit")
            && run.stderr.contains("--units inch"),
        "{run:?}"
    );
    let read = answer(&bench.run(&["check", "plain.dxf", "--json", "--units", "inch"]));
    near(&read["parts"][0]["area"], 2500.0 * 25.4 * 25.4);
}

/// Reads a drawing by rules.
fn by_rules(name: &str, drawing: &str, rules: &Value) -> Value {
    let mut bench = Bench::new();
    bench.kit["drawing_rules"] = rules.clone();
    bench.write_inputs();
    bench.write(name, drawing);
    answer(&bench.run(&["check", name, "--kit", "kit.json", "--json"]))
}

#[test]
fn rules_by_layer_colour_and_line_type() {
    let drawing = dxf(&format!(
        "{}, 0 LINE, 8 A, 62 1, 10 10, 20 50, 11 90, 21 50, 0 CIRCLE, 8 HELP-2, 10 50, 20 50, 40 200, \
         0 LINE, 8 A, 6 Dashed2, 10 10, 20 60, 11 90, 21 60, 0 CIRCLE, 8 A, 420 65280, 10 20, 20 20, 40 5",
        square(0.0, 100.0, "62 5,")
    ));
    let rules = json!([
        {"layer": "help*", "use": "ignore"},
        {"colour": "red", "use": "mark"},
        {"line_type": "dashed*", "use": "ignore"},
        {"colour": "#00FF00", "use": "mark"},
        {"colour": 5, "use": "cut"},
        {"use": "ignore"}
    ]);
    let read = by_rules("panel.dxf", &drawing, &rules);
    let part = &read["parts"][0];
    near(&part["area"], 10_000.0);
    assert_eq!(part["marks"], json!(2), "{read:#}");
    near(&part["mark_length"], 80.0 + 10.0 * std::f64::consts::PI);
}

#[test]
fn rules_by_class_stroke_and_dashes() {
    let svg = r##"<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">
        <style>.etched { stroke: #00f }</style>
        <g class="outside"><rect width="100" height="50"/></g>
        <path class="etched" d="M10 10 H90"/><path stroke="#F00" d="M10 20 H90"/>
        <path style="stroke-dasharray: 2 1" d="M10 30 H90"/><circle class="guide" cx="50" cy="25" r="90"/></svg>"##;
    let rules = json!([
        {"class": "guide", "use": "ignore"},
        {"colour": "blue", "use": "mark"},
        {"colour": "red", "layer": "etch*", "use": "ignore"},
        {"colour": "red", "use": "mark"},
        {"line_type": "dashed", "use": "ignore"}
    ]);
    let read = by_rules("panel.svg", svg, &rules);
    near(&read["area"], 5000.0);
    assert_eq!(read["parts"][0]["marks"], json!(2), "{read:#}");
    near(&read["parts"][0]["mark_length"], 160.0);
}

#[test]
fn a_rule_that_says_no_colour_is_refused() {
    let mut bench = Bench::new();
    bench.write("two.dxf", &two_panels());
    bench.kit["drawing_rules"] = json!([{"colour": "reddish", "use": "mark"}]);
    bench.write_inputs();
    let run = bench.run(&["check", "two.dxf", "--kit", "kit.json"]);
    assert_eq!(run.code, 2, "{run:?}");
    assert!(run.stderr.contains("drawing_rules[0].colour"), "{run:?}");
}

/// A kit with one entry for a drawing of two panels.
fn kit_of_two(from: Value) -> Bench {
    let mut bench = Bench::new();
    bench.kit["parts"] = json!([{"part": "flap", "quantity": 3, "material": "composite-3",
        "route": "router", "drawing": "two.dxf"}]);
    if !from.is_null() {
        bench.kit["parts"][0]["from_drawing"] = from;
    }
    bench.write_inputs();
    bench.write("two.dxf", &two_panels());
    bench
}

#[test]
fn all_parts_of_a_drawing_or_one_of_them() {
    let check = ["check", "order.json", "--json"];
    let read = answer(&kit_of_two(json!("all")).run(&check));
    let parts: Vec<(&str, u64)> = read["parts"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|p| {
            (
                p["part"].as_str().unwrap_or(""),
                p["quantity"].as_u64().unwrap_or(0),
            )
        })
        .collect();
    assert_eq!(parts, [("flap 1", 6), ("flap 2", 6)]);
    let read = answer(&kit_of_two(json!(2)).run(&check));
    near(&read["parts"][0]["area"], 2500.0);
    for (from, words) in [
        (Value::Null, "2 separate outlines"),
        (json!(3), "no part number 3"),
        (json!("lid"), "no part called 'lid'"),
        (json!(1.5), "names no part"),
    ] {
        let run = kit_of_two(from).run(&check);
        assert!(run.code == 2 && run.stderr.contains(words), "{run:?}");
    }
    let run =
        kit_of_two(json!("all")).run(&["nest", "order.json", "--out", "out", "--effort", "0.1"]);
    assert_eq!(run.code, 0, "{run:?}");
}

/// A plate with a label, 12 mm high, that the drawing rule of `kit_with_label` may mark.
fn labelled() -> String {
    dxf(&format!(
        "{}, 0 TEXT, 8 0, 10 20, 20 40, 40 12, 1 H1, 0 TEXT, 8 notes, 10 20, 20 10, 40 3, 1 for the office",
        square(0.0, 100.0, "")
    ))
}

fn kit_with_label(rules: Value) -> Bench {
    let mut bench = Bench::new();
    bench.kit["drawing_rules"] = rules;
    bench.kit["parts"] = json!([{"part": "plate", "quantity": 1, "material": "composite-3", "route": "router",
        "drawing": "plate.dxf"}]);
    bench.order["kits"][0]["quantity"] = json!(1);
    bench.write("plate.dxf", &labelled());
    bench.write_inputs();
    bench
}

#[test]
fn text_is_engraved_by_rule_and_reaches_the_cut_files_as_marks() {
    let rules = json!([{"layer": "notes", "use": "ignore"}, {"text": true, "use": "mark"}]);
    let bench = kit_with_label(rules);
    let read = answer(&bench.run(&["check", "plate.dxf", "--kit", "kit.json", "--json"]));
    // H is three strokes of 12, 12 and 8 mm, 1 one of about 4.2 and 12 mm.
    assert_eq!(read["parts"][0]["marks"], json!(4), "{read:#}");
    let texts = read["texts"].as_array().expect("a list");
    assert_eq!(texts.len(), 1);
    assert_eq!(texts[0]["text"], json!("H1"));
    assert_eq!(texts[0]["at"], json!([20.0, 40.0]));
    near(&texts[0]["height"], 12.0);
    let check = bench
        .run(&["check", "plate.dxf", "--kit", "kit.json"])
        .stdout;
    for words in [
        "1 text marked in letters of single lines: `H1` 12.00 mm high at (20, 40)",
        "layer `notes` left out (by rule)",
    ] {
        assert!(check.contains(words), "{words} not in\n{check}");
    }
    for lines in ["finished", "tool-path"] {
        for form in ["2000", "r12"] {
            let run = bench.run(&[
                "nest",
                "order.json",
                "--out",
                "out",
                "--effort",
                "0.1",
                "--lines",
                lines,
                "--dxf",
                form,
                "--strict",
            ]);
            assert_eq!(run.code, 0, "{run:?}");
            let cut = bench.read("out/cut/sheet-01.dxf");
            let kind = if form == "2000" {
                "LWPOLYLINE"
            } else {
                "POLYLINE"
            };
            let mut pairs = cut.lines().map(str::trim);
            let mut marks = 0;
            let mut entity = "";
            while let (Some(code), Some(value)) = (pairs.next(), pairs.next()) {
                match code {
                    "0" => entity = value,
                    "8" if entity == kind && value == "PW-MARK" => marks += 1,
                    _ => {}
                }
            }
            assert_eq!(marks, 4, "{lines} {form}");
            let svg = bench.read("out/cut/sheet-01.svg");
            let group = svg
                .split("id=\"pw-mark\"")
                .nth(1)
                .expect("a group of marks");
            let group = group.split("</g>").next().unwrap_or_default();
            assert_eq!(group.matches("<path").count(), 4, "{group}");
        }
    }
}

#[test]
fn text_that_no_rule_names_stops_strict_work_where_lines_are_cut() {
    let bench = kit_with_label(json!([]));
    let run = bench.run(&["check", "order.json"]);
    assert_eq!(run.code, 0, "{run:?}");
    assert!(
        run.stdout
            .contains("1 TEXT not read on layers that are cut"),
        "{run:?}"
    );
    let run = bench.run(&["check", "order.json", "--strict"]);
    assert!(
        run.code == 2 && run.stderr.contains("plate.dxf") && run.stderr.contains("1 TEXT"),
        "{run:?}"
    );
    // The layer may be called anything when the kit says that it is not cut.
    let bench = kit_with_label(json!([{"text": true, "use": "ignore"}]));
    assert_eq!(bench.run(&["check", "order.json", "--strict"]).code, 0);
    let bench = kit_with_label(json!([{"text": true, "use": "cut"}]));
    let run = bench.run(&["check", "order.json"]);
    assert!(
        run.code == 2 && run.stderr.contains("drawing_rules[0].use"),
        "{run:?}"
    );
}
