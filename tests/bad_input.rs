//! Bad input: one message that names file, place, value and remedy; exit code 2; nothing written.

use crate::util::{Bench, Run};
use serde_json::json;

/// Nests and asserts that it was refused with all of `words` in one line, and nothing written.
fn refused(bench: &Bench, words: &[&str]) {
    let run = bench.nest(&[]);
    assert_refused(&run, words);
    let written: Vec<String> = bench
        .listing()
        .into_iter()
        .filter(|f| f.starts_with("out") || f.contains("rack.db"))
        .collect();
    assert!(written.is_empty(), "written: {written:?}");
    assert!(!bench.path("out").exists(), "an empty out folder was left");
}

fn assert_refused(run: &Run, words: &[&str]) {
    assert_eq!(run.code, 2, "{run:?}");
    assert!(
        run.stderr.starts_with("error: ") && run.stderr.lines().count() == 1,
        "{}",
        run.stderr
    );
    for word in words {
        assert!(
            run.stderr.contains(word),
            "'{word}' is not in: {}",
            run.stderr
        );
    }
}

#[test]
fn missing_file() {
    let bench = Bench::new();
    let run = bench.run(&["nest", "nowhere.json", "--out", "out"]);
    assert_refused(&run, &["nowhere.json", "no such file", "check the name"]);
    assert!(bench.listing().is_empty());
}

#[test]
fn missing_kit_shop_drawing_and_list() {
    let mut bench = Bench::new();
    bench.order["kits"][0]["kit"] = json!("kitt.json");
    refused(
        &bench,
        &[
            "kitt.json",
            "no such file",
            "order.json names it at kits[0].kit",
        ],
    );

    let mut bench = Bench::new();
    bench.order["shop"] = json!("shopp.json");
    refused(&bench, &["shopp.json", "no such file"]);

    let mut bench = Bench::new();
    bench.kit["parts"][0] = json!({"part": "frame", "quantity": 1, "material": "composite-3",
        "route": "router", "drawing": "frame.dxf"});
    refused(&bench, &["frame.dxf", "no such file"]);

    let mut bench = Bench::new();
    bench.shop["remnants"] = json!("racklist.json");
    refused(
        &bench,
        &[
            "racklist.json",
            "no such file",
            "shop.json names it at remnants",
        ],
    );
}

#[test]
fn not_json() {
    let bench = Bench::new();
    bench.write_inputs();
    bench.write(
        "order.json",
        "{\"format\": \"panelwright-order-1\",\n \"order\" 7}",
    );
    let run = bench.run(&["nest", "order.json", "--out", "out"]);
    assert_refused(&run, &["order.json: line 2, column", "not JSON"]);
}

#[test]
fn another_kind_of_file() {
    let bench = Bench::new();
    bench.write_inputs();
    let run = bench.run(&["nest", "kit.json", "--out", "out"]);
    assert_refused(
        &run,
        &[
            "kit.json: format",
            "panelwright-kit-1",
            "panelwright-order-1",
        ],
    );
}

#[test]
fn unknown_key() {
    let mut bench = Bench::new();
    bench.kit["parts"][1]["quantitty"] = json!(3);
    refused(
        &bench,
        &[
            "kit.json",
            "parts[1]",
            "line 1",
            "`quantitty`",
            "did you mean `quantity`?",
        ],
    );
}

#[test]
fn negative_and_absurd_sizes() {
    let mut bench = Bench::new();
    bench.kit["parts"][0]["rectangle"]["length"] = json!(-500);
    refused(
        &bench,
        &["kit.json", "parts[0] 'frame'.rectangle", "-500", "above 0"],
    );

    let mut bench = Bench::new();
    bench.shop["sheets"][0]["width"] = json!(0);
    refused(&bench, &["shop.json", "sheets[0].width", "0"]);

    let mut bench = Bench::new();
    bench.shop["machines"][1]["gap"] = json!(1);
    refused(
        &bench,
        &["shop.json", "machines[1].gap", "below the kerf of 3 mm"],
    );
}

#[test]
fn nan_is_not_a_size() {
    let bench = Bench::new();
    bench.write_inputs();
    let text = bench
        .kit
        .to_string()
        .replace("\"length\":500", "\"length\":NaN");
    bench.write("kit.json", &text);
    let run = bench.run(&["nest", "order.json", "--out", "out"]);
    assert_refused(&run, &["kit.json: line 1, column", "not JSON", "NaN"]);

    let text = bench
        .kit
        .to_string()
        .replace("\"length\":500", "\"length\":1e999");
    bench.write("kit.json", &text);
    let run = bench.run(&["nest", "order.json", "--out", "out"]);
    assert_refused(&run, &["kit.json", "out of range"]);
    assert!(!bench.path("out").exists());
}

