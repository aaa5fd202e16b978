//! What people decided is respected: pinned parts, clamps, and nests taken up again.

use crate::util::{Bench, Run, program, root};
use geo::{Contains, Distance, Euclidean, Intersects, LineString, Polygon};
use serde_json::{Value, json};

/// A ring of nest.json as a polygon of the `geo` crate, which the program's judge does not use.
fn polygon(ring: &Value) -> Polygon {
    let points = ring.as_array().expect("a ring").iter();
    let xy = |p: &Value| (p[0].as_f64().expect("x"), p[1].as_f64().expect("y"));
    Polygon::new(LineString::from(points.map(xy).collect::<Vec<_>>()), vec![])
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().expect("a list")
}

fn spend(nest: &Value) -> f64 {
    nest["totals"]["spend"].as_f64().expect("a number")
}

/// Nests the bench's order from `out/nest.json` as it is now.
fn again(bench: &Bench, more: &[&str]) -> Run {
    let mut args = vec!["--from", "out/nest.json"];
    args.extend(more);
    bench.nest(&args)
}

/// Writes a changed nest and expects it to be refused with one line that has all of `words`.
fn refused(bench: &Bench, nest: &Value, words: &[&str]) {
    bench.write("edited.json", &nest.to_string());
    let before = bench.read("out/nest.json");
    let run = bench.nest(&["--from", "edited.json"]);
    assert_eq!(run.code, 2, "{run:?}");
    assert!(
        run.stderr.starts_with("error: edited.json") && run.stderr.lines().count() == 1,
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
    assert_eq!(bench.read("out/nest.json"), before, "nothing is written");
}

/// Where the first part of this name lies: sheet and placement.
fn find(nest: &Value, part: &str) -> (usize, usize) {
    for (s, sheet) in list(&nest["sheets"]).iter().enumerate() {
        let mut placed = list(&sheet["placements"]).iter();
        if let Some(p) = placed.position(|p| p["part"] == part) {
            return (s, p);
        }
    }
    panic!("no {part}");
}

/// A bench with its order nested, and the nest.
fn nested() -> (Bench, Value) {
    let bench = Bench::new();
    assert_eq!(bench.nest(&[]).code, 0);
    let nest = bench.nest_file();
    (bench, nest)
}

#[test]
fn a_pinned_part_stays_and_the_rest_goes_round_it() {
    let (bench, mut nest) = nested();
    // Onto a sheet of its own, at a place and an angle that no search would choose.
    let (s, p) = find(&nest, "plate");
    let mut plate = nest["sheets"][s]["placements"]
        .as_array_mut()
        .expect("placements")
        .remove(p);
    plate["pinned"] = json!(true);
    plate["angle"] = json!(90);
    plate["origin"] = json!([611.25, 333.5]);
    let router = list(&nest["sheets"])
        .iter()
        .position(|s| s["machine"] == "router");
    let mut sheet = nest["sheets"][router.expect("a router sheet")].clone();
    sheet["source"] = json!({"kind": "sheet", "id": "C1", "price": 40});
    sheet["number"] = json!(77);
    sheet["placements"] = json!([plate]);
    sheet["saw_cuts"] = json!([]);
    sheet["offcuts"] = json!([]);
    nest["sheets"].as_array_mut().expect("sheets").push(sheet);
    bench.write("out/nest.json", &nest.to_string());
    for seed in ["1", "2"] {
        let run = again(&bench, &["--seed", seed]);
        assert_eq!(run.code, 0, "{run:?}");
        let found = bench.nest_file();
        assert_eq!(found["not_placed"], json!([]));
        let placed: Vec<(&Value, &Value)> = list(&found["sheets"])
            .iter()
            .flat_map(|s| list(&s["placements"]).iter().map(move |p| (s, p)))
            .collect();
        assert_eq!(placed.len(), 10);
        let pinned: Vec<_> = placed.iter().filter(|(_, p)| p["pinned"] == true).collect();
        assert_eq!(pinned.len(), 1);
        let (sheet, plate) = pinned[0];
        assert_eq!(sheet["source"]["id"], "C1");
        assert_eq!(plate["part"], "plate");
        assert_eq!(plate["origin"], json!([611.25, 333.5]));
        assert_eq!(plate["angle"], json!(90));
        // Its neighbours keep the gap, measured by another library.
        let own = polygon(&plate["outline"]);
        for other in list(&sheet["placements"])
            .iter()
            .filter(|p| p["pinned"] != true)
        {
            let other = polygon(&other["outline"]);
            assert!(Euclidean.distance(&own, &other) > 6.0 - 1e-3);
        }
    }
    assert!(bench.read("out/report.html").contains(", pinned"));
}

#[test]
fn taking_up_again_never_raises_the_spend() {
    let (bench, nest) = nested();
    let mut last = spend(&nest);
    for more in [
        &["--seed", "3"][..],
        &["--seed", "9", "--no-cutouts"],
        &["--seed", "4", "--threads", "1"],
    ] {
        let run = again(&bench, more);
        assert_eq!(run.code, 0, "{run:?}");
        let now = spend(&bench.nest_file());
        assert!(now <= last, "{now} {last} {more:?}");
        last = now;
    }
    // The same again from the same nest.
    let kept = bench.read("out/nest.json");
    bench.write("kept.json", &kept);
    let mut results = Vec::new();
    for threads in ["1", "2"] {
        let run = bench.nest(&["--from", "kept.json", "--threads", threads]);
        assert_eq!(run.code, 0, "{run:?}");
        results.push(bench.read("out/nest.json"));
    }
    assert_eq!(results[0], results[1]);
}

#[test]
fn the_demo_order_is_taken_up_with_parts_pinned() {
    let dir = tempfile::tempdir().expect("a folder");
    let nest = |out: &str, effort: &str, from: Option<&str>| -> (Run, Value) {
        let mut command = program();
        command.current_dir(root()).args([
            "nest",
            "demo-data/cabinet-order.json",
            "--effort",
            effort,
        ]);
        command.arg("--out").arg(dir.path().join(out));
        if let Some(from) = from {
            command.arg("--from").arg(dir.path().join(from));
        }
        let run: Run = command.output().expect("the program starts").into();
        assert_eq!(run.code, 0, "{run:?}");
        let text = std::fs::read_to_string(dir.path().join(out).join("nest.json"));
        (
            run,
            serde_json::from_str(&text.expect("nest.json")).expect("JSON"),
        )
    };
    let (_, mut first) = nest("a", "0.5", None);
    // The first part of every sheet that the saw does not cut, blanks of the laser among them.
    let mut expected = Vec::new();
    for sheet in first["sheets"].as_array_mut().expect("sheets") {
        if sheet["method"] == "free-form" {
            let (id, number) = (sheet["source"]["id"].clone(), sheet["number"].clone());
            let placed = &mut sheet["placements"][0];
            placed["pinned"] = json!(true);
            expected.push((
                number,
                id,
                placed["part"].clone(),
                placed["origin"].clone(),
                placed["angle"].clone(),
            ));
        }
    }
    assert!(expected.len() > 4);
    let edited = dir.path().join("edited.json");
    std::fs::write(&edited, first.to_string()).expect("the folder is writable");
    let (run, second) = nest("b", "0.5", Some("edited.json"));
    assert!(!run.stdout.contains("Noticed"), "{}", run.stdout);
    assert!(spend(&second) <= spend(&first));
    for (number, id, part, origin, angle) in expected {
        let held = list(&second["sheets"]).iter().any(|s| {
            s["source"]["id"] == id
                && list(&s["placements"]).iter().any(|p| {
                    p["pinned"] == true
                        && p["part"] == part
                        && p["origin"] == origin
                        && p["angle"] == angle
                })
        });
        assert!(held, "{part} of sheet {number}");
    }
}

#[test]
fn clamps_are_kept_clear() {
    let mut bench = Bench::new();
    bench.shop["machines"][1]["keep_clear"] = json!([
        {"why": "clamp", "at": [0, 60], "length": 45, "width": 40},
        {"why": "screw <4>", "outline": [[300, 100], [320, 100], [310, 125]]},
        {"why": "far clamp", "at": [2300, 1200], "length": 300, "width": 300}
    ]);
    bench.shop["machines"][2]["keep_clear"] =
        json!([{"why": "valve", "at": [150, 100], "length": 30, "width": 30}]);
    let run = bench.nest(&[]);
    assert_eq!(run.code, 0, "{run:?}");
    let nest = bench.nest_file();
    let mut seen = 0;
    for sheet in list(&nest["sheets"]) {
        if sheet["method"] == "guillotine" {
            assert_eq!(sheet["keep_clear"], json!(null));
            continue;
        }
        let margin = sheet["margin"].as_f64().expect("a margin");
        let stock = polygon(&sheet["outline"]);
        for zone in list(&sheet["keep_clear"]) {
            assert_ne!(zone["why"], "far clamp");
            let area = polygon(&zone["outline"]);
            assert!(stock.intersects(&area), "beside the stock: {zone}");
            for placed in list(&sheet["placements"]) {
                let part = polygon(&placed["outline"]);
                let holes = list(&placed["holes"]).iter().map(polygon);
                // In a window of the frame it may be as well.
                if !holes.into_iter().any(|h| h.contains(&area)) {
                    let distance = Euclidean.distance(&part, &area);
                    assert!(distance > margin - 1e-3, "{placed}: {distance}");
                }
                seen += 1;
            }
        }
    }
    assert!(seen > 5, "the parts were looked at");
    let report = bench.read("out/report.txt");
    assert!(report.contains("clamp, screw <4>"), "{report}");
    let html = bench.read("out/report.html");
    assert!(
        html.contains("kept clear for the machine: screw &#60;4&#62;")
            || html.contains("screw &lt;4&gt;")
    );
    let cut = bench.listing().into_iter().filter(|f| f.ends_with(".dxf"));
    assert!(
        cut.map(|f| bench.read(&f))
            .any(|dxf| dxf.contains("PW-ZONE"))
    );
    // A nest from before the clamps were there is taken up without the parts under them.
    let (s, p) = find(&nest, "frame");
    let corner = &nest["sheets"][s]["placements"][p]["outline"][0];
    bench.shop["machines"][1]["keep_clear"][1] = json!({"why": "screw", "at": corner,
        "length": 5, "width": 5});
    let run = again(&bench, &[]);
    assert_eq!(run.code, 0, "{run:?}");
    assert!(run.stdout.contains("machine needs free"), "{}", run.stdout);
}

#[test]
fn clamps_that_cannot_be_are_named() {
    let shop_refused = |machine: usize, areas: Value, words: &[&str]| {
        let mut bench = Bench::new();
        bench.shop["machines"][machine]["keep_clear"] = areas;
        let run = bench.nest(&[]);
        assert_eq!(run.code, 2, "{run:?}");
        for word in ["shop.json"].iter().chain(words) {
            assert!(run.stderr.contains(word), "'{word}': {}", run.stderr);
        }
        assert_eq!(run.stderr.lines().count(), 1);
        assert!(!bench.path("out").exists());
    };
    let clamp = |at: [f64; 2], length: f64| json!([{"why": "clamp", "at": at, "length": length, "width": 9}]);
    shop_refused(
        0,
        clamp([0.0, 0.0], 9.0),
        &["machines[0].keep_clear", "remove it"],
    );
    shop_refused(1, clamp([0.0, 0.0], -9.0), &["keep_clear[0].length", "-9"]);
    shop_refused(
        1,
        clamp([2500.0, 0.0], 9.0),
        &["keep_clear[0]", "beside the bed", "2500"],
    );
    shop_refused(
        1,
        clamp([1e9, 0.0], 9.0),
        &["keep_clear[0].at[0]", "1000000000"],
    );
    shop_refused(
        1,
        json!([{"why": "clamp", "at": [1, 1]}]),
        &["'clamp' needs 'at', 'length'"],
    );
    shop_refused(
        1,
        json!([{"why": " ", "at": [1, 1], "length": 1, "width": 1}]),
        &["keep_clear[0].why"],
    );
    shop_refused(
        1,
        json!([{"at": [1, 1], "length": 1, "width": 1}]),
        &["why"],
    );
    shop_refused(
        1,
        json!([{"why": "clamp", "outline": [[0, 0], [9, 9], [9, 0], [0, 9]]}]),
        &["keep_clear[0].outline", "'clamp'"],
    );
    shop_refused(
        1,
        json!([{"why": "clamp", "outline": [[0, 0], [9, 9]]}]),
        &["'clamp'", "three corners"],
    );
    shop_refused(1, json!([{"whi": "clamp"}]), &["did you mean `why`"]);
    // Parts keep the margin from a clamp, on remnants too; the tool is wider than that.
    let with = |key: &str| {
        let mut bench = Bench::new();
        bench.shop["machines"][1][key] = json!(2.9);
        bench
    };
    let mut bench = with("margin");
    assert_eq!(bench.nest(&[]).code, 0);
    std::fs::remove_dir_all(bench.path("out")).expect("a nest");
    bench.shop["machines"][1]["keep_clear"] = clamp([0.0, 0.0], 9.0);
    let run = bench.nest(&[]);
    assert_eq!(run.code, 2, "{run:?}");
    for word in ["shop.json", "machines[1].margin", "2.9 mm", "kerf of 3 mm"] {
        assert!(run.stderr.contains(word), "'{word}': {}", run.stderr);
    }
    assert!(!bench.path("out").exists());
    let mut bench = with("remnant_margin");
    bench.shop["machines"][1]["keep_clear"] = clamp([0.0, 0.0], 9.0);
    assert_eq!(bench.nest(&[]).code, 0);
}

#[test]
fn nests_edited_wrongly_are_refused_with_the_place() {
    let (bench, nest) = nested();
    let (s, p) = find(&nest, "plate");
    let edited = |change: &dyn Fn(&mut Value)| {
        let mut copy = nest.clone();
        change(&mut copy);
        copy
    };
    let placement =
        |change: &dyn Fn(&mut Value)| edited(&|n| change(&mut n["sheets"][s]["placements"][p]));
    let pinned = |change: &dyn Fn(&mut Value)| {
        placement(&|placed| {
            placed["pinned"] = json!(true);
            change(placed);
        })
    };
    refused(
        &bench,
        &edited(&|n| n["format"] = json!("panelwright-kit-1")),
        &["format", "panelwright-nest-1"],
    );
    refused(
        &bench,
        &edited(&|n| n["units"] = json!("inch")),
        &["units", "\"inch\"", "mm"],
    );
    refused(
        &bench,
        &edited(&|n| n["sheets"][1]["number"] = json!(1)),
        &["sheets[1].number", "number 1"],
    );
    refused(
        &bench,
        &edited(&|n| n["sheets"][0]["method"] = json!("freeform")),
        &["sheets[0].method", "free-form"],
    );
    refused(
        &bench,
        &edited(&|n| n["sheets"][0]["source"]["kind"] = json!("board")),
        &["source.kind", "board"],
    );
    refused(
        &bench,
        &placement(&|p| p["angle"] = json!("NaN")),
        &["angle", "NaN"],
    );
    refused(
        &bench,
        &placement(&|p| p["angle"] = json!(1e300)),
        &["'plate' copy", "angle"],
    );
    refused(
        &bench,
        &placement(&|p| p["origin"] = json!([1e9, 0])),
        &["origin[0]", "1000000000"],
    );
    refused(
        &bench,
        &placement(&|p| p["origin"] = json!([1])),
        &["origin"],
    );
    refused(
        &bench,
        &placement(&|p| p["copy"] = json!(0)),
        &["'plate' copy 0", "from 1"],
    );
    refused(
        &bench,
        &placement(&|p| p["copy"] = json!(-1)),
        &["copy", "-1"],
    );
    refused(
        &bench,
        &placement(&|p| p["pined"] = json!(true)),
        &["pined", "did you mean `pinned`"],
    );
    refused(
        &bench,
        &edited(&|n| {
            let again = n["sheets"][s]["placements"][p].clone();
            n["sheets"][0]["placements"]
                .as_array_mut()
                .expect("a list")
                .push(again);
        }),
        &["'plate' copy", "placed twice"],
    );
    refused(
        &bench,
        &pinned(&|p| p["copy"] = json!(99)),
        &["copy 99", "asks for 4"],
    );
    refused(
        &bench,
        &pinned(&|p| p["part"] = json!("plat")),
        &["'plat'", "did you mean 'plate'"],
    );
    refused(
        &bench,
        &pinned(&|p| p["origin"] = json!([-3000, 0])),
        &["'plate'", "sticks out", "pinned"],
    );
    refused(
        &bench,
        &pinned(&|p| p["angle"] = json!(17)),
        &["'plate'", "17", "not allowed"],
    );
    let gone = edited(&|n| {
        n["sheets"][s]["placements"][p]["pinned"] = json!(true);
        n["sheets"][s]["source"]["id"] = json!("R-0009");
        n["sheets"][s]["source"]["kind"] = json!("remnant");
    });
    refused(&bench, &gone, &["source.id", "R-0009", "pinned"]);
    // One pinned on the other.
    let mut two = pinned(&|_| ());
    let origin = two["sheets"][s]["placements"][p]["origin"].clone();
    let angle = two["sheets"][s]["placements"][p]["angle"].clone();
    let (s2, p2) = find(&two, "frame");
    let mut frame = two["sheets"][s2]["placements"]
        .as_array_mut()
        .expect("a list")
        .remove(p2);
    frame["pinned"] = json!(true);
    frame["origin"] = origin;
    frame["angle"] = json!(0);
    two["sheets"][s]["placements"]
        .as_array_mut()
        .expect("a list")
        .push(frame);
    two["sheets"][s]["placements"]
        .as_array_mut()
        .expect("a list")
        .retain(|p| p["pinned"] == true);
    two["sheets"][s]["source"] = json!({"kind": "sheet", "id": "C1", "price": 40});
    let _ = angle;
    refused(&bench, &two, &["'plate'", "'frame'", "pinned"]);
    let (s3, p3) = find(&nest, "floor");
    refused(
        &bench,
        &edited(&|n| n["sheets"][s3]["placements"][p3]["pinned"] = json!(true)),
        &["'floor'", "sawn", "remove \"pinned\""],
    );
    // That of another order.
    let other = edited(&|n| {
        for sheet in n["sheets"].as_array_mut().expect("sheets") {
            for placed in sheet["placements"].as_array_mut().expect("placements") {
                placed["kit"] = json!("cupboard");
            }
        }
    });
    refused(&bench, &other, &["none of its parts", "T-1"]);
    let run = bench.nest(&["--from", "nowhere.json"]);
    assert_eq!(run.code, 2);
    assert!(run.stderr.contains("nowhere.json"), "{}", run.stderr);
}

#[test]
fn what_no_longer_fits_is_noted_and_nested_anew() {
    let (mut bench, nest) = nested();
    // The remnant gone, and a kit less.
    let sheets = list(&nest["sheets"]);
    let used = sheets.iter().find(|s| s["source"]["kind"] == "remnant");
    let used = used.expect("a remnant is used")["source"]["id"].clone();
    let remnants = bench.remnants["remnants"].as_array_mut().expect("remnants");
    remnants.retain(|r| r["id"] != used);
    bench.order["kits"][0]["quantity"] = json!(1);
    let run = again(&bench, &[]);
    assert_eq!(run.code, 0, "{run:?}");
    let gone = format!("there is no remnant {used} any more").replace('"', "'");
    let said = run.stdout.replace("\n    ", " ");
    assert!(said.contains(&gone), "{gone}: {said}");
    assert!(said.contains("and the order asks for"), "{}", run.stdout);
    let now = bench.nest_file();
    let placed: usize = list(&now["sheets"])
        .iter()
        .map(|s| list(&s["placements"]).len())
        .sum();
    assert_eq!(placed, 5);
}

#[test]
fn a_nest_for_a_full_rack_is_not_dearer_for_what_it_cannot_keep() {
    let mut bench = Bench::new();
    bench.shop["materials"][0]["keep"] =
        json!({"least_width": 100, "least_length": 200, "value_share": 0.9});
    // With what is kept of it the large sheet is the cheaper one, without that the small one.
    bench.shop["sheets"] = json!([
        {"id": "large", "material": "composite-3", "length": 2000, "width": 1000, "price": 80},
        {"id": "small", "material": "composite-3", "length": 600, "width": 500, "price": 24}
    ]);
    let frame = bench.kit["parts"][0].clone();
    bench.kit["parts"] = json!([frame]);
    bench.order["kits"][0]["quantity"] = json!(1);
    bench.order["roles"] = json!({});
    let taken = |bench: &Bench| bench.nest_file()["sheets"][0]["source"]["id"].clone();
    assert_eq!(bench.nest(&["--no-remnants"]).code, 0);
    assert_eq!(taken(&bench), "large");
    bench.shop["room"] = json!([{"material": "composite-3", "pieces": 0}]);
    assert_eq!(bench.nest(&["--no-remnants"]).code, 0);
    assert_eq!(taken(&bench), "small");
    let before = spend(&bench.nest_file());
    let run = again(&bench, &["--no-remnants"]);
    assert_eq!(run.code, 0, "{run:?}");
    let after = spend(&bench.nest_file());
    assert!(after <= before, "{after} after {before}");
}

#[test]
fn a_remnant_of_the_nest_taken_up_stays_on_offer_on_a_large_rack() {
    let mut bench = Bench::new();
    let ours = bench.remnants["remnants"][0].clone();
    bench.remnants["remnants"] = json!([ours]);
    assert_eq!(bench.nest(&[]).code, 0);
    let mut nest = bench.nest_file();
    let sheets = nest["sheets"].as_array_mut().expect("sheets");
    let on_it = sheets
        .iter_mut()
        .find(|s| s["source"]["id"] == "R-0001" && s["method"] == "free-form");
    on_it.expect("the remnant is taken")["placements"][0]["pinned"] = json!(true);
    bench.write("pinned.json", &nest.to_string());
    // Many that are a little smaller, and many that are larger: ours promises less than either.
    let others = (2..402).map(|i| {
        let (length, width) = if i % 2 == 0 { (545, 450) } else { (700, 600) };
        json!({"id": format!("R-{i:04}"), "material": "composite-3", "length": length,
               "width": width, "value": 35})
    });
    let all: Vec<Value> = std::iter::once(ours).chain(others).collect();
    bench.remnants["remnants"] = json!(all);
    let run = bench.nest(&["--from", "pinned.json"]);
    assert_eq!(run.code, 0, "{run:?}");
    let nest = bench.nest_file();
    assert!(
        list(&nest["sheets"])
            .iter()
            .any(|s| s["source"]["id"] == "R-0001")
    );
    // Without the nest it is left aside.
    assert_eq!(bench.nest(&[]).code, 0);
    let nest = bench.nest_file();
    assert!(
        !list(&nest["sheets"])
            .iter()
            .any(|s| s["source"]["id"] == "R-0001")
    );
}