#[test]
fn part_larger_than_the_bed_alone() {
    let mut bench = Bench::new();
    bench.shop["sheets"][0]["length"] = json!(2000);
    bench.shop["machines"][1]["bed"] = json!([1500, 1300]);
    bench.kit["parts"][0]["rectangle"]["length"] = json!(1970);
    refused(
        &bench,
        &[
            "parts[0] 'frame'",
            "1480.0 x 780.0 mm on the router, whose bed takes 1500 x 1300 mm",
            "or have it cut by a machine with a larger bed",
        ],
    );
    // The margin is named where the bed would be large enough without it.
    bench.kit["parts"][0]["rectangle"]["length"] = json!(1490);
    refused(
        &bench,
        &["bed takes", "the margin of 10 mm", "a larger bed"],
    );
    // Where the sheet is too small as well, a larger bed is no help.
    bench.kit["parts"][0]["rectangle"]["length"] = json!(1990);
    refused(&bench, &["a larger sheet"]);
}

#[test]
fn part_larger_than_every_sheet() {
    let mut bench = Bench::new();
    bench.kit["parts"][3]["rectangle"]["length"] = json!(1500);
    refused(
        &bench,
        &[
            "kit.json",
            "parts[3] 'lid'",
            "1500.0 x 200.0 mm",
            "acrylic-3",
            "larger sheet",
        ],
    );
}

/// A DXF of lines through `points`, in the unit with this number; `None` leaves the unit out.
fn dxf(points: &[(f64, f64)], unit: Option<u32>) -> String {
    let mut text = String::from("0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n");
    if let Some(unit) = unit {
        text += &format!("9\n$INSUNITS\n70\n{unit}\n");
    }
    text += "0\nENDSEC\n0\nSECTION\n2\nENTITIES\n";
    for pair in points.windows(2) {
        let ((a, b), (c, d)) = (pair[0], pair[1]);
        text += &format!("0\nLINE\n8\ncut\n10\n{a}\n20\n{b}\n11\n{c}\n21\n{d}\n");
    }
    text + "0\nENDSEC\n0\nEOF\n"
}

/// A bench whose first part is this drawing.
fn drawn(points: &[(f64, f64)], unit: Option<u32>) -> Bench {
    let mut bench = Bench::new();
    bench.kit["parts"][0] = json!({"part": "frame", "quantity": 1, "material": "composite-3",
        "route": "router", "drawing": "frame.dxf"});
    bench.write("frame.dxf", &dxf(points, unit));
    bench
}

const SQUARE: [(f64, f64); 5] = [(0., 0.), (90., 0.), (90., 90.), (0., 90.), (0., 0.)];

#[test]
fn a_sound_drawing_is_taken() {
    let run = drawn(&SQUARE, Some(4)).nest(&[]);
    assert_eq!(run.code, 0, "{run:?}");
}

#[test]
fn open_outline() {
    let open = [(0., 0.), (90., 0.), (90., 90.), (0., 90.), (0., 7.5)];
    refused(&drawn(&open, Some(4)), &["frame.dxf", "open", "7.5"]);
}

#[test]
fn self_crossing_outline() {
    let bow = [(0., 0.), (90., 90.), (90., 0.), (0., 90.), (0., 0.)];
    refused(&drawn(&bow, Some(4)), &["frame.dxf", "cross", "45"]);
}

#[test]
fn unit_clash() {
    let mut bench = drawn(&SQUARE, Some(1));
    bench.kit["parts"][0]["drawing_units"] = json!("mm");
    refused(
        &bench,
        &["frame.dxf", "inches", "millimetres", "correct one"],
    );
}

#[test]
fn a_drawing_without_unit_asks_for_one() {
    refused(&drawn(&SQUARE, None), &["frame.dxf", "unit"]);
    let mut bench = drawn(&SQUARE, Some(0));
    bench.kit["parts"][0]["drawing_units"] = json!("mm");
    assert_eq!(bench.nest(&[]).code, 0);
}

#[test]
fn hole_outside_its_outline() {
    let mut bench = Bench::new();
    bench.kit["parts"][1]["rectangle"]["features"][0]["at"] = json!([300, 20]);
    refused(&bench, &["kit.json", "parts[1] 'plate'", "hole", "outside"]);
}

#[test]
fn zero_quantity() {
    let mut bench = Bench::new();
    bench.order["kits"][0]["quantity"] = json!(0);
    refused(
        &bench,
        &["order.json", "kits[0].quantity", "is 0", "at least 1"],
    );

    let mut bench = Bench::new();
    bench.kit["parts"][2]["quantity"] = json!(0);
    refused(&bench, &["kit.json", "parts[2] 'floor'.quantity", "is 0"]);
}

#[test]
fn unknown_material() {
    let mut bench = Bench::new();
    bench.kit["parts"][0]["material"] = json!("composit-3");
    refused(
        &bench,
        &[
            "kit.json",
            "parts[0] 'frame'.material",
            "'composit-3'",
            "did you mean 'composite-3'?",
        ],
    );

    let mut bench = Bench::new();
    bench.order["roles"] = json!({"board": "wood"});
    refused(
        &bench,
        &[
            "order.json",
            "roles.board",
            "'wood'",
            "there are: composite-3",
        ],
    );

    let mut bench = Bench::new();
    bench.order["roles"] = json!({});
    refused(
        &bench,
        &["kit.json", "parts[2] 'floor'.role", "'board'", "order.json"],
    );
}

#[test]
fn empty_order() {
    let mut bench = Bench::new();
    bench.order["kits"] = json!([]);
    refused(&bench, &["order.json", "empty", "add a line"]);
}

#[test]
fn composite_never_goes_to_the_laser() {
    let mut bench = Bench::new();
    bench.kit["parts"][1]["route"] = json!("laser");
    refused(
        &bench,
        &[
            "kit.json",
            "parts[1] 'plate'.route",
            "composite-3",
            "polyethylene core",
        ],
    );
}

#[test]
fn chlorinated_plastic_is_never_cut() {
    for route in ["laser", "router", "saw"] {
        let mut bench = Bench::new();
        bench.kit["parts"][2] = json!({"part": "floor", "quantity": 1, "material": "vinyl-3",
            "route": route, "rectangle": {"length": 90, "width": 80}});
        refused(
            &bench,
            &[
                "kit.json",
                "parts[2] 'floor'.route",
                "vinyl-3",
                "hydrogen chloride",
            ],
        );
    }
}

#[test]
fn the_saw_makes_rectangles_only() {
    let mut bench = Bench::new();
    bench.kit["parts"][1]["route"] = json!("saw");
    refused(&bench, &["kit.json", "parts[1] 'plate'.route", "router"]);
}

#[test]
fn out_folder_that_cannot_be_written() {
    let bench = Bench::new();
    bench.write_inputs();
    bench.write("taken", "a file, not a folder");
    let run = bench.run(&["nest", "order.json", "--out", "taken/out"]);
    assert_refused(&run, &["taken"]);
    let run = bench.run(&["nest", "order.json", "--out", "taken"]);
    assert_refused(&run, &["taken"]);
    assert_eq!(bench.read("taken"), "a file, not a folder");
}

#[test]
fn bad_numbers_in_arguments() {
    let bench = Bench::new();
    for (args, word) in [
        (["--effort", "-1"], "effort"),
        (["--effort", "NaN"], "effort"),
        (["--seconds", "0"], "seconds"),
        (["--threads", "x"], "threads"),
        (["--threads", "0"], "threads"),
        (["--threads", "100000"], "threads"),
    ] {
        let run = bench.nest(&args);
        assert_eq!(run.code, 2, "{args:?} {run:?}");
        assert!(run.stderr.contains(word), "{}", run.stderr);
    }
}

#[test]
fn a_time_limit_beyond_all_measure_is_told_the_most() {
    let bench = Bench::new();
    for seconds in ["1e20", "1e400", "10000001", "-1"] {
        let run = bench.nest(&["--seconds", seconds]);
        assert_refused(&run, &["--seconds", "above 0, up to 10000000"]);
    }
    assert!(!bench.path("out").exists());
}

#[test]
fn a_part_too_long_by_a_hair_shows_the_hair_and_the_margin() {
    // C1 leaves 1180 x 780 mm within the router's margin.
    let mut bench = Bench::new();
    let size = &mut bench.kit["parts"][0]["rectangle"];
    *size = json!({"length": 1180.001, "width": 780});
    refused(
        &bench,
        &[
            "parts[0] 'frame'",
            "measures 1180.001 x 780.000 mm",
            "more than 1180.000 x 780.000 mm",
            "the kit's unit and the margin of 10 mm",
        ],
    );
    // Where it does not come from the margin, the margin is not named.
    bench.kit["parts"][0]["rectangle"]["length"] = json!(1300);
    refused(
        &bench,
        &["1300.0 x 780.0 mm", "the kit's unit, or add a larger sheet"],
    );
}

#[test]
fn a_flaw_off_the_piece_is_refused_wherever_remnants_come_in() {
    let off = json!([[1800, 100], [2100, 100], [2100, 200]]);
    let mut bench = Bench::new();
    bench.remnants["remnants"][0]["flaws"] = json!([off]);
    let words = ["R-0001", "flaw 1 does not touch the piece", "measure"];
    refused(&bench, &words);
    assert_refused(&bench.run(&["check", "order.json"]), &words);

    // One across the edge says where the edge is bad.
    bench.remnants["remnants"][0]["flaws"] = json!([[[500, 100], [600, 100], [600, 200]]]);
    bench.write_inputs();
    let run = bench.run(&["check", "order.json"]);
    assert_eq!(run.code, 0, "{run:?}");

    let flaw = off.to_string();
    let mut add = vec!["rack", "add", "--shop", "shop.json"];
    add.extend(["--material", "composite-3", "--size", "900x700"]);
    add.extend(["--flaw", &flaw]);
    assert_refused(&bench.run(&add), &["flaw 1 does not touch the piece"]);
}

#[test]
fn too_many_threads_are_refused() {
    let bench = Bench::new();
    let run = bench.nest(&["--threads", "100000"]);
    assert_eq!(run.code, 2, "{run:?}");
    assert!(run.stderr.contains("--threads"), "{}", run.stderr);
    assert!(!bench.path("out").exists());
}

#[test]
fn wrong_arguments_are_told_in_one_line() {
    let bench = Bench::new();
    for (args, words) in [
        (&["--threads", "x"][..], ["'x'", "--threads"]),
        (&["--threads", "-3"][..], ["'-3'", "--threads"]),
        (&["--lines", "edges"][..], ["'edges'", "tool-path"]),
        (&["--sed", "2"][..], ["'--sed'", "'--seed'"]),
    ] {
        assert_refused(&bench.nest(args), &words);
    }
    assert_refused(&bench.run(&["estimate"]), &["<ORDER>", "--help"]);
    assert!(!bench.path("out").exists());
}

#[test]
fn an_empty_table_is_no_list() {
    let bench = Bench::new();
    bench.write_inputs();
    bench.write("empty.csv", "\n");
    for args in [
        &["rack", "import", "empty.csv", "--shop", "shop.json"][..],
        &[
            "rack",
            "count",
            "--enter",
            "empty.csv",
            "--reason",
            "x",
            "--shop",
            "shop.json",
        ],
    ] {
        assert_refused(&bench.run(args), &["empty.csv", "empty"]);
    }
}

#[test]
fn an_order_without_name_or_with_a_day_that_is_none() {
    for due in ["2026-13-40", "2026-02-30", "1.9.2026", "20260901", ""] {
        let mut bench = Bench::new();
        bench.order["due"] = json!(due);
        let value = format!("{due:?} is no day");
        refused(&bench, &["order.json: due", &value, "YYYY-MM-DD"]);
        assert_refused(&bench.run(&["check", "order.json"]), &[&value]);
        assert_refused(&bench.run(&["estimate", "order.json"]), &[&value]);
    }
    for name in ["", " "] {
        let mut bench = Bench::new();
        bench.order["order"] = json!(name);
        refused(
            &bench,
            &["order.json: order", "the name is empty", "give it a name"],
        );
        let mut bench = Bench::new();
        bench.kit["kit"] = json!(name);
        refused(&bench, &["kit.json: kit", "the name is empty"]);
    }
}

#[test]
fn an_entry_that_names_no_file_is_named() {
    let mut bench = Bench::new();
    bench.order["kits"][0]["kit"] = json!("");
    refused(&bench, &["order.json: kits[0].kit", "it names no file"]);
    bench.order["kits"][0]["kit"] = json!(".");
    refused(
        &bench,
        &["this is a folder", "order.json names it at kits[0].kit"],
    );

    let mut bench = Bench::new();
    bench.order["shop"] = json!("");
    refused(&bench, &["order.json: shop", "it names no file"]);
    bench.order["shop"] = json!(".");
    refused(&bench, &["this is a folder", "order.json names it at shop"]);
    bench.order["shop"] = json!("nowhere.json");
    refused(&bench, &["no such file", "order.json names it at shop"]);

    let mut bench = Bench::new();
    bench.order["parts"] = json!([{"kit": "", "part": "lid", "quantity": 1}]);
    refused(&bench, &["order.json: parts[0].kit", "it names no file"]);
}

#[test]
fn machines_that_are_not_used_as_written_are_told() {
    let mut bench = Bench::new();
    bench.shop["machines"][1]["least_strip"] = json!(40);
    refused(&bench, &["machines[1].least_strip", "remove it"]);
    // A second router is no fault, but nobody should wait for it.
    let mut bench = Bench::new();
    let mut second = bench.shop["machines"][1].clone();
    second["name"] = json!("old router");
    let machines = bench.shop["machines"].as_array_mut().expect("a list");
    machines.push(second);
    bench.write_inputs();
    let run = bench.run(&["check", "order.json"]);
    assert_eq!(run.code, 0, "{run:?}");
    assert!(run.stdout.contains("'old router' is left idle"), "{run:?}");
    // A rectangle has no drawing whose unit there could be.
    let mut bench = Bench::new();
    bench.kit["parts"][0]["drawing_units"] = json!("mm");
    refused(
        &bench,
        &["parts[0] 'frame'.drawing_units", "this part has none"],
    );
}
